"""Sweeps across a line: the place across, its explanations, and the readings used nowhere else."""

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

import leakgeo
from leakgeo.find.evidence.likelihood import updated
from leakgeo.find.evidence.sweep import (
    evaluate_sweep,
    sweep_findings,
)
from leakgeo.find.evidence.sweep_readings import Neighbour, Sweep, load_sweep_weights
from leakgeo.find.levels.readings import tabulate
from leakgeo.find.posterior.posterior import Posterior
from leakgeo.find.posterior.rivals import Rival
from leakgeo.reason import Reason
from leakgeo.route.lines import lines_in
from leakgeo.sound.constants import load_constants
from leakgeo.sound.spreading import Spreading, relative_level

CRS, EAST, NORTH = 32633, 458_000.0, 5_548_000.0
SHIPPED = load_constants()
# The common kinds of ground alone: less to compute.
CONSTANTS = replace(SHIPPED, noise_law=SHIPPED.noise_law.common(0.06))
CENTRAL = Spreading(0.9, soil_decay_db_per_m=1.5)
OFFSETS = np.arange(-3.0, 3.1, 0.5)
TRACE_SD = 0.3


def heard(source_m, offset_m=OFFSETS, noise_db=0.5, seed=1):
    level = np.random.default_rng(seed).normal(0.0, noise_db, len(offset_m))
    if source_m is not None:
        truth = Spreading(0.8, soil_decay_db_per_m=2.0, floor=10**-1.2)
        level = level + relative_level(offset_m - source_m, truth)
    return level


def sweep(level_db, offset_m=OFFSETS, group=0):
    one = np.ones(len(offset_m))
    groups = np.broadcast_to(np.asarray(group), len(offset_m)).copy()
    return Sweep(17.0, offset_m, level_db, 0.3 * one, 0.1 * one, one, groups)


def evaluated(level_db, offset_m=OFFSETS, neighbours=(), group=0, trace_sd=TRACE_SD):
    return evaluate_sweep(
        sweep(level_db, offset_m, group), trace_sd, neighbours, CENTRAL, CONSTANTS
    )


def given(*found, at=17.0):
    """The log likelihoods of sweeps, weighed in turn: leak at a place, far from it, elsewhere."""
    done, total = (), np.zeros(3)
    for each in found:
        one = replace(each, earlier=done).likelihood(np.array([at, at + 9.0]))
        total += [one.leak[0], one.leak[1], one.nearby]
        done += (each,)
    return total


def line_at(offset_m):
    return (Neighbour("B", np.array([offset_m]), TRACE_SD),)


def test_loudest_over_the_trace_is_evidence_for_the_line():
    found = evaluated(heard(0.1))
    assert found.reason.code == "sweep_over_pipe"
    assert abs(found.offset_m - 0.1) < 3.0 * found.offset_sd_m < 1.0
    near, far, elsewhere = given(found)
    assert near > far > elsewhere
    assert found.probability["own_pipe"] > 0.8
    assert found.over_trace(17.0) > 0.95


def test_loudest_beside_the_trace_is_the_trace_or_another_pipe():
    found = evaluated(heard(2.2))
    assert found.reason == Reason(
        "sweep_beside", chainage_m=17.0, offset_m=abs(found.offset_m), side="left"
    )
    assert found.offset_m == pytest.approx(2.2, abs=0.3)
    assert found.probability["own_pipe"] < 0.01
    assert min(found.probability[each] for each in ("trace_wrong", "other")) > 0.2
    near, far, elsewhere = given(found)
    assert near < far < elsewhere
    assert found.over_trace(17.0) < 0.01
    assert found.over_trace(30.0) == 1.0


def test_a_coarse_trace_explains_a_place_beside_it():
    coarse, fine = (evaluated(heard(1.5), trace_sd=sd) for sd in (1.0, 0.1))
    assert given(coarse)[0] > given(fine)[0]
    # But the pipe is as far from it.
    assert coarse.over_trace(17.0) < 0.05


def test_a_trace_is_wrong_once_and_not_anew_at_each_sweep():
    one, *more = (
        replace(evaluated(heard(2.2, seed=k + 1), trace_sd=0.1), chainage_m=17.0 + 2.5 * k)
        for k in (0, 1, -1)
    )
    near, _, elsewhere = given(one)
    together = given(one, *more)
    assert near - elsewhere < -0.7
    assert together[0] - together[2] > near - elsewhere
    anew = sum(given(each, at=each.chainage_m) for each in (one, *more))
    assert together[0] - together[2] > anew[0] - anew[2] + 1.0
    here_only = given(one, *(replace(each, across=evaluated(heard(0.0)).across) for each in more))
    assert here_only[0] - here_only[2] != together[0] - together[2]


def test_sweeps_are_weighed_alike_in_any_order():
    one = evaluated(heard(0.3))
    other = replace(evaluated(heard(1.4, seed=5), neighbours=line_at(3.0)), chainage_m=18.5)
    assert given(one, other) == pytest.approx(given(other, one), abs=1e-9)


def test_a_sweep_that_is_loudest_at_its_outermost_reading_says_beyond():
    found = evaluated(heard(4.5, noise_db=0.2))
    assert found.reason == Reason("sweep_beyond", chainage_m=17.0, offset_m=3.0, side="left")


def test_a_source_that_the_sweep_alone_hears_is_another_one_and_no_silence():
    found = evaluated(heard(2.2))
    rivals = (Rival("unknown", 0.02),)
    before = Posterior(np.array([5.0, 30.0]), np.full(2, 0.5), 0.1, (), 0.0, 2.0, 2.0, 0.0,
                       rivals=rivals)  # fmt: skip
    after = updated(before, found.likelihood(before.chainage_m, rivals))
    assert after.rivals[0].probability > 0.5
    flat = evaluated(np.zeros(len(OFFSETS)))
    same = updated(before, flat.likelihood(before.chainage_m, rivals))
    assert same.rivals[0].probability == pytest.approx(0.02, abs=0.015)
    assert same.leak_probability == pytest.approx(0.1, abs=0.06)


def test_loudest_toward_a_mapped_line_is_evidence_against_this_one():
    offset = np.arange(-2.0, 6.6, 0.5)
    found = evaluated(heard(5.0, offset), offset, line_at(5.2))
    assert found.reason.code == "sweep_over_other_line"
    assert dict(found.reason.values)["line"] == "B"
    assert found.probability["line: B"] > 0.8
    near, far, elsewhere = given(found)
    assert near < far < elsewhere - 0.5
    assert elsewhere - near > 2.0


def test_a_flat_sweep_is_hardly_evidence():
    found = evaluated(np.zeros(len(OFFSETS)), neighbours=line_at(5.0))
    assert found.reason == Reason("sweep_flat", chainage_m=17.0)
    near, _, elsewhere = given(found)
    assert abs(near - elsewhere) < 0.3


def test_one_outlier_does_not_move_the_loudest_place():
    level = heard(0.0)
    level[1] += 15.0
    assert abs(evaluated(level).offset_m) < 0.5


def test_the_likelihood_is_bounded():
    most = np.log(load_sweep_weights()["likelihood"]["most_odds"])
    found = evaluated(heard(0.0, noise_db=0.0), trace_sd=0.01)
    assert np.ptp(given(found)) <= most + 1e-9


def test_the_other_side_is_its_mirror_image():
    level = heard(1.4, seed=3)
    one = evaluated(level, neighbours=line_at(4.0))
    # A tape with the wrong sign is as good without other lines, and so is a route drawn backwards.
    two = evaluated(level[::-1], neighbours=line_at(-4.0))
    assert two.offset_m == pytest.approx(-one.offset_m, abs=1e-6)
    assert given(one) == pytest.approx(given(two), abs=1e-9)
    sides = [dict(each.reason.values)["side"] for each in (one, two)]
    assert sides == ["left", "right"]


@pytest.mark.parametrize("seed", range(4))
def test_a_constant_and_the_order_change_nothing_and_all_is_finite(seed):
    rng = np.random.default_rng(seed)
    offset = np.sort(rng.uniform(-4.0, 4.0, rng.integers(3, 12)))
    level, group = rng.normal(0.0, 6.0, len(offset)), rng.integers(0, 2, len(offset))
    one = evaluated(level, offset, line_at(5.0), group)
    assert np.isfinite([*given(one), one.offset_m, one.offset_sd_m]).all()
    assert sum(one.probability.values()) == pytest.approx(1.0)
    shifted = evaluated(level + 37.0 - 90.0 * group, offset, line_at(5.0), group)
    order = rng.permutation(len(offset))
    shuffled = evaluated(level[order], offset[order], line_at(5.0), group[order])
    for two in (shifted, shuffled):
        assert given(one) == pytest.approx(given(two), abs=1e-8)


def test_near_far_and_rivals_get_their_part():
    found = evaluated(heard(0.1))
    near, far, elsewhere = given(found)
    rivals = (
        Rival("fitting", 0.1, 17.5, "C"), Rival("fitting", 0.1, 30.0, "D"),
        Rival("beyond_end", 0.05, 40.0), Rival("unknown", 0.05),
    )  # fmt: skip
    x = np.array([16.5, 18.0, 20.0, 30.0])
    before = Posterior(x, np.full(4, 0.25), 0.4, (), 0.0, 2.0, 2.0, 0.0, rivals=rivals)
    likely = found.likelihood(before.chainage_m, before.rivals)
    both = np.log((np.exp(near) + np.exp(far)) / 2.0)
    assert likely.leak == pytest.approx([near, near, both, far], abs=0.05)
    assert likely.rivals == pytest.approx([near, far, far, elsewhere])
    assert likely.none < far
    after = updated(before, likely)
    assert after.leak_probability > before.leak_probability
    assert after.probability[0] > after.probability[3]


def swept_job(source_m=5.0, sd_m=0.05, tape=True, positions=False, line="A"):
    """Give a walk along one of two lines 5 m apart, and a sweep across it toward the other."""
    shapes = [shapely.LineString([(EAST, NORTH + y), (EAST + 40, NORTH + y)]) for y in (0, 5)]
    routes = gpd.GeoDataFrame({"line_id": ["A", "B"], "material": "pvc", "depth_m": 0.9},
                              geometry=shapes, crs=CRS)  # fmt: skip
    along, across = np.arange(1.0, 39.0), np.arange(-2.0, 6.6, 0.5)
    x, y = np.r_[along, np.full(len(across), 17.2)], np.r_[0.0 * along, across]
    law = Spreading(0.9, 4.0, 0.15, 1.5, 0.04)
    # Apart from rounding no two stops of the walk sound alike.
    level = 50.0 + relative_level(np.hypot(x - 17.2, y - source_m), law) + 0.4 * np.sin(7.0 * x)
    table = pd.DataFrame({
        "reading_id": [f"R{k:02d}" for k in range(len(x))], "line_id": line,
        "walk_id": ["W"] * len(along) + ["S"] * len(across), "sound_level": level.round(1),
        "sound_unit": "db", "chainage_m": x if tape else np.nan,
        "offset_m": np.r_[np.full(len(along), np.nan), across] if tape else np.nan,
        "position_sd_m": sd_m,
    })  # fmt: skip
    if positions:
        points = shapely.points(EAST + 0.9996 * x, NORTH + y)
        table = gpd.GeoDataFrame(table, geometry=points, crs=CRS)
    return {"routes": routes, "readings": table}


@pytest.mark.parametrize(
    ("tape", "positions", "sd"), [(True, False, None), (True, True, 1.5), (False, True, 0.05)]
)
def test_readings_toward_a_neighbour_are_a_sweep_and_not_off_the_line(tape, positions, sd):
    done = leakgeo.profile(swept_job(tape=tape, positions=positions, sd_m=sd))
    own = done.layers["readings_on_route"].query("walk_id == 'S'")
    assert own["used"].all()
    assert own["sweep_m"].to_numpy() == pytest.approx(17.2, abs=0.01)
    assert own["offset_m"].to_numpy() == pytest.approx(np.arange(-2.0, 6.6, 0.5), abs=0.01)
    aside = own["offset_m"].abs() > 0.501
    assert (own["reason_code"][aside] == "swept_across").all()
    assert own["reason_code"][~aside].isna().all()
    noted = {f.code: f for f in done.faults}["sweeps_used"]
    assert (noted.effect, dict(noted.reason.values)["beside"]) == ("noted", int(aside.sum()))
    found = sweep_findings(done, lines_in(done), CONSTANTS)
    assert list(found) == [0]
    assert [each.reason.code for each in found[0]] == ["sweep_over_other_line"]


def test_coarse_positions_make_no_sweep():
    done = leakgeo.profile(swept_job(tape=False, positions=True, sd_m=1.5))
    assert done.layers["readings_on_route"]["sweep_m"].isna().all()
    assert sweep_findings(done, lines_in(done), CONSTANTS) == {}


def test_readings_beside_the_pipe_are_used_nowhere_else():
    job = swept_job(positions=True)
    lines_only = {**job, "readings": job["readings"][~(job["readings"]["offset_m"].abs() > 0.5)]}
    one, two = leakgeo.profile(job), leakgeo.profile(lines_only)
    pd.testing.assert_frame_equal(
        pd.DataFrame(one.layers["profile"].drop(columns="geometry")),
        pd.DataFrame(two.layers["profile"].drop(columns="geometry")),
    )
    # Nor on a line that is not selected, which its neighbours use.
    apart = leakgeo.profile(leakgeo.read_job(job, lines="B"))
    placed = apart.layers["readings_on_route"]
    table = tabulate(placed, lines_in(apart), CONSTANTS, neighbours=True)
    assert len(table.line) == len(lines_only["readings"])
    assert sweep_findings(apart, lines_in(apart), CONSTANTS) == {}


def test_the_order_of_the_rows_changes_no_bit():
    job = swept_job()
    turned = {**job, "readings": job["readings"][::-1].reset_index(drop=True)}
    one, two = (leakgeo.profile(each) for each in (job, turned))
    assert sweep_findings(one, lines_in(one), CONSTANTS) == sweep_findings(
        two, lines_in(two), CONSTANTS
    )


def test_a_pipe_beside_its_trace_gets_no_mark_to_dig_but_is_traced_again():
    job = swept_job(source_m=1.8)
    job["routes"] = job["routes"][:1].assign(position_sd_m=0.1)
    done = leakgeo.advise(job)
    row = done.layers["lines"].set_index("line_id").loc["A"]
    assert row["leak_probability"] > 0.5
    assert row["status"] in ("keep_listening", "ambiguous")
    assert row["advice_code"] == "trace_again"
    assert done.layers["marks"]["limited_by"].tolist() == ["trace"]
    assert len(done.layers["next_readings"]) == 0
