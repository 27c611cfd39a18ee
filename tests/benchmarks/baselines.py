"""What a crew does by ear, and what an analyst does with a general-purpose library in a script."""

from __future__ import annotations

import warnings
from functools import cache

import numpy as np
from threadpoolctl import ThreadpoolController

from leakgeo.simulate.noise import SCALE_TOP
from tests.benchmarks.estimate import Estimate


def told_levels(field) -> np.ndarray:
    """Levels in decibels of the first band, less the gain where it was told; shape (stops,)."""
    first = field.band == field.band[0]
    if field.unit == "scale":
        return 20 * np.log10(np.maximum(field.level[first], 0.5) / SCALE_TOP)
    return field.level[first] - np.nan_to_num(field.gain_db[first])


def _stops(field) -> np.ndarray:
    return field.chainage_m[field.band == field.band[0]]


def loudest(field) -> Estimate:
    """Mark the loudest reading (the first of equals)."""
    return Estimate(float(_stops(field)[np.argmax(told_levels(field))]))


def middle_of_two(field) -> Estimate:
    """Mark half way between the two loudest readings."""
    two = np.argsort(-told_levels(field), kind="stable")[:2]
    return Estimate(float(_stops(field)[two].mean()))


@cache
def _libraries() -> ThreadpoolController:
    """Give the libraries with threads of their own; to look for them takes long."""
    return ThreadpoolController()


def gaussian_process(field) -> Estimate:
    """Mark the peak of scikit-learn's Gaussian process through all readings, as a script would."""
    from sklearn.exceptions import ConvergenceWarning
    from sklearn.gaussian_process import GaussianProcessRegressor
    from sklearn.gaussian_process.kernels import ConstantKernel, Matern, WhiteKernel

    kernel = ConstantKernel(1.0, (1e-2, 1e2)) * Matern(2.0, (0.2, 50.0), nu=1.5)
    model = GaussianProcessRegressor(kernel + WhiteKernel(0.1, (1e-3, 1e1)), normalize_y=True)
    # Its matrices are small: more threads take longer.
    with warnings.catch_warnings(), _libraries().limit(limits=1, user_api="blas"):
        warnings.simplefilter("ignore", ConvergenceWarning)
        model.fit(_stops(field)[:, None], told_levels(field))
    grid = np.arange(0.0, field.length_m, 0.05)
    return Estimate(float(grid[np.argmax(model.predict(grid[:, None]))]))
