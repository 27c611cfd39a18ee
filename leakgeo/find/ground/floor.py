"""Ambient floor of a job: how far below the leaks it lies, and how much it rises along a line."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from leakgeo.find.ground.mixing import PRIOR_LINES
from leakgeo.find.posterior import kernel
from leakgeo.find.posterior.grid import adaptive_scan, fit, log_mean
from leakgeo.sound.spreading import DB

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.arrays import Floats
    from leakgeo.find.posterior.posterior import FirstFit
    from leakgeo.sound.constants import Constants

# Spacing of the places of a leak that the floor is averaged over.
_SPACING_M = 0.8
# Places with a smaller share of the probability of a leak are left out.
_LEAST_SHARE = 0.01
# Steps to the share of the lines that leak.
_STEPS = 50


class FloorFit(NamedTuple):
    """Ambient floor of one line below a leak, in nepers, and its trend, with variances.

    `log_bf` is the log Bayes factor of a leak somewhere on the line against silence.
    """

    log_bf: float
    floor: float
    floor_variance: float
    trend: float
    trend_variance: float


def floor_fit(first: FirstFit) -> FloorFit:
    """Return the ambient floor of a line given a leak, averaged over the places of the leak."""
    problem = first.problem
    found = adaptive_scan(
        kernel.ONE, first.span_m, problem, first.start, first.place_m, (_SPACING_M,)
    )
    silent = fit(kernel.SILENT, 0.0, problem, problem.mean)[0]
    share = np.exp(found.evidence - found.evidence.max())
    share /= share.sum()
    kept = np.flatnonzero(share >= _LEAST_SHARE)
    rows = np.array([kernel.BANDS + kernel.FLOOR, kernel.TREND])
    fitted = found.fitted[kept][:, rows]
    variance = np.array([
        kernel.posterior_variances(
            kernel.ONE, found.places[[k]], found.fitted[k], found.weights[k], problem.readings,
            problem.codes, problem.precision, problem.noise, rows,
        )[0]
        for k in kept
    ])  # fmt: skip
    share = share[kept] / share[kept].sum()
    mean = share @ fitted
    variance = share @ (variance + (fitted - mean) ** 2)
    return FloorFit(
        log_mean(found.evidence) - silent, float(mean[0]), float(variance[0]), float(mean[1]),
        float(variance[1]),
    )  # fmt: skip


def learned_floor(fits: Sequence[FloorFit], constants: Constants) -> dict[str, float]:
    """Return the constants of the ambient floor that lines teach, by their names.

    One step of expectation and maximisation for the prior of the floor of a line, with the shipped
    prior as that of `mixing.PRIOR_LINES` lines (Dempster, Laird and Rubin, J. R. Stat. Soc. B 39,
    1977). Each line counts by its probability of a leak: loud leaks alone would make the floor too
    low, and leaks that are not heard too improbable.

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
    log_bf, floor, floor_variance, trend, trend_variance = np.array(fits).reshape(-1, 5).T
    leak = _leak_probability(log_bf, constants.other["probability"])
    lines = PRIOR_LINES + leak.sum()
    mean, sd = -spread["floor_below_db"] / DB, spread["floor_db"] / DB
    middle = (PRIOR_LINES * mean + leak @ floor) / lines
    square = PRIOR_LINES * (sd**2 + (mean - middle) ** 2)
    square += leak @ ((floor - middle) ** 2 + floor_variance)
    slope = PRIOR_LINES * (spread["trend_db"] / DB) ** 2 + leak @ (trend**2 + trend_variance)
    return {
        "floor_below_db": float(-middle * DB),
        "floor_db": float((square / lines) ** 0.5 * DB),
        "trend_db": float((slope / lines) ** 0.5 * DB),
    }


def _leak_probability(log_bf: Floats, other: float) -> Floats:
    """Return the probability of a leak on each line; `other` is that of another source.

    The share of the lines that leak is the one of the highest likelihood.
    """
    bf = np.exp(np.minimum(log_bf, 700.0))
    odds = bf / (1.0 - other + other * bf)
    leak = np.full(len(odds), 0.5)
    for _ in range(_STEPS):
        # One leak and one dry line are assumed besides, so that the share is never 0 or 1.
        share = (leak.sum() + 1.0) / (len(odds) + 2.0)
        leak = share * odds / (share * odds + 1.0 - share)
    return np.asarray(leak)
