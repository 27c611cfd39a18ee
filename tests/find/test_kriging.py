"""Steps between walks, kriged along with the level."""

from __future__ import annotations

import numpy as np

from leakgeo.find.levels.kriging import krige
from tests.find.dense import dense_solver


def test_a_step_between_walks_is_found_where_they_overlap():
    rng = np.random.default_rng(4)
    x = np.linspace(0, 10, 60)
    second = np.arange(60) % 2 == 0
    values = np.sin(x) + 7.0 * second + 0.1 * rng.normal(size=60)
    covariance = np.exp(-np.abs(x[:, None] - x)) + 0.01 * np.eye(60)
    drift = np.column_stack([np.ones(60), second])
    kriged = krige(
        dense_solver(covariance), values, covariance, 1.0, drift, drift, np.array([0.0, 1e-4])
    )
    assert abs(kriged.drift[1] - 7.0) < 3 * kriged.drift_covariance[1, 1] ** 0.5
    assert kriged.drift_covariance[1, 1] ** 0.5 < 0.2


def test_walks_without_a_reading_cost_nothing_and_keep_their_prior():
    # As in a block of a long line: 4 of 400 walks were heard in it.
    rng = np.random.default_rng(5)
    x = np.linspace(0, 10, 40)
    covariance = np.exp(-np.abs(x[:, None] - x)) + 0.01 * np.eye(40)
    heard = np.array([0, 17, 230, 399])
    drift = np.zeros((40, 401))
    drift[:, 0] = 1.0
    drift[np.arange(40), 1 + heard[np.arange(40) % 4]] = 1.0
    target, precision = np.eye(1, 401).repeat(40, axis=0), np.append(0.0, np.full(400, 0.04))
    values, solve, columns = rng.normal(size=40), dense_solver(covariance), []

    def counted(given):
        columns.append(given.shape[1])
        return solve(given)

    kriged = krige(counted, values, covariance, 1.0, drift, target, precision)
    assert max(columns) == 40  # the targets; the drift has five
    solved = solve(drift)
    spread = np.linalg.inv(drift.T @ solved + np.diag(precision))
    np.testing.assert_allclose(kriged.drift_covariance, spread, atol=1e-9)
    np.testing.assert_allclose(kriged.drift, spread @ (solved.T @ values), atol=1e-9)
    few = [0, *(1 + heard)]
    plain = krige(solve, values, covariance, 1.0, drift[:, few], target[:, few], precision[few])
    np.testing.assert_allclose(kriged.estimate, plain.estimate, atol=1e-9)
    np.testing.assert_allclose(kriged.variance, plain.variance, atol=1e-9)
