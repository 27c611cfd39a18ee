"""Utilities as they come: in feet, in degrees, with null and invalid shapes; same clearances."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely import LineString, Point, Polygon

from leakgeo.job.read import read_job
from leakgeo.result import Result
from leakgeo.steps import CLEARANCE
from tests.dig.conftest import sheets

UTM = "EPSG:26910"
X0, Y0 = 550_000.0, 4_180_000.0


def utilities():
    shapes = [
        LineString([(X0 + 2.2, Y0 - 30), (X0 + 2.0, Y0 + 30)]),
        Point(X0 - 1.7, Y0 + 0.4),
        Polygon([(X0 - 3, Y0 - 3), (X0 - 1, Y0 - 3), (X0 - 1, Y0 - 2), (X0 - 3, Y0 - 2)]),
        Polygon([(X0 + 3, Y0), (X0 + 4, Y0 + 1), (X0 + 4, Y0), (X0 + 3, Y0 + 1)]),
        None,
    ]
    return gpd.GeoDataFrame(
        {"utility_id": ["U-1", "U-2", "U-3", "U-4", "U-5"], "kind": "electric",
         "owner": "Fernhill Power", "width_m": 0.2, "quality_level": "B", "notified": True,
         "response": "marked", "response_time": pd.Timestamp("2026-03-01T10:00Z")},
        geometry=shapes, crs=UTM,
    )  # fmt: skip


def clearances(folder, route_crs, utility_crs):
    """Read a job whose layers are in the given CRS, put a mark in it, and clear it."""
    path = folder / "job.gpkg"
    routes = gpd.GeoDataFrame(
        {"line_id": ["L-1"], "material": "copper", "depth_m": 0.9, "diameter_mm": 25.0},
        geometry=[LineString([(X0, Y0 - 20), (X0, Y0 + 20)])], crs=UTM,
    )  # fmt: skip
    at = np.linspace(-10, 10, 9)
    readings = gpd.GeoDataFrame(
        {"reading_id": [f"r{i}" for i in range(9)], "line_id": "L-1", "sound_level": 50.0,
         "sound_unit": "db"}, geometry=[Point(X0, Y0 + y) for y in at], crs=UTM,
    )  # fmt: skip
    routes.to_crs(route_crs).to_file(path, layer="routes")
    readings.to_crs(route_crs).to_file(path, layer="readings")
    utilities().to_crs(utility_crs).to_file(path, layer="utilities")
    job = read_job(path)
    mark = gpd.GeoSeries([Point(X0, Y0)], crs=UTM).to_crs(job.crs)
    marks = gpd.GeoDataFrame(
        {"line_id": ["L-1"], "rank": 1, "chainage_m": 20.0, "along_sd_m": 0.2, "along_95_m": 0.4,
         "across_95_m": 0.4, "probability_within_1ft": 0.8, "limited_by": "sound"}, geometry=mark,
    )  # fmt: skip
    lines = pd.DataFrame({"line_id": ["L-1"], "status": ["located"]})
    done = CLEARANCE(Result(job, {"marks": marks, "lines": lines}))
    return sheets(done).iloc[0], done.layers["conflicts"].set_index("utility_id")


@pytest.fixture(name="here", scope="module")
def _here(tmp_path_factory):
    return clearances(tmp_path_factory.mktemp("here"), UTM, UTM)[1]


def test_true_clearances_to_a_line_a_point_and_an_outline(here):
    assert here.loc["U-1", "clearance_m"] == pytest.approx(2.1 - 1.0 - 0.1, abs=0.01)
    assert here.loc["U-2", "clearance_m"] == pytest.approx(np.hypot(1.7, 0.4) - 1.1, abs=0.01)
    assert here.loc["U-3", "clearance_m"] == pytest.approx(np.hypot(1, 2) - 1.0, abs=0.01)


# California zone 3 in US survey feet, degrees, and Oregon north in international feet: one datum
@pytest.mark.parametrize("utility_crs", ["EPSG:2227", "EPSG:4269", "EPSG:2269"])
@pytest.mark.parametrize("route_crs", ["EPSG:2227", "EPSG:4269"])
def test_a_moved_crs_changes_no_clearance_by_over_5_mm(tmp_path, here, route_crs, utility_crs):
    _, there = clearances(tmp_path, route_crs, utility_crs)
    assert set(here.index) == set(there.index)
    gap = (here["clearance_m"] - there["clearance_m"]).abs()
    assert gap.max() < 0.005
    assert (here["severity"] == there["severity"]).all()


def test_null_and_invalid_shapes_hold_and_lose_nothing(tmp_path):
    zone, found = clearances(tmp_path, UTM, "EPSG:2227")
    assert zone["dig_status"] == "hold"
    assert "could be anywhere" in zone["holds"]
    assert {"U-1", "U-2", "U-3", "U-4"} <= set(found.index)
