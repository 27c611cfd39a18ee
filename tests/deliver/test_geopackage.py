"""The GeoPackage, read back with geopandas and sqlite3."""

from __future__ import annotations

import sqlite3
import stat

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from pyproj import Transformer

import leakgeo
from leakgeo.deliver.geopackage.layers import write_geopackage
from leakgeo.deliver.geopackage.typed import as_type
from leakgeo.errors import OutputError
from leakgeo.job.digest import LayerDigest
from leakgeo.job.results.stored_record import PREFIX, RUN_RECORD
from leakgeo.job.schema import load_schema, load_schemas
from leakgeo.result import Result
from tests.deliver.small import FEET, METRES, X0, Y0, frame, job, layers, small


@pytest.fixture(name="written", scope="module")
def _written(tmp_path_factory):
    path = tmp_path_factory.mktemp("out") / "result.gpkg"
    write_geopackage(small(), path)
    return path


def test_layers_with_rows_are_there_in_the_order_of_work(written):
    names = pyogrio.list_layers(written)
    with_rows = {name for name, rows in layers().items() if len(rows)}
    more = ["job_routes", "job_readings", RUN_RECORD, "layer_styles"]
    assert sorted(name for name, _ in names) == sorted([*with_rows, *more])
    shapes = ["marks", "search_zones", "readings_on_route", "job_routes", "job_readings"]
    assert [n for n, kind in names if kind] == shapes
    for name in names[:, 0]:
        assert pyogrio.read_info(written, layer=name)["features"], name
    styled = set(pyogrio.read_dataframe(written, layer="layer_styles")["f_table_name"])
    assert styled == {"lines", *shapes}


def test_columns_stand_as_in_the_schema_and_more_come_after(written):
    for name, frame_in in layers().items():
        if name == "mine" or frame_in.empty:
            continue
        wanted = list(load_schema(name).columns)
        found = pyogrio.read_info(written, layer=name)["fields"].tolist()
        own = {c for c in frame_in.columns if c != "geometry"} - set(wanted)
        assert found[: len(wanted)] == wanted
        assert set(found[len(wanted) :]) == own


def test_shapes_are_in_the_output_crs_flat_and_where_pyproj_puts_them(written):
    mark = gpd.read_file(written, layer="marks")
    assert mark.crs == FEET
    assert not mark.geometry.has_z.any()
    x, y = Transformer.from_crs(METRES, FEET, always_xy=True).transform(X0, Y0 + 3)
    assert np.allclose([mark.geometry.x[0], mark.geometry.y[0]], [x, y], atol=1e-6)


def test_values_come_back_as_they_were(written):
    lines, there = gpd.read_file(written, layer="lines"), layers()["lines"]
    for name in ("line_id", "status", "message", "chainage_m", "loss_l_per_day", "priority"):
        pd.testing.assert_series_equal(lines[name], there[name], check_dtype=False)
    reading = pyogrio.read_dataframe(written, layer="readings_on_route")
    assert reading["used"].tolist() == [True, False, False]
    assert reading["time"][0] == pd.Timestamp("2026-03-01T08:00:00.125Z")
    assert pd.isna(reading["time"][1])
    assert reading["seq"].iloc[2] == 3
    assert reading.geometry.isna().tolist() == [False, False, True]


def test_types_are_those_of_the_schema_even_where_a_column_is_empty(written):
    info = pyogrio.read_info(written, layer="marks")
    types = dict(zip(info["fields"], info["ogr_types"], strict=True))
    assert info["geometry_type"] == "Point"
    assert types["azimuth_deg"] == "OFTReal"
    assert types["message"] == "OFTString"
    used = pyogrio.read_info(written, layer="readings_on_route")
    kinds = dict(zip(used["fields"], used["ogr_subtypes"], strict=True))
    assert kinds["used"] == "OFSTBoolean"


def test_layers_without_rows_come_back_typed(tmp_path):
    valves = frame(
        {"valve_id": [], "leaks_by": [], "reason": [], "mine": pd.Series([], dtype=float)}, []
    )
    result = small(valves=valves)
    contents = write_geopackage(result, tmp_path / "result.gpkg")
    assert contents["conflicts"] == contents["job_valves"] == LayerDigest.of(valves)
    back = leakgeo.read_result(tmp_path)
    assert list(back.layers) == [name for name in load_schemas("output") if name in layers()]
    conflicts = back.layers["conflicts"]
    assert conflicts.columns.tolist() == [*load_schema("conflicts").columns, "geometry"]
    assert (conflicts.crs, len(conflicts)) == (back.job.crs, 0)
    assert conflicts["clearance_m"].dtype == float
    assert conflicts["notified"].dtype == bool
    assert back.job.valves.columns.tolist() == [
        *load_schema("valves").columns,
        "reason",
        "mine",
        "geometry",
    ]
    assert back.job.valves["mine"].dtype == float
    assert back.job.contacts is None  # the job has none


def test_a_layer_has_one_type_of_shape(written):
    zones = gpd.read_file(written, layer="search_zones")
    assert set(zones.geom_type) == {"MultiPolygon"}
    assert pyogrio.read_info(written, layer="search_zones")["geometry_type"] == "MultiPolygon"


def test_tables_are_attributes_and_layers_tell_what_they_are(written):
    with sqlite3.connect(written) as base:
        rows = base.execute("select table_name, data_type, identifier, description "
                            "from gpkg_contents").fetchall()  # fmt: skip
    base.close()
    contents = {name: rest for name, *rest in rows}
    assert contents["lines"][0] == contents["mine"][0] == "attributes"
    assert contents["marks"][0] == "features"
    used = {name for name in contents if name.startswith(PREFIX)}
    assert {contents[name][1].split(",")[1] for name in used} == {" as used"}
    for name in set(contents) - {"mine", "layer_styles", RUN_RECORD} - used:
        assert contents[name][1:] == [load_schema(name).title, load_schema(name).description]


def test_names_that_the_format_takes_for_itself_are_kept(written):
    mine = pyogrio.read_dataframe(written, layer="mine")
    assert mine["FID"].tolist() == [7]
    assert mine[["Size", "size_2", "geom_2"]].to_numpy().tolist() == [[1, 2, "x"]]
    assert mine["both"].item() == '{"a": 1}'


def test_opens_read_only_and_leaves_nothing_beside(written):
    written.chmod(stat.S_IREAD)
    before = sorted(written.parent.iterdir())
    assert written.read_bytes()[18:20] == b"\x01\x01"  # not in write-ahead mode (SQLite format)
    with sqlite3.connect(f"file:{written}?mode=ro", uri=True) as base:
        assert base.execute("pragma integrity_check").fetchone() == ("ok",)
        assert base.execute("pragma foreign_key_check").fetchall() == []
    base.close()
    gpd.read_file(written, layer="marks")
    assert sorted(written.parent.iterdir()) == before


@pytest.mark.parametrize("code", [4326, 2263, 27700, 3857, 26910])
def test_any_output_crs_is_written_as_such(tmp_path, code):
    from pyproj import CRS

    write_geopackage(small(output_crs=CRS(code)), tmp_path / "r.gpkg")
    assert gpd.read_file(tmp_path / "r.gpkg", layer="marks").crs == CRS(code)


def test_a_crs_without_a_code_is_kept(tmp_path):
    from pyproj import CRS

    own = CRS("+proj=tmerc +lat_0=37.7 +lon_0=-122.4 +k=1.0001 +x_0=1000 +datum=NAD83 +units=us-ft")
    write_geopackage(small(output_crs=own), tmp_path / "r.gpkg")
    back = gpd.read_file(tmp_path / "r.gpkg", layer="marks")
    assert back.to_crs(METRES).geometry.iloc[0].distance(layers()["marks"].geometry.iloc[0]) < 1e-4


values = st.one_of(st.none(), st.booleans(), st.integers(-(2**40), 2**40), st.text(max_size=8),
                   st.floats(allow_nan=False, allow_infinity=False, width=32))  # fmt: skip


KINDS = ["str", "float64", "Int64", "boolean", "datetime64[us, UTC]", None]


@given(st.lists(values, min_size=1, max_size=8), st.sampled_from(KINDS))
@example([9.223372036854776e18], "Int64")
@example([10**400], "float64")
@example(["NAN"], "float64")
def test_no_value_is_lost_whatever_the_type_asked_for(column, kind):
    typed = as_type(pd.Series(column, dtype=object), kind)
    assert typed.isna().tolist() == [v is None for v in column]


def test_what_is_handed_in_stays_as_it_was(tmp_path):
    result, before = small(), layers()
    write_geopackage(result, tmp_path / "r.gpkg")
    for name, was in before.items():
        pd.testing.assert_frame_equal(pd.DataFrame(result.layers[name]), pd.DataFrame(was))


def test_a_folder_that_is_gone_is_an_output_error(tmp_path):
    with pytest.raises(OutputError, match="marks"):
        write_geopackage(small(), tmp_path / "nowhere" / "r.gpkg")


def test_all_null_shapes_keep_the_type_of_the_contract(tmp_path):
    lost = frame({"line_id": ["L-1"]}, [None])
    write_geopackage(Result(job(), {"dig_zones": lost}), tmp_path / "r.gpkg")
    assert pyogrio.read_info(tmp_path / "r.gpkg", layer="dig_zones")["geometry_type"] == "Polygon"
