"""Results in other formats, read back by other code than wrote them."""

from __future__ import annotations

import json
from dataclasses import replace
from xml.etree import ElementTree as ET

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Transformer

import leakgeo
from leakgeo.deliver.folder.write import write_result
from leakgeo.deliver.formats.columns import CUT, DBF_TEXT, dbf_columns, short_names
from leakgeo.deliver.formats.registry import format_names
from leakgeo.deliver.formats.write import LOSES, export_formats
from leakgeo.errors import OutputError, ParameterError
from leakgeo.job.results.read_back import is_result, read_result
from leakgeo.registry import load_steps
from leakgeo.runner.chain import run_step
from tests.deliver.fixture import FEET, METRE, street


@pytest.fixture(name="result", scope="module")
def _result():
    made = street()
    status = ["located", "keep_listening"]
    marks = made["marks"].assign(status=status)
    return made.adding({"marks": marks})


@pytest.fixture(name="out", scope="module")
def _out(result, tmp_path_factory):
    folder = tmp_path_factory.mktemp("export")
    export_formats(result, folder, "all")
    return folder


@pytest.mark.parametrize("name", format_names())
def test_each_format_tells_what_it_loses_on_screen_and_in_a_file(result, tmp_path, name):
    (fault,) = export_formats(result, tmp_path, name)
    text = (tmp_path / name / LOSES).read_text("utf-8")
    assert fault.effect == "noted"
    assert all(line[2:] in fault.problem for line in text.splitlines()[1:])
    assert "result.gpkg" in text


def test_geojson_has_what_the_layers_have(out, result):
    mark = json.loads((out / "geojson/marks.geojson").read_text("utf-8"))["features"][0]
    there = result["marks"].geometry.iloc[0]
    lonlat = Transformer.from_crs(METRE, 4326, always_xy=True).transform(there.x, there.y)
    assert np.allclose(mark["geometry"]["coordinates"], lonlat, atol=1e-7)
    assert mark["properties"]["line_id"] == "Alder 12"
    reading = pyogrio.read_dataframe(out / "geojson/readings_on_route.geojson")
    assert len(reading) == len(result["readings_on_route"])


def test_kml_names_a_mark_and_what_is_no_mark_yet(out):
    space = {"k": "http://www.opengis.net/kml/2.2"}
    root = ET.parse(out / "kml/result.kml").getroot()
    names = [e.text for e in root.findall(".//k:Placemark/k:name", space)]
    assert "Mark Alder 12" in names
    assert "No mark yet Alder 14" in names
    assert "Mark Alder 14" not in names


@pytest.mark.parametrize(("name", "end"), [("flatgeobuf", "fgb"), ("geoparquet", "parquet")])
def test_values_and_crs_come_back(out, result, name, end):
    read = gpd.read_parquet if end == "parquet" else gpd.read_file
    back = read(out / name / f"readings_on_route.{end}").sort_values(["line_id", "chainage_m"])
    assert back.crs == FEET
    was = result["readings_on_route"].sort_values(["line_id", "chainage_m"])
    assert back["level_comparable_db"].tolist() == was["level_comparable_db"].tolist()
    assert back["used"].astype(bool).tolist() == was["used"].tolist()
    assert back.to_crs(METRE).geometry.iloc[3].distance(was.geometry.iloc[3]) < 1e-3


def test_tables_without_shapes_stand_beside(out):
    for name in ("geojson", "kml", "flatgeobuf", "dxf"):
        assert "Alder 12" in (out / name / "lines.csv").read_text("utf-8-sig")
    assert len(pd.read_parquet(out / "geoparquet/lines.parquet")) == 6
    assert len(pyogrio.read_dataframe(out / "shapefile/lines.dbf", read_geometry=False)) == 6


def test_a_shapefile_never_hides_that_a_hold_was_cut(result, tmp_path):
    dig = result["dig_zones"].assign(worst_hold="no answer from Zähler " * 40)
    export_formats(result.adding({"dig_zones": dig}), tmp_path, "shapefile")
    back = gpd.read_file(tmp_path / "shapefile/dig_zones.shp")
    assert back["worst_hold"].str.endswith(CUT).all()
    assert "worst_hold is cut" in (tmp_path / "shapefile" / LOSES).read_text("utf-8")
    names = pd.read_csv(tmp_path / "shapefile/columns.csv")
    found = set(back.columns) - {"geometry"}
    assert set(names.loc[names["layer"] == "dig_zones", "in_shapefile"]) == found


@given(st.lists(st.text(max_size=14), max_size=30, unique=True))
def test_short_names_are_short_and_all_apart(names):
    short = short_names(names)
    assert list(short) == names
    assert len({s.lower() for s in short.values()}) == len(names)
    assert all(len(s) <= 10 for s in short.values())


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=400))
def test_cut_text_fits_and_says_so(text):
    (cut,) = dbf_columns(pd.DataFrame({"a": pd.Series([text], dtype="str")}))[0]["a"]
    assert len(cut.encode()) <= DBF_TEXT
    assert cut == text or (cut.endswith(CUT) and text.startswith(cut.removesuffix(CUT)))


def test_a_drawing_has_layers_and_no_areas(out):
    back = pyogrio.read_dataframe(out / "dxf/result.dxf")
    assert {"LEAK_MARKS", "LEAK_NO_MARK_YET", "LEAK_DIG_ZONES"} <= set(back["Layer"])
    assert not back.geom_type.str.contains("Polygon").any()
    assert (back["Layer"] == "LEAK_MARKS").sum() == 3  # ring and two arms of the one mark
    arms = back.loc[back["Layer"] == "LEAK_MARKS"].geometry.length.min()
    assert arms == pytest.approx(1.0 / (1200 / 3937), rel=1e-4)  # 1 m in US survey feet


def test_a_format_that_is_not_known_is_reported(result, tmp_path):
    with pytest.raises(ParameterError, match="dwg is not known; use dxf, flatgeobuf"):
        export_formats(result, tmp_path, "dwg")


def test_a_folder_of_someone_else_is_left_alone(result, tmp_path):
    (tmp_path / "exported" / "kml").mkdir(parents=True)
    (tmp_path / "exported" / "kml" / "mine.kml").write_text("mine")
    (tmp_path / "styles").mkdir()
    (tmp_path / "styles" / "mine.qml").write_text("mine")
    with pytest.raises(OutputError, match="not made by leakgeo"):
        leakgeo.export(result, out=tmp_path, format="kml", density=False)
    leakgeo.export(result, out=tmp_path, format="dxf", density=False)
    assert (tmp_path / "styles" / "mine.qml").read_text() == "mine"
    assert (tmp_path / "exported" / "kml" / "mine.kml").read_text() == "mine"


def test_what_was_exported_goes_when_the_result_is_replaced(result, tmp_path):
    done = leakgeo.export(result, out=tmp_path, format="dxf")
    write_result(done, tmp_path)
    assert (tmp_path / "exported/dxf/result.dxf").is_file()
    assert (tmp_path / "leak_density.tif").is_file()
    write_result(result, tmp_path, overwrite=True)
    assert not any((tmp_path / n).exists() for n in ("exported", "styles", "leak_density.tif"))


def test_a_result_is_exported_without_its_job(result, tmp_path):
    write_result(result, tmp_path / "old")
    assert is_result(tmp_path / "old")
    before = sorted((tmp_path / "old").iterdir())
    step = load_steps()["export"]
    done = run_step(step, tmp_path / "old", tmp_path / "new", lines=["Alder 12"], format="geojson")
    marks = gpd.read_file(tmp_path / "new/exported/geojson/marks.geojson")
    assert marks["line_id"].tolist() == ["Alder 12"]
    assert done["marks"].geometry.iloc[0].distance(result["marks"].geometry.iloc[0]) < 1e-3
    assert sorted((tmp_path / "old").iterdir()) == before
    assert not (tmp_path / "new" / "result.gpkg").exists()
    with pytest.raises(ParameterError, match="no line Elm 1"):
        read_result(tmp_path / "old", ["Elm 1"])
    with pytest.raises(ParameterError, match="no line Elm 1"):
        read_result(tmp_path / "old", "Elm 1")


def test_what_an_earlier_result_lacks_is_not_made_up(result, tmp_path):
    layers = {k: v for k, v in result.layers.items() if k != "dig_zones"}
    write_result(replace(result, layers=layers), tmp_path / "old")
    done = leakgeo.export(tmp_path / "old", out=tmp_path / "new")
    assert "dig_zones" not in done.layers
    with pytest.raises(ParameterError, match=r"no result\.gpkg"):
        read_result(tmp_path / "nowhere")


@pytest.mark.parametrize("step", ["locate", "clearance"])
def test_nothing_is_worked_out_from_a_result_that_was_read_back(result, tmp_path, step):
    write_result(result, tmp_path / "old")
    old = leakgeo.read_result(tmp_path / "old")
    with pytest.raises(ParameterError, match="Give the job"):
        load_steps()[step](old)
    with pytest.raises(OutputError, match="read back"):
        write_result(old, tmp_path / "new")
    assert not (tmp_path / "new").exists()
