"""What each action other than a stop may show, under each explanation of a line."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy.special import ndtr, ndtri

from leakgeo.find.advise.information import Outcomes, outcomes_of, yes_or_no
from leakgeo.find.evidence.action_results import (
    found_of_places,
    found_of_rivals,
    load_action_rates,
)
from leakgeo.find.evidence.meter import load_meter_weights, turning
from leakgeo.find.evidence.sweep_readings import load_sweep_weights
from leakgeo.sound.spreading import DB, relative_level

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.arrays import Floats
    from leakgeo.find.advise.explanations import Explanations
    from leakgeo.find.evidence.meter import MeterPlace, Valve
    from leakgeo.find.loss.meter_tests import Loss
    from leakgeo.find.posterior.rivals import Rival
    from leakgeo.find.survey.line_fittings import LineFittings
    from leakgeo.sound.constants import Constants
    from leakgeo.sound.spreading import Spreading

# A leak beyond an end is about so far from it.
_BEYOND_M = 3.0
# Of what is heard across a line: share on its trace, of a fitting and of another source.
_FITTING_ON_TRACE, _OTHER_ON_TRACE = 0.95, 0.15
# Probability that a sweep has a clear peak where something sounds, and where nothing does.
_CLEAR, _CLEAR_OF_NOTHING = 0.9, 0.1
# Largest odds of a sweep without a clear peak, which is hardly evidence.
_UNCLEAR_ODDS = 3.0
# Quantiles of the gain by air to average over.
_GAINS = ndtri((np.arange(7) + 0.5) / 7)


def looked_for(
    explained: Explanations, action: str, place: str, fittings: LineFittings, customer: str | None
) -> Outcomes:
    """Return an action that finds what it looks for, or not.

    Parameters
    ----------
    explained : Explanations
    action, place : str
        As in `leakgeo.find.evidence.action_results.ActionResult`.
    fittings : LineFittings
        Of the line.
    customer : {"beyond_start", "beyond_end", None}
        The customer's end of the route.
    """
    at = fittings, customer
    wrong = load_action_rates()[action]["wrong"]
    yes = explained.each(
        found_of_places(action, place, explained.place_m, *at),
        found_of_rivals(action, place, explained.rivals, *at),
        wrong,
        wrong,
    )
    most = load_action_rates()["most_odds"]["each"]
    return yes_or_no(yes, most, most)


def meter_read(
    explained: Explanations, place: MeterPlace, results: Mapping[Valve, Loss],
    least_l_per_day: float,
) -> Outcomes:  # fmt: skip
    """Return what a meter may show with the house valve shut, and before with it open.

    Parameters
    ----------
    explained : Explanations
    place : MeterPlace
    results : mapping of str to Loss
        Combined result for each position of the house valve so far; with one for ``open`` that is
        not read again.
    least_l_per_day : float
        Loss that moves the register by one step during a test.
    """
    valves: tuple[Literal["open", "shut"], ...] = ("open", "shut")
    turns = turning(results, valves[1:] if "open" in results else valves, least_l_per_day)
    inside = place.downstream(explained.place_m)[:, None]

    def of_rival(rival: Rival) -> Floats:
        if rival.kind == "fitting":
            return turns.fitting
        if rival.kind == "unknown":
            return turns.none
        share = place.rival_downstream(rival.kind)
        return share * turns.beyond + (1.0 - share) * turns.none

    others = [of_rival(rival) for rival in explained.rivals]
    others += [turns.none] * (len(explained.nearby) + 1)
    shown = np.concatenate([inside * turns.pipe + (1.0 - inside) * turns.none, np.array(others)])
    odds = load_meter_weights()["most_odds"]
    return outcomes_of(shown, odds["against"], odds["turning_with_valve_shut"])


def swept(explained: Explanations, at_m: float) -> Outcomes:
    """Return what a sweep across the line at a chainage may show.

    Its peak is on the trace or beside it; without a clear peak it is hardly evidence.
    """
    weight = load_sweep_weights()
    own, wrong = (weight["explanations"][name] for name in ("own_pipe", "trace_wrong"))
    near, on = weight["likelihood"]["near_m"], own / (own + wrong)
    not_heard = weight["likelihood"]["not_heard"]

    def heard(away_m: Floats) -> Floats:
        return np.asarray(np.clip(2.0 - np.abs(away_m) / near, 0.0, 1.0))

    beyond = {"beyond_start": -_BEYOND_M, "beyond_end": _BEYOND_M}
    of = explained.rivals
    unknown = np.array([rival.kind == "unknown" for rival in of], dtype=bool)
    rivals = np.array([rival.chainage_m + beyond.get(rival.kind, 0.0) for rival in of], dtype=float)
    rivals_heard = np.where(unknown, 1.0 - not_heard, heard(rivals - at_m))
    rivals_on = np.where(unknown, _OTHER_ON_TRACE, _FITTING_ON_TRACE)
    places = heard(explained.place_m - at_m)
    any_heard = explained.each(places, rivals_heard, 1.0 - not_heard, 0.0)
    clear = _CLEAR_OF_NOTHING + (_CLEAR - _CLEAR_OF_NOTHING) * any_heard
    on_trace = explained.each(np.array(on), rivals_on, _OTHER_ON_TRACE, 0.5)
    shown = np.stack([clear * on_trace, clear * (1.0 - on_trace), 1.0 - clear], axis=-1)
    most = weight["likelihood"]["most_odds"]
    found = outcomes_of(shown, most, most)
    odds = found.odds.copy()
    odds[:, -1] = np.clip(odds[:, -1], 1.0 / _UNCLEAR_ODDS, _UNCLEAR_ODDS)
    return found._replace(odds=odds)


def air_on_and_off(
    explained: Explanations, at_m: float, spreading: Spreading, excess_db: float, pairs: float,
    notice_db: float, constants: Constants,
) -> Outcomes:  # fmt: skip
    """Return whether a place may be louder with air in the line than without.

    Parameters
    ----------
    explained : Explanations
    at_m : float
        Chainage of the place.
    spreading : Spreading
        Constants of the line.
    excess_db : float
        Level of the leak above the floor.
    pairs : float
        Readings with air off and on.
    notice_db : float
        Change that counts as louder.
    constants : Constants

    Notes
    -----
    The change is that of `leakgeo.find.evidence.air_likelihood`, averaged over the gain by air.
    """
    air, floor = constants.air, float(np.exp(-excess_db / DB))
    gain = np.exp(air["gain_db"] * np.exp(air["gain_ln"] * _GAINS) / DB)
    reading_db = float(constants.noise_law.centre()[2])
    sd = float(np.hypot(reading_db * (2.0 / pairs) ** 0.5, air["misfit_db"]))

    def louder(away_m: Floats) -> Floats:
        heard = np.exp(relative_level(away_m, replace(spreading, floor=0.0)) / DB)
        change = DB * np.log((np.multiply.outer(gain, heard) + floor) / (heard + floor))
        return np.asarray((1.0 - air["fails"]) * ndtr((change - notice_db) / sd).mean(axis=0))

    none = float(ndtr(-notice_db / sd))

    def of_rival(rival: Rival) -> float:
        side = {"beyond_start": -_BEYOND_M, "beyond_end": _BEYOND_M}.get(rival.kind)
        if side is None:
            return none
        return float(louder(np.array([rival.chainage_m + side - at_m]))[0])

    yes = explained.each(
        np.maximum(louder(explained.place_m - at_m), none),
        np.array([of_rival(rival) for rival in explained.rivals]),
        none,
        none,
    )
    return yes_or_no(yes, air["most_odds"], air["most_odds"])
