"""How noisy a line's readings are: chosen by the readings, about what is assumed."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.posterior import kernel

if TYPE_CHECKING:
    from leakgeo.arrays import Floats
    from leakgeo.find.posterior.prior import Problem
    from leakgeo.sound.constants import Constants

_SCALES = np.array([0.35, 0.55, 0.85, 1.3, 2.0, 3.2])


def tuned(
    model: int, place_m: float, problem: Problem, constants: Constants, start: Floats
) -> Problem:
    """Scale the variances of the noise to a line's own readings.

    The scale is the mean of its logarithm under the evidence at one place, with a scaled inverse
    chi-square prior about the assumed variances.

    Parameters
    ----------
    model : int
        What may sound, as `kernel` numbers it.
    place_m : float
        Where the source is taken to be.
    problem : Problem
    constants : Constants
        ``noise.scale_degrees`` says how firmly the assumed variances are believed.
    start : ndarray of float, shape (p,)
        Constants to begin from.

    Returns
    -------
    Problem
        With the scale in its noise.
    """
    degrees = constants.noise["scale_degrees"]
    prior = -0.5 * degrees * (np.log(_SCALES) + 1.0 / _SCALES)
    several = bool(np.any(problem.codes[:, kernel.STOP] < 0))
    for entry in (kernel.SCALE, kernel.CONTRAST_SCALE)[: 1 + several]:
        score = prior + kernel.scales(
            model, place_m, start, problem.readings, problem.codes,
            problem.mean, problem.precision, problem.noise, entry, _SCALES,
        )  # fmt: skip
        weight = np.exp(score - score.max())
        mean = float(np.average(np.log(_SCALES), weights=weight))
        noise = problem.noise.copy()
        noise[entry] = np.exp(mean)
        problem = replace(problem, noise=noise)
    return problem
