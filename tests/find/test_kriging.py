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
