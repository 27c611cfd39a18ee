"""A job of GeoDataFrames: the same as from a file, and nothing handed in is changed."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest

import leakgeo
from leakgeo.job.schema import readable_layers
from tests.job.jobs import readings, routes
from tests.town import TOWN


def town():
    """Give the layers of the shipped job, whose CRS is in US survey feet."""
    there = set(pyogrio.list_layers(TOWN)[:, 0])
    return {n: pyogrio.read_dataframe(TOWN, layer=n) for n in readable_layers() if n in there}


def test_a_job_in_feet_is_the_same_from_memory_and_from_its_file():
    layers = town()
    assert layers["routes"].crs.axis_info[0].unit_name == "US survey foot"
    before = {name: layer.copy() for name, layer in layers.items()}
    ours, theirs = leakgeo.read_job(layers), leakgeo.read_job(TOWN)
    assert ours.crs == theirs.crs
    assert ours.output_crs == theirs.output_crs
    assert ours.counts == theirs.counts
    assert ours.faults == theirs.faults
    for name in ours:
        pd.testing.assert_frame_equal(getattr(ours, name), getattr(theirs, name))
    for name, layer in layers.items():
        pd.testing.assert_frame_equal(layer, before[name])


def test_steps_and_the_chain_take_geodataframes(tmp_path):
    layers = {"routes": routes().iloc[:1], "readings": readings(12)}
    found = leakgeo.locate(layers)
    assert found["lines"]["line_id"].tolist() == ["L1"]
    done = leakgeo.run(layers, tmp_path / "out")
    assert done["marks"]["chainage_m"].tolist() == found["marks"]["chainage_m"].tolist()
    assert (tmp_path / "out" / "run.json").exists()


def test_names_index_and_types_of_a_notebook_do_not_matter():
    points = readings(6).set_index(np.array([3, 3, 1, 9, 9, 9])).rename_geometry("where")
    points["line_id"] = points["line_id"].astype("category")
    points["second"] = points["where"].buffer(1.0)
    ways = routes().to_crs("EPSG:4326")
    job = leakgeo.read_job({"Routes": ways, "READINGS": points})
    plain = leakgeo.read_job({"routes": ways, "readings": readings(6)})
    assert job.readings["line_id"].tolist() == plain.readings["line_id"].tolist()
    assert job.readings.index.tolist() == list(range(6))
    assert job.readings.geometry.geom_equals_exact(plain.readings.geometry, 1e-9).all()
    assert points.columns.tolist()[-2:] == ["where", "second"]


@pytest.mark.parametrize(
    ("spoilt", "words"),
    [
        ({"routes": routes().set_crs(None, allow_override=True)}, "no CRS"),
        ({"routes": pd.DataFrame({"line_id": ["L1"]})}, "no geometry"),
        ({"routes": [1, 2]}, "not a table"),
        ({}, "no layer routes"),
    ],
)
def test_what_cannot_be_run_is_told_as_from_a_file(spoilt, words):
    with pytest.raises(leakgeo.JobError, match=words) as raised:
        leakgeo.read_job({"readings": readings(3), **spoilt})
    assert any(f.layer == "routes" and f.effect == "stops" for f in raised.value.faults)


@pytest.mark.parametrize("source", [None, 5, ["routes"], routes()])
def test_what_is_no_job_at_all(source):
    with pytest.raises(leakgeo.JobError, match="neither a path nor tables by the names of layers"):
        leakgeo.read_job(source)


def test_what_is_no_mapping_and_lines_by_number():
    tables = {"routes": routes().assign(line_id=[101, 102]), "readings": readings(line_id=101)}
    with pytest.raises(leakgeo.ParameterError, match="mapping: a dict is not allowed"):
        leakgeo.read_job(tables, mapping={"routes": {}})
    for asked in (101, "101", [101], ("101",)):
        job = leakgeo.read_job(tables, lines=asked)
        assert job.routes["reason"].isna().tolist() == [True, False]


def test_two_columns_of_one_name_are_told():
    one = readings(3).assign(gain_db=20.0)
    twice = pd.concat([one, one[["gain_db"]]], axis=1)
    job = leakgeo.read_job({"routes": routes(), "readings": twice})
    assert job.readings["gain_db"].isna().all()
    assert any("none of them is read: gain_db" in f.problem for f in job.faults)


def test_a_table_without_geometry_stays_one():
    tests = pd.DataFrame({"line_id": ["L1"], "start_reading": [1.0], "end_reading": [2.0],
                          "volume_unit": ["m3"],
                          "start_time": pd.to_datetime(["2026-03-01T00:00Z"]),
                          "end_time": pd.to_datetime(["2026-03-01T02:00Z"])})  # fmt: skip
    job = leakgeo.read_job({"routes": routes(), "readings": readings(), "meter_tests": tests})
    assert job.meter_tests["reason"].isna().all()
    assert not isinstance(job.meter_tests, gpd.GeoDataFrame)
