"""Calibration from digs: one exponent that widens or narrows later zones."""

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

# An exponent outside these limits means that the model is wrong and must be corrected instead.
MIN_EXPONENT, MAX_EXPONENT = 0.2, 3.0
# Prior of the exponent, about 1: standard deviation of its logarithm.
PRIOR_LN = 0.5
# Share of leaks at places that no model predicts.
_OUTLIER_SHARE = 0.01
# Limit for outliers, as a share of the uniform density.
_OUTLIER_DENSITY = 0.05
# Position error of an excavation.
_EXCAVATION_ERROR_M = 0.15


@dataclass(frozen=True)
class Calibration:
    """Exponent applied to the posterior of the place.

    Parameters
    ----------
    exponent : float
        Below 1 zones widen, above 1 they narrow.
    exponent_sd : float
        Standard error of the exponent (1-sigma).
    cases : int
        Number of digs in the fit.
    made : str
        Date of the fit.
    """

    exponent: float
    exponent_sd: float
    cases: int
    made: str = ""

    def applied(self, probability: Floats) -> Floats:
        """Return the probabilities raised to the exponent and normalised to one.

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

    def as_fault(self) -> Fault:
        """Return the note that reports the calibration in a run that uses it."""
        return Fault(
            "calibration",
            Reason("calibrated", wider=self.exponent < 1.0, exponent=self.exponent,
                   exponent_sd=self.exponent_sd, digs=self.cases),
            value=self.made, effect="noted",
        )  # fmt: skip


@dataclass(frozen=True)
class DigCase:
    """Posterior of one line and the result of its dig.

    Parameters
    ----------
    chainage_m, density : ndarray of float, shape (k,)
        Density of the leak's place, given that there is one, at points along the line.
    leak_m : float
        Chainage of the leak found; NaN where the hole at the mark was dry.
    mark_m : float
    leak_probability : float
    """

    chainage_m: Floats
    density: Floats
    leak_m: float
    mark_m: float
    leak_probability: float


def fit_calibration(digs: Sequence[DigCase], least_cases: int) -> Calibration | None:
    """Fit the exponent to digs by maximum a posteriori; None with fewer than `least_cases` digs.

    Parameters
    ----------
    digs : sequence of DigCase
    least_cases : int

    Returns
    -------
    Calibration or None

    Notes
    -----
    The likelihood of a leak found is its density raised to the exponent, that of a dry hole the
    probability that the leak is not within one foot; the logarithm of the exponent has a normal
    prior about 0 (tempering; compare Guo and others, On Calibration of Modern Neural Networks,
    2017, section 4.2). The standard error is from the curvature at the maximum.
    """
    if len(digs) < least_cases:
        return None
    from scipy.optimize import minimize_scalar  # slow to import, and few jobs have so many digs

    def cost(log_exponent: float) -> float:
        exponent = math.exp(log_exponent)
        fits = sum(_log_likelihood(own, exponent) for own in digs)
        return 0.5 * (log_exponent / PRIOR_LN) ** 2 - fits

    found = minimize_scalar(
        cost, bounds=(math.log(MIN_EXPONENT), math.log(MAX_EXPONENT)), method="bounded"
    )
    best, step = float(found.x), 0.05
    curvature = (cost(best + step) - 2.0 * cost(best) + cost(best - step)) / step**2
    exponent = math.exp(best)
    sd = exponent / math.sqrt(curvature) if curvature > PRIOR_LN**-2 else exponent * PRIOR_LN
    return Calibration(exponent, sd, len(digs))


def _log_likelihood(dig: DigCase, exponent: float) -> float:
    x, weight = dig.chainage_m, np.gradient(dig.chainage_m)
    raised = (dig.density / dig.density.max()) ** exponent
    raised = raised / float(np.sum(raised * weight))
    length = float(x[-1] - x[0])
    if math.isnan(dig.leak_m):
        near = np.abs(x - dig.mark_m) <= FOOT_M
        held = min(float(np.sum((raised * weight)[near])), 1.0)
        return math.log1p(-dig.leak_probability * (1.0 - _OUTLIER_SHARE) * held)
    about = dig.leak_m + np.linspace(-_EXCAVATION_ERROR_M, _EXCAVATION_ERROR_M, 5)
    density = float(np.mean(np.interp(about, x, raised)))
    return math.log((1.0 - _OUTLIER_SHARE) * density + _OUTLIER_SHARE / length)


def outliers(digs: Sequence[DigCase]) -> int:
    """Count the leaks found where the posterior density is near zero: no exponent corrects those.

    Examples
    --------
    >>> x = np.arange(0.0, 20.0, 0.1)
    >>> outliers([DigCase(x, np.exp(-((x - 5.0) ** 2)), leak, 5.0, 0.9) for leak in (5.5, 15.0)])
    1
    """
    return sum(_is_outlier(own) for own in digs if not math.isnan(own.leak_m))


def _is_outlier(dig: DigCase) -> bool:
    x = dig.chainage_m
    even = float(np.sum(dig.density * np.gradient(x))) / float(np.ptp(x))
    return float(np.interp(dig.leak_m, x, dig.density)) < _OUTLIER_DENSITY * even


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
        If the file is not a calibration file, or its exponent is out of bounds.
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
        raise ParameterError(
            f"calibration file {path}: missing or invalid value {error}; write the file with learn."
        ) from error
    if not MIN_EXPONENT <= read.exponent <= MAX_EXPONENT:
        raise ParameterError(
            f"calibration file {path}: exponent {read.exponent:g} is outside {MIN_EXPONENT} to "
            f"{MAX_EXPONENT}."
        )
    return read
