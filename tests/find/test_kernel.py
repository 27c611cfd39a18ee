"""The compiled kernel against dense algebra, numerical derivatives and the written formula."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from leakgeo.find.posterior import kernel
from leakgeo.find.posterior.kernel import linearise, make_work
from leakgeo.sound.spreading import DB, Spreading, relative_level

NOISE = np.array([1.5**2, 0.6, 1.0, 1.0, 4.0])
P = kernel.BANDS + kernel.PER_BAND + 1


def readings(x, y, variance=1.5**2):
    n = len(x)
    none, one = np.zeros(n), np.ones(n)
    table = np.column_stack([x, y, variance * one, none, none, one, none, x, none, none, none])
    codes = np.full((n, 9), -1, dtype=np.int64)
    codes[:, kernel.BAND], codes[:, kernel.STOP] = 0, 1
    return table, codes


def prior(level=50.0):
    mean, precision = np.zeros(P), np.ones(P)
    mean[-1], precision[-1] = level, 20.0**-2
    return mean, precision


def test_readings_of_a_stop_share_what_they_share():
    rng = np.random.default_rng(5)
    x = np.repeat(np.sort(rng.uniform(0, 20, 8)), 2)
    y = 50 + 2 * rng.normal(size=16)
    own, shared, apart = 0.7, 1.3, 0.2
    table, codes = readings(x, y, variance=own)
    table[::2, kernel.VARIANCE] = own + 2 * shared
    table[::2, kernel.LOAD], table[1::2, kernel.LOAD] = (2.0 - apart) ** 0.5, apart**0.5
    codes[::2, kernel.STOP], codes[1::2, kernel.STOP] = 2, -1
    mean, precision = prior()
    noise = NOISE.copy()
    noise[kernel.TAIL] = 1e8
    got = fit_at(kernel.SILENT, 0, mean.copy(), np.ones(16), table, codes, mean, precision, noise)
    same = x[:, None] == x
    band = np.arange(16) % 2
    alike = np.where(band[:, None] == band, 1.0, 1.0 - apart)
    coupling = 2.25 * np.exp(-np.abs(x[:, None] - x) / 0.6) * alike
    covariance = coupling + shared * same + own * np.eye(16) + 400
    exact = stats.multivariate_normal(np.full(16, 50.0), covariance).logpdf(y)
    assert got == pytest.approx(exact, abs=1e-4)


def fit_at(model, place, theta, weight, table, codes, mean, precision, noise):
    work = make_work(table, codes, len(theta), noise)
    return kernel.fit_at(model, place, theta, weight, table, codes, mean, precision, noise, work)


def linear(model, place, theta, table, codes):
    """Slopes, level and variance of the first reading, through the kernel."""
    rows, variance = np.empty((len(table), len(theta) + 1)), np.empty(len(table))
    linearise(model, place, theta, table, codes, rows, variance, NOISE)
    return rows[0, :-1], table[0, kernel.Y] - rows[0, -1], variance[0]


@pytest.mark.parametrize("model", [kernel.ONE, kernel.TWO])
@pytest.mark.parametrize("seed", range(5))
def test_slopes_are_derivatives(model, seed):
    rng = np.random.default_rng(seed)
    theta = 0.4 * rng.normal(size=P + 3 + (kernel.PER_OTHER if model == kernel.TWO else 0))
    table, codes = readings([rng.uniform(0, 10)], [0.0])
    places = kernel.BANDS + kernel.PER_BAND + np.arange(3)
    codes[0, [kernel.SHIFT_AT, kernel.REFERENCE_AT, kernel.STRETCH_AT]] = places
    table[0, [kernel.SMEAR_M, kernel.FROM_MIDDLE]] = 0.7, 1.9
    slopes, _, _ = linear(model, 5.0, theta, table, codes)
    for j in range(len(theta)):
        up, down = theta.copy(), theta.copy()
        up[j] += 1e-5
        down[j] -= 1e-5
        rise = linear(model, 5.0, up, table, codes)[1] - linear(model, 5.0, down, table, codes)[1]
        assert slopes[j] == pytest.approx(rise / 2e-5, abs=1e-6)


@pytest.mark.parametrize("x", [4.2, 5.0, 7.7])
@pytest.mark.parametrize("sd", [0.02, 0.5])
def test_an_error_of_position_lends_its_variance(x, sd):
    theta = np.zeros(P)
    table, codes = readings([x], [0.0], variance=0.0)
    table[0, kernel.POSITION_VARIANCE] = sd**2
    lent = linear(kernel.ONE, 5.0, theta, table, codes)[2]
    places = x + sd * np.random.default_rng(1).normal(size=20_000)
    exact = relative_level(places - 5.0, Spreading(1.0, DB, 0.5, DB, 1.0)).var()
    # Three nodes: good to a half at worst, right above the leak.
    assert lent == pytest.approx(exact, rel=0.6, abs=0.002)


def test_the_compiled_level_is_the_written_formula():
    theta = np.zeros(P)
    theta[kernel.DEPTH] = np.log(0.8)
    theta[kernel.PIPED] = np.log(0.3 / 0.7)
    own = np.log(1.2 / DB), np.log(0.02), np.log(2.0 / DB)
    theta[kernel.BANDS : kernel.BANDS + kernel.PER_BAND] = own
    table, codes = readings([7.3], [0.0])
    table[0, kernel.SMEAR_M] = 0.4
    _, level, _ = linear(kernel.ONE, 5.0, theta, table, codes)
    written = relative_level(2.3, Spreading(0.8, 1.2, 0.3, 2.0, 0.02), smear_m=0.4)
    assert level == pytest.approx(float(written), abs=1e-12)


@pytest.mark.parametrize(("x", "side"), [(7.3, 1.0), (2.7, -1.0)])
def test_the_pipe_may_decay_unlike_to_the_two_sides(x, side):
    theta = np.zeros(P)
    theta[kernel.ASYMMETRY] = 0.3
    _, level, _ = linear(kernel.ONE, 5.0, theta, *readings([x], [0.0]))
    decay = DB * np.exp(side * 0.3)
    written = relative_level(2.3, Spreading(1.0, decay, 0.5, DB, 1.0))
    assert level == pytest.approx(float(written), abs=1e-12)


def test_a_burst_weighs_little():
    rng = np.random.default_rng(2)
    x = np.arange(0, 12, 0.3)
    y = 50 + rng.normal(size=len(x))
    y[20] += 15
    table, codes = readings(x, y)
    mean, precision = prior()
    weight = np.ones(len(x))
    fit_at(kernel.SILENT, 0.0, mean.copy(), weight, table, codes, mean, precision, NOISE)
    assert weight.argmin() == 20
    assert weight[20] < 0.3 < np.median(weight)
