"""The yardstick: evidence against exact sums, and an informed locator that keeps its word."""

import numpy as np
import pytest
from scipy.stats import binom, exponnorm, multivariate_normal, norm

from leakgeo.simulate import Conditions, simulate_field
from tests.benchmarks.accuracy import main
from tests.benchmarks.ep import Outliers, kind_moments, log_evidence
from tests.benchmarks.estimate import from_density
from tests.benchmarks.informed import informed
from tests.benchmarks.score import score

NONE = Outliers(1e-12, 1.0, 6.0, 1e-12, 6.0)


def test_probabilities_of_kinds_are_those_of_scipy():
    mean, var, own = np.array([[50.0]]), np.array([[1.2]]), 0.7
    low, high, sd = np.array([55.5]), np.array([56.5]), np.sqrt(1.2 + 0.49)
    value = kind_moments(mean, var, low, high, own, Outliers(0.1, 1.5, 6.0, 0.1, 5.0))[0, :, 0, 0]
    plain = np.diff(norm.cdf([5.5, 6.5], scale=sd))[0]
    burst = np.diff(exponnorm.cdf([5.5, 6.5], 6.0 / sd, loc=2.0, scale=sd))[0]
    bad = np.diff(exponnorm.cdf([-6.5, -5.5], 5.0 / sd, loc=2.0, scale=sd))[0]
    np.testing.assert_allclose(value, [plain, burst, bad], rtol=1e-6)


def test_derivatives_of_kinds_are_those_of_finite_differences():
    out, step = Outliers(0.1, 1.5, 6.0, 0.1, 5.0), 1e-3
    var, low, high = np.array([[1.2]]), np.array([52.5]), np.array([53.5])
    at = [
        kind_moments(np.array([[m]]), var, low, high, 0.7, out) for m in (50 - step, 50, 50 + step)
    ]
    slope = (at[2][0] - at[0][0]) / (2 * step)
    curve = (at[2][0] - 2 * at[1][0] + at[0][0]) / step**2
    np.testing.assert_allclose(at[1][1], slope, rtol=1e-4, atol=1e-9)
    np.testing.assert_allclose(at[1][2], curve, rtol=1e-3, atol=1e-7)


def test_evidence_without_outliers_is_the_normal_density():
    # An interval of 1 dB under a much wider law weighs as density times 1 dB.
    rng = np.random.default_rng(0)
    root = rng.standard_normal((5, 5))
    cov, mean = root @ root.T * 20 + 20 * np.eye(5), rng.uniform(40, 50, (2, 5))
    y = np.rint(rng.multivariate_normal(mean[0], cov + np.eye(5)))
    found = log_evidence(mean, cov, y - 0.5, y + 0.5, 1.0, np.arange(5), NONE, sweeps=30)
    exact = [multivariate_normal(m, cov + np.eye(5) * (1 + 1 / 12)).logpdf(y) for m in mean]
    np.testing.assert_allclose(found, exact, atol=0.02)


def test_evidence_with_outliers_is_the_sum_over_all_kinds():
    out = Outliers(0.2, 2.0, 6.0, 0.15, 5.0)
    mean, sd = np.array([[50.0, 50.0, 51.0]]), 1.1
    y, tiny = np.array([50.0, 61.0, 44.0]), 1e-9 * np.eye(3)
    found = log_evidence(mean, tiny, y - 0.5, y + 0.5, sd, np.arange(3), out, sweeps=5)[0]
    like = kind_moments(mean, np.full((1, 3), 1e-9), y - 0.5, y + 0.5, sd, out)[0, :, 0]
    state = out.start() * like[:, 0]
    for s in (1, 2):
        state = (out.turn().T @ state) * like[:, s]
    assert found == pytest.approx(np.log(state.sum()), abs=1e-6)


def test_kinds_keep_their_shares_along_the_chain():
    out = Outliers(0.05, 2.0, 6.0, 0.03, 5.0)
    np.testing.assert_allclose(out.start() @ out.turn(), out.start(), atol=1e-12)


def test_zones_and_mark_of_a_known_density():
    grid = np.arange(0.0, 20.0, 0.05)
    mass = norm.pdf(grid, 8.0, 0.4)
    found = from_density(grid, mass / mass.sum(), 1.0)
    assert found.chainage_m == pytest.approx(8.0, abs=0.051)
    assert found.probability_within_1ft == pytest.approx(2 * norm.cdf(0.3048 / 0.4) - 1, abs=0.01)
    np.testing.assert_allclose(found.zones_m, [[8 - 1.645 * 0.4, 8 + 1.645 * 0.4]], atol=0.06)


@pytest.fixture(scope="module")
def taped():
    conditions = Conditions(tape_share=1.0)
    fields = [simulate_field(np.random.default_rng([1, i]), conditions) for i in range(28)]
    return fields, [informed(f) for f in fields]


def test_the_informed_locator_keeps_its_word_on_tape(taped):
    fields, found = taped
    result = score(fields, found)
    n = result.error_m.size
    low, high = binom.interval(0.999, n, 0.9)
    assert low <= result.covered.sum() <= high
    margin = 3.3 * np.sqrt(np.sum(result.claim * (1 - result.claim)))
    assert abs(result.within_foot.sum() - result.claim.sum()) < margin
    assert result.within_foot.mean() > 0.65


def test_the_informed_locator_knows_a_line_without_leak(taped):
    fields, found = taped
    for f, e in zip(fields, found, strict=True):
        assert (e.leak_probability > 0.5) == f.leaks


def test_the_benchmark_prints_its_table(capsys, tmp_path):
    few = ["--fields", "3", "--limit", "3", "--limit-fixes", "1", "--jobs", "1"]
    main([*few, "--without-own", "--plot", str(tmp_path / "picture.png")])
    out = capsys.readouterr().out
    assert "| limit: told every constant |" in out
    assert "## Satellite fixes, 3.0 m" in out
