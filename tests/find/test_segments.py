"""Runs of paced stops: where the crew turned, its steps, and what is known of its stops."""

from __future__ import annotations

import numpy as np
import pytest

from leakgeo.find.levels.segments import placed, steps_seen, turns
from leakgeo.sound.walk_law import WalkLaw

LAW = WalkLaw.of([[0.0, 1.0, 0.0, 1.0]], [[0.3, 1.0], [0.6, 1.0], [1.2, 1.0], [1.5, 1.0]])
SD = 1.5


def visit(seed, fine=15):
    """True stops of a coarse walk, then of a fine one around one of its stops; and their run."""
    rng = np.random.default_rng(seed)
    there = 0.4 + np.cumsum(1.2 * (1 + 0.06 * rng.normal(size=int(rng.integers(12, 30)))))
    back = rng.choice(there) - 0.3 * fine / 2 + np.cumsum(0.3 * (1 + 0.06 * rng.normal(size=fine)))
    true = np.append(there, back)
    return true, np.repeat([0, 1], [len(there), fine]), true + SD * rng.normal(size=len(true))


def test_a_turn_is_found_within_a_stop_on_nearly_all_walks():
    found = 0
    for seed in range(100):
        _, run, fix = visit(seed)
        own, odds = turns(fix, SD**2 * np.eye(len(fix)))
        breaks = np.flatnonzero(np.diff(own))
        assert odds > 0.0
        found += len(breaks) == 1 and abs(breaks[0] - np.flatnonzero(np.diff(run))[0]) <= 1
    assert found >= 92


def test_one_walk_is_one_run_and_shuffled_stops_are_none():
    cut = alike = 0
    for seed in range(60):
        _, _, fix = visit(seed, fine=0)
        covariance = SD**2 * np.eye(len(fix))
        cut += turns(fix, covariance)[0].max() > 0
        shuffled = np.random.default_rng(seed).permutation(len(fix))
        alike += turns(fix[shuffled], covariance)[1] > 0.0
    assert cut <= 3
    assert alike <= 2


@pytest.mark.parametrize("about_m", [0.0, 400.0])
def test_what_is_claimed_of_stops_holds(about_m):
    """Errors, over what is claimed of shift, stretch and stop, have a standard deviation of 1."""
    off, middle, plain = [], [], []
    for seed in range(120):
        true, run, fix = visit(seed)
        paced = placed(fix + about_m, SD**2 * np.eye(len(fix)), run, LAW)
        error = paced.chainage_m - about_m - true
        sd = np.sqrt(
            paced.own_sd_m**2
            + paced.shift_sd_m[run] ** 2
            + (paced.spacing_sd_m[run] * paced.stops_from_middle) ** 2
        )
        off.append(error / sd)
        middle.append(error[run == 1].mean())
        plain.append(fix[-1] - true[-1])
    assert np.concatenate(off).std() == pytest.approx(1.0, abs=0.12)
    assert np.std(middle) < 0.35 * np.std(plain)


def test_a_shift_of_all_stops_is_common_to_the_runs():
    _, run, fix = visit(3)
    covariance = 0.3**2 * np.eye(len(fix)) + SD**2
    paced = placed(fix, covariance, run, LAW)
    assert paced.common_sd_m == pytest.approx(SD, rel=0.1)
    assert (paced.shift_sd_m >= paced.common_sd_m).all()


def test_a_tape_at_three_stops_pins_a_run():
    true, run, fix = visit(4)
    variance = np.full(len(fix), SD**2)
    taped = np.flatnonzero(run == 1)[[0, 7, 14]]
    fix[taped], variance[taped] = true[taped], 0.05**2
    paced = placed(fix, np.diag(variance), run, LAW)
    assert paced.shift_sd_m[1] < 0.1
    assert np.abs(paced.chainage_m - true)[run == 1].max() < 0.3


def test_steps_are_seen_with_their_error_and_direction():
    true, run, _ = visit(5)
    step, variance = steps_seen(true[::-1], 0.01 * np.eye(len(true)), 1 - run[::-1])
    assert step == pytest.approx([-0.3, -1.2], rel=0.1)
    assert (variance**0.5 < 0.05).all()
