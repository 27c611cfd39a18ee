"""The holds of a dig as texts, joined by utility; a dig without a record is held as well."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from leakgeo.deliver.views.rows import number, text
from leakgeo.dig.headline import FORMAL, JOB_WIDE
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from leakgeo.wording import Wording

Row = dict[str, object]


@dataclass(frozen=True)
class Hold:
    """Texts of one hold: in full, and its subject."""

    text: str
    brief: str


def recorded_holds(rows: list[Row], wording: Wording) -> list[Hold]:
    """Return the holds of a line from its rows of ``holds``, joined by utility.

    Holds of every dig of the job are left out, unless the line has no other. What tickets and
    records of utilities lack is summed up at the end, in one line each.
    """
    every = [Reason.parse(str(row["code"]), str(row["values"])) for row in in_order(rows)]
    reasons = [reason for reason in every if reason.code not in JOB_WIDE] or every
    found: dict[object, list[Reason]] = {}
    lacking: dict[str, list[Reason]] = {}
    for reason in reasons:
        name = dict(reason.values).get("utility")
        if isinstance(name, Reason) and reason.code in FORMAL:
            code = _TICKETS if reason.code in _LACKS else _RECORDS
            lacking.setdefault(code, []).append(reason)
        else:
            found.setdefault(name or reason, []).append(reason)
    return [
        *(_joined(name, own, wording) for name, own in found.items() if isinstance(name, Reason)),
        *(_lacking(code, lacking[code], wording) for code in sorted(lacking, reverse=True)),
    ]


_RECORDS, _TICKETS = "records_incomplete", "tickets_incomplete"
# What a ticket lacks, by the code of the hold.
_LACKS = {
    "no_ticket_number": "lacks_ticket_number", "notice_time_not_known": "lacks_notice_time",
    "answer_time_not_known": "lacks_answer_time",
}  # fmt: skip


def _joined(name: Reason, reasons: list[Reason], wording: Wording) -> Hold:
    """Return all holds by one utility, or one hold by none, as one."""
    if name is not reasons[0]:
        return Hold(_together(name, reasons, wording), wording.text(name))
    return Hold(wording.text(name), wording.part(name, "brief") or wording.text(name))


def _lacking(code: str, holds: list[Reason], wording: Wording) -> Hold:
    """Return which utilities lack something formal, and what their tickets lack."""
    by_utility: dict[Reason, list[str]] = {}
    for hold in holds:
        by_utility.setdefault(dict(hold.values)["utility"], []).append(hold.code)
    short = []
    for name, codes in by_utility.items():
        named = dict(name.values)
        if lacks := [Reason(_LACKS[each]) for each in codes if each in _LACKS]:
            short.append(Reason("utility_lacks", lacks=lacks, **named))
        else:
            short.append(Reason("utility_in_short", **named))
    reason = Reason(code, utilities=short)
    return Hold(wording.text(reason), wording.part(reason, "brief"))


def _together(name: Reason, reasons: list[Reason], wording: Wording) -> str:
    texts = [wording.part(r, "short") or wording.text(r) for r in reasons]
    return f"{wording.text(name)}: {'; '.join(texts)}"


def in_order(rows: list[Row]) -> list[Row]:
    """Sort rows by their column ``order``."""
    return sorted(rows, key=lambda row: number(row, "order") or 99)


def unrecorded_hold(line: Row, dig: Row, *, located: bool, checked: bool) -> str:
    """Return the code of why a dig without a row in ``holds`` is held all the same, or ``""``.

    Parameters
    ----------
    line, dig : dict
        Rows of the ``lines`` table and of the dig zone; empty if there is none.
    located : bool
        Whether the line has a located mark.
    checked : bool
        Whether the clearance step ran.
    """
    if not checked or not dig:
        return "not_checked"
    if not located:
        return "not_located"
    statuses = {text(dig, "dig_status"), text(line, "dig_status")} - {""}
    return "" if statuses == {"no_hold_recorded"} else "no_reason"


def holds_of_dig(
    line: Row, dig: Row, rows: list[Row], wording: Wording, *, located: bool, checked: bool
) -> tuple[Hold, ...]:
    """Return the holds of a dig: those recorded, or why it is held without a record.

    Parameters
    ----------
    line, dig : dict
        Rows of the ``lines`` table and of the dig zone; empty if there is none.
    rows : list of dict
        Rows of ``holds`` of the line.
    wording : Wording
    located : bool
        Whether the line has a located mark.
    checked : bool
        Whether the clearance step ran.
    """
    stated = recorded_holds(rows, wording) if dig else []
    if stated:
        return tuple(stated)
    code = unrecorded_hold(line, dig, located=located, checked=checked)
    why = wording.term(code, "dig_text")
    return (Hold(why, why),) if code else ()
