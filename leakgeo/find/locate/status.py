"""What is said of a line: its status, and the sentence that goes with it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

    from leakgeo.find.locate.step import Finding

# Probabilities at which a status changes. No line on which a leak is likelier than not is said to
# have none, whatever its readings show.
LIKELIER_THAN_NOT = 0.5
LOCATED = 0.7
RIVAL = 0.15
# Nothing is heard where the readings don't speak for a leak, and any sound explains them no better
# than silence by so much, in nats.
QUIET_NATS = 1.0

_LIMIT = {"position": "The positions of the readings limit it.",
          "spacing": "The spacing of the readings limits it.",
          "sound": "The sound limits it."}  # fmt: skip


def leak_heard(finding: Finding) -> bool:
    """Whether the readings show a leak on this line: without, there is no zone and no mark."""
    found = finding.posterior
    anywhere = found.leak_probability + sum(p for _, p, _ in found.elsewhere)
    quiet = found.leak_nats < 0.0 and found.heard_nats < QUIET_NATS
    return anywhere >= LIKELIER_THAN_NOT and found.leak_probability >= RIVAL and not quiet


def status_of(finding: Finding) -> str:
    """Status of a line with readings, as the data contract names it.

    Where the readings show no leak on the line, or none that is likelier than not, it is
    ``no_leak_heard``; but ``keep_listening``, without a mark, where a leak is still likelier than
    not by what was known before. Where they show one, it is ``located`` when the mark is likely
    enough within one foot, ``ambiguous`` when a second stretch or a line that joins this holds a
    fair share of the probability, else ``keep_listening``. Each probability is that of a leak
    there, not of its place given that there is one.
    """
    if not leak_heard(finding):
        likely = finding.posterior.leak_probability >= LIKELIER_THAN_NOT
        return "keep_listening" if likely else "no_leak_heard"
    if finding.mark.within_foot >= LOCATED:
        return "located"
    rivals = [p for p in map(finding.probability_in, finding.pieces[1:]) if p >= RIVAL]
    rivals += [p for _, p, _ in finding.elsewhere if p >= RIVAL]
    return "ambiguous" if rivals else "keep_listening"


def message_of(finding: Finding) -> str:
    """One sentence or two for the crew: what was found, how sure that is, and what limits it."""
    odds = _capital(
        f"{percent(finding.posterior.leak_probability)} that there is a leak on this line."
    )
    if not leak_heard(finding):
        return _unheard(finding, odds)
    mark, located = finding.mark, status_of(finding) == "located"
    place = (
        f"{'Mark' if located else 'Likeliest'} at {mark.chainage_m:.3f} m "
        "from the start of the route; "
        f"{percent(mark.within_foot)} that there is a leak within one foot of it. {odds}"
    )
    place += _also_possible(finding)
    if finding.posterior.second_probability > LIKELIER_THAN_NOT:
        place += " Another steady source sounds on this line."
    return place if located else f"{place} {_LIMIT[finding.limited_by]}"


def _unheard(finding: Finding, odds: str) -> str:
    """What is said of a line whose readings show no leak."""
    if finding.elsewhere and max(p for _, p, _ in finding.elsewhere) >= LIKELIER_THAN_NOT:
        odds = f"The leak is likelier on a line that joins this one. {odds}"
        return f"{odds}{_also_possible(finding)}"
    if status_of(finding) == "no_leak_heard":
        return f"No leak heard in these readings; that alone does not rule one out. {odds}"
    return (
        f"These readings do not show whether there is a leak. {odds}{_before(finding)} "
        "It takes more evidence to tell."
    )


def _before(finding: Finding) -> str:
    """What was assumed before listening, which is the evidence for a leak that there is."""
    found = finding.posterior
    if not 0.0 < found.leak_probability < 1.0:
        return ""
    odds = math.log(found.leak_probability / (1.0 - found.leak_probability)) - found.leak_nats
    return f" Before listening it was {percent(1.0 / (1.0 + math.exp(-odds)))}."


def _also_possible(finding: Finding) -> str:
    """Where else the leak may well be: on this line, and on those that join it."""
    rivals = [
        f"{p.begin_m:.1f} to {p.end_m:.1f} m ({percent(finding.probability_in(p))})"
        for p in finding.pieces[1:2]
        if finding.probability_in(p) >= RIVAL
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
