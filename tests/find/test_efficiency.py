"""Fields of the fitted model: marks far off claim little, and the posterior sums to one."""

from __future__ import annotations

import numpy as np
import pytest

from leakgeo.find.posterior.posterior import posterior
from leakgeo.sound.constants import load_constants
from tests.benchmarks import efficiency
from tests.benchmarks.efficiency import Cell, Outcome, draw, outcome


def test_marks_far_off_are_not_claimed_boldly():
    result = outcome(Cell(0.5, "copper", 2.0), 150, (3,))
    assert result.far.any()
    assert result.claim[result.far].mean() < 0.5


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("material", ["copper", "pvc"])
def test_the_posterior_sums_to_one(seed, material):
    problem, _, _ = draw(np.random.default_rng(seed), Cell(0.9, material, 2.0))
    found = posterior(problem, efficiency.LENGTH_M, load_constants(), 0.9)
    assert found.probability.sum() == pytest.approx(1.0, abs=1e-9)
    assert (found.probability >= 0).all()
    assert found.chainage_m[0] > 0
    assert found.chainage_m[-1] < efficiency.LENGTH_M


def test_the_ratio_of_errors_at_the_bound_is_one():
    error = np.random.default_rng(5).normal(size=4000)
    bound = np.full(4000, 0.2)
    ratio, margin = Outcome(0.2 * error, error, bound, bound).ratio(0.2 * error)
    assert ratio == pytest.approx(1.0, abs=4 * margin)
    assert margin == pytest.approx(1 / np.sqrt(8000), rel=0.2)
