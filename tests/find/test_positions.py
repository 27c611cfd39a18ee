"""Satellite errors: what is each reading's own, and what an even walk tells of them."""

from __future__ import annotations

import numpy as np
import pytest

from leakgeo.find.levels.positions import even_spacing, split_error

N, SD = 40, 1.5


def draw(seed, common, step=0.6):
    """Fixes of a walk of even steps: chainage, offset, order, true chainage."""
    rng = np.random.default_rng(seed)
    true = 5.0 + step * np.arange(N)
    shift, own = SD * common**0.5 * rng.normal(size=2), SD * (1 - common) ** 0.5
    along, across = shift[:, None] + own * rng.normal(size=(2, N))
    return true + along, across, np.arange(1.0, N + 1), true


@pytest.mark.parametrize("seed", range(10))
def test_own_errors_are_told_from_a_shared_one(seed):
    sd, walk = np.full(N, SD), np.zeros(N, dtype=int)
    alone, _ = split_error(draw(seed, 0.0)[1], sd, walk)
    together, shift = split_error(draw(seed, 0.95)[1], sd, walk)
    assert together.mean() < 0.6 * alone.mean()
    assert shift[0] > 0.8 * SD


@pytest.mark.parametrize("seed", range(10))
def test_an_even_walk_places_its_stops_better_than_its_fixes(seed):
    fix, offset, order, true = draw(seed, 0.0)
    even = even_spacing(fix, offset, np.full(N, SD), order, np.zeros(N, dtype=int))
    before, after = np.std(fix - true), np.std(even.chainage_m - true)
    assert after < 0.5 * before
    # What is claimed of a stop, its own and the walk's, holds nearly all of its errors.
    claimed = np.sqrt(even.own_sd_m**2 + even.shared_variance)
    assert (np.abs(even.chainage_m - true) < 3 * claimed).mean() > 0.9


def test_a_walk_that_jumps_is_left_alone():
    fix, offset, order, _ = draw(1, 0.0)
    fix[N // 2 :] += 12.0
    even = even_spacing(fix, offset, np.full(N, SD), order, np.zeros(N, dtype=int))
    assert even.chainage_m.tolist() == fix.tolist()
    assert np.isnan(even.own_sd_m).all()


def test_without_an_order_or_with_few_stops_nothing_changes():
    fix, offset, order, _ = draw(2, 0.0)
    sd, walk = np.full(N, SD), np.zeros(N, dtype=int)
    assert (
        even_spacing(fix, offset, sd, np.full(N, np.nan), walk).chainage_m.tolist() == fix.tolist()
    )
    few = slice(0, 5)
    short = even_spacing(fix[few], offset[few], sd[few], order[few], walk[few])
    assert short.chainage_m.tolist() == fix[few].tolist()
