"""Order of the actions on a line: by the information that they gain in an hour."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.advise.information import expected_gain_bits

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.arrays import Floats
    from leakgeo.find.advise.candidates import Candidate

_MINUTES_AN_HOUR = 60.0


@dataclass(frozen=True, eq=False)
class Ranked:
    """An action in its place in the order.

    Parameters
    ----------
    candidate : Candidate
    bits_per_hour : float
        With the action after it, where the two together gain more; NaN where it is not computed.
    then : Candidate or None
        Action with which it gains the most in the time of both.
    """

    candidate: Candidate
    bits_per_hour: float
    then: Candidate | None


def ranked(weight: Floats, found: Sequence[Candidate], worth: Mapping[str, float]) -> list[Ranked]:
    """Return the actions that are worth their time, the best first.

    An action is as good as its gain in an hour, or that of it and one after it. Two steps ahead are
    computed where it is cheap: where the outcomes of both are few.

    Parameters
    ----------
    weight : ndarray of float, shape (h,)
        Probability of each explanation of the line.
    found : sequence of Candidate
    worth : mapping of str to float
        Limits of the table of actions.
    """
    kept = [each for each in found if each.first or each.kept or _is_worth(each, worth)]
    order = [_ahead(weight, each, kept, worth["least_bits"]) for each in kept]
    return sorted(order, key=_key)


def _is_worth(each: Candidate, worth: Mapping[str, float]) -> bool:
    rate = each.gain_bits / each.minutes * _MINUTES_AN_HOUR
    return each.gain_bits >= worth["least_bits"] and rate >= worth["least_bits_per_hour"]


def _key(one: Ranked) -> tuple[bool, float, str, str]:
    each = one.candidate
    rate = one.bits_per_hour if np.isfinite(one.bits_per_hour) else 0.0
    return not each.first, -rate, each.action, f"{each.contact_id} {each.valves}"


def _ahead(
    weight: Floats, first: Candidate, others: Sequence[Candidate], least_bits: float
) -> Ranked:
    """Return an action with the one that gains the most in the time of both."""
    best, then = first.gain_bits / first.minutes, None
    most = 0.0
    own = expected_gain_bits(weight, first.outcomes) if first.outcomes else 0.0
    for other in others:
        if other is first or first.outcomes is None or other.outcomes is None:
            continue
        more = expected_gain_bits(weight, first.outcomes.then(other.outcomes)) - own
        rate = (first.gain_bits + more) / (first.minutes + other.minutes)
        if more >= least_bits and rate > most:
            most, then = rate, other
    return Ranked(first, float(max(best, most)) * _MINUTES_AN_HOUR, then)
