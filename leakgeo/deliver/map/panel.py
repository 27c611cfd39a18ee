"""Texts of the map's panel alone: survey, fittings, meter, air tests, improvements."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.deliver.views.rows import flag, number, text
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from leakgeo.deliver.views.line_view import LineView
    from leakgeo.wording import Wording

Row = dict[str, object]
_ELSEWHERE = ("likelier_on_other_line", "also_possible")


def extra_message(view: LineView) -> str:
    """Return the message of a line without a mark, or where else a marked leak may be.

    Other texts print the rest of a mark's message.
    """
    if view.mark is None:
        return view.message
    reason = Reason.parse(text(view.row, "code"), text(view.row, "values"))
    where = [each for each in (reason, *reason.then) if each.code in _ELSEWHERE]
    return " ".join(view.wording.text(Reason(each.code, **dict(each.values))) for each in where)


def line_links(view: LineView, message: str) -> list[tuple[int, int, str]]:
    """Return the names of other lines in a message, each as (begin, end, ``line_id``)."""
    found = []
    reason = Reason.parse(text(view.row, "code"), text(view.row, "values"))
    for each in (reason, *reason.then):
        for place in dict(each.values).get("places", ()):
            name = dict(place.values).get("line")
            piece = view.wording.text(place)
            if isinstance(name, str) and piece in message and name in piece:
                begin = message.index(piece) + piece.index(name)
                found.append((begin, begin + len(name), name))
    return sorted(found)


def stretch(row: Row, words: Wording) -> tuple[str, str, str, str]:
    """Return order, span, probability and reason of a stretch of the first survey.

    Examples
    --------
    >>> from leakgeo.wording import wording
    >>> stretch({"order": 1, "from_chainage_m": 2.0, "to_chainage_m": 4.5, "probability": 0.55,
    ...          "message": "Beside the loudest."}, wording())
    ('1', '2.00 m to 4.50 m', '55 %', 'Beside the loudest.')
    """
    ends = {end: number(row, f"{end[:-2]}_chainage_m") for end in ("from_m", "to_m")}
    share = number(row, "probability")
    return (
        _count(row, "order"),
        words.text(Reason("shown_span", **ends)),
        "" if share is None else words.quantities.percent(share),
        text(row, "message"),
    )


def _count(row: Row, name: str) -> str:
    value = number(row, name)
    return "" if value is None else f"{value:.0f}"


def fitting(row: Row, words: Wording) -> tuple[str, str, str]:
    """Return rank by loudness, name and level of a fitting.

    Examples
    --------
    >>> from leakgeo.wording import wording
    >>> fitting({"rank": 3, "contact_id": "C1", "kind": "hose_bib", "level_db": 31.0}, wording())
    ('3', 'hose bib C1', '31.0 dB')
    >>> fitting({"contact_id": "C1", "kind": "meter", "used": False, "reason": "Too far off."},
    ...         wording())
    ('', 'meter C1', 'not used: Too far off.')
    """
    level = number(row, "level_db")
    loudness = words.term("shown_no_level") if level is None else words.number(f"{level:.1f} dB")
    if "used" in row and not flag(row, "used"):
        why = text(row, "reason") or words.term("report_no_reason")
        loudness = words.text(Reason("shown_not_used", why=why))
    kind = words.term(text(row, "kind"), "fitting") if text(row, "kind") else ""
    return _count(row, "rank"), f"{kind} {text(row, 'contact_id')}".strip(), loudness


def air_test(row: Row, words: Wording) -> tuple[str, str, str]:
    """Return place, verdict and message of an air test."""
    role, verdict = text(row, "role"), text(row, "verdict")
    where = f"{words.term(role, 'shown_air')}, {words.quantities.length(number(row, 'chainage_m'))}"
    return where, words.term(verdict, "shown_air"), text(row, "message")


def meter_tests(view: LineView) -> list[str]:
    """Return the message of each meter test of the line."""
    return [text(row, "message") for row in view.rows("meter_results")]


def meter_brief(view: LineView) -> str:
    """Return the loss of the line as a short text if a meter shows one, else ``""``."""
    for row in view.rows("meter_results"):
        if text(row, "verdict") == "loss_shown":
            return view.wording.text(Reason("shown_loses", loss=number(row, "loss_l_per_day")))
    return ""


def improvement_reason(view: LineView) -> str:
    """Return why the line needs improvement; ``""`` if it does not."""
    return next((text(row, "why") for row in view.rows("improvements")), "")
