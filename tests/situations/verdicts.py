"""What a senior locator would accept as a verdict, as data, and the comparison with what was said.

The verdicts were written before the locator could reach most of them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    Array = np.ndarray

# A mark holds if the leak is within one foot of it, in the plan.
TOLERANCE_M = 0.305
# A verdict past an end has its place near that end.
NEAR_END_M = 3.0
# With these a crew has to be sent somewhere, so what to do next must be named.
NEEDS_ACTION = frozenset({"keep_listening", "ambiguous", "not_listened_to"})
# What the sentence of a next action has to name.
ACTIONS = {
    "air": r"\bair\b",
    "another_method": r"another method|probe|pressure",
    "check_meter": r"meter.*(test|check|again|read)|(test|check|read).*meter",
    "close_outlets": r"outlet|house valve|\btap\b",
    "listen_again": r"listen .*again|again.*listen|walk .*again|new walk",
    "listen_between": r"listen (at|to|between|in between)",
    "night": r"\bnight\b|quiet hour",
    "repair": r"repair|\bdig\b|excavat",
    "sweep": r"sweep|across",
    "trace": r"trac(e|ing)|locate the (pipe|route|branch)|branch",
    "walk_rest": r"\bwalk\b|listen .*(from|beyond|between)",
}


@dataclass(frozen=True)
class Acceptance:
    """Verdicts on one line that would be accepted.

    Parameters
    ----------
    statuses : frozenset of str
        Statuses; `located` is accepted with a mark within `TOLERANCE_M` of a leak.
    never : frozenset of str
        Statuses that would be a known mistake: a hole for nothing, or a leak given up.
    actions : frozenset of str
        Kinds of next action, of `ACTIONS`, one of which goes with a status of `NEEDS_ACTION`.
    """

    statuses: frozenset[str]
    never: frozenset[str] = frozenset()
    actions: frozenset[str] = frozenset()


def accepts(*statuses: str, never: str = "", actions: str = "") -> Acceptance:
    """Give an acceptance; names in `never` and `actions` are separated by spaces."""
    return Acceptance(frozenset(statuses), frozenset(never.split()), frozenset(actions.split()))


@dataclass(frozen=True)
class Verdict:
    """What was said of a line.

    Parameters
    ----------
    status : str
    place : ndarray, shape (2,)
        Mark in the CRS of the routes, m; nan where there is none.
    chainage_m : float
        Chainage of the mark, or of the likeliest place, m; nan where there is none.
    action : str
        Next action, as a sentence.
    """

    status: str
    place: Array
    chainage_m: float
    action: str

    def error_m(self, places: Array) -> float:
        """Give the distance from the mark to the nearest of some places, inf without either, m."""
        if np.isnan(self.place).any() or not len(places):
            return np.inf
        return float(np.hypot(*(places - self.place).T).min())


def accepted(wanted: Acceptance, said: Verdict, leaks: Array, end_m: float) -> bool:
    """Return whether a verdict would be accepted.

    Parameters
    ----------
    wanted : Acceptance
    said : Verdict
    leaks : ndarray, shape (n, 2)
        Places of the leaks, in the CRS of the routes.
    end_m : float
        Chainage of the end that the source is beyond; nan where it is beyond none.
    """
    if said.status not in wanted.statuses:
        return False
    if said.status == "located":
        return said.error_m(leaks) <= TOLERANCE_M
    if said.status == "beyond_end":
        return not abs(said.chainage_m - end_m) > NEAR_END_M
    return said.status not in NEEDS_ACTION or names_action(said.action, wanted.actions)


def names_action(sentence: str, actions: frozenset[str]) -> bool:
    """Return whether a sentence names one of some next actions.

    >>> names_action("Sweep across the line at 12 m.", frozenset({"sweep"}))
    True
    >>> names_action("", frozenset({"sweep"}))
    False
    """
    return any(re.search(ACTIONS[name], sentence.lower()) for name in actions)


def mistaken(wanted: Acceptance, said: Verdict, decoys: Array) -> bool:
    """Return whether a verdict is a known mistake: a status of `never`, or a mark on a decoy."""
    return said.status in wanted.never or (
        said.status == "located" and said.error_m(decoys) <= TOLERANCE_M
    )
