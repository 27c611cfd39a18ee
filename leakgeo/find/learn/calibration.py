"""A calibration out of digs: how much wider or narrower later zones are to be, and no more."""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.conversion import FOOT_M
from leakgeo.errors import ParameterError
from leakgeo.faults import Fault
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from leakgeo.arrays import Floats

# Exponents beyond these would say that the model is of no use: it is to be mended, not bent.
LEAST, MOST = 0.2, 3.0
# Before any dig, the exponent is believed to be about 1: standard deviation of its logarithm.
PRIOR_LN = 0.5
# Share of leaks that lie where no model would have them.
_ASTRAY = 0.01
# Of the density of a leak evenly anywhere.
_NEXT_TO_NONE = 0.05
# How far an excavation's own place is off.
_PLACED_M = 0.15


@dataclass(frozen=True)
class Calibration:
    """An exponent that the posterior of the place is raised to.

    Parameters
    ----------
    exponent : float
        Below 1 zones widen, above 1 they narrow.
    exponent_sd : float
        Its error (1-sigma).
    cases : int
        Digs that it was fitted to.
    made : str
        Day that it was made.
    """

    exponent: float
    exponent_sd: float
    cases: int
    made: str = ""

    def applied(self, probability: Floats) -> Floats:
        """Raise the probability of each cell to the exponent, and make it sum to one.

        Parameters
        ----------
        probability : ndarray of float, shape (g,)

        Returns
        -------
        ndarray of float, shape (g,)

        Examples
        --------
        >>> Calibration(0.5, 0.1, 40).applied(np.array([0.8, 0.2])).round(3).tolist()
        [0.667, 0.333]
        """
        raised = (probability / probability.max()) ** self.exponent
        return np.asarray(raised / raised.sum())

    def told(self) -> Fault:
        """What a run that uses it says of it."""
        return Fault(
            "calibration",
            Reason("calibrated", wider=self.exponent < 1.0, exponent=self.exponent,
                   exponent_sd=self.exponent_sd, digs=self.cases),
            value=self.made, effect="noted",
        )  # fmt: skip


@dataclass(frozen=True)
class Dug:
    """What the posterior of one line said, and what a dig found.

    Parameters
    ----------
    chainage_m, density : ndarray of float, shape (k,)
        Density of the leak's place, given that there is one, at points along the line.
    leak_m : float
        Where the leak was found; NaN where the hole at the mark was dry.
    mark_m : float
    leak_probability : float
    """

    chainage_m: Floats
    density: Floats
    leak_m: float
    mark_m: float
    leak_probability: float


def fitted(dug: Sequence[Dug], least_cases: int) -> Calibration | None:
    """Fit the exponent to digs by greatest posterior density; None with too few of them.

    Parameters
    ----------
    dug : sequence of Dug
    least_cases : int

    Returns
    -------
    Calibration or None

    Notes
    -----
    The likelihood of a leak found is its density raised to the exponent, that of a dry hole the
    probability that the leak is not within one foot; the logarithm of the exponent has a normal
    prior about 0 (tempering; compare Guo and others, On Calibration of Modern Neural Networks,
    2017, section 4.2). The error is that of the curvature at the best.
    """
    if len(dug) < least_cases:
        return None
    from scipy.optimize import minimize_scalar  # slow to import, and few jobs have so many digs

    def cost(log_exponent: float) -> float:
        exponent = math.exp(log_exponent)
        fits = sum(_log_likelihood(own, exponent) for own in dug)
        return 0.5 * (log_exponent / PRIOR_LN) ** 2 - fits

    found = minimize_scalar(cost, bounds=(math.log(LEAST), math.log(MOST)), method="bounded")
    best, step = float(found.x), 0.05
    curvature = (cost(best + step) - 2.0 * cost(best) + cost(best - step)) / step**2
    exponent = math.exp(best)
    sd = exponent / math.sqrt(curvature) if curvature > PRIOR_LN**-2 else exponent * PRIOR_LN
    return Calibration(exponent, sd, len(dug))


def _log_likelihood(dug: Dug, exponent: float) -> float:
    x, weight = dug.chainage_m, np.gradient(dug.chainage_m)
    raised = (dug.density / dug.density.max()) ** exponent
    raised = raised / float(np.sum(raised * weight))
    length = float(x[-1] - x[0])
    if math.isnan(dug.leak_m):
        near = np.abs(x - dug.mark_m) <= FOOT_M
        held = min(float(np.sum((raised * weight)[near])), 1.0)
        return math.log1p(-dug.leak_probability * (1.0 - _ASTRAY) * held)
    about = dug.leak_m + np.linspace(-_PLACED_M, _PLACED_M, 5)
    density = float(np.mean(np.interp(about, x, raised)))
    return math.log((1.0 - _ASTRAY) * density + _ASTRAY / length)


def astray(dug: Sequence[Dug]) -> int:
    """Count the leaks found where the odds had next to none: no exponent mends those.

    Examples
    --------
    >>> x = np.arange(0.0, 20.0, 0.1)
    >>> astray([Dug(x, np.exp(-((x - 5.0) ** 2)), leak, 5.0, 0.9) for leak in (5.5, 15.0)])
    1
    """
    return sum(_is_astray(own) for own in dug if not math.isnan(own.leak_m))


def _is_astray(dug: Dug) -> bool:
    x = dug.chainage_m
    even = float(np.sum(dug.density * np.gradient(x))) / float(np.ptp(x))
    return float(np.interp(dug.leak_m, x, dug.density)) < _NEXT_TO_NONE * even


def calibration_from(path: Path) -> Calibration:
    """Read a calibration file.

    Parameters
    ----------
    path : pathlib.Path
        TOML file that ``learn`` wrote.

    Returns
    -------
    Calibration

    Raises
    ------
    ParameterError
        If it isn't one, or its exponent is out of bounds.
    """
    try:
        table = tomllib.loads(path.read_text("utf-8"))["calibration"]
        made = str(table.get("made", ""))
        read = Calibration(
            float(table["exponent"]), float(table["exponent_sd"]), int(table["cases"]), made
        )
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ParameterError(f"calibration file {path}: {error}") from error
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise ParameterError(f"calibration file {path} lacks, or spoils, {error}.") from error
    if not LEAST <= read.exponent <= MOST:
        raise ParameterError(
            f"calibration file {path}: exponent {read.exponent:g} is outside {LEAST} to {MOST}."
        )
    return read
