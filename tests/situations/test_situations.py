"""The battery itself: its physics, its jobs, its acceptances; and that controls are located."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import pytest
from shapely.geometry import Point

from leakgeo.job.read import read_job
from leakgeo.job.schema import load_schema
from leakgeo.simulate.write import write_job
from tests.situations.jobs import HOUR_S, Record
from tests.situations.physics import (
    HZ,
    Machine,
    Run,
    Slab,
    Source,
    draw_waves,
    guided,
    scaled,
    spread,
)
from tests.situations.table import SITUATIONS, judged
from tests.situations.verdicts import (
    ACTIONS,
    NEEDS_ACTION,
    Verdict,
    accepted,
    accepts,
    mistaken,
    names_action,
)

if TYPE_CHECKING:
    from tests.situations.jobs import Case

CONTROLS = [name for name, one in SITUATIONS.items() if one.control]
BEYOND = ["water_runs_inside", "tap_left_open", "leak_before_meter", "leak_before_start",
          "leak_past_end"]  # fmt: skip
NOTHING = np.zeros(HZ.size)


def pipe(decay_db_m: float = 2.0, **changes: object) -> Run:
    """Give a straight pipe of 20 m, a metre deep, in soil without loss."""
    run = Run(np.zeros(2), np.array([20.0, 0.0]), 1.0, np.full(HZ.size, decay_db_m), NOTHING,
              (0.0, 0.0), vertical=0.0)  # fmt: skip
    return replace(run, **changes)


def source(run: Run, at_m: float = 10.0, **changes: object) -> Source:
    return replace(Source(run, at_m, np.ones(HZ.size), 1.0, 1.0), **changes)


# Physics


def test_a_point_in_soil_loses_6_02_db_with_each_doubling_and_its_decibels_per_metre():
    fall = 10 * np.log10(spread(np.array([1.0, 2.0, 4.0]), NOTHING))
    assert np.diff(fall, axis=1) == pytest.approx(-6.0206, abs=1e-3)
    lossy = 10 * np.log10(spread(np.array([1.0, 2.0]), np.full(HZ.size, 3.0)))
    assert np.diff(lossy, axis=1) == pytest.approx(-9.0206, abs=1e-3)


def test_a_wave_in_a_pipe_without_ends_decays_by_its_decibels_per_metre_both_ways():
    level = 10 * np.log10(guided(pipe(1.5), 10.0, np.array([4.0, 8.0, 10.0, 12.0, 16.0]))[0])
    assert level == pytest.approx([-9, -3, 0, -3, -9])


def test_a_shut_end_doubles_the_energy_at_it_and_a_fitting_takes_its_loss():
    shut = pipe(back=(0.0, 1.0))
    assert guided(shut, 10.0, np.array([20.0]))[0, 0] == pytest.approx(2 * 10**-2.0)
    assert guided(shut, 10.0, np.array([15.0]))[0, 0] == pytest.approx(10**-1.0 + 10**-3.0)
    lossy = pipe(losses=((12.0, 4.0),))
    beyond = 10 * np.log10(guided(lossy, 10.0, np.array([8.0, 14.0]))[0])
    assert beyond == pytest.approx([-4, -12])


def test_two_shut_ends_keep_the_energy_between_them():
    # Images of a source between two mirrors, added one by one.
    run, at = pipe(1.0, back=(0.6, 0.8)), np.array([3.0])
    way = [(abs(3.0 - 10.0 - 40 * k), 0.48 ** abs(k)) for k in range(-9, 10)]
    way += [(3 + 10 + 40 * k, 0.6 * 0.48**k) for k in range(9)]
    way += [(17 + 10 + 40 * k, 0.8 * 0.48**k) for k in range(9)]
    assert guided(run, 10.0, at)[0, 0] == pytest.approx(sum(w * 10 ** (-d / 10) for d, w in way))


def test_a_long_pipe_that_does_not_decay_sounds_like_a_line_source():
    # Energy of an endless line of unit strength at a distance r: 1 / (4 r).
    long = replace(pipe(0.0), end=np.array([4000.0, 0.0]))
    heard = source(long, 2000.0, direct=0.0).energy(np.array([[2000.0, 0.0], [2000.0, np.sqrt(3)]]))
    assert heard / HZ.size == pytest.approx([1 / 4, 1 / 8], rel=2e-3)


def test_a_source_is_loudest_over_itself_and_as_loud_as_wanted():
    slab = Slab(0.4)
    loud = scaled(source(pipe()), 20.0, 8.0, slab)
    places = np.column_stack([np.arange(5, 15, 0.5), np.zeros(20)])
    level = 10 * np.log10(slab.averaged(loud.energy, places))
    assert level.argmax() == 10
    assert level.max() == pytest.approx(20)
    straight, by_pipe = (
        slab.averaged(replace(loud, **part).energy, places[10:11])[0]
        for part in ({"in_pipe": 0.0}, {"direct": 0.0})
    )
    assert 10 * np.log10(straight / by_pipe) == pytest.approx(8)


def test_the_vertical_part_of_a_point_falls_by_the_fourth_power_over_the_ground():
    # At a depth of 1 m and 1 m aside: twice the squared distance, and half of the motion upward.
    heard = source(pipe(vertical=1.0), in_pipe=0.0).energy(np.array([[10.0, 0.0], [10.0, 1.0]]))
    assert np.diff(10 * np.log10(heard)) == pytest.approx(-6.0206, abs=1e-3)


def test_a_slab_flattens_a_hump_and_bare_ground_does_not():
    heard = source(pipe(), in_pipe=0.0).energy
    places = np.array([[10.0, 0.0], [11.0, 0.0]])
    bare, hard = (np.diff(10 * np.log10(Slab(w).averaged(heard, places)))[0] for w in (0.0, 0.5))
    assert bare == pytest.approx(10 * np.log10(1 / 2))
    assert bare < hard - 0.3 < -0.3


def test_a_machine_spreads_over_the_surface_by_3_01_db_with_each_doubling():
    level = 10 * np.log10(Machine(np.zeros(2), 1.0, 10.0, 0.5).energy(np.array([[2.0, 0], [4, 0]])))
    assert np.diff(level) == pytest.approx(-3.0103 - 1.0, abs=1e-3)


def test_a_random_field_has_its_spread_and_its_length():
    rng = np.random.default_rng(2)
    apart = np.array([[0.0, 0.0], [1.0, 0.0], [50.0, 0.0]])
    many = np.array([draw_waves(rng, 2.0, 1.0).at(apart) for _ in range(2000)])
    assert many.std(axis=0) == pytest.approx(2, rel=0.06)
    # A random Gaussian spectrum of wavenumbers: correlation exp(-r^2 / 2) at r lengths.
    assert np.corrcoef(many.T)[0, 1] == pytest.approx(np.exp(-0.5), abs=0.06)
    assert np.corrcoef(many.T)[0, 2] == pytest.approx(0, abs=0.06)


# The battery


def test_there_are_thirty_situations_and_ten_controls_and_few_may_be_left_open():
    assert len(SITUATIONS) - len(CONTROLS) >= 30
    assert len(CONTROLS) >= 10
    hard = [one for one in SITUATIONS.values() if not one.control]
    open_ = [
        one for one in hard
        if any(a.statuses & {"keep_listening", "ambiguous"} for a in one.wanted.values())
    ]  # fmt: skip
    assert len(open_) <= len(hard) / 3


@pytest.mark.parametrize("one", SITUATIONS.values(), ids=SITUATIONS)
def test_acceptances_are_statuses_and_name_an_action_where_a_crew_has_to_go(one):
    codes = set(load_schema("lines").field("status").codes)
    for wanted in one.wanted.values():
        assert wanted.statuses <= codes
        assert wanted.never <= codes
        assert wanted.statuses
        assert not wanted.statuses & wanted.never
        assert wanted.actions <= set(ACTIONS)
        assert bool(wanted.actions) == bool(wanted.statuses & NEEDS_ACTION)
    if one.control:
        assert one.wanted["S-1"].statuses == {"located"}


def in_one_job(cases: list[Case]) -> dict[str, pd.DataFrame]:
    """Put the jobs of all situations side by side, as reading each by itself would take long."""
    layers = defaultdict(list)
    for k, case in enumerate(cases):
        for name, layer in case.layers.items():
            names = {c: f"{k}/" + layer[c] for c in layer if c.endswith("_id")}
            moved = layer.assign(**names)
            if "measured_at" in layer:
                moved["measured_at"] = f"{k}/" + layer["measured_at"]
            if "geometry" in layer:
                moved.geometry = layer.geometry.translate(200 * (k % 8), 200 * (k // 8))
            layers[name].append(moved.dropna(axis=1, how="all"))
    return {name: pd.concat(parts, ignore_index=True) for name, parts in layers.items()}


def test_every_job_passes_the_checks(tmp_path):
    layers = in_one_job([one.draw(0) for one in SITUATIONS.values()])
    write_job(layers, tmp_path / "job.gpkg")
    job = read_job(tmp_path / "job.gpkg")
    # A sweep is beside its route, as its offset_m says, which the check need not note.
    assert {fault.code for fault in job.faults} <= {
        # What is not along the line, or from before a repair, is counted.
        "taped_readings_off_route", "before_repair",
    }  # fmt: skip
    assert job.routes["reason"].isna().all()
    assert job.readings["reason"].isna().all()
    assert len(job.readings) == len(layers["readings"])
    for name in set(layers) - {"routes", "readings"}:
        assert len(job[name]) == len(layers[name])


@pytest.mark.parametrize("one", SITUATIONS.values(), ids=SITUATIONS)
def test_the_truth_fits_what_is_accepted(one):
    case = one.draw(0)
    routes = case.layers["routes"].set_index("line_id").geometry
    for line, wanted in one.wanted.items():
        assert ("located" in wanted.statuses) <= (len(case.leaks.get(line, ())) > 0)
        assert ("beyond_end" in wanted.statuses) == np.isfinite(case.end_m)
        wrong_m = 2.2 if one.name == "trace_is_wrong" else 0
        beside = [routes[line].distance(Point(place)) for place in case.leaks.get(line, ())]
        assert beside == pytest.approx([wrong_m] * len(beside), abs=1e-6)


def test_draws_differ_and_do_not_depend_on_each_other():
    one = SITUATIONS["lorry_idles"]
    first, again, other = one.draw(0), one.draw(0), one.draw(1)
    assert first.layers["readings"].equals(again.layers["readings"])
    assert not first.layers["readings"].equals(other.layers["readings"])


def test_only_sweeps_have_offsets():
    readings = SITUATIONS["sweep_to_neighbour"].draw(0).layers["readings"]
    assert readings["offset_m"].notna().sum() == 18
    assert SITUATIONS["control_loud"].draw(0).layers["readings"]["offset_m"].isna().all()


# What the situations say of themselves, without noise


@pytest.mark.parametrize("name", CONTROLS)
def test_a_control_is_loud_and_loudest_over_its_leak(name):
    for number in range(2):
        case = SITUATIONS[name].draw(number)
        route = case.layers["routes"].geometry[0]
        along = np.arange(0, route.length, 0.1)
        level = case.over_db(along)
        place = np.array(route.interpolate(along[level.argmax()]).coords[0])
        assert np.hypot(*(case.leaks["S-1"][0] - place)) < 0.1
        assert level.max() > 15


@pytest.mark.parametrize("name", BEYOND)
def test_the_level_rises_to_the_end_that_the_source_is_beyond(name):
    for number in range(2):
        case = SITUATIONS[name].draw(number)
        inward = -1 if case.end_m > 0 else 1
        level = case.over_db(case.end_m + inward * np.arange(0, 3.1, 0.5))
        assert level[0] > 8.5
        assert (np.diff(level) < 0).all()


def test_sweeps_are_loudest_where_they_are_said_to_be():
    across = np.arange(-4, 4.1, 0.25)

    def loudest(name: str, number: int) -> float:
        case = SITUATIONS[name].draw(number)
        rows = case.layers["readings"].dropna(subset="offset_m")
        at = float(rows["chainage_m"].median())
        return float(across[case.over_db(at, across).argmax()])

    for number in range(2):
        assert loudest("control_sweep_over_pipe", number) == 0
        assert loudest("trace_is_wrong", number) == pytest.approx(2.2, abs=0.26)
        assert 2.2 < abs(loudest("sweep_to_neighbour", number)) < 3.8
        assert abs(loudest("sweep_to_machine", number)) == 4
        assert 2.2 < abs(loudest("leak_on_unmapped_branch", number)) < 3.8


def test_what_goes_away_is_gone_and_air_changes_only_the_leak():
    along = np.arange(0, 18, 0.25)
    for number in range(2):
        lorry = SITUATIONS["lorry_idles"].draw(number)
        assert lorry.over_db(along, seconds=2 * HOUR_S).max() > 9
        assert lorry.over_db(along, seconds=3 * HOUR_S).max() < -50
        leak = SITUATIONS["air_rises"].draw(number)
        assert 4 <= np.diff([leak.over_db(along, air=on).max() for on in (False, True)])[0] <= 9
        for name in ("transformer_hum", "air_changes_nothing"):
            still = SITUATIONS[name].draw(number)
            assert (still.over_db(along, air=True) == still.over_db(along)).all()


def test_a_gust_and_a_missed_contact_are_in_the_readings_of_a_rough_crew_only():
    rng = np.random.default_rng(3)
    rough = Record(rng, length_m=(30, 30))
    rough.crew = replace(rough.crew, step_db=1.0, noise_db=0.0, flicker_db=0.0, missed=0.1)
    rough.street.coupling = replace(rough.street.coupling, sd_db=0.0)
    rough.street.background = replace(rough.street.background, sd_db=0.0)
    rough.street.air_share = 0.2
    level = np.array([row["sound_level"] for row in rough.walk(np.linspace(0, 30, 200))])
    usual = np.median(level)
    assert (level <= usual - 3).mean() == pytest.approx(0.1, abs=0.06)
    assert 0.01 < (level >= usual + 1).mean() < 0.25
    rough.crew = replace(rough.crew, missed=0.0, gusts=0.0)
    assert len({row["sound_level"] for row in rough.walk(np.linspace(0, 30, 50))}) == 1


def test_a_verdict_is_held_against_place_end_and_action():
    leak, far = np.array([[10.0, 0.0]]), np.array([10.0, 0.31])
    wanted = accepts("located", "beyond_end", "ambiguous", never="other_source", actions="sweep")
    near = Verdict("located", np.array([10.0, 0.30]), 10.0, "")
    assert accepted(wanted, near, leak, np.nan)
    assert not accepted(wanted, replace(near, place=far), leak, np.nan)
    assert mistaken(wanted, near, leak)
    assert not mistaken(wanted, replace(near, place=far), leak)
    assert mistaken(wanted, replace(near, status="other_source"), leak[:0])
    past = replace(near, status="beyond_end", chainage_m=19.0)
    assert accepted(wanted, past, leak, 20.0)
    assert not accepted(wanted, past, leak, 0.0)
    unsure = replace(near, status="ambiguous", action="Listen at 3 more stops.")
    assert not accepted(wanted, unsure, leak, np.nan)
    assert accepted(wanted, replace(unsure, action="Sweep across the pipe."), leak, np.nan)
    assert not accepted(wanted, replace(near, status="no_leak_heard"), leak, np.nan)
    assert not names_action("Use a stairwell.", frozenset({"air"}))


def test_controls_are_located_within_a_foot():
    draws = {name: judged(SITUATIONS[name], 0, "locate") for name in CONTROLS}
    assert {name: draw.said for name, draw in draws.items() if not draw.accepted} == {}
