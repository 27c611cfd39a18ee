"""Shapes of the level that nobody foresaw: what makes a leak likelier, and what is none."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leakgeo.find.locate.zones import best_mark
from tests.find.shapes import LEAK_M, LENGTH_M, STOPS_M, found, hump, noise

FOOT_M = 0.3048


def within_foot(result):
    mark = best_mark(result.chainage_m, result.probability)
    return mark.within_foot_given_leak * result.leak_probability


@settings(max_examples=12)
# A hump narrower than the steps is one loud stop, and that may be a burst.
@given(st.floats(0.5, 3.0), st.floats(4.0, 20.0), st.floats(3.0, 12.0), st.integers(0, 99),
       st.sampled_from(["copper", "pe", "unknown"]))  # fmt: skip
def test_a_hump_raised_never_lowers_the_probability_of_a_leak(width, height, more, seed, material):
    before, after = (
        found(40.0 + hump(h, width) + noise(seed), material=material).leak_probability
        for h in (height, height + more)
    )
    # Another source beside a loud leak takes back some thousandths.
    assert after > before - 0.01


@pytest.mark.parametrize("width", [0.3, 0.5, 1.0, 2.5])
@pytest.mark.parametrize("material", ["copper", "pe"])
def test_a_loud_hump_is_a_leak_whatever_its_width_and_the_material(width, material):
    result = found(40.0 + hump(30.0, width) + noise(3), material=material)
    assert result.leak_probability > 0.95
    mark = best_mark(result.chainage_m, result.probability)
    assert abs(mark.chainage_m - LEAK_M) < FOOT_M
    assert within_foot(result) > 0.7


def test_more_stops_over_the_hump_do_not_lower_the_probability_on_average():
    more = np.unique(np.concatenate([STOPS_M, np.arange(11.0, 13.6, 0.15)]))
    before = [found(40.0 + hump(12.0, 0.8) + noise(k)) for k in range(12)]
    after = [
        found(40.0 + hump(12.0, 0.8, more) + noise(k, more), more) for k in range(12)
    ]  # fmt: skip
    assert (
        np.mean([f.leak_probability for f in after])
        > np.mean([f.leak_probability for f in before]) - 0.005
    )
    assert np.mean([within_foot(f) for f in after]) >= np.mean([within_foot(f) for f in before])


@settings(max_examples=6)
@given(st.floats(-30.0, 30.0), st.integers(0, 99))
def test_the_unit_of_all_levels_does_not_matter(shift, seed):
    level = 40.0 + hump(12.0, 1.0) + noise(seed)
    one, other = found(level), found(level + shift)
    assert other.leak_probability == pytest.approx(one.leak_probability, abs=1e-4)
    np.testing.assert_allclose(other.probability, one.probability, atol=2e-4)


@settings(max_examples=6)
@given(st.integers(0, 99))
def test_a_line_walked_from_its_other_end_has_the_same_leak(seed):
    level = 40.0 + hump(12.0, 1.0) + noise(seed)
    one, other = found(level), found(level[::-1], LENGTH_M - STOPS_M[::-1])
    assert other.leak_probability == pytest.approx(one.leak_probability, abs=0.01)
    here, there = (best_mark(f.chainage_m, f.probability).chainage_m for f in (one, other))
    assert LENGTH_M - there == pytest.approx(here, abs=0.11)


def test_half_the_line_has_the_same_leak():
    kept = STOPS_M < 20.0
    level = 40.0 + hump(15.0, 1.0) + noise(5)
    one = found(level)
    part = found(level[kept], STOPS_M[kept], length_m=20.0)
    assert part.leak_probability == pytest.approx(one.leak_probability, abs=0.02)
    assert within_foot(part) == pytest.approx(within_foot(one), abs=0.05)


def test_an_unknown_material_moves_little():
    level = 40.0 + hump(15.0, 1.0) + noise(6)
    known, unknown = found(level), found(level, material="unknown")
    assert within_foot(unknown) == pytest.approx(within_foot(known), abs=0.08)


@pytest.mark.parametrize("over_line_db", [3.0, -6.0, 12.0])
def test_a_slope_alone_is_no_leak(over_line_db):
    level = 40.0 + over_line_db * STOPS_M / LENGTH_M + noise(7)
    result = found(level)
    assert result.leak_log_bf < -1.1
    assert result.sound_log_bf < 0.0


@pytest.mark.parametrize("step_db", [4.0, 8.0])
def test_a_step_where_the_surface_changes_is_no_leak(step_db):
    after = (STOPS_M > 15.0).astype(np.int64)
    result = found(40.0 + step_db * after + noise(8), surface=after)
    assert result.leak_log_bf < -1.1


@pytest.mark.parametrize("loud_db", [6.0, 10.0, 20.0])
def test_one_loud_stop_between_quiet_ones_a_foot_away_is_no_leak(loud_db):
    level = 40.0 + noise(9)
    level[np.argmin(np.abs(STOPS_M - LEAK_M))] += loud_db
    result = found(level)
    assert result.leak_log_bf < -1.1


def test_a_level_that_no_single_source_makes_is_a_misfit():
    humps = 40.0 + hump(12.0, 1.0) + noise(10)
    saw = 40.0 + 9.0 * np.sin(STOPS_M * 2.2) + noise(10)
    assert found(humps).misfit_times < 2.0
    wild = found(saw)
    assert wild.misfit_times > 2.0
    assert within_foot(wild) < 0.5
