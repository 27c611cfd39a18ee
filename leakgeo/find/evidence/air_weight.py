"""What an air test says of where the leak is: a likelihood along the line, and odds of a place.

Air makes the leak itself louder. At a distance the change is less, as the ambient floor takes its
part; where the leak isn't heard at all, nothing changes but what changes everywhere alike.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import gammaln, logsumexp

from leakgeo.sound.spreading import DB, relative_level

if TYPE_CHECKING:
    from leakgeo.arrays import Floats
    from leakgeo.find.evidence.air import AirPlaces
    from leakgeo.find.posterior.posterior import Posterior
    from leakgeo.sound.constants import Constants
    from leakgeo.sound.spreading import Spreading

# A likelihood this smooth is worked out at such steps, and read off between.
STEP_M = 0.2
# No air is heard from a leak this far off.
REACH_M = 40.0
# Power so far below the leak's that it has a logarithm and makes no difference.
_SILENCE = 1e-30
# The air's gain, the common change and the floor are averaged over at such steps, in decibels.
_GAIN_STEP_DB, _COMMON_STEP_DB, _FLOOR_STEP_DB = 1.0, 0.75, 5.0


@dataclass(frozen=True)
class AirWeight:
    """Log likelihood of the changes heard, natural logarithms.

    Parameters
    ----------
    leak : ndarray of float, shape (g,)
        If the leak is at each of the places asked for.
    none : float
        If there is no leak on the line, or none in hearing of any place tested.
    """

    leak: Floats
    none: float


def air_weight(
    leak_m: Floats, places: AirPlaces, spreading: Spreading, constants: Constants
) -> AirWeight:
    r"""Log likelihood of an air test by where the leak is.

    Parameters
    ----------
    leak_m : ndarray of float, shape (g,)
        Chainages where the leak may be.
    places : AirPlaces
    spreading : Spreading
        Of the line.
    constants : Constants

    Returns
    -------
    AirWeight

    Notes
    -----
    The change at a distance r is :math:`10 \lg((G s + f) / (s + f))` with s the power heard there,
    f the floor, and G what air does to the leak. Means of pairs with a shared variance that is
    integrated out follow a multivariate t (Gelman and others, Bayesian Data Analysis, 2013,
    section 3.6); G, the common change and the floor are averaged over on even grids.

    Examples
    --------
    >>> from leakgeo.find.evidence.air import AirPlaces
    >>> from leakgeo.sound.constants import load_constants
    >>> from leakgeo.sound.spreading import Spreading
    >>> x, n = np.array([5.0, 20.0]), np.array([4, 4])
    >>> heard = AirPlaces(x, 0 * x, 0 * x, np.array([9.0, 0.2]), 0 * x, n, 0 * x + 6, 0 * x)
    >>> weight = air_weight(x, heard, Spreading(0.9, 4.0, 0.15, 1.5, 0.04), load_constants())
    >>> bool(weight.leak[0] - weight.none > 6.0), bool(weight.leak[1] < weight.none)
    (True, True)
    """
    air = constants.air
    gain, gain_w = _nodes(air["gain_db"], air["gain_sd_db"], _GAIN_STEP_DB)
    common, common_w = _nodes(0.0, air["common_db"], _COMMON_STEP_DB)
    quiet, floor_sd = DB * np.log(spreading.floor), constants.spread["floor_db"]
    floor, floor_w = _nodes(quiet, floor_sd, _FLOOR_STEP_DB)
    expected = np.stack([
        _change(leak_m, places, replace(spreading, floor=_SILENCE), gain, f)
        for f in np.exp(floor / DB)
    ])  # fmt: skip
    shape = (*expected.shape[:3], 1, expected.shape[3])
    fits = _log_t(expected.reshape(shape) + common[:, None], places, constants)
    weights = floor_w[:, None, None, None] * gain_w[:, None, None] * common_w
    heard = logsumexp(fits, b=weights, axis=(0, 1, 3))
    still = float(logsumexp(_log_t(common[:, None] + 0.0 * places.chainage_m, places, constants),
                            b=common_w))  # fmt: skip
    fails = air["fails"]
    leak = np.logaddexp(np.log1p(-fails) + heard, np.log(fails) + still)
    return _bounded(leak, still, air["most_odds"])


def _bounded(leak: Floats, still: float, most_odds: float) -> AirWeight:
    """No likelihood less than the best over `most_odds`: a model is never that sure."""
    least = max(float(leak.max()), still) - np.log(most_odds)
    return AirWeight(np.logaddexp(leak, least), float(np.logaddexp(still, least)))


def moved(
    found: Posterior, places: AirPlaces, spreading: Spreading, constants: Constants
) -> Posterior:
    """The posterior of a line after an air test on it.

    Parameters
    ----------
    found : Posterior
    places : AirPlaces
    spreading : Spreading
    constants : Constants

    Returns
    -------
    Posterior
        Its places and its probability of a leak at all weighed by what air changed.
    """
    x = found.chainage_m
    coarse = _looked_at(x, places.chainage_m)
    weight = air_weight(coarse, places, spreading, constants)
    with np.errstate(divide="ignore"):  # a cell without probability stays without
        log_mass = np.log(found.probability) + np.interp(x, coarse, weight.leak)
    total = float(logsumexp(log_mass))
    told = total - weight.none
    p = np.clip(found.leak_probability, 1e-300, 1.0 - 1e-16)
    odds = np.log(p) - np.log1p(-p) + told
    return replace(
        found,
        probability=np.exp(log_mass - total),
        leak_probability=float(1.0 / (1.0 + np.exp(-np.clip(odds, -700, 700)))),
        sound_log_bf=found.sound_log_bf + max(told, 0.0),
        leak_log_bf=found.leak_log_bf + told,
    )


def _looked_at(cells_m: Floats, places_m: Floats) -> Floats:
    """Chainages to work the likelihood out at: closely around the places tested, else the ends."""
    steps = np.arange(-REACH_M, REACH_M + STEP_M / 2, STEP_M)
    around = np.clip(np.add.outer(places_m, steps).ravel(), cells_m[0], cells_m[-1])
    return np.unique(np.concatenate([around.round(3), cells_m[[0, -1]]]))


def _nodes(middle: float, sd: float, step: float) -> tuple[Floats, Floats]:
    """Places and weights to average a function over a normal by, evenly spaced."""
    beyond = np.arange(step, 3.0 * sd + step, step)
    away = np.concatenate([-beyond[::-1], [0.0], beyond])
    weight = np.exp(-0.5 * (away / sd) ** 2)
    return middle + away, weight / weight.sum()


def _change(
    leak_m: Floats, places: AirPlaces, spreading: Spreading, gain_db: Floats, floor: float
) -> Floats:
    """Change by air in decibels, shape (gains, leaks, places)."""
    away = leak_m[:, None] - places.chainage_m
    heard = np.exp(relative_level(away, spreading, places.smear_m) / DB)
    louder = np.exp(gain_db / DB)[:, None, None]
    return np.asarray(DB * np.log((louder * heard + floor) / (heard + floor)))


def _log_t(expected_db: Floats, places: AirPlaces, constants: Constants) -> Floats:
    """Log density of the mean changes, a multivariate t about `expected_db`, shape (..., k)."""
    sd, degrees = places.noise(constants)
    variance = sd**2 / places.pairs + constants.air["misfit_db"] ** 2
    square = np.sum((places.change_db - expected_db) ** 2 / variance, axis=-1)
    k = len(places.pairs)
    constant = gammaln((degrees + k) / 2) - gammaln(degrees / 2) - 0.5 * k * np.log(degrees * np.pi)
    constant -= 0.5 * float(np.sum(np.log(variance)))
    return np.asarray(constant - 0.5 * (degrees + k) * np.log1p(square / degrees))
