"""What is said of a line: its status, and the sentence that goes with it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

    from leakgeo.find.locate import Finding

# Odds that the words stand for.
HEARD = 0.5
LOCATED = 0.7
RIVAL = 0.15
# Nothing is heard where the readings don't speak for a leak, and any sound explains them no better
# than silence by so much, in nats.
QUIET_NATS = 1.0

_LEVER = {
    "position": "Positions limit it: tape the stops from a known fitting.",
    "spacing": "Spacing limits it: listen at one-foot steps here.",
    "sound": "Sound limits it: repeat readings at a quiet hour, by probe where there is soil.",
}


def status_of(finding: Finding) -> str:
    """Status of a line with readings, as the data contract names it.

    ``no_leak_heard`` when a leak is less likely than not, or the readings make it no likelier than
    it was before and hold no other sound, or it is on a line that joins this; ``ambiguous`` when a
    second stretch or a line that joins this holds a fair share of the probability; ``located`` when
    the mark is likely enough within one foot; else ``narrow_further``.
    """
    found = finding.posterior
    anywhere = found.leak_probability + sum(p for _, p, _ in found.elsewhere)
    quiet = found.leak_nats < 0.0 and found.heard_nats < QUIET_NATS
    if anywhere < HEARD or found.leak_probability < RIVAL or quiet:
        return "no_leak_heard"
    if finding.mark.within_foot >= LOCATED:
        return "located"
    rivals = [p.probability for p in finding.pieces[1:]] + [p for _, p, _ in finding.elsewhere]
    return "ambiguous" if any(p >= RIVAL for p in rivals) else "narrow_further"


def message_of(finding: Finding) -> str:
    """One sentence or two for the crew."""
    odds = _capital(
        f"{percent(finding.posterior.leak_probability)} that there is a leak on this line."
    )
    status = status_of(finding)
    if status == "no_leak_heard":
        if finding.elsewhere and max(p for _, p, _ in finding.elsewhere) >= HEARD:
            odds = f"The leak is likelier on a line that joins this one. {odds}"
            return f"{odds}{_also_possible(finding)}"
        heard = f"No leak heard in these readings; that alone does not rule one out. {odds}"
        return f"{heard}{_before(finding)}"
    mark = finding.mark
    place = (
        f"{'Mark' if status == 'located' else 'Likeliest'} at {mark.chainage_m:.2f} m "
        "from the start of the route; "
        f"{percent(mark.within_foot)} that the leak is within one foot of it. {odds}"
    )
    place += _also_possible(finding)
    if finding.posterior.second_probability > HEARD:
        place += " Another steady source sounds on this line."
    return place if status == "located" else f"{place} {_LEVER[finding.limited_by]}"


def _before(finding: Finding) -> str:
    """What was believed before, where it is all that speaks for a leak."""
    found = finding.posterior
    if not HEARD <= found.leak_probability < 1.0:
        return ""
    odds = math.log(found.leak_probability / (1.0 - found.leak_probability)) - found.leak_nats
    return f" Before listening it was {percent(1.0 / (1.0 + math.exp(-odds)))}."


def _also_possible(finding: Finding) -> str:
    """Where else the leak may well be: on this line, and on those that join it."""
    rivals = [
        f"{p.begin_m:.1f} to {p.end_m:.1f} m ({percent(p.probability)})"
        for p in finding.pieces[1:2]
        if p.probability * finding.posterior.leak_probability >= RIVAL
    ]
    rivals += [
        f"on {line}, about {at:.1f} m ({percent(p)})"
        for line, p, at in finding.elsewhere
        if p >= RIVAL
    ]
    return f" Also possible: {'; '.join(rivals)}." if rivals else ""


def rejected_message(line_id: str, readings: pd.DataFrame) -> str:
    """Why a line with a good route has no finding."""
    own = readings[readings["line_id"] == line_id]
    if own.empty:
        return "No reading on this line."
    why = str(own["reason"].iloc[0]).rstrip(".")
    return f"None of its {len(own)} readings can be used; the first: {why}."


def _capital(sentence: str) -> str:
    return sentence[:1].upper() + sentence[1:]


def percent(probability: float | None) -> str:
    """A probability as a percentage that never claims certainty.

    Examples
    --------
    >>> percent(0.8), percent(0.9996), percent(0.0), percent(None)
    ('80 %', 'over 99 %', 'under 1 %', 'unknown')
    """
    if probability is None or not math.isfinite(probability):
        return "unknown"
    if probability > 0.99:
        return "over 99 %"
    return "under 1 %" if probability < 0.01 else f"{100 * probability:.0f} %"
