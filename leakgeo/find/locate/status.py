"""The status of a line, and why it stands as it does."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.reason import Reason, reasons_in

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


def message_of(finding: Finding) -> Reason:
    """Say what was found on a line, how sure that is, and what limits it."""
    odds = Reason("leak_on_line", probability=finding.posterior.leak_probability)
    if not leak_heard(finding):
        return _unheard(finding, odds)
    mark, located = finding.mark, status_of(finding) == "located"
    other = finding.posterior.second_probability > LIKELIER_THAN_NOT
    return Reason(
        "mark" if located else "likeliest",
        odds,
        _also_possible(finding),
        Reason("other_source") if other else None,
        None if located else Reason(f"limited_by_{finding.limited_by}"),
        chainage_m=mark.chainage_m,
        within_foot=mark.within_foot,
    )


def _unheard(finding: Finding, odds: Reason) -> Reason:
    """Say why a line has no mark: its readings show no leak."""
    if finding.elsewhere and max(p for _, p, _ in finding.elsewhere) >= LIKELIER_THAN_NOT:
        return Reason("likelier_on_other_line", odds, _also_possible(finding))
    if status_of(finding) == "no_leak_heard":
        return Reason("no_leak_heard", odds)
    before = Reason("before_listening", probability=finding.leak_prior)
    return Reason("not_shown", odds, before, Reason("more_evidence"))


def _also_possible(finding: Finding) -> Reason | None:
    """Say where else the leak may well be: on this line, and on those that join it."""
    rivals = [
        Reason("also_on_line", from_m=p.begin_m, to_m=p.end_m,
               probability=finding.probability_in(p))
        for p in finding.pieces[1:2]
        if finding.probability_in(p) >= RIVAL
    ]  # fmt: skip
    rivals += [
        Reason("also_on_other_line", line=line, chainage_m=at, probability=p)
        for line, p, at in finding.elsewhere
        if p >= RIVAL
    ]
    return Reason("also_possible", places=rivals) if rivals else None


def rejected_message(line_id: str, readings: pd.DataFrame) -> Reason:
    """Say why a line with a good route has no finding."""
    own = readings[readings["line_id"] == line_id]
    if own.empty:
        return Reason("no_reading_on_line")
    return Reason("no_usable_reading", readings=len(own), first=reasons_in(own[:1], "reason")[0])
