"""Verdict of an air test at a place: Bayes factor against control points of the same line."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy.special import logsumexp, stdtrit

from leakgeo.find.evidence.air_likelihood import air_likelihood

if TYPE_CHECKING:
    from leakgeo.arrays import Ints
    from leakgeo.find.evidence.air import AirPlaces
    from leakgeo.sound.constants import Constants
    from leakgeo.sound.spreading import Spreading

Verdict = Literal["confirmed", "not_this", "inconclusive"]
# Bayes factors: strong evidence by Kass and Raftery (Journal of the American Statistical
# Association 90, 1995), and a lower limit to try another place.
CONFIRMED, NOT_THIS = 20.0, 0.1
# A single pair may be chance.
MIN_PAIRS = 2
# Smallest difference that is clearly audible.
CLEAR_DB = 3.0
# Minimum distance of a control from the place.
MIN_CONTROL_M = 3.0
# Maximum number of further pairs to propose.
MAX_MORE_PAIRS = 20


@dataclass(frozen=True)
class AirVerdict:
    """Result of an air test at one place.

    Parameters
    ----------
    verdict : {"confirmed", "not_this", "inconclusive"}
    odds : float
        Bayes factor of a leak at this place against no leak here.
    more_pairs : int or None
        Further pairs, here and at the control, that are expected to decide; 0 if decided, None if
        `MAX_MORE_PAIRS` would not decide.
    controls : ndarray of int
        Indices of the control places.
    """

    verdict: Verdict
    odds: float
    more_pairs: int | None
    controls: Ints


def air_verdict(
    places: AirPlaces, place: int, spreading: Spreading, constants: Constants
) -> AirVerdict:
    """Compare the changes at one place with those at the other places of its line.

    Parameters
    ----------
    places : AirPlaces
    place : int
        Index of the place.
    spreading : Spreading
        Constants of the line.
    constants : Constants

    Returns
    -------
    AirVerdict
    """
    away = np.abs(places.chainage_m - places.chainage_m[place])
    controls = np.flatnonzero(away >= MIN_CONTROL_M)
    kept = np.sort(np.append(controls, place))
    own = _subset(places, kept)
    here = int(np.searchsorted(kept, place))
    odds = bayes_factor(own, here, spreading, constants)
    verdict = _verdict(own, here, odds, constants)
    more = 0 if verdict != "inconclusive" else _pairs_to_decide(own, here, spreading, constants)
    return AirVerdict(verdict, odds, more, controls)


def bayes_factor(places: AirPlaces, here: int, spreading: Spreading, constants: Constants) -> float:
    """Return the Bayes factor of a leak at place `here` against no leak there.

    The alternative is a mixture: no audible leak, or a leak at one of the other places.

    Parameters
    ----------
    places : AirPlaces
    here : int
        Index of the place.
    spreading : Spreading
    constants : Constants

    Returns
    -------
    float
    """
    weight = air_likelihood(places.chainage_m, places, spreading, constants)
    others = np.delete(weight.leak, here)
    share = constants.air["elsewhere"] if len(others) else 0.0
    rivals = np.append(others, weight.none)
    priors = np.append(np.full(len(others), share / max(len(others), 1)), 1.0 - share)
    return float(np.exp(weight.leak[here] - logsumexp(rivals, b=priors)))


def _verdict(places: AirPlaces, here: int, odds: float, constants: Constants) -> Verdict:
    enough = places.pairs >= MIN_PAIRS
    if not enough[here] or not np.delete(enough, here).any():
        return "inconclusive"
    if odds >= CONFIRMED:
        apart = any(changes_more(places, here, int(k), constants) for k in np.flatnonzero(enough))
        return "confirmed" if apart else "inconclusive"
    return "not_this" if odds <= NOT_THIS else "inconclusive"


def changes_more(places: AirPlaces, here: int, control: int, constants: Constants) -> bool:
    """Return whether air changes the sound clearly and significantly more here than at a control.

    A control that changes as much may hear the leak, or an effect of the air on the whole line:
    this proves nothing. Two-sample t-test at 95 %, two-sided, with the pooled noise.

    Parameters
    ----------
    places : AirPlaces
    here, control : int
        Indices of the places.
    constants : Constants

    Returns
    -------
    bool
    """
    sd, degrees = places.noise(constants)
    apart = float(places.change_db[here] - places.change_db[control])
    error = sd * float(np.sqrt(1.0 / places.pairs[here] + 1.0 / places.pairs[control]))
    return apart >= max(CLEAR_DB, float(stdtrit(degrees, 0.975)) * error)


def _pairs_to_decide(
    places: AirPlaces, here: int, spreading: Spreading, constants: Constants
) -> int | None:
    """Return the fewest further pairs per place that decide if they repeat the results so far."""
    if len(places.pairs) < 2:
        return None
    variance = places.noise(constants)[0] ** 2
    for more in range(1, MAX_MORE_PAIRS + 1):
        square = places.square_db2 + more * variance
        ahead = replace(places, pairs=places.pairs + more, square_db2=square)
        odds = bayes_factor(ahead, here, spreading, constants)
        if _verdict(ahead, here, odds, constants) != "inconclusive":
            return more
    return None


def _subset(places: AirPlaces, kept: Ints) -> AirPlaces:
    return replace(
        places,
        **{name: getattr(places, name)[kept] for name in places.__dataclass_fields__},
    )
