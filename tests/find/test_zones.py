"""From posterior to zones and mark."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from leakgeo.conversion import FOOT_M
from leakgeo.find.locate.zones import best_mark, highest_density_pieces

MASSES = arrays(float, st.integers(3, 60), elements=st.floats(1e-6, 1.0)).map(lambda p: p / p.sum())


@given(MASSES, st.floats(0.5, 0.99))
def test_pieces_hold_the_share_are_apart_and_ranked(probability, share):
    pieces = highest_density_pieces(0.05, probability, share)
    assert sum(p.probability for p in pieces) >= share - 1e-9
    assert [p.probability for p in pieces] == sorted((p.probability for p in pieces), reverse=True)
    spans = sorted((p.begin_m, p.end_m) for p in pieces)
    assert all(a[1] < b[0] for a, b in itertools.pairwise(spans))


@given(MASSES, st.floats(0.5, 0.99))
def test_no_smaller_set_of_cells_holds_as_much(probability, share):
    pieces = highest_density_pieces(1.0, probability, share)
    cells = round(sum(p.end_m - p.begin_m for p in pieces))
    fewer = np.sort(probability)[::-1][: cells - 1].sum()
    assert fewer < share


@given(st.floats(2.0, 8.0), st.floats(0.05, 0.5))
def test_a_normal_posterior_is_marked_at_its_middle(middle, sd):
    x = np.arange(0.025, 10, 0.05)
    p = np.exp(-0.5 * ((x - middle) / sd) ** 2)
    mark = best_mark(x, p / p.sum())
    assert mark.chainage_m == pytest.approx(middle, abs=0.051)
    assert mark.sd_m == pytest.approx(sd, abs=0.03)
    # A normal variable lies within 1.96 deviations 95 % of the time.
    assert mark.reach_95_m == pytest.approx(1.96 * sd, abs=0.08)


def test_two_peaks_take_the_likelier():
    x = np.arange(0.025, 10, 0.05)
    p = 0.4 * np.exp(-0.5 * ((x - 2) / 0.1) ** 2) + 0.6 * np.exp(-0.5 * ((x - 7) / 0.1) ** 2)
    mark = best_mark(x, p / p.sum())
    assert mark.chainage_m == pytest.approx(7.0, abs=0.05)
    assert mark.within_foot_given_leak == pytest.approx(0.6, abs=0.01)


def test_knowing_nothing_marks_the_middle_and_says_so():
    p = np.full(400, 1 / 400)
    mark = best_mark(np.arange(0.025, 20, 0.05), p)
    assert mark.chainage_m == pytest.approx(10.0, abs=0.1)
    assert mark.within_foot_given_leak == pytest.approx(2 * FOOT_M / 20, rel=0.01)


def test_the_reach_goes_to_the_edge_of_the_last_cell():
    # All of the leak is in five cells of 1 m: from 7.5 to 12.5 m.
    x = np.arange(20) + 0.5
    p = np.where(np.abs(x - 10.5) < 3, 0.2, 0.0)
    mark = best_mark(x, p)
    assert mark.chainage_m == 10.5
    assert mark.reach_95_m == 2.5
    assert mark.sd_m == pytest.approx(2**0.5)
    # One cell alone reaches half its length.
    assert best_mark(np.array([3.0]), np.array([1.0])).reach_95_m == FOOT_M


def test_rounding_of_a_sum_adds_no_cell():
    # Eight tenths are 0.7999999999999999 if they are added one by one.
    pieces = highest_density_pieces(1.0, np.full(10, 0.1), 0.8)
    assert [(piece.begin_m, piece.end_m) for piece in pieces] == [(0.0, 8.0)]
