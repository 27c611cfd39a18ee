"""Ambient floor of a job: how far below the leaks it lies, and how much it rises along a line."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from leakgeo.find.ground.mixing import PRIOR_LINES
from leakgeo.find.posterior import kernel
from leakgeo.find.posterior.grid import fit
from leakgeo.sound.spreading import DB

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.arrays import Floats
    from leakgeo.find.posterior.problem import Problem
    from leakgeo.sound.constants import Constants

# Where a source is this much likelier than silence (log Bayes factor at the best place), the floor
# below it is known to be one below a source.
_LEAST_NATS = 4.0


class FloorFit(NamedTuple):
    """Ambient floor of one line, in nepers relative to the source, and its trend, with variances.

    `log_bf` is the log Bayes factor of a source at the likeliest place against silence.
    """

    log_bf: float
    floor: float
    floor_variance: float
    trend: float
    trend_variance: float


def floor_fit(problem: Problem, place_m: float, start: Floats) -> FloorFit:
    """Return the ambient floor of a line as fitted with a source at its likeliest place.

    Parameters
    ----------
    problem : Problem
    place_m : float
        Likeliest place of a leak.
    start : ndarray of float, shape (p,)
        Constants fitted there.
    """
    evidence, theta, weight = fit(kernel.ONE, place_m, problem, start)
    silent = fit(kernel.SILENT, 0.0, problem, problem.mean)[0]
    variance = kernel.fitted_variances(
        kernel.ONE, place_m, theta, weight, problem.readings, problem.codes, problem.precision,
        problem.noise,
    )  # fmt: skip
    first, trend = kernel.BANDS + kernel.FLOOR, kernel.TREND
    return FloorFit(
        evidence - silent, float(theta[first]), float(variance[first]), float(theta[trend]),
        float(variance[trend]),
    )  # fmt: skip


def learned_floor(fits: Sequence[FloorFit], constants: Constants) -> dict[str, float]:
    """Return the constants of the ambient floor that lines teach, by their names.

    One step of expectation and maximisation for the prior of the floor of a line, with the shipped
    prior as that of `mixing.PRIOR_LINES` lines (Dempster, Laird and Rubin, J. R. Stat. Soc. B 39,
    1977).

    Parameters
    ----------
    fits : sequence of FloorFit
    constants : Constants

    Returns
    -------
    dict of str to float
        ``floor_below_db``, ``floor_db`` and ``trend_db``.

    Examples
    --------
    >>> from leakgeo.sound.constants import load_constants
    >>> quiet = [FloorFit(9.0, -20 / DB, 0.01, 0.0, 0.01)] * 60
    >>> round(learned_floor(quiet, load_constants())["floor_below_db"], 1)
    18.5
    """
    spread = constants.spread
    rows = [f for f in fits if f.log_bf > _LEAST_NATS]
    _, floor, floor_variance, trend, trend_variance = np.array(rows).reshape(-1, 5).T
    lines = PRIOR_LINES + len(rows)
    mean, sd = -spread["floor_below_db"] / DB, spread["floor_db"] / DB
    middle = (PRIOR_LINES * mean + floor.sum()) / lines
    square = PRIOR_LINES * (sd**2 + (mean - middle) ** 2)
    square += np.sum((floor - middle) ** 2 + floor_variance)
    slope = PRIOR_LINES * (spread["trend_db"] / DB) ** 2 + np.sum(trend**2 + trend_variance)
    return {
        "floor_below_db": float(-middle * DB),
        "floor_db": float((square / lines) ** 0.5 * DB),
        "trend_db": float((slope / lines) ** 0.5 * DB),
    }
