"""Readings without a position that were taped: a crew with a tape alone."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

import leakgeo
from leakgeo.deliver.folder.record import counts
from leakgeo.errors import JobError
from leakgeo.reason import Reason
from tests.battery.check import good_result, lines_of
from tests.battery.good import FIXED, LAST, LINEAR, TAPED, layers

TAPES = [TAPED, LINEAR, LAST]
SAME_M = 0.005


def bare():
    """The readings as a table without geometry."""
    return pd.DataFrame(layers()["readings"].drop(columns="geometry"))


@pytest.fixture(scope="module")
def by_tape():
    return leakgeo.locate({**layers(), "readings": bare()})


def test_the_marks_are_those_of_readings_with_positions(by_tape):
    now, before = lines_of(by_tape).loc[TAPES], lines_of(good_result()).loc[TAPES]
    np.testing.assert_allclose(now["chainage_m"], before["chainage_m"], atol=SAME_M)
    assert now["status"].equals(before["status"])


def test_what_is_not_taped_is_rejected_and_all_is_counted(by_tape):
    assert lines_of(by_tape).loc[FIXED, "status"] == "rejected"
    account = counts(by_tape)["readings"]
    assert (account["used"], account["rejected"], account["in"]) == (99, 35, 134)
    found = {f.code: f for f in by_tape.job.faults if f.layer == "readings"}
    assert found["placed_by_chainage"].reason == Reason("placed_by_chainage", placed=99, rows=134)
    assert found["reading_without_geometry"].features == 35


def test_they_stand_on_their_routes_where_the_tape_says(by_tape):
    placed = by_tape["readings_on_route"].query("used")
    routes = by_tape.job.routes.set_index("line_id").geometry
    own = gpd.GeoSeries(routes[placed["line_id"]].to_numpy(), index=placed.index, crs=placed.crs)
    assert placed.geometry.distance(own).max() < 1e-6
    ground = own.project(placed.geometry) / placed["chainage_m"]
    assert ground.max() - ground.min() < 1e-3  # the scale of the plane against the ground
    assert ground.mean() == pytest.approx(1.0, abs=1e-3)


def test_a_route_in_parts_is_measured_as_one():
    """Its parts may be listed in any order."""
    tables = layers()
    line = tables["routes"].geometry.iloc[0]
    near, far = (shapely.ops.substring(line, *ends) for ends in ((0, 9), (9, line.length)))
    parts = tables["routes"].geometry.to_numpy().copy()
    parts[0] = shapely.MultiLineString([far, near])
    tables["routes"] = tables["routes"].set_geometry(parts, crs=tables["routes"].crs)
    one = leakgeo.profile({**layers(), "readings": bare()})["readings_on_route"]
    two = leakgeo.profile({**tables, "readings": bare()})["readings_on_route"]
    own = (one["line_id"] == TAPED) & one["used"]
    assert own.any()
    assert one.geometry[own].distance(two.geometry[own], align=False).max() < SAME_M


def test_a_table_of_text_does(tmp_path):
    bare().to_csv(tmp_path / "readings.csv", index=False)
    layers()["routes"].to_file(tmp_path / "routes.geojson")
    job = leakgeo.read_job(tmp_path)
    assert job.readings["reason"].isna().sum() == 99
    assert job.readings.crs == job.crs


def test_without_a_tape_a_layer_without_geometry_stops_the_job():
    with pytest.raises(JobError, match="The layer has no geometry"):
        leakgeo.read_job({**layers(), "readings": bare().drop(columns="chainage_m")})


def test_a_tape_on_a_line_that_no_route_has_is_told():
    told = leakgeo.read_job({**layers(), "readings": bare().assign(line_id="nowhere")}).readings
    assert told["reason"].eq(Reason("line_unknown", value="nowhere")).sum() == 99
