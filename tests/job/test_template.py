"""The empty job."""

import sqlite3

import geopandas as gpd
import pyogrio
import pyproj
import pytest

from leakgeo.errors import JobError, OutputError, ParameterError
from leakgeo.job.read import read_job
from leakgeo.job.schema import drawn_layers, load_schemas
from leakgeo.job.template import write_template
from tests.job import jobs

OGR = {
    "string": "OFTString", "number": "OFTReal", "integer": "OFTInteger", "boolean": "OFTInteger",
    "datetime": "OFTDateTime", "date": "OFTDate",
}  # fmt: skip


@pytest.mark.parametrize("crs", ["EPSG:4326", 2263])
def test_it_has_every_layer_in_its_shape(tmp_path, crs):
    path = write_template(tmp_path / "job.gpkg", crs=crs)
    assert [p.name for p in tmp_path.iterdir()] == ["job.gpkg"]
    assert {n for n, _ in pyogrio.list_layers(path)} == set(drawn_layers())
    for name, schema in drawn_layers().items():
        info = pyogrio.read_info(path, layer=name)
        assert tuple(info["fields"]) == schema.columns
        assert list(info["ogr_types"]) == [OGR[f.type] for f in schema.fields]
        booleans = [f.type == "boolean" for f in schema.fields]
        assert [s == "OFSTBoolean" for s in info["ogr_subtypes"]] == booleans
        if schema.geometry_types:
            assert info["geometry_type"] in schema.geometry_types  # one that can be drawn into
            assert pyproj.CRS(info["crs"]) == pyproj.CRS(crs)
        else:
            assert info["geometry_type"] is None


def test_it_shows_codes_and_meanings_in_a_gis(tmp_path):
    path = write_template(tmp_path / "job.gpkg")
    with sqlite3.connect(path) as base:
        codes = base.execute(
            "SELECT value FROM gpkg_data_column_constraints c JOIN gpkg_data_columns d "
            "USING (constraint_name) WHERE table_name = 'routes' AND column_name = 'material' "
            "ORDER BY c.rowid"
        ).fetchall()
        assert base.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        # GDAL of QGIS 3.22 warns of a later version.
        assert base.execute("PRAGMA user_version").fetchone() == (10300,)
    base.close()
    assert tuple(c for (c,) in codes) == load_schemas()["routes"].field("material").codes


def test_read_as_it_is_it_says_what_it_lacks(tmp_path):
    with pytest.raises(JobError, match="has no routes") as caught:
        read_job(write_template(tmp_path / "job.gpkg"))
    assert any("no readings" in f.problem for f in caught.value.faults)


def test_filled_in_it_is_a_job(tmp_path):
    path = write_template(tmp_path / "job.gpkg")
    for name in ("routes", "readings"):
        table: gpd.GeoDataFrame = getattr(jobs, name)().to_crs(4326)
        if name == "routes":
            table = table.set_geometry(
                table.geometry.apply(lambda g: gpd.GeoSeries([g]).union_all())
            )
        pyogrio.write_dataframe(
            table, path, layer=name, append=True, promote_to_multi=name == "routes"
        )
    job = read_job(path)
    assert job.readings["reason"].isna().all()
    assert job.routes.length.tolist() == pytest.approx([50.0, 40.0], rel=1e-3)
    empty = {n for n, c in job.counts.items() if c == 0}
    assert empty == set(load_schemas("input")) - {"routes", "readings"}


def test_it_never_replaces_a_file(tmp_path):
    path = tmp_path / "job.gpkg"
    path.write_text("precious")
    with pytest.raises(OutputError, match="exists"):
        write_template(path)
    assert path.read_text() == "precious"


@pytest.mark.parametrize("name", ["job.shp", "no/such/folder/job.gpkg"])
def test_where_it_can_not_be_written(tmp_path, name):
    with pytest.raises(OutputError):
        write_template(tmp_path / name)


@pytest.mark.parametrize("crs", ["nonsense", 4978])
def test_what_is_no_crs(tmp_path, crs):
    with pytest.raises(ParameterError):
        write_template(tmp_path / "job.gpkg", crs=crs)
    assert not list(tmp_path.iterdir())
