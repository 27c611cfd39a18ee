"""A leak on a line that runs beside another without joining it, parallel or crossing."""

from __future__ import annotations

from functools import cache

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from leakgeo.simulate.noise import coupling_correlation
from leakgeo.sound.decibels import energy_sum
from leakgeo.sound.spreading import Spreading, relative_level
from tests.benchmarks.own import located
from tests.find.tees import PLANE

LENGTH_M, COVER_M, SOIL_DB_M, PIPE_DB_M = 24.0, 0.9, 1.5, 4.0
OWN = [(0, 0), (LENGTH_M, 0)]
# The other line, and the chainage of its leak.
PARALLEL = ((0, 2.5), (LENGTH_M, 2.5)), 13.0
CROSSING = ((9, -10), (15, 10)), 12.5


def level_of(route, leak, points):
    """The level that the model of the locator expects, written out."""
    plan = shapely.distance(points, route.interpolate(leak))
    by_pipe = np.abs(route.project(points) - leak)
    height = np.hypot(COVER_M, shapely.distance(points, route))
    soil = relative_level(plan, Spreading(COVER_M, PIPE_DB_M, 0.0, SOIL_DB_M, 0.0))
    pipe = relative_level(by_pipe, Spreading(COVER_M, PIPE_DB_M, 1.0, SOIL_DB_M, 0.0))
    pipe = pipe - 10 * np.log10(height / COVER_M) - SOIL_DB_M * (height - COVER_M)
    floor = np.full(len(points), -18.0)
    paths = [soil + 10 * np.log10(0.8), pipe + 10 * np.log10(0.2), floor]
    return energy_sum(np.array(paths), axis=0)


def walked(rng, name, route, source, leak):
    """Readings of a line in steps of 1.2 m, then of a foot where they are loudest."""

    def walk(code, stops):
        points = shapely.line_interpolate_point(route, stops)
        same = coupling_correlation(stops[:, None] - stops, 1.0) + 1e-6 * np.eye(len(stops))
        noise = np.linalg.cholesky(same) @ rng.normal(size=len(stops)) + rng.normal(size=len(stops))
        level = np.rint(55 + level_of(source, leak, points) + noise)
        return pd.DataFrame({
            "line_id": name, "walk_id": f"{name} {code}", "seq": np.arange(len(stops)),
            "sound_level": level, "sound_unit": "db", "gain_db": 20.0, "sensor": "ground_plate",
            "surface": "soil", "chainage_m": stops, "chainage_sd_m": 0.05, "geometry": points,
        })  # fmt: skip

    coarse = walk("coarse", np.arange(0.0, route.length, 1.2))
    middle = coarse["chainage_m"][coarse["sound_level"].idxmax()]
    fine = np.arange(middle - 2.1, middle + 2.2, 0.3)
    return [coarse, walk("fine", fine[(fine >= 0) & (fine <= route.length)])]


@cache
def found(seed, other, leak, on_other=True, backwards=False, listened=True):
    """Rows of the lines and marks found, by line."""
    rng = np.random.default_rng(seed)
    own, beside = shapely.LineString(OWN), shapely.LineString(other)
    source = beside if on_other else own
    tables = walked(rng, "own", own, source, leak)
    tables += walked(rng, "other", beside, source, leak) if listened else []
    readings = pd.concat(tables, ignore_index=True)
    readings["reading_id"] = np.arange(len(readings)).astype(str)
    if backwards:
        on = readings["line_id"] == "other"
        readings.loc[on, "chainage_m"] = beside.length - readings.loc[on, "chainage_m"]
        beside = beside.reverse()
    routes = gpd.GeoDataFrame(
        {"line_id": ["own", "other"], "material": "pvc", "depth_m": COVER_M, "position_sd_m": 0.1},
        geometry=[own, beside], crs=PLANE,
    )  # fmt: skip
    layers = located({"routes": routes, "readings": gpd.GeoDataFrame(readings, crs=PLANE)}).layers
    return {n: layers[n].set_index("line_id") for n in ("lines", "marks")}


@pytest.mark.parametrize(("other", "leak"), [PARALLEL, CROSSING])
def test_a_leak_on_the_other_line_is_marked_there_only(other, leak):
    result = found(3, other, leak)
    lines, marks = result["lines"], result["marks"]
    assert lines["status"].to_dict() == {"own": "no_leak_heard", "other": "located"}
    assert lines.loc["own", "code"] == "likelier_on_other_line"
    assert marks.loc["other", "chainage_m"] == pytest.approx(leak, abs=0.305)


def test_a_leak_on_the_line_stays_there():
    lines = found(5, PARALLEL[0], 11.0, on_other=False)["lines"]
    assert lines["status"].to_dict() == {"own": "located", "other": "no_leak_heard"}


@pytest.mark.parametrize(("other", "leak"), [PARALLEL, CROSSING])
def test_the_direction_in_which_the_other_line_is_drawn_changes_nothing(other, leak):
    one, turned = found(3, other, leak)["lines"], found(3, other, leak, backwards=True)["lines"]
    assert (one["status"] == turned["status"]).all()
    odds = [each["leak_probability"].to_numpy() for each in (one, turned)]
    assert odds[0] == pytest.approx(odds[1], abs=0.03)


def test_a_line_out_of_reach_changes_not_a_bit():
    """A line that is beside does, though nobody listened there."""
    far, out_of_reach, beside = (
        found(5, ((0, y), (LENGTH_M, y)), 11.0, on_other=False, listened=False)["lines"].loc["own"]
        for y in (40.0, 9.0, 2.5)
    )
    pd.testing.assert_series_equal(out_of_reach, far, check_exact=True)
    assert beside["leak_probability"] < far["leak_probability"]
