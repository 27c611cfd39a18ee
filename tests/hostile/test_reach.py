"""Files that lead elsewhere: no network is asked, and nothing in a source's folder changes."""

from __future__ import annotations

import json
import os
import sqlite3
import subprocess
import sys
from contextlib import suppress

import numpy as np
import pandas as pd
import pyogrio
import pytest
import rasterio

from leakgeo.errors import JobError
from leakgeo.job.guards import sqlite as guard_sqlite
from leakgeo.job.mapping.draft import draft_mapping
from leakgeo.job.rasters.photo import read_photo
from leakgeo.job.read import read_job
from leakgeo.job.sources.read_only_copy import read_only_copy
from leakgeo.job.sources.simulated import simulated_note
from leakgeo.job.sources.source import open_source, read_layer
from tests.job import jobs

SERVER = """
import socket, sys
with socket.create_server(("127.0.0.1", 0)) as server:
    print(server.getsockname()[1], flush=True)
    while True:
        asked, _ = server.accept()
        with open(sys.argv[1], "a") as heard:
            heard.write("x")
        with asked:
            asked.settimeout(1)
            try:
                asked.recv(200)
                asked.sendall(b"HTTP/1.0 404 Not Found\\r\\nContent-Length: 0\\r\\n\\r\\n")
            except OSError:
                pass
"""


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    """Run a server on loopback, in a process: GDAL may hold Python's lock while it waits."""
    heard = tmp_path_factory.mktemp("server") / "heard"
    command = [sys.executable, "-c", SERVER, str(heard)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        yield f"http://127.0.0.1:{process.stdout.readline().strip()}/x", heard
        process.terminate()


@pytest.fixture
def listener(server):
    """Give the address of the server, and a function: how many connections it has had."""
    url, heard = server
    heard.write_text("")
    return url, lambda: len(heard.read_text())


def collection(whole=None, **geometry):
    line = {"type": "LineString", "coordinates": [[14, 50], [14.1, 50]], **geometry}
    feature = {"type": "Feature", "properties": {"line_id": "L1"}, "geometry": line}
    return json.dumps({"type": "FeatureCollection", **({"crs": whole} if whole else {}),
                       "features": [feature]})  # fmt: skip


def link(url):
    return {"type": "link", "properties": {"href": url, "type": "proj4"}}


GML = (
    '<?xml version="1.0"?><wfs:FeatureCollection xmlns:wfs="http://www.opengis.net/wfs" '
    'xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" xmlns:xlink="http://www.w3.org/1999/xlink"'
    ' xsi:schemaLocation="http://a {schema}" xmlns:o="http://o.example/" '
    'xmlns:gml="http://www.opengis.net/gml"><gml:featureMember><o:routes fid="1">'
    '<o:geometryProperty xlink:href="{url}#a"><gml:LineString srsName="{url}"><gml:coordinates>'
    "14,50 14.1,50</gml:coordinates></gml:LineString></o:geometryProperty><o:line_id>1</o:line_id>"
    "</o:routes></gml:featureMember></wfs:FeatureCollection>"
)
WFS = (
    '<?xml version="1.0"?><{p}WFS_Capabilities xmlns:wfs="http://www.opengis.net/wfs" '
    'version="1.0.0"><Capability><Request><GetFeature><DCPType><HTTP>'
    '<Get onlineResource="{url}?"/></HTTP></DCPType></GetFeature></Request></Capability>'
    "<FeatureTypeList><FeatureType><Name>routes</Name><SRS>EPSG:4326</SRS></FeatureType>"
    "</FeatureTypeList></{p}WFS_Capabilities>"
)
KML = (
    '<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document><NetworkLink><Link>'
    "<href>{url}</href></Link></NetworkLink><Placemark><styleUrl>{url}#s</styleUrl><LineString>"
    "<coordinates>14,50 14.1,50</coordinates></LineString></Placemark></Document></kml>"
)
TOPO = {"type": "Topology", "arcs": [[[0, 0], [1, 1]]], "objects": {"routes": {
    "type": "LineString", "arcs": [0]}}}  # fmt: skip
REACHING = {
    "a linked CRS": ("geojson", lambda u: collection(link(u))),
    "a linked CRS in letters by number": ("geojson", lambda u: collection(link(u)).replace(
        '"crs"', r'"\u0063rs"').replace('"link"', r'"l\u0069nk"')),
    "a linked CRS of a geometry": ("geojson", lambda u: collection(CRS=link(u))),
    "a linked CRS behind a named one": ("json", lambda u: collection(
        {"type": "name", "properties": {"name": "EPSG:4326"}}, crs=link(u))),
    "a CRS by an address as its name": ("geojson", lambda u: collection(
        {"type": "name", "properties": {"name": u}})),
    "a linked CRS in a sequence": ("geojsonl", lambda u: json.dumps(
        {"type": "Feature", "properties": {"line_id": "L1"},
         "geometry": {"type": "Point", "coordinates": [1, 2], "crs": link(u)}}) + "\n"),
    "a linked CRS in TopoJSON": ("topojson", lambda u: json.dumps({**TOPO, "crs": link(u)})),
    "an API's landing page": ("json", lambda u: json.dumps(
        {"links": [{"rel": "conformance", "href": u}, {"rel": "data", "href": u}]})),
    "a schema of a WFS": ("gml", lambda u: GML.format(
        url=u, schema=f"{u}?SERVICE=WFS&amp;REQUEST=DescribeFeatureType&amp;TYPENAME=routes")),
    "a schema of the web": ("gml", lambda u: GML.format(url=u, schema=f"{u}.xsd")),
    **{f"capabilities as {ending}{p}": (ending, lambda u, p=p: WFS.format(p=p, url=u))
       for ending in ("gml", "xml", "gdb", "kml", "gpx", "json", "csv") for p in ("", "wfs:")},
    "links and styles": ("kml", lambda u: KML.format(url=u)),
}  # fmt: skip


def everything(folder):
    return {p.relative_to(folder): (p.read_bytes() if p.is_file() else None, p.stat().st_mtime_ns)
            for p in sorted(folder.rglob("*"))}  # fmt: skip


def opened_whole(source):
    """Read each layer, draft a mapping, and ask whether it is simulated: faults are all right."""
    for use in (read_job, draft_mapping, simulated_note, layers):
        with suppress(JobError):
            use(source)


def layers(source):
    with open_source(source) as opened:
        return {name: read_layer(opened, name).table for name in opened.layers}


@pytest.mark.parametrize(("ending", "content"), REACHING.values(), ids=REACHING)
def test_nothing_is_asked_over_a_network(tmp_path, listener, ending, content):
    url, heard = listener
    file = tmp_path / f"routes.{ending}"
    file.write_text(content(url))
    before = everything(tmp_path)
    opened_whole(file)
    opened_whole(tmp_path)
    assert heard() == 0
    assert everything(tmp_path) == before


def test_gdals_network_is_closed_where_a_check_is_passed(tmp_path, listener, monkeypatch):
    """The second wall: a link that nothing has refused is not followed either."""
    url, heard = listener
    for name in ("no_proxy", "NO_PROXY"):
        monkeypatch.delenv(name, raising=False)
    (tmp_path / "routes.geojson").write_text(collection(link(url)))
    monkeypatch.setattr("leakgeo.job.guards.files.json_refusal", lambda _: None)
    assert len(layers(tmp_path / "routes.geojson")["routes"]) == 1
    assert heard() == 0
    pyogrio.read_dataframe(tmp_path / "routes.geojson")
    assert heard() == 1  # the trap works, and the process has its own network again


SIDES = {
    "overviews elsewhere": (
        ".tif.aux.xml", '<PAMDataset><Metadata domain="OVERVIEWS"><MDI key="OVERVIEW_FILE">'
        "/vsicurl/{url}.tif</MDI></Metadata></PAMDataset>"),
    "virtual overviews": (".tif.ovr", '<VRTDataset rasterXSize="9" rasterYSize="9"><VRTRasterBand '
        'dataType="Byte" band="1"><SimpleSource><SourceFilename>/vsicurl/{url}</SourceFilename>'
        "</SimpleSource></VRTRasterBand></VRTDataset>"),
}  # fmt: skip


@pytest.mark.parametrize(("ending", "content"), SIDES.values(), ids=SIDES)
def test_what_lies_beside_an_image_leads_nowhere(tmp_path, listener, ending, content):
    url, heard = listener
    photo = tmp_path / "photo.tif"
    with rasterio.open(photo, "w", driver="GTiff", width=600, height=600, count=1, dtype="uint8",
                       crs=4326, transform=rasterio.Affine(1e-6, 0, 14, 0, -1e-6, 50),
                       ) as made:  # fmt: skip
        made.write(np.ones((1, 600, 600), dtype="uint8"))
    assert not hasattr(read_photo(photo, (14.0, 49.0, 15.0, 51.0), 100), "problem")
    (tmp_path / f"photo{ending}").write_text(content.format(url=url))
    said = read_photo(photo, (14.0, 49.0, 15.0, 51.0), 100).problem
    assert f"photo{ending} beside it" in said
    assert heard() == 0


TAB = '!table\n!version 300\n!charset Neutral\nDefinition Table\n  Type NATIVE Charset "Neutral"\n'
ELSEWHERE = {
    "a seamless table": ("tab", TAB + 'begin_metadata\n"\\IsSeamless" = "TRUE"\nend_metadata',
                         "composed of other tables"),
    "a view of tables": ("tab", '!table\nOpen Table "../away" Hide\nCreate View v As Select * From '
                         "away", "composed of other tables"),
    "capabilities as a table": ("tab", WFS.format(p="", url="http://127.0.0.1:9/"),
                                "only refers to data"),
    "a schema in another folder": ("gml", GML.format(url="a", schema="../away.xsd"),
                                   "schema in another folder"),
    "an ending that is not read any more": ("xml", "<a/>", r"kind \.xml are not read"),
}  # fmt: skip


@pytest.mark.parametrize(("ending", "content", "said"), ELSEWHERE.values(), ids=ELSEWHERE)
def test_files_that_lead_to_other_files(tmp_path, ending, content, said):
    (tmp_path / f"routes.{ending}").write_text(content)
    with pytest.raises(JobError, match=said):
        read_job(tmp_path / f"routes.{ending}")


def test_a_file_of_sql_is_no_file_geodatabase(tmp_path, monkeypatch):
    monkeypatch.setattr(guard_sqlite, "_STEPS", 1_000_000)
    path = tmp_path / "routes.gdb"
    base = sqlite3.connect(path)
    base.execute("create view routes as with recursive c(x) as (select 1 union all select x + 1 "
                 "from c) select x from c")  # fmt: skip
    base.close()
    with pytest.raises(JobError, match=r"Geodatabase is a folder.*save its layers as a GeoPackage"):
        read_job(path)
    (tmp_path / "empty.gdb").mkdir()
    with pytest.raises(JobError, match="not a File Geodatabase"):
        read_job(tmp_path / "empty.gdb")


PLAIN = {
    "gpkg": "GPKG", "sqlite": "SQLite", "geojson": "GeoJSON", "geojsonl": "GeoJSONSeq",
    "fgb": "FlatGeobuf", "shp": "ESRI Shapefile", "gdb": "OpenFileGDB", "gml": "GML", "kml": "KML",
    "tab": "MapInfo File", "mif": "MapInfo File", "csv": None, "xlsx": "XLSX", "ods": "ODS",
    "parquet": None,
}  # fmt: skip


@pytest.mark.parametrize(("ending", "driver"), PLAIN.items(), ids=PLAIN)
@pytest.mark.filterwarnings("ignore:.*truncated:RuntimeWarning")
@pytest.mark.filterwarnings("ignore:.*Column names longer than 10:UserWarning")
def test_every_kind_is_read_and_left_as_it_was(tmp_path, ending, driver):
    table, file = jobs.routes().to_crs(4326), tmp_path / f"routes.{ending}"
    if ending == "csv":
        pd.DataFrame(table.drop(columns="geometry")).to_csv(file, index=False)
    elif ending == "parquet":
        table.to_parquet(file)
    elif ending in ("xlsx", "ods"):
        pyogrio.write_dataframe(pd.DataFrame(table.drop(columns="geometry")), file, driver=driver)
    else:
        more = {"FORMAT": "MIF"} if ending == "mif" else {}
        pyogrio.write_dataframe(table, file, layer="routes", driver=driver, dataset_options=more)
    for kept in tmp_path.rglob("*.xsd"):
        kept.unlink()  # without it GDAL writes a .gfs beside
    before = everything(tmp_path)
    assert len(layers(file)["routes"]) == 2
    opened_whole(file)
    opened_whole(tmp_path)
    assert everything(tmp_path) == before


@pytest.mark.parametrize("name", ["routes.gpkg", "routes.sqlite", "100%20#.gpkg"])
def test_a_write_ahead_log_in_a_folder_is_read_and_left(tmp_path, name):
    driver = "GPKG" if name.endswith("gpkg") else "SQLite"
    table = jobs.routes()  # in a GeoPackage without geometry, which has triggers
    table = pd.DataFrame(table.drop(columns="geometry")) if driver == "GPKG" else table
    pyogrio.write_dataframe(table, tmp_path / name, layer="routes", driver=driver)
    base = sqlite3.connect(tmp_path / name)
    base.execute("PRAGMA journal_mode=WAL")
    base.execute("PRAGMA wal_autocheckpoint=0")
    base.execute("update routes set material = 'lead'")
    base.commit()
    before = everything(tmp_path)
    with open_source(tmp_path) as opened:
        ((layer, _),) = opened.layers.items()
        table = read_layer(opened, layer).table
    assert set(table["material"]) == {"lead"}
    assert [f.layer for f in opened.faults] == [layer]
    assert everything(tmp_path) == before
    base.close()
    before = everything(tmp_path)
    assert len(layers(tmp_path)[layer]) == 2
    assert everything(tmp_path) == before


def test_an_empty_log_that_a_program_left_is_no_change(tmp_path):
    """A GIS that was killed after it saved leaves an empty log, which a reader would remove."""
    path = jobs.write(tmp_path / "job.gpkg")
    base = sqlite3.connect(path)
    base.execute("PRAGMA journal_mode=WAL")
    base.close()
    (tmp_path / "job.gpkg-wal").touch()
    before = everything(tmp_path)
    assert len(read_job(path).readings) == 4
    assert everything(tmp_path) == before


def test_rows_that_a_geopackage_does_not_count_are_read(tmp_path):
    """GDAL reads as many rows as gpkg_ogr_contents says; other programs may not keep it."""
    path = jobs.write(tmp_path / "job.gpkg", meter_tests=jobs.meter_tests())
    base = sqlite3.connect(path)
    base.execute("update gpkg_ogr_contents set feature_count = 0 where table_name = 'meter_tests'")
    base.execute("update gpkg_ogr_contents set feature_count = 3 where table_name = 'readings'")
    base.commit()
    base.close()
    before = everything(tmp_path)
    job = read_job(path)
    assert (len(job.meter_tests), len(job.readings)) == (1, 4)
    assert everything(tmp_path) == before


def stopped_amid_a_change(folder):
    """Give a GeoPackage with the hot journal of a program that was killed."""
    path = jobs.write(folder / "job.gpkg", meter_tests=jobs.meter_tests())
    base = sqlite3.connect(path, isolation_level=None)
    base.execute("PRAGMA cache_size = 1")
    base.execute("PRAGMA cache_spill = 1")
    base.execute("begin exclusive")
    base.execute("update meter_tests set end_reading = 177")
    base.execute("create table filler (a)")
    base.execute("insert into filler with recursive c(x) as (select 1 union all select x + 1 "
                 "from c limit 500) select zeroblob(4000) from c")  # fmt: skip
    return path, base


def test_a_locked_file_with_a_hot_journal_is_read_as_it_was_saved(tmp_path):
    path, base = stopped_amid_a_change(tmp_path)
    journal = tmp_path / "job.gpkg-journal"
    assert journal.stat().st_size > 0
    before = everything(tmp_path)
    job = read_job(path)
    assert job.meter_tests["end_reading"].tolist() == [101.5]
    (said,) = [f for f in job.faults if f.layer == "job"]
    assert said.code == "unsaved_change"
    assert "Keep job.gpkg-journal" in said.what_to_do
    assert not {"delete", "remove"} & set(said.what_to_do.casefold().split())
    assert everything(tmp_path) == before
    base.execute("rollback")
    base.close()


def test_a_locked_file_without_a_change_is_read(tmp_path):
    path = jobs.write(tmp_path / "job.gpkg")
    base = sqlite3.connect(path, isolation_level=None)
    base.execute("begin exclusive")
    assert len(read_job(path).readings) == 4
    base.close()


def test_a_journal_that_names_another_file_deletes_nothing(tmp_path):
    """SQLite deletes the super-journal that a hot journal names, once it is merged."""
    path, base = stopped_amid_a_change(tmp_path)
    victim = tmp_path / "victim.txt"
    victim.write_text("a diary")
    journal = tmp_path / "job.gpkg-journal"
    copy = tmp_path / "copy"
    copy.mkdir()
    for file in (path, journal):
        (copy / file.name).write_bytes(file.read_bytes())
    base.close()
    name = os.fsencode(victim)
    page = (0x40000000 // 4096 + 1).to_bytes(4, "big")
    check = sum(n if n < 128 else n - 256 for n in name) & 0xFFFFFFFF
    end = page + name + len(name).to_bytes(4, "big") + check.to_bytes(4, "big")
    with (copy / journal.name).open("ab") as file:
        file.write(end + bytes.fromhex("d9d505f920a163d7"))
    before = everything(tmp_path)
    with pytest.raises(JobError, match="Open all of them in that program"):
        read_job(copy / path.name)
    assert everything(tmp_path) == before


def test_a_file_saved_while_it_is_read_is_not_taken(tmp_path):
    path = jobs.write(tmp_path / "job.gpkg")
    reading = read_only_copy(path)
    file, _ = reading.__enter__()
    assert file == path  # in place: nothing lies beside
    path.write_bytes(path.read_bytes() + b"x")
    with pytest.raises(JobError, match="saved it while it was read"):
        reading.__exit__(None, None, None)


@pytest.mark.parametrize(("ending", "driver"), {"geojson": "GeoJSON", "fgb": "FlatGeobuf"}.items())
def test_the_limit_is_on_memory(tmp_path, monkeypatch, ending, driver):
    """Values that a file does not hold take memory too: each row has every column."""
    file = tmp_path / f"routes.{ending}"
    wide = jobs.routes(**{f"c{k}": [None, None] for k in range(200)})
    pyogrio.write_dataframe(wide.astype({f"c{k}": object for k in range(200)}), file, driver=driver)
    monkeypatch.setenv("LEAKGEO_MOST_GB", str(20 * file.stat().st_size / 1e9))
    many = pd.concat([wide] * 40)
    pyogrio.write_dataframe(many, file, driver=driver)
    with pytest.raises(JobError, match=r"would take about .* GB of memory; the limit is .*Cut it"):
        read_job(file)
