"""Files that are not what they say, point elsewhere, or grow without end."""

import sqlite3
import zipfile

import numpy as np
import pytest
import rasterio
import shapely

from leakgeo.errors import JobError
from leakgeo.job.guards import sqlite as guard_sqlite
from leakgeo.job.guards.files import refusal
from leakgeo.job.rasters.photo import read_photo
from leakgeo.job.read import read_job
from tests.job import jobs

ENDLESS = "with recursive c(x) as (select 1 union all select x + 1 from c)"
BOMB = (
    '<?xml version="1.0"?><!DOCTYPE l [<!ENTITY a "aaaaaaaaaa">'
    + "".join(f'<!ENTITY a{k} "{f"&a{k - 1 if k else str()};" * 10}">' for k in range(9))
    + "]>"
)
OUTSIDE = (
    '<?xml version="1.0"?><!DOCTYPE k [<!ENTITY x SYSTEM "file:///etc/passwd">]><kml>&x;</kml>'
)
VRT = (
    '<OGRVRTDataSource><OGRVRTLayer name="routes"><SrcDataSource>/vsicurl/http://127.0.0.1:9/a'
    "</SrcDataSource></OGRVRTLayer></OGRVRTDataSource>"
)


@pytest.mark.parametrize(
    "source",
    ["https://h.example/job.gpkg", "/vsicurl/https://h.example/job.gpkg", "/vsizip/job.zip",
     "/vsis3/bucket/job.gpkg", "s3://bucket/job.gpkg", "mysql://host/base", "file:///etc/passwd",
     "sub/../vsicurl/x/../../vsicurl/job.gpkg"],
)  # fmt: skip
def test_what_is_not_a_local_file(source):
    with pytest.raises(JobError, match=r"is not a local file|no such file"):
        read_job(source)


@pytest.mark.parametrize("name", ["PG:dbname=water", "MYSQL:water", "WFS:x", "CSV:a.gpkg"])
def test_a_file_that_is_called_like_a_connection(tmp_path, monkeypatch, name):
    """GDAL would take the name alone for a database."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / name).write_bytes(b"x")
    with pytest.raises(JobError, match=r"are not read|not have the format of its ending"):
        read_job(name)


@pytest.mark.parametrize("name", ["a!b/job.gpkg", "a;b/../job;2.gpkg"])
def test_a_path_that_readers_take_for_another(tmp_path, name):
    (tmp_path / "a!b").mkdir()
    (tmp_path / "a;b").mkdir()
    jobs.write(tmp_path / "job.gpkg").rename(tmp_path / name)
    with pytest.raises(JobError, match="so that readers would open another file"):
        read_job(tmp_path / name)


FILES = {
    "virtual as GeoPackage": ("job.gpkg", VRT.encode(), "only refers to data"),
    "virtual as GeoJSON": ("job.geojson", VRT.encode(), "only refers to data"),
    "virtual in a comment's shadow": ("job.gml", b"<!--x-->" + VRT.encode(), "only refers to data"),
    "GeoPackage as CSV": (
        "job.csv",
        b"SQLite format 3\0" + bytes(99),
        "not have the format of its ending",
    ),
    "zip as Shapefile": ("job.shp", b"PK\x03\x04", "not have the format of its ending"),
    "gzip as CSV": ("job.csv", b"\x1f\x8b\x08", "not have the format of its ending"),
    "script": ("job.py", b"print()", "Files of the kind .py are not read"),
    "an archive in an archive": ("job.kmz", b"PK", "kind .kmz are not read"),
    "nothing": ("job.gpkg", b"", "empty"),
    "entities in GPX": ("job.gpx", BOMB.encode(), "declares XML entities"),
    "entities in KML": ("job.kml", BOMB.encode(), "declares XML entities"),
    "an outside entity": ("job.kml", OUTSIDE.encode(), "declares XML entities"),
    "an outside entity in UTF-16": ("job.kml", OUTSIDE.encode("utf-16"), "declares XML entities"),
    "brackets without end": ("job.geojson", b"[" * 1_000_000, "can't be read"),
    "objects without end": ("job.geojson", b'{"a":' * 300_000, "can't be read"),
}


@pytest.mark.parametrize(("name", "content", "said"), FILES.values(), ids=FILES)
def test_files_that_are_refused(tmp_path, name, content, said):
    (tmp_path / name).write_bytes(content)
    with pytest.raises(JobError, match=said):
        read_job(tmp_path / name)


def test_in_a_folder_they_are_left_out_with_a_word_each(tmp_path):
    jobs.routes().to_file(tmp_path / "routes.geojson")
    jobs.readings().to_file(tmp_path / "readings.geojson")
    (tmp_path / "utilities.kml").write_text(OUTSIDE)
    (tmp_path / "surfaces.geojson").write_text(VRT)
    job = read_job(tmp_path)
    told = {f.layer: f.code for f in job.faults if f.effect == "rejected"}
    assert told["utilities"] == "file_has_entities"
    assert told["surfaces"] == "file_points_elsewhere"
    assert job.utilities is None


def test_a_link_out_of_the_folder_is_followed(tmp_path):
    """Whoever can make a link in the folder can copy the file there: see the threat model."""
    (tmp_path / "job").mkdir()
    for name, table in (("routes", jobs.routes()), ("readings", jobs.readings())):
        table.to_file(tmp_path / f"{name}.geojson")
        (tmp_path / "job" / f"{name}.geojson").symlink_to(tmp_path / f"{name}.geojson")
    assert len(read_job(tmp_path / "job").routes) == 2


def changed(folder, *statements):
    path = jobs.write(folder / "job.gpkg")
    base = sqlite3.connect(path)
    base.execute("PRAGMA writable_schema = ON")
    rows = base.execute("select name from sqlite_master where type = 'trigger'").fetchall()
    for (name,) in rows:
        base.execute(f'drop trigger "{name}"')
    for statement in statements:
        base.execute(statement)
    base.commit()
    base.close()
    return path


MOVED = "alter table readings rename to kept"
SQL = {
    "a view without end": (MOVED, f"create view readings as {ENDLESS} select k.* from kept k, c"),
    "a view that counts without end": (
        MOVED, f"create view readings as {ENDLESS} select k.* from kept k "
        "where (select count(*) from c) > 0"),
    "a view that is too wide": (
        MOVED, "create view readings as select k.*, zeroblob(900000000) as z from kept k"),
    "a view that multiplies": (
        MOVED, "create view readings as select a.* from " + ", ".join(
            f"kept {a}" for a in "abcdefghijklmnop")),
    "a view that loads code": (
        MOVED, "create view readings as select k.*, load_extension('x') as z from kept k"),
    "a view that opens a raster": (
        MOVED, "create view readings as select gdal_get_layer_pixel_value('/vsicurl/http://a', 1,"
               " 'georef', 1, 1) as z from kept k"),
    "a view that tells libraries apart": (
        MOVED, "create view readings as select k.*, sqlite_version() as z from kept k"),
    "a computed column": ("alter table readings add column z as (hex(zeroblob(300000000)))",),
    "a table elsewhere": (
        "insert into sqlite_master values ('table', 'v', 'v', 0, "
        "'create virtual table v /* using rtree */ using VirtualOGR(''/etc/passwd'')')",),
}  # fmt: skip


@pytest.mark.parametrize("statements", SQL.values(), ids=SQL)
def test_sql_in_a_geopackage_is_not_run(tmp_path, statements, monkeypatch):
    monkeypatch.setattr(guard_sqlite, "_STEPS", 1_000_000)
    path = changed(tmp_path, *statements)
    before = path.read_bytes()
    with pytest.raises(JobError, match=r"computed by SQL|computes on reading|refers to data"):
        read_job(path)
    assert path.read_bytes() == before


def test_a_plain_view_is_read(tmp_path):
    path = changed(
        tmp_path, MOVED, "create view readings as select * from kept where sound_level > 41"
    )
    with sqlite3.connect(path) as base:
        base.execute("update gpkg_geometry_columns set table_name = 'readings' "
                     "where table_name = 'kept'")  # fmt: skip
        base.execute("update gpkg_contents set table_name = 'readings' where table_name = 'kept'")
    base.close()
    assert len(read_job(path).readings) == 3


def test_triggers_do_not_run_on_reading(tmp_path):
    path = changed(
        tmp_path, "create trigger t after insert on routes begin delete from readings; end",
        "create trigger u after update on routes begin delete from readings; end",
    )  # fmt: skip
    before = path.read_bytes()
    assert len(read_job(path).readings) == 4
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["job.gpkg"]


def test_a_workbook_that_unfolds_without_end(tmp_path, monkeypatch):
    path = tmp_path / "job.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/worksheets/sheet1.xml", bytes(3_000_000))
    monkeypatch.setenv("LEAKGEO_MOST_GB", "0.001")
    with pytest.raises(JobError, match=r"take about 0.012 GB of memory; the limit is 0.001 GB"):
        read_job(path)
    monkeypatch.setenv("LEAKGEO_MOST_GB", "a lot")
    assert refusal(path) is None


def test_a_parquet_of_rows_without_end(tmp_path, monkeypatch):
    """Nulls take no room in the file: its rows are counted, not its bytes."""
    pa, pq = pytest.importorskip("pyarrow"), pytest.importorskip("pyarrow.parquet")
    pq.write_table(pa.table({"a": pa.nulls(3_000_000, pa.int64())}), tmp_path / "readings.parquet")
    assert (tmp_path / "readings.parquet").stat().st_size < 10_000
    monkeypatch.setenv("LEAKGEO_MOST_GB", "0.02")
    assert dict(refusal(tmp_path / "readings.parquet").values)["limit_gb"] == 0.02


def raster(path, size, cell):
    east, north = jobs.EAST - 10, jobs.NORTH + 30
    with rasterio.open(
        path, "w", driver="GTiff", width=size, height=size, count=1, dtype="float32",
        crs=jobs.CRS, transform=rasterio.Affine(cell, 0, east, 0, -cell, north), sparse_ok=True,
        tiled=True, blockxsize=1024, blockysize=1024, bigtiff="yes",
    ) as made:  # fmt: skip
        made.units = ("m",)


def with_z(folder):
    # A metre under the raster, which is empty: its heights are 0.
    shapes = shapely.force_3d(jobs.routes().geometry.to_numpy(), -1.0)
    return jobs.write(folder / "job.gpkg", routes=jobs.routes().set_geometry(shapes, crs=jobs.CRS))


def ground_said(path):
    return [f.problem for f in read_job(path).faults if f.layer == "ground"]


def test_a_raster_of_absurd_size(tmp_path):
    path = with_z(tmp_path)
    raster(tmp_path / "job_ground.tif", 600_000, 0.0005)
    (said,) = ground_said(path)
    assert "cells around the routes, more than can be read" in said


def test_a_large_raster_is_read_around_the_routes_alone(tmp_path):
    path = with_z(tmp_path)
    raster(tmp_path / "job_ground.tif", 200_000, 1.0)
    job = read_job(path)
    assert job.ground.elevation_m.size < 10_000


RASTER_VRT = (
    '<VRTDataset rasterXSize="9" rasterYSize="9"><SRS>EPSG:32633</SRS><GeoTransform>'
    f"{jobs.EAST}, 1, 0, {jobs.NORTH}, 0, -1</GeoTransform>"
    '<VRTRasterBand dataType="Float32" band="1"><SimpleSource><SourceFilename>'
    "/vsicurl/http://127.0.0.1:9/x.tif</SourceFilename></SimpleSource></VRTRasterBand></VRTDataset>"
)


def test_a_virtual_raster_is_not_followed(tmp_path):
    path = with_z(tmp_path)
    (tmp_path / "job_ground.tif").write_text(RASTER_VRT)
    (said,) = ground_said(path)
    assert said.startswith("It is not read: it is not an image")
    photo = tmp_path / "photo.tif"
    photo.write_text(RASTER_VRT)
    assert read_photo(photo, (14.0, 50.0, 15.0, 51.0), 100).problem.startswith(
        "It could not be read: it is no"
    )


def test_a_raster_of_one_endless_strip(tmp_path):
    """Its block alone would take four terabytes."""
    path = tmp_path / "photo.tif"
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=9,
        height=9,
        count=1,
        dtype="uint8",
        crs=4326,
        transform=rasterio.Affine(1e-6, 0, 14, 0, -1e-6, 50),
    ) as made:
        made.write(np.ones((1, 9, 9), dtype="uint8"))  # fmt: skip
    data = bytearray(path.read_bytes())
    # TIFF 6.0: tags 256 to 258 are width, length, bits a sample; 278 is rows a strip.
    count = int.from_bytes(data[8:10], "little")
    for k in range(count):
        at = 10 + 12 * k
        if int.from_bytes(data[at : at + 2], "little") in (256, 257, 278):
            data[at + 2 : at + 12] = b"\x04\x00\x01\x00\x00\x00" + (2_000_000).to_bytes(4, "little")
    path.write_bytes(data)
    seen = read_photo(path, (14.0, 49.0, 15.0, 51.0), 100)
    assert getattr(seen, "problem", "It could not be read.") == "It could not be read."
