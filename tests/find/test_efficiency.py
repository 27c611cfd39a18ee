"""Errors against the Cramer-Rao bound, on fields drawn from the fitted model; and the posterior."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from leakgeo.find import kernel
from leakgeo.find.posterior import posterior
from leakgeo.sound.constants import load_constants
from tests.benchmarks import efficiency
from tests.benchmarks.efficiency import Cell, Outcome, bound_m, draw, outcome


@pytest.mark.parametrize("scale", [0.5, 1.0])
@pytest.mark.parametrize("depth_m", [0.5, 0.9, 1.5])
def test_the_error_is_near_the_bound(depth_m, scale):
    result = outcome(Cell(depth_m, "pvc", scale), 150, (2,))
    near = result.of(~result.far)
    ratio, error = near.ratio(near.mark_m)
    assert ratio < 1.2 + 2 * error
    # Far below the bound it would be the bound that is wrong.
    assert ratio > 0.8
    assert result.far.mean() < 0.03


def test_marks_far_off_are_not_claimed_boldly():
    result = outcome(Cell(0.5, "copper", 2.0), 150, (3,))
    assert result.far.any()
    assert result.claim[result.far].mean() < 0.5


def test_the_bound_of_a_known_shape_is_the_closed_form():
    # Constants known for certain, independent noise: sd over the root of the sum of squared slopes.
    problem, leak, _ = draw(np.random.default_rng(4), Cell(0.9, "pvc", 1.0))
    noise = problem.noise.copy()
    noise[kernel.COUPLING_VARIANCE] = 1e-12
    problem = replace(problem, noise=noise, precision=np.full(problem.mean.size, 1e12))
    x, h = problem.readings[:, kernel.X], 1e-6
    slope = (
        efficiency.level_db(x, leak + h, problem.mean)
        - efficiency.level_db(x, leak - h, problem.mean)
    ) / (2 * h)
    tail = noise[kernel.TAIL]
    sd = np.sqrt(problem.readings[0, kernel.VARIANCE] * (tail + 3) / (tail + 1))
    exact = sd / np.sqrt(np.sum(slope**2))
    assert bound_m(x, leak, problem, 1.0) == pytest.approx(exact, rel=1e-4)


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
