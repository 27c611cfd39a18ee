"""Likelihood of an air test along the line, and the posterior updated with it.

Air makes the leak itself louder. The change decreases with distance, because the ambient floor is
constant. Where the leak is inaudible, there is only the change common to all places.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import gammaln, logsumexp

from leakgeo.find.evidence.likelihood import Likelihood, updated
from leakgeo.find.posterior.rivals import load_rival_weights
from leakgeo.sound.spreading import DB, relative_level

if TYPE_CHECKING:
    from leakgeo.arrays import Floats
    from leakgeo.find.evidence.air import AirPlaces
    from leakgeo.find.posterior.posterior import Posterior
    from leakgeo.find.posterior.rivals import Rival
    from leakgeo.sound.constants import Constants
    from leakgeo.sound.spreading import Spreading

# Step of the likelihood grid; it is smooth and interpolated in between.
STEP_M = 0.2
# A leak farther away is inaudible.
REACH_M = 40.0
# Floor with a finite logarithm but no influence.
_NEGLIGIBLE_POWER = 1e-30
# Error of the level at a place without air: coupling, and a floor that is not the same everywhere.
_OFF_SD_DB = 3.0
# Steps of the grids over the gain by air, the common change and the floor.
_GAIN_STEP_LN, _COMMON_STEP_DB, _FLOOR_STEP_DB = 0.125, 0.75, 5.0


@dataclass(frozen=True)
class AirLikelihood:
    """Log likelihood of the measured changes (natural logarithm).

    Parameters
    ----------
    leak : ndarray of float, shape (g,)
        With the leak at each of the given places.
    none : float
        Without a leak on the line, or without an audible one at any place tested.
    """

    leak: Floats
    none: float


def air_likelihood(
    leak_m: Floats, places: AirPlaces, spreading: Spreading, constants: Constants
) -> AirLikelihood:
    r"""Return the log likelihood of an air test for each place of the leak.

    Parameters
    ----------
    leak_m : ndarray of float, shape (g,)
        Possible chainages of the leak.
    places : AirPlaces
    spreading : Spreading
        Constants of the line.
    constants : Constants

    Returns
    -------
    AirLikelihood

    Notes
    -----
    The change at a distance r is :math:`10 \lg((G s + f) / (s + f))` with s the sound power there,
    f the floor, and G the gain of the leak by air. Means of pairs with a common variance that is
    integrated out follow a multivariate t (Gelman and others, Bayesian Data Analysis, 2013,
    section 3.6). G in decibels, which is log-normal, the common change, and the floor given the
    levels without air are averaged over on regular grids.

    Examples
    --------
    >>> from leakgeo.find.evidence.air import AirPlaces
    >>> from leakgeo.sound.constants import load_constants
    >>> from leakgeo.sound.spreading import Spreading
    >>> x, n = np.array([5.0, 20.0]), np.array([4, 4])
    >>> heard = AirPlaces(x, 0 * x, 0 * x, np.array([9.0, 0.2]), 0 * x, n, 0 * x + 6, 0 * x)
    >>> weight = air_likelihood(x, heard, Spreading(0.9, 4.0, 0.15, 1.5, 0.04), load_constants())
    >>> bool(weight.leak[0] - weight.none > 6.0), bool(weight.leak[1] < weight.none)
    (True, True)
    """
    air = constants.air
    log_gain, gain_w = _nodes(np.log(air["gain_db"]), air["gain_ln"], _GAIN_STEP_LN)
    gain = np.exp(log_gain)
    common, common_w = _nodes(0.0, air["common_db"], _COMMON_STEP_DB)
    quiet, floor_sd = DB * np.log(spreading.floor), constants.spread["floor_db"]
    floor, floor_w = _nodes(quiet, floor_sd, _FLOOR_STEP_DB)
    expected = np.stack([
        _change(leak_m, places, replace(spreading, floor=_NEGLIGIBLE_POWER), gain, f)
        for f in np.exp(floor / DB)
    ])  # fmt: skip
    shape = (*expected.shape[:3], 1, expected.shape[3])
    fits = _log_t(expected.reshape(shape) + common[:, None], places, constants)
    floor_w = _floor_given_levels(leak_m, places, spreading, np.exp(floor / DB), floor_w)
    weights = floor_w[:, None, :, None] * gain_w[:, None, None] * common_w
    heard = logsumexp(fits, b=weights, axis=(0, 1, 3))
    still = float(logsumexp(_log_t(common[:, None] + 0.0 * places.chainage_m, places, constants),
                            b=common_w))  # fmt: skip
    fails = air["fails"]
    leak = np.logaddexp(np.log1p(-fails) + heard, np.log(fails) + still)
    return _bounded(leak, still, air["most_odds"])


def _bounded(leak: Floats, still: float, most_odds: float) -> AirLikelihood:
    """Limit each likelihood to at least the best divided by `most_odds`: models are imperfect."""
    least = max(float(leak.max()), still) - np.log(most_odds)
    return AirLikelihood(np.logaddexp(leak, least), float(np.logaddexp(still, least)))


def updated_posterior(
    found: Posterior, places: AirPlaces, spreading: Spreading, constants: Constants
) -> Posterior:
    """Return the posterior of a line updated with its air test.

    Parameters
    ----------
    found : Posterior
    places : AirPlaces
    spreading : Spreading
    constants : Constants

    Returns
    -------
    Posterior
        With updated place probabilities and leak probability.
    """
    x = found.chainage_m
    coarse = _likelihood_grid(x, places.chainage_m)
    beyond = [_places_beyond(rival) for rival in found.rivals]
    weight = air_likelihood(np.concatenate([coarse, *beyond]), places, spreading, constants)
    here, *there = np.split(weight.leak, np.cumsum([len(coarse), *map(len, beyond)])[:-1])
    rivals = np.array([_of_rival(each, weight.none) for each in there])
    air = Likelihood("air", np.interp(x, coarse, here), weight.none, rivals)
    after = updated(found, air)
    gain_nats = after.leak_log_bf - found.leak_log_bf
    return replace(after, sound_log_bf=found.sound_log_bf + max(gain_nats, 0.0))


def _places_beyond(rival: Rival) -> Floats:
    """Return the places of a leak beyond an end of the line; none for another rival."""
    side = {"beyond_start": -1.0, "beyond_end": 1.0}.get(rival.kind)
    if side is None:
        return np.empty(0)
    reach = load_rival_weights()["beyond_end"]["reach_m"]
    return rival.chainage_m + side * np.arange(STEP_M / 2, reach, STEP_M)


def _of_rival(beyond: Floats, none: float) -> float:
    """Return the log likelihood of a rival: air makes a leak near beyond an end louder too."""
    if not len(beyond):
        return none
    farther = load_rival_weights()["beyond_end"]["steady_share"]
    near = float(logsumexp(beyond)) - np.log(len(beyond))
    return float(np.logaddexp(np.log1p(-farther) + near, np.log(farther) + none))


def _likelihood_grid(cells_m: Floats, places_m: Floats) -> Floats:
    """Return the grid of chainages: fine around the places tested, otherwise the ends only."""
    steps = np.arange(-REACH_M, REACH_M + STEP_M / 2, STEP_M)
    # On one grid for all places, or those of many would need too much memory.
    around = np.round(np.add.outer(places_m, steps).ravel() / STEP_M) * STEP_M
    around = np.clip(around, cells_m[0], cells_m[-1])
    return np.unique(np.concatenate([around.round(3), cells_m[[0, -1]]]))


def _nodes(middle: float, sd: float, step: float) -> tuple[Floats, Floats]:
    """Return evenly spaced nodes and weights to average over a normal distribution."""
    beyond = np.arange(step, 3.0 * sd + step, step)
    away = np.concatenate([-beyond[::-1], [0.0], beyond])
    weight = np.exp(-0.5 * (away / sd) ** 2)
    return middle + away, weight / weight.sum()


def _change(
    leak_m: Floats, places: AirPlaces, spreading: Spreading, gain_db: Floats, floor: float
) -> Floats:
    """Return the change by air in decibels, shape (gains, leaks, places)."""
    away = leak_m[:, None] - places.chainage_m
    heard = np.exp(relative_level(away, spreading, places.smear_m) / DB)
    louder = np.exp(gain_db / DB)[:, None, None]
    return np.asarray(DB * np.log((louder * heard + floor) / (heard + floor)))


def _floor_given_levels(
    leak_m: Floats, places: AirPlaces, spreading: Spreading, floor: Floats, weight: Floats
) -> Floats:
    """Return the weights of the floors for each place of the leak, shape (floors, leaks).

    A place that is much louder without air than another hears little of the floor.
    """
    away = leak_m[:, None] - places.chainage_m
    heard = np.exp(relative_level(away, spreading, places.smear_m) / DB)
    off = places.off_db - DB * np.log(heard + floor[:, None, None])
    apart = off - off.mean(axis=-1, keepdims=True)
    fits = -0.5 * np.sum(apart**2, axis=-1) / _OFF_SD_DB**2
    given = weight[:, None] * np.exp(fits - fits.max(axis=0))
    return np.asarray(given / given.sum(axis=0))


def _log_t(expected_db: Floats, places: AirPlaces, constants: Constants) -> Floats:
    """Return the log density of the mean changes: multivariate t about `expected_db` (..., k)."""
    sd, degrees = places.noise(constants)
    variance = sd**2 / places.pairs + constants.air["misfit_db"] ** 2
    square = np.sum((places.change_db - expected_db) ** 2 / variance, axis=-1)
    k = len(places.pairs)
    constant = gammaln((degrees + k) / 2) - gammaln(degrees / 2) - 0.5 * k * np.log(degrees * np.pi)
    constant -= 0.5 * float(np.sum(np.log(variance)))
    return np.asarray(constant - 0.5 * (degrees + k) * np.log1p(square / degrees))
