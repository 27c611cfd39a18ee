"""A world is what its docstring says: repeatable, accepted by the checks, and rough."""

from __future__ import annotations

import json

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest

from leakgeo.simulate.write import write_job
from tests.benchmarks.estimate import Estimate
from tests.benchmarks.worlds import COLUMNS, GROUPS, HEADER, cells
from tests.test_cli import leakgeo_command
from tests.worlds import field_noise
from tests.worlds.rough_noise import draw
from tests.worlds.world import World


@pytest.fixture(scope="module")
def world() -> World:
    return draw(60, 1)


def test_more_lines_leave_the_first_as_they_are_and_another_seed_does_not(world):
    first = draw(5, 1)
    for name, layer in first.layers.items():
        again = world.layers[name]
        again = again[again["line_id"].isin(first.truth.index)]
        pd.testing.assert_frame_equal(layer, again.reset_index(drop=True))
    pd.testing.assert_frame_equal(first.truth, world.truth.iloc[:5])
    assert not draw(5, 2).layers["readings"].equals(first.layers["readings"])


def test_the_checks_use_every_reading(tmp_path):
    world = draw(12, 3)
    write_job(world.layers, tmp_path / "job.gpkg")
    done = leakgeo_command("--json", "check", tmp_path / "job.gpkg")
    told = json.loads(done.stdout)
    assert told["counts"]["rows_read"] == {"routes": 12, "readings": len(world.layers["readings"])}
    assert {fault["effect"] for fault in told["faults"]} == {"noted"}
    assert done.returncode == 0


def test_leaks_and_tapes_are_on_their_lines(world):
    length = world.layers["routes"].set_index("line_id").length
    leak = world.truth["leak_chainage_m"]
    assert 0.5 < leak.notna().mean() < 0.9
    assert leak.dropna().between(0, length[leak.notna()]).all()
    assert (world.truth["over_floor_db"].notna() == leak.notna()).all()
    readings = world.layers["readings"]
    assert readings["chainage_m"].between(0, readings["line_id"].map(length)).all()


def test_tape_and_position_name_the_same_place(world):
    readings = world.layers["readings"]
    routes = world.layers["routes"].set_index("line_id")
    route = gpd.GeoSeries(readings["line_id"].map(routes.geometry), crs=readings.crs)
    off = route.project(readings.geometry, align=False) - readings["chainage_m"]
    good = readings["position_sd_m"] < 0.1
    assert off[good].abs().median() < 0.15
    assert off[good].abs().max() < 1
    assert 0.3 < off[~good].abs().median() < 1.5


def test_nearly_all_loud_leaks_are_where_the_fine_walk_is(world):
    readings, truth = world.layers["readings"], world.truth
    loud = truth.index[(truth["over_floor_db"] > 18) & truth["other"].isna()]
    fine = readings[readings["walk_id"].str.endswith("/fine")]
    span = fine.groupby("line_id")["chainage_m"].agg(["min", "max"]).loc[loud]
    assert len(loud) >= 10
    leak_m = truth["leak_chainage_m"].loc[loud]
    assert leak_m.between(span["min"] - 0.5, span["max"] + 0.5).mean() >= 0.9


def test_rough_lines_jump_between_feet_and_smooth_lines_do_not(world):
    readings = world.layers["readings"]
    fine = readings[readings["walk_id"].str.endswith("/fine") & (readings["sound_unit"] == "db")]
    assert (fine["sound_level"] % 1 == 0).all()
    by_line = fine.groupby("line_id")
    jump = by_line["sound_level"].diff().abs()
    # A step of the surface is on smooth lines too, and a crew may go on at the other edge.
    near = by_line["chainage_m"].diff().abs() < 0.5
    near &= fine["surface"] == by_line["surface"].shift()
    smooth = fine["line_id"].map(world.truth["smooth"])
    assert jump[near & ~smooth].mean() > 2
    assert (jump[near & ~smooth] >= 6).mean() > 0.05
    assert (near & smooth).sum() > 10
    assert jump[near & smooth].mean() < 1.5
    assert (jump[near & smooth] >= 6).sum() == 0


def test_ground_is_level_within_a_patch_and_steps_between_patches():
    ground = field_noise.patches(400, 2, np.random.default_rng(1))
    step = np.diff(ground.at(np.arange(0, 400, 0.01)))
    assert np.count_nonzero(step) == pytest.approx(ground.edges_m.size, abs=5)
    assert ground.edges_m.size > 60
    assert ground.stretches.std() == pytest.approx(2, rel=0.3)


def test_dropouts_are_deep_and_sometimes_run():
    loss = field_noise.dropouts(20_000, 0.03, np.random.default_rng(1))
    assert ((loss == 0) | ((loss >= -20) & (loss <= -6))).all()
    out = loss < 0
    assert out.mean() == pytest.approx(0.03 * 1.45, rel=0.15)
    followed = (out[1:] & out[:-1]).sum() / out.sum()
    assert 0.2 < followed < 0.45


def test_contact_errs_to_the_low_side():
    error = field_noise.contact(50_000, 2, 1.2, np.random.default_rng(1))
    assert error.mean() == pytest.approx(0, abs=0.05)
    assert error.std() == pytest.approx(2, rel=0.03)
    assert ((error / error.std()) ** 3).mean() == pytest.approx(-1.2, abs=0.15)


def test_a_car_is_heard_at_several_stops_running():
    passing = field_noise.Cars(np.array([600.0]), np.array([25.0]), np.array([12.0]))
    rise = passing.rise_db(np.arange(0, 1200, 16.0), np.zeros(75))
    assert rise.max() == pytest.approx(12, abs=0.5)
    assert np.ptp(np.flatnonzero(rise > 3)) + 1 == (rise > 3).sum() >= 3


def test_figures_of_firm_marks_are_of_all_firm_marks():
    """A firm mark on a dry line is a miss; marks that are only likeliest places are none of it."""
    leak, dry = [10.0] * 4, [np.nan] * 2
    truth = pd.DataFrame({
        "leak_chainage_m": leak + dry, "over_floor_db": [20.0, 20.0, -5.0, 20.0, *dry],
        "other": None,
    })  # fmt: skip
    zones = np.array([[9.5, 10.5]])
    found = [
        Estimate(10.2, zones, 0.9, status="located"), Estimate(11.0, zones, 0.8, status="located"),
        Estimate(10.1, zones, 0.4, status="keep_listening"), Estimate(None, status="no_leak_heard"),
        Estimate(5.0, zones, 0.7, status="located"), Estimate(None, status="no_leak_heard"),
    ]  # fmt: skip
    figures, groups = cells(truth, found), {}
    assert len(figures) == len(COLUMNS) == HEADER.splitlines()[1].count("---") - 1
    for group, names in GROUPS.items():
        groups[group], figures = figures[: len(names) + 1], figures[len(names) + 1 :]
    assert groups["firm marks, of all lines"] == ["3", "0.333", "0.800"]
    assert groups["leaks"] == ["4", "0.500", "0.250"]
    assert groups["leaks with a mark"] == ["3", "0.667", "0.700", "1.000", "1.00 m"]
    assert groups["leaks of 10 dB"] == ["3", "0.333", "1.000"]
    assert groups["dry lines"] == ["2", "0.500"]
    assert groups["dry or inaudible lines"] == ["3", "1", "0.061 to 0.792"]


def test_a_world_without_firm_marks_has_no_share_of_them():
    truth = pd.DataFrame({"leak_chainage_m": [10.0], "over_floor_db": np.nan, "other": None})
    figures = cells(truth, [Estimate(None, status="no_leak_heard")])
    assert figures[COLUMNS.index("firm marks, of all lines") :][:3] == ["0", "", ""]
