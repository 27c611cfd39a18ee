"""Where along a line the readings stand out: cheap guesses to begin a fit from."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.posterior import kernel

if TYPE_CHECKING:
    from leakgeo.arrays import Floats
    from leakgeo.find.posterior.prior import Problem

# This many bumps, at least so far apart, each the mean of what lies within so far of it.
_MOST, _APART_M, _WITHIN_M = 4, 2.0, 0.7


def level_bumps(problem: Problem) -> Floats:
    """Chainages of the loudest stretches, the loudest first, shape (k,) with k from 1 to 4.

    Levels are first set off from the loud end of their own walk and band. Where all readings are on
    other lines, they are the tees.
    """
    own = problem.readings[:, kernel.BRANCH] == 0.0
    if not own.any():
        return np.unique(problem.readings[:, kernel.TEE])
    problem = replace(problem, readings=problem.readings[own], codes=problem.codes[own])
    x, y = problem.readings[:, kernel.X], problem.readings[:, kernel.Y]
    bands = int(problem.codes[:, kernel.BAND].max()) + 1
    both = problem.codes[:, kernel.WALK_AT] * bands + problem.codes[:, kernel.BAND]
    _, walk = np.unique(both, return_inverse=True)
    # Not from its middle: a walk around the leak is loud throughout.
    top = [np.max(_smoothed(x[walk == w], y[walk == w])) for w in range(int(walk.max()) + 1)]
    return _bumps(x, y - np.array(top)[walk])


def residual_bumps(problem: Problem, place_m: float, fitted: Floats) -> Floats:
    """Chainages where most sound is left over once a leak at `place_m` is fitted, shape (k,)."""
    table = np.empty((len(problem.readings), len(fitted) + 1))
    kernel.linearise(
        kernel.ONE, place_m, fitted, problem.readings, problem.codes, table,
        np.empty(len(problem.readings)), problem.noise,
    )  # fmt: skip
    # Of a stop heard in several bands only the sum tells of more sound, not the contrasts.
    whole = (problem.codes[:, kernel.STOP] > 0) & (problem.readings[:, kernel.BRANCH] == 0.0)
    return _bumps(problem.readings[whole, kernel.X], table[whole, -1])


def _bumps(x: Floats, height: Floats) -> Floats:
    """Take the highest places greedily, each shutting out its neighbourhood."""
    smooth = _smoothed(x, height)
    places: list[float] = []
    for i in np.argsort(-smooth, kind="stable"):
        if all(abs(x[i] - p) >= _APART_M for p in places):
            places.append(float(x[i]))
        if len(places) == _MOST:
            break
    return np.array(places)


def _smoothed(x: Floats, height: Floats) -> Floats:
    """Mean height of the readings within a short way of each; `x` is rising."""
    total = np.concatenate([[0.0], np.cumsum(height)])
    low = np.searchsorted(x, x - _WITHIN_M, side="left")
    high = np.searchsorted(x, x + _WITHIN_M, side="right")
    return np.asarray((total[high] - total[low]) / (high - low))
