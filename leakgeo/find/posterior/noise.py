"""Scale of the noise of a line, estimated from its readings about the assumed variances."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.posterior import kernel

if TYPE_CHECKING:
    from leakgeo.arrays import Floats
    from leakgeo.find.posterior.problem import Problem
    from leakgeo.sound.constants import Constants

_SCALES = np.array([0.35, 0.55, 0.85, 1.3, 2.0, 3.2])


def with_noise_scale(
    model: int, place_m: float, problem: Problem, constants: Constants, start: Floats
) -> Problem:
    """Return the problem with the scale of its noise estimated from the readings.

    The scale is its posterior geometric mean for a source at one place, with a scaled inverse
    chi-square prior about the assumed variances.

    Parameters
    ----------
    model : int
        `kernel.SILENT`, `kernel.ONE` or `kernel.TWO`.
    place_m : float
        Place of the source.
    problem : Problem
    constants : Constants
        ``noise.scale_degrees`` are the degrees of freedom of the prior.
    start : ndarray of float, shape (p,)
        Initial constants.

    Returns
    -------
    Problem
    """
    degrees = constants.noise["scale_degrees"]
    prior = -0.5 * degrees * (np.log(_SCALES) + 1.0 / _SCALES)
    has_contrasts = bool(np.any(problem.codes[:, kernel.STOP] < 0))
    for entry in (kernel.SCALE, kernel.CONTRAST_SCALE)[: 1 + has_contrasts]:
        score = prior + kernel.evidence_by_noise(
            model, place_m, start, problem.readings, problem.codes,
            problem.mean, problem.precision, problem.noise, entry, _SCALES,
        )  # fmt: skip
        weight = np.exp(score - score.max())
        mean = float(np.average(np.log(_SCALES), weights=weight))
        noise = problem.noise.copy()
        noise[entry] = np.exp(mean)
        problem = replace(problem, noise=noise)
    return problem
