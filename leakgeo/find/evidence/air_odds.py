"""The odds that the leak sounds at a place, out of air on and off there and at control points."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy.special import logsumexp, stdtrit

from leakgeo.find.evidence.air_weight import air_weight

if TYPE_CHECKING:
    from leakgeo.arrays import Ints
    from leakgeo.find.evidence.air import AirPlaces
    from leakgeo.sound.constants import Constants
    from leakgeo.sound.spreading import Spreading

Verdict = Literal["confirmed", "not_this", "inconclusive"]
# So many times likelier, or less likely: strong evidence by Kass and Raftery (Journal of the
# American Statistical Association 90, 1995), and a little less to look elsewhere.
CONFIRMED, NOT_THIS = 20.0, 0.1
# A pair alone may be chance.
LEAST_PAIRS = 2
# A difference that an ear calls clear.
CLEAR_DB = 3.0
# A control stands this far off at the least.
CONTROL_M = 3.0
# More than so many pairs nobody listens to.
MOST_MORE = 20


@dataclass(frozen=True)
class AirVerdict:
    """What an air test says of one place.

    Parameters
    ----------
    verdict : {"confirmed", "not_this", "inconclusive"}
    odds : float
        How many times likelier the changes are if the leak sounds here than if it does not.
    more_pairs : int or None
        Further pairs, here and at the control, that are expected to decide; 0 where it is decided,
        None where twenty would not.
    controls : ndarray of int
        Which of the places are its controls.
    """

    verdict: Verdict
    odds: float
    more_pairs: int | None
    controls: Ints


def judge(places: AirPlaces, place: int, spreading: Spreading, constants: Constants) -> AirVerdict:
    """Weigh one place against the others of its line.

    Parameters
    ----------
    places : AirPlaces
    place : int
        Which of the places.
    spreading : Spreading
        Of the line.
    constants : Constants

    Returns
    -------
    AirVerdict
    """
    away = np.abs(places.chainage_m - places.chainage_m[place])
    controls = np.flatnonzero(away >= CONTROL_M)
    kept = np.sort(np.append(controls, place))
    own = _only(places, kept)
    here = int(np.searchsorted(kept, place))
    odds = bayes_factor(own, here, spreading, constants)
    verdict = _verdict(own, here, odds, constants)
    more = 0 if verdict != "inconclusive" else _more(own, here, spreading, constants)
    return AirVerdict(verdict, odds, more, controls)


def bayes_factor(places: AirPlaces, here: int, spreading: Spreading, constants: Constants) -> float:
    """How many times likelier the changes are if the leak sounds `here` than if it does not.

    If it does not, there is none in hearing, or it is at one of the other places.

    Parameters
    ----------
    places : AirPlaces
    here : int
        Which of the places.
    spreading : Spreading
    constants : Constants

    Returns
    -------
    float
    """
    weight = air_weight(places.chainage_m, places, spreading, constants)
    others = np.delete(weight.leak, here)
    share = constants.air["elsewhere"] if len(others) else 0.0
    rivals = np.append(others, weight.none)
    priors = np.append(np.full(len(others), share / max(len(others), 1)), 1.0 - share)
    return float(np.exp(weight.leak[here] - logsumexp(rivals, b=priors)))


def _verdict(places: AirPlaces, here: int, odds: float, constants: Constants) -> Verdict:
    enough = places.pairs >= LEAST_PAIRS
    if not enough[here] or not np.delete(enough, here).any():
        return "inconclusive"
    if odds >= CONFIRMED:
        apart = any(stands_out(places, here, int(k), constants) for k in np.flatnonzero(enough))
        return "confirmed" if apart else "inconclusive"
    return "not_this" if odds <= NOT_THIS else "inconclusive"


def stands_out(places: AirPlaces, here: int, control: int, constants: Constants) -> bool:
    """Whether air changes the sound more here than at a control: clearly, and not by chance.

    A control that changes as much may hear the leak, or what the air does everywhere: whatever
    the odds, it proves nothing. Two-sample t at 95 %, two-sided, with the pooled noise.

    Parameters
    ----------
    places : AirPlaces
    here, control : int
        Which of the places.
    constants : Constants

    Returns
    -------
    bool
    """
    sd, degrees = places.noise(constants)
    apart = float(places.change_db[here] - places.change_db[control])
    error = sd * float(np.sqrt(1.0 / places.pairs[here] + 1.0 / places.pairs[control]))
    return apart >= max(CLEAR_DB, float(stdtrit(degrees, 0.975)) * error)


def _more(places: AirPlaces, here: int, spreading: Spreading, constants: Constants) -> int | None:
    """Fewest further pairs at every place that decide, if they come out as those so far."""
    if len(places.pairs) < 2:
        return None
    variance = places.noise(constants)[0] ** 2
    for more in range(1, MOST_MORE + 1):
        square = places.square_db2 + more * variance
        ahead = replace(places, pairs=places.pairs + more, square_db2=square)
        odds = bayes_factor(ahead, here, spreading, constants)
        if _verdict(ahead, here, odds, constants) != "inconclusive":
            return more
    return None


def _only(places: AirPlaces, kept: Ints) -> AirPlaces:
    return replace(
        places,
        **{name: getattr(places, name)[kept] for name in places.__dataclass_fields__},
    )
