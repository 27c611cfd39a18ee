"""Posterior: against an independent sampler, calibrated by simulation, and at the least error."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from leakgeo.find.posterior import kernel
from leakgeo.sound.spreading import Spreading, relative_level
from tests.benchmarks import efficiency
from tests.benchmarks.efficiency import Cell, bound_m, draw, outcome
from tests.outside.independent import Normal, level_db
from tests.outside.posteriors import compared, ranks
from tests.outside.table import outside

SAMPLED = outside(
    "mean, deviation and 90 % interval of the leak's place, the constants integrated out",
    against="the model written again in numpy, sampled; normal noise, coupled, at the scale chosen",
    source="emcee 3.1 (Foreman-Mackey and others, PASP 125, 2013)",
    close="{within:g} of a deviation and four Monte Carlo errors; "
    "`python -m tests.outside.posteriors` compares ten fields, Student's t too",
    within=0.15,
)


@SAMPLED
@pytest.mark.parametrize("seed", range(2))
def test_the_posterior_is_that_of_an_independent_sampler(seed, within):
    found = compared(seed, Normal, walkers=40, steps=2400)
    assert found.draws > 500
    assert np.all(np.abs(found.gaps()) < within + 4 * found.monte_carlo())


@SAMPLED
def test_the_model_written_again_is_the_written_formula():
    x = np.linspace(0.0, 12.0, 41)
    theta = np.array([np.log(0.8), 0.3, np.log(0.3 / 0.7), 0.2, np.log(1.2), -17, np.log(2), 48, 5])
    before, beyond = (
        relative_level(
            x - 5.0, Spreading(0.8, 1.2 * np.exp(side), 0.3, 2.0, 10**-1.7), 0.4 * np.exp(0.3)
        )
        for side in (-0.2, 0.2)
    )
    ours = 48 + np.where(x < 5.0, before, beyond)
    assert level_db(x, theta, 0.4) == pytest.approx(ours, abs=1e-12)


CALIBRATED = outside(
    "simulation-based calibration: rank of the true place, constants, noise and readings drawn "
    "from the model itself, 400 lines",
    against="a flat histogram of ten bins, by chi-square; with noise taken as half or double it "
    "is not flat",
    source="Talts and others, arXiv 1804.06788, 2018",
    close="p over {within:g}; under 1e-6 for either wrong noise",
    within=0.01,
)


def flatness(told):
    return stats.chisquare(np.histogram(told, 10, (0.0, 1.0))[0]).pvalue


@CALIBRATED
def test_the_true_place_has_any_rank_alike(within):
    assert flatness(ranks(400, 5)) > within


@CALIBRATED
@pytest.mark.parametrize("claimed", [0.5, 2.0])
def test_wrong_noise_would_show(claimed):
    assert flatness(ranks(200, 5, claimed)) < 1e-6


BOUND = outside(
    "error of the mark against the least error that any locator could have",
    against="the bound of Cramer and Rao with the constants as nuisances, by finite differences",
    source="Van Trees, Detection, Estimation, and Modulation Theory, 1968, section 2.4",
    close="0.8 to 1.2 times and two errors of 150 lines; "
    "`python -m tests.benchmarks.efficiency` prints the table",
)


@BOUND
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


@BOUND
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


@outside(
    "evidence of silence: normal noise with its coupling, and one reading's Student's t",
    against="scipy's multivariate normal of 25 readings, and its Student's t",
    source="worked out with scipy",
    close="{within:g} nats",
    within=1e-3,
)
@pytest.mark.parametrize("value", [50.0, 53.0, 62.0])
def test_evidence_of_silence_is_that_of_scipy(value, within):
    from tests.find.test_kernel import fit_at, prior, readings

    rng, x = np.random.default_rng(0), np.sort(np.random.default_rng(1).uniform(0, 20, 25))
    y = value + 2 * rng.normal(size=25)
    mean, precision = prior(value)
    noise = np.array([1.5**2, 0.6, 1.0, 1.0, 1e8])
    got = fit_at(kernel.SILENT, 0.0, mean.copy(), np.ones(25), *readings(x, y), mean, precision,
                 noise)  # fmt: skip
    covariance = 2.25 * np.exp(-np.abs(x[:, None] - x) / 0.6) + 2.25 * np.eye(25) + 400
    exact = stats.multivariate_normal(np.full(25, value), covariance).logpdf(y)
    assert got == pytest.approx(exact, abs=within)
    mean, precision = prior()
    precision[-1], noise = 1e12, np.array([1e-12, 0.6, 1.0, 1.0, 4.0])
    one = fit_at(kernel.SILENT, 0.0, mean.copy(), np.ones(1), *readings([1.0], [value]), mean,
                 precision, noise)  # fmt: skip
    assert one == pytest.approx(stats.t(4, loc=50, scale=1.5).logpdf(value), abs=within)
