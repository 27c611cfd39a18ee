"""Status of a line, and the message that explains it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.reason import Reason, reasons_in

if TYPE_CHECKING:
    import pandas as pd

    from leakgeo.find.locate.step import Finding

# Probabilities at which a status changes. A line on which a leak is likelier than not is never
# reported as having none, whatever its readings show.
LIKELIER_THAN_NOT = 0.5
LOCATED = 0.7
RIVAL = 0.15
# A line is quiet if its readings make a leak a third as likely (log Bayes factor), and the log
# Bayes factor of any sound against silence is below the other limit.
AGAINST_NATS = -1.1
# Where no foot of the line has this probability, readings that are no evidence for a leak are
# enough for that: much of the line was not listened to.
NOWHERE = 0.05
QUIET_NATS = 1.0


def leak_heard(finding: Finding) -> bool:
    """Return whether the readings show a leak on this line; only then it has zones and a mark."""
    found = finding.posterior
    anywhere = found.leak_probability + sum(p for _, p, _ in found.on_connected_lines)
    against = 0.0 if finding.within_foot < NOWHERE else AGAINST_NATS
    quiet = found.leak_log_bf < against and found.sound_log_bf < QUIET_NATS
    return anywhere >= LIKELIER_THAN_NOT and found.leak_probability >= RIVAL and not quiet


def status_of(finding: Finding) -> str:
    """Return the status of a line with readings: a code of the data contract.

    ``located``
        The readings show a leak, and it is within one foot of the mark with a probability of at
        least `LOCATED`.
    ``ambiguous``
        They show a leak, and a second stretch or a connected line has at least `RIVAL`.
    ``keep_listening``
        They show a leak, but neither applies. Or they show none, and a leak is still likelier than
        not because of the prior; such a line has no mark.
    ``no_leak_heard``
        They show no leak, and a leak is less likely than not.

    All probabilities include the probability that there is a leak at all.
    """
    if not leak_heard(finding):
        likely = finding.posterior.leak_probability >= LIKELIER_THAN_NOT
        return "keep_listening" if likely else "no_leak_heard"
    if finding.within_foot >= LOCATED:
        return "located"
    rivals = [p for p in map(finding.probability_in, finding.pieces[1:]) if p >= RIVAL]
    rivals += [p for _, p, _ in finding.on_connected_lines if p >= RIVAL]
    return "ambiguous" if rivals else "keep_listening"


def message_of(finding: Finding, place: Reason) -> Reason:
    """Return the message of a line: what was found, its probability, and what limits it.

    Parameters
    ----------
    finding : Finding
    place : Reason
        Place of the mark as a crew tapes it; see
        `leakgeo.find.survey.from_fitting.tape_from_fitting`.
    """
    if not leak_heard(finding):
        odds = Reason("leak_on_line", probability=finding.posterior.leak_probability)
        return _no_leak_reason(finding, odds)
    mark, located = finding.mark, status_of(finding) == "located"
    other = finding.posterior.other_source_probability > LIKELIER_THAN_NOT
    return Reason(
        "mark" if located else "likeliest",
        _also_possible(finding),
        Reason("other_source") if other else None,
        None if located else Reason(f"limited_by_{finding.limited_by}"),
        chainage_m=mark.chainage_m,
        place=place,
        within_foot=finding.within_foot,
    )


def _no_leak_reason(finding: Finding, odds: Reason) -> Reason:
    """Return the message of a line whose readings show no leak."""
    if (
        finding.on_connected_lines
        and max(p for _, p, _ in finding.on_connected_lines) >= LIKELIER_THAN_NOT
    ):
        return Reason("likelier_on_other_line", odds, _also_possible(finding))
    if status_of(finding) == "no_leak_heard":
        return Reason("no_leak_heard", odds)
    before = Reason("before_listening", probability=finding.leak_prior)
    return Reason("not_shown", odds, before, Reason("more_evidence"))


def _also_possible(finding: Finding) -> Reason | None:
    """Return the other likely places of the leak, on this line and on connected lines."""
    rivals = [
        Reason("also_on_line", from_m=p.begin_m, to_m=p.end_m,
               probability=finding.probability_in(p))
        for p in finding.pieces[1:2]
        if finding.probability_in(p) >= RIVAL
    ]  # fmt: skip
    rivals += [
        Reason("also_on_other_line", line=line, chainage_m=at, probability=p)
        for line, p, at in finding.on_connected_lines
        if p >= RIVAL
    ]
    return Reason("also_possible", places=rivals) if rivals else None


def rejected_message(line_id: str, readings: pd.DataFrame) -> Reason:
    """Return why a line with a valid route has no finding."""
    own = readings[readings["line_id"] == line_id]
    if own.empty:
        return Reason("no_reading_on_line")
    return Reason("no_usable_reading", readings=len(own), first=reasons_in(own[:1], "reason")[0])
