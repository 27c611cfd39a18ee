"""Odds of lines drawn from the model come true, with a noise law learned from these lines."""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks.calibration import LAWS, ZONES, drawn_lines, learned, outcome

LINES = 80


@pytest.fixture(scope="module")
def rough():
    """Lines on rough ground, which is rare in the shipped law."""
    return drawn_lines(LINES, (3,), LAWS["rough"])


def standard_errors_off(result):
    """How far each figure is from what it is if all odds are right, in standard errors."""
    rank, zone = result.ranks, np.array(ZONES)
    n = rank.size**0.5
    sums = (result.leak_probability, result.leaks), (result.claim, result.hit)
    return np.array([
        (rank.mean() - 0.5) * n * 12**0.5,
        # Of a uniform rank the square of its distance from the middle.
        (np.mean((rank - 0.5) ** 2) - 1 / 12) * n * 180**0.5,
        *(result.cover - zone) * n / (zone * (1 - zone)) ** 0.5,
        *((came - odds).sum() / (odds * (1 - odds)).sum() ** 0.5 for odds, came in sums),
    ])  # fmt: skip


def test_odds_come_true_under_the_law_that_the_lines_teach(rough):
    result = outcome(rough, learned(rough))
    assert 30 < result.ranks.size < 50
    assert np.abs(standard_errors_off(result)).max() < 3


def test_odds_of_a_law_of_other_ground_do_not(rough):
    assert np.abs(standard_errors_off(outcome(rough, LAWS["smooth"]))).max() > 5
