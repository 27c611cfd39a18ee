"""Status of a line, and the message that explains it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from leakgeo.reason import Reason, reasons_in

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from leakgeo.find.locate.finding import Finding
    from leakgeo.find.posterior.rivals import Rival

# Probabilities at which a status changes. A line on which a leak is likelier than not is never
# reported as having none, whatever its readings show.
LIKELIER_THAN_NOT = 0.5
LOCATED = 0.7
RIVAL = 0.15
# With this probability a fitting beside the mark is named, and is to be shut or bypassed.
BESIDE = 0.01
# A line is quiet if its readings make a leak a third as likely (log Bayes factor), and the log
# Bayes factor of any sound against silence is below the other limit.
AGAINST_NATS = -1.1
# Where no foot of the line has this probability, readings that are no evidence for a leak are
# enough for that: much of the line was not listened to.
NOWHERE = 0.05
# With this probability on one foot, the readings show a place although another source sounds.
PLACED = 0.2
QUIET_NATS = 1.0
# Log Bayes factor at which evidence that is not heard shows a leak.
SHOWN_NATS = 0.9
# Kinds of evidence that are heard.
HEARD = ("air", "sweep", "action")
# Status of a line whose sound a rival explains.
_STATUS_OF_RIVAL = {
    "fitting": "other_source", "unknown": "other_source",
    "beyond_start": "beyond_end", "beyond_end": "beyond_end",
}  # fmt: skip


def leak_heard(finding: Finding) -> bool:
    """Return whether a leak was heard or seen on this line; only then it has zones and a mark."""
    if finding.confirmed:
        return True
    found, beyond = finding.posterior, _beyond(finding)
    if _unheard(finding) >= LIKELIER_THAN_NOT * found.leak_probability:
        return False
    leak = found.leak_probability + sum(p for _, p, _ in found.on_nearby_lines)
    # A leak that is at one of two places near an end is heard, and the likelier place is marked.
    anywhere = leak + (beyond if beyond <= found.leak_probability else 0.0)
    against = 0.0 if finding.within_foot < NOWHERE else AGAINST_NATS
    # A leak beyond an end of the line is no silence.
    none = max(1.0 - leak - beyond, 1e-300)
    # Only what is heard shows a leak.
    log_bf = found.leak_log_bf - sum(_unheard_nats(finding)) + math.log1p(beyond / none)
    quiet = log_bf < against and found.sound_log_bf < QUIET_NATS
    return anywhere >= LIKELIER_THAN_NOT and found.leak_probability >= RIVAL and not quiet


def status_of(finding: Finding) -> str:
    """Return the status of a line with readings: a code of the data contract.

    ``located``
        The readings show a leak, and it is within one foot of the mark with a probability of at
        least `LOCATED`.
    ``ambiguous``
        They show a leak, and a second stretch, a nearby line or another explanation of the sound
        has at least `RIVAL`.
    ``other_source``, ``beyond_end``
        They show no leak, and a fitting or another source, or a leak beyond an end of the line, is
        as likely as a leak on it; see `explanation`.
    ``keep_listening``
        They show a leak, but neither applies. Or they show none, and a leak is still likelier than
        not because of the prior, here or just beyond an end; such a line has no mark.
    ``no_leak_heard``
        They show no leak, and a leak is less likely than not.

    All probabilities include the probability that there is a leak at all.
    """
    if not leak_heard(finding):
        explained = explanation(finding)
        if explained is not None:
            return _STATUS_OF_RIVAL[explained.kind]
        likely = finding.posterior.leak_probability + _beyond(finding) >= LIKELIER_THAN_NOT
        return "keep_listening" if likely else "no_leak_heard"
    if finding.within_foot >= LOCATED:
        return "located"
    rivals = [p for p in map(finding.probability_in, finding.other_pieces) if p >= RIVAL]
    rivals += [p for _, p, _ in finding.on_nearby_lines if p >= RIVAL]
    rivals += [r.probability for r in finding.posterior.rivals if r.probability >= RIVAL]
    return "ambiguous" if rivals else "keep_listening"


def explanation(finding: Finding) -> Rival | None:
    """Return the rival that explains the readings of a line rather than a leak on it, or None.

    It is as likely as a leak on the line, and with it and the other rivals likelier than silence.
    """
    found = finding.posterior
    unheard = _unheard(finding)
    rivals = [
        replace(r, probability=r.probability + unheard) if r.kind == "unknown" else r
        for r in found.rivals
    ]
    best = max(rivals, key=lambda r: r.probability, default=None)
    leak = found.leak_probability - unheard
    heard = leak + sum(r.probability for r in rivals)
    if best is None or best.probability < leak or heard < LIKELIER_THAN_NOT:
        return None
    return best


def _unheard_nats(finding: Finding) -> list[float]:
    """Return the log Bayes factors of a leak by evidence that is not heard, as of a meter."""
    return [e.log_bf for e in finding.further if e.kind not in HEARD]


def _unheard(finding: Finding) -> float:
    """Return the probability of a leak that is not heard beside another source.

    The readings show the other source and no place of a leak, and nothing else shows one.
    """
    found = finding.posterior
    shown = max([found.leak_log_bf, *(n - SHOWN_NATS for n in _unheard_nats(finding))]) >= 0.0
    if shown or finding.within_foot >= PLACED:
        return 0.0
    return found.leak_probability * found.other_source_probability


def _beyond(finding: Finding) -> float:
    """Return the probability of a leak beyond an end of the line."""
    rivals = finding.posterior.rivals
    return sum(r.probability for r in rivals if r.kind in ("beyond_start", "beyond_end"))


def message_of(
    finding: Finding, places: Sequence[Reason], rivals: Mapping[str, Reason], beside: Reason | None
) -> Reason:
    """Return the message of a line: what was found, its probability, and what limits it.

    Parameters
    ----------
    finding : Finding
    places : sequence of Reason
        Place of each mark as a crew tapes it; see
        `leakgeo.find.survey.from_fitting.tape_from_fitting`.
    rivals : mapping of str to Reason
        Fitting or end at which each rival is, by its ``key``.
    beside : Reason or None
        Fitting near the mark that may sound by itself.
    """
    if not leak_heard(finding):
        odds = Reason("leak_on_line", probability=finding.posterior.leak_probability)
        return _no_leak_reason(finding, odds, rivals)
    located = status_of(finding) == "located"
    # Of several leaks that were seen the sound of each is another source to the others.
    several = len(finding.marks) > 1
    other = finding.posterior.other_source_probability > LIKELIER_THAN_NOT and not several
    # What limits the readings is no matter where there are none.
    unheard = math.isnan(finding.levels_log_bf)
    then = (
        _also_possible(finding, rivals),
        Reason("other_source") if other else None,
        Reason("beside_fitting", fitting=beside) if _may_sound(finding, beside) else None,
        None if located or unheard else Reason(f"limited_by_{finding.limited_by}"),
    )
    if several:
        marks = [
            Reason("mark_of_leak", rank=rank, chainage_m=mark.chainage_m, place=place,
                   within_foot=near)
            for rank, ((mark, near, _), place) in enumerate(
                zip(finding.marks, places, strict=True), start=1)
        ]  # fmt: skip
        code = "marks_of_leaks" if located else "leaks_without_marks"
        return Reason(code, *then, leaks=len(marks), places=marks)
    return Reason(
        "mark" if located else "likeliest",
        *then,
        chainage_m=finding.mark.chainage_m,
        place=places[0],
        within_foot=finding.within_foot,
    )


def _may_sound(finding: Finding, fitting: Reason | None) -> bool:
    """Return whether a fitting beside the mark is still a likely source instead of the leak."""
    contact = None if fitting is None else dict(fitting.values)["contact"]
    return any(
        rival.name == contact and rival.probability >= BESIDE for rival in finding.posterior.rivals
    )


def _no_leak_reason(finding: Finding, odds: Reason, rivals: Mapping[str, Reason]) -> Reason:
    """Return the message of a line whose readings show no leak."""
    explained = explanation(finding)
    if explained is not None:
        return _explained(explained, rivals, odds)
    if (
        finding.on_nearby_lines
        and max(p for _, p, _ in finding.on_nearby_lines) >= LIKELIER_THAN_NOT
    ):
        return Reason("likelier_on_other_line", odds, _also_possible(finding, rivals))
    if status_of(finding) == "no_leak_heard":
        return Reason("no_leak_heard", odds)
    before = Reason("before_listening", probability=finding.leak_prior)
    return Reason("not_shown", odds, before, Reason("more_evidence"))


def _explained(rival: Rival, places: Mapping[str, Reason], *more: Reason) -> Reason:
    """Return what explains the readings, and with which probability."""
    place, odds = places.get(rival.key), {"probability": rival.probability}
    if place is None:
        return Reason("sounds_elsewhere", *more, **odds)
    if rival.kind == "fitting":
        return Reason("fitting_sounds", *more, fitting=place, **odds)
    return Reason("leak_beyond", *more, end=place, **odds)


def _also_possible(finding: Finding, rivals: Mapping[str, Reason]) -> Reason | None:
    """Return what else is likely: places on this line and on nearby lines, and rivals."""
    also = [
        Reason("also_on_line", from_m=p.begin_m, to_m=p.end_m,
               probability=finding.probability_in(p))
        for p in finding.other_pieces[:1]
        if finding.probability_in(p) >= RIVAL
    ]  # fmt: skip
    also += [
        Reason("also_on_other_line", line=line, chainage_m=at, probability=p)
        for line, p, at in finding.on_nearby_lines
        if p >= RIVAL
    ]
    also += [
        Reason(
            "also_fitting" if r.kind == "fitting" else "also_beyond",
            place=rivals[r.key],
            probability=r.probability,
        )
        for r in finding.posterior.rivals
        if r.probability >= RIVAL and r.key in rivals
    ]
    return Reason("also_possible", places=also) if also else None


def rejected_message(line_id: str, readings: pd.DataFrame) -> Reason:
    """Return why a line with a valid route has no finding."""
    own = readings[readings["line_id"] == line_id]
    if own.empty:
        return Reason("no_reading_on_line")
    return Reason("no_usable_reading", readings=len(own), first=reasons_in(own[:1], "reason")[0])
