"""Kriging against the handbook's figures and another library's algebra."""

from __future__ import annotations

import celerite2
import numpy as np
import pytest
from celerite2 import terms

from leakgeo.find.kriging import dense_solver, krige

# Isaaks and Srivastava, Applied Geostatistics (1989), chapter 12: seven samples and a target.
XY = np.array([(61, 139), (63, 140), (64, 129), (68, 128), (71, 140), (73, 141), (75, 128)], float)
V = np.array([477, 696, 227, 646, 606, 791, 783], float)
TARGET = np.array([[65.0, 137.0]])


def exponential(sill, rate, nugget=0.0):
    return lambda h: sill * np.exp(-rate * h) + nugget * (h == 0)


def gaussian(h):
    return 10 * np.exp(-3 * (h / 10) ** 2)


@pytest.mark.parametrize(
    ("covariance", "estimate", "variance"),
    [
        (exponential(10, 0.3), 592.73, 8.956),
        (exponential(20, 0.3), 592.73, 17.912),
        (gaussian, 559.37, 4.781),
        (exponential(5, 0.3, nugget=5), 596.78, 10.306),
        (exponential(10, 0.15), 572.39, 5.758),
    ],
)
def test_handbook_rows(covariance, estimate, variance):
    among = np.linalg.norm(XY[:, None] - XY, axis=2)
    across = np.linalg.norm(XY[:, None] - TARGET, axis=2)
    kriged = krige(
        dense_solver(covariance(among)), V, covariance(across), float(covariance(np.zeros(1))[0])
    )
    assert kriged.estimate[0] == pytest.approx(estimate, abs=0.005)
    assert kriged.variance[0] == pytest.approx(variance, abs=0.0005)


def test_the_fast_solver_is_the_dense_one():
    rng = np.random.default_rng(3)
    x, y = np.sort(rng.uniform(0, 30, 40)), rng.normal(size=40)
    at = np.linspace(0, 30, 61)
    kernel = terms.Matern32Term(sigma=2.0, rho=1.3)
    process = celerite2.GaussianProcess(kernel)
    process.compute(x, diag=np.full(40, 0.7))
    among, across = kernel.get_value(x[:, None] - x), kernel.get_value(x[:, None] - at)
    fast = krige(process.apply_inverse, y, across, 4.0)
    dense = krige(dense_solver(among + 0.7 * np.eye(40)), y, across, 4.0)
    assert fast.estimate == pytest.approx(dense.estimate, abs=1e-9)
    assert fast.variance == pytest.approx(dense.variance, abs=1e-9)


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
