"""Peaks of the levels along a line, from which fits of a source start."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.posterior import kernel

if TYPE_CHECKING:
    from leakgeo.arrays import Floats
    from leakgeo.find.posterior.problem import Problem

# Largest number of peaks, their least distance, and half the width of the moving average.
_MAX_PEAKS, _MIN_DISTANCE_M, _HALF_WINDOW_M = 4, 2.0, 0.7


def level_peaks(problem: Problem) -> Floats:
    """Return the chainages of the loudest peaks, loudest first, shape (k,) with k from 1 to 4.

    Levels are relative to the loudest smoothed level of their walk and band. If all readings are on
    connected lines, the tees are returned.
    """
    own = problem.readings[:, kernel.BRANCH] == 0.0
    if not own.any():
        return np.unique(problem.readings[:, kernel.TEE])
    problem = problem.cut(own)
    x, y = problem.readings[:, kernel.X], problem.readings[:, kernel.Y]
    bands = int(problem.codes[:, kernel.BAND].max()) + 1
    both = problem.codes[:, kernel.WALK_AT] * bands + problem.codes[:, kernel.BAND]
    _, walk = np.unique(both, return_inverse=True)
    # Not relative to its median: a walk close around the leak is loud throughout.
    top = [np.max(_smoothed(x[walk == w], y[walk == w])) for w in range(int(walk.max()) + 1)]
    return _peaks(x, y - np.array(top)[walk])


def residual_peaks(problem: Problem, place_m: float, fitted: Floats) -> Floats:
    """Return the chainages of the largest residuals of a leak fitted at `place_m`, shape (k,)."""
    table = np.empty((len(problem.readings), len(fitted) + 1))
    kernel.linearise(
        kernel.ONE, place_m, fitted, problem.readings, problem.codes, table,
        np.empty(len(problem.readings)), problem.noise,
    )  # fmt: skip
    # At a stop heard in several bands more sound shows in the sum, not in the contrasts.
    sums = (problem.codes[:, kernel.STOP] > 0) & (problem.readings[:, kernel.BRANCH] == 0.0)
    return _peaks(problem.readings[sums, kernel.X], table[sums, -1])


def _peaks(x: Floats, height: Floats) -> Floats:
    """Select the highest places greedily, at least `_MIN_DISTANCE_M` apart."""
    smooth = _smoothed(x, height)
    places: list[float] = []
    for i in np.argsort(-smooth, kind="stable"):
        if all(abs(x[i] - p) >= _MIN_DISTANCE_M for p in places):
            places.append(float(x[i]))
        if len(places) == _MAX_PEAKS:
            break
    return np.array(places)


def _smoothed(x: Floats, height: Floats) -> Floats:
    """Return the moving average of `height`; `x` is ascending."""
    total = np.concatenate([[0.0], np.cumsum(height)])
    low = np.searchsorted(x, x - _HALF_WINDOW_M, side="left")
    high = np.searchsorted(x, x + _HALF_WINDOW_M, side="right")
    return np.asarray((total[high] - total[low]) / (high - low))
