"""The fit of one leak from which all searches of a line start."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.posterior import kernel
from leakgeo.find.posterior.grid import fit
from leakgeo.find.posterior.level_peaks import level_peaks

if TYPE_CHECKING:
    from leakgeo.arrays import Floats
    from leakgeo.find.posterior.problem import Problem


def initial_fit(problem: Problem, span: tuple[float, float]) -> tuple[float, Floats]:
    """Return the level peak with the best fit of a leak, and the constants fitted there.

    Parameters
    ----------
    problem : Problem
    span : tuple of float
        Stretch of the line that is searched.
    """
    places = np.clip(level_peaks(problem), *span)
    starts = [(float(m), start) for m in places for start in _starts(problem, float(m))]
    fits = [(*fit(kernel.ONE, m, problem, start), m) for m, start in starts]
    _, start, _, place = max(fits, key=lambda f: f[0])
    return place, start


def _starts(problem: Problem, place_m: float) -> list[Floats]:
    """Return initial constants: the prior means and, with a reference walk, the peaks aligned."""
    if problem.reference < 0:
        return [problem.mean]
    aligned = problem.mean.copy()
    shift_at, reference = problem.codes[:, kernel.SHIFT_AT], problem.reference
    for other in np.setdiff1d(shift_at, [reference]):
        own = problem.cut(shift_at == other)
        off, precision = place_m - level_peaks(own)[0], problem.precision[[other, reference]]
        aligned[[other, reference]] += np.array([off, -off]) * precision[::-1] / precision.sum()
    return [problem.mean, aligned]
