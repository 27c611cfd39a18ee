"""Texts of a job that would be script, markup, formula, path or SQL somewhere further on."""

import csv
import json
import re
import sqlite3
import xml.etree.ElementTree as ET
import zipfile

import geopandas as gpd
import pyogrio
import pytest
import shapely

import leakgeo
from leakgeo.deliver.folder.spreadsheets import FORMULA_STARTS
from leakgeo.job.read import read_job
from tests.battery.good import CRS, LINES, layers
from tests.battery.good import TAPED as FIRST

HIT = "</script><script>window.hit=1</script><img src=x onerror=window.hit=1>{{7*7}}{% raw %}]]>"
NAMES = (HIT, "../../../../tmp/hit", "=cmd|' /C calc'!A0", "'; drop table lines; --\"")
MARKUP = re.compile(r"<script>window|<img src=x|window\.hit=1<", re.IGNORECASE)


def renamed(table):
    if "line_id" not in table:
        return table
    return table.assign(line_id=table["line_id"].replace(dict(zip(LINES, NAMES, strict=True))))


@pytest.fixture(scope="module")
def out(tmp_path_factory):
    """A run of a job whose every text is hostile, in every format."""
    folder = tmp_path_factory.mktemp("hostile")
    tables = {name: renamed(table) for name, table in layers().items()}
    tables["readings"]["walk_id"] = HIT + tables["readings"]["walk_id"]
    tables["utilities"] = tables["utilities"].assign(
        owner=HIT, utility_id="=1+1", response=HIT, **{"<b>column": HIT}
    )
    at = shapely.get_point(tables["routes"].geometry.to_numpy(), -1)[:2]
    tables["history"] = gpd.GeoDataFrame(
        {"kind": ["past_leak", HIT], "date": ["2020-01-01", HIT]}, geometry=at, crs=CRS
    )
    for name, table in tables.items():
        pyogrio.write_dataframe(table, folder / "job.gpkg", layer=name)
    leakgeo.run(folder / "job.gpkg", folder / "out", format="all")
    return folder / "out"


def test_nothing_is_written_elsewhere(out):
    """No file is named by the job: names of lines and layers go into no path."""
    assert {p.name for p in out.parent.iterdir()} == {"job.gpkg", "out"}
    inside = [p.relative_to(out).as_posix() for p in out.rglob("*")]
    assert not [name for name in inside if "hit" in name or "cmd" in name or "drop" in name]


def test_the_map_runs_none_of_it(out):
    html = (out / "map.html").read_text("utf-8")
    assert html.count("<script") == html.count("</script>")
    assert not MARKUP.search(html)
    assert "49{% raw" not in html


def test_xml_is_well_formed_and_holds_it_as_text(out):
    files = [p for p in out.rglob("*") if p.suffix in (".kml", ".qml", ".sld", ".svg", ".xml")]
    assert len(files) > 5
    for path in files:
        ET.parse(path)
        assert not MARKUP.search(path.read_text("utf-8")), path
    with zipfile.ZipFile(out / "result.qgz") as archive:
        project = archive.read("result.qgs").decode()
    assert ET.fromstring(project).tag == "qgis"
    assert not MARKUP.search(project)


def test_json_holds_it_as_text(out):
    files = [p for p in out.rglob("*") if p.suffix in (".json", ".geojson")]
    assert files
    for path in files:
        json.loads(path.read_text("utf-8"))


def test_spreadsheets_calculate_none_of_it(out):
    for name in ("summary.csv", "faults.csv"):
        with (out / name).open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.reader(file))
        assert len({len(row) for row in rows}) == 1
        numbers = re.compile(r"[+-]?[\d.]+(?:e[+-]?\d+)?", re.IGNORECASE)
        cells = [c for row in rows for c in row if not numbers.fullmatch(c)]
        assert not [c for c in cells if c.startswith(FORMULA_STARTS)]
        assert not [c for c in cells if c.lstrip().startswith(("=", "@"))]


def test_the_geopackage_has_the_names_as_they_are(out):
    lines = pyogrio.read_dataframe(out / "result.gpkg", layer="lines")
    assert set(lines["line_id"]) == set(NAMES)
    assert {"marks", "dig_zones"} <= set(pyogrio.list_layers(out / "result.gpkg")[:, 0])


def test_names_of_layers_are_no_sql_and_no_path(tmp_path):
    odd = ("'; drop table routes; --", "../x", 'a"b<', "readings\n", "x" * 500)
    path = tmp_path / "job.gpkg"
    for name, table in layers().items():
        pyogrio.write_dataframe(table, path, layer=name)
    for k, name in enumerate(odd):  # GDAL itself writes no such names
        pyogrio.write_dataframe(layers()["routes"], path, layer=f"w{k}")
        with sqlite3.connect(path) as base:
            for table in ("gpkg_contents", "gpkg_geometry_columns", "gpkg_ogr_contents"):
                base.execute(f"update {table} set table_name = ? where table_name = 'w{k}'",
                             (name,))  # fmt: skip
            doubled = name.replace('"', '""')
            base.execute(f'alter table "w{k}" rename to "{doubled}"')
        base.close()
    (tmp_path / "map.toml").write_text(
        "[routes]\nlayer = \"'; drop table routes; --\"\n[surfaces]\nlayer = '../x'\n"
    )
    assert len(read_job(path).routes) == 4
    job = read_job(path, mapping=tmp_path / "map.toml")
    assert job.routes["line_id"].tolist() == list(LINES)
    assert FIRST in LINES
    assert {p.name for p in tmp_path.iterdir()} == {"job.gpkg", "map.toml"}
