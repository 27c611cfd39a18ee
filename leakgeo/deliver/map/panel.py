"""Texts of the map's panel alone: survey, fittings, meter, air tests, improvements."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.deliver.views.rows import flag, number, text
from leakgeo.reason import Reason
from leakgeo.wording.quantities import loss_text, percent, tape_text

if TYPE_CHECKING:
    from leakgeo.deliver.views.line_view import LineView

Row = dict[str, object]
_ELSEWHERE = ("likelier_on_other_line", "also_possible")
_ROLE = {"mark": "at the mark", "control": "at a control point", "place": "at a place"}
_VERDICT = {
    "confirmed": "the leak sounds here",
    "not_this": "it is not this leak that sounds here",
    "inconclusive": "not decided",
}


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


def stretch(row: Row, units: str) -> tuple[str, str, str, str]:
    """Return order, span, probability and reason of a stretch of the first survey.

    Examples
    --------
    >>> stretch({"order": 1, "from_chainage_m": 2.0, "to_chainage_m": 4.5, "probability": 0.55,
    ...          "message": "Beside the loudest."}, "si")
    ('1', '2.00 m to 4.50 m', '55 %', 'Beside the loudest.')
    """
    ends = [tape_text(number(row, name), units) for name in ("from_chainage_m", "to_chainage_m")]
    return (
        _count(row, "order"),
        " to ".join(ends),
        percent(number(row, "probability") or 0.0) if _known(row, "probability") else "",
        text(row, "message"),
    )


def _known(row: Row, name: str) -> bool:
    return number(row, name) is not None


def _count(row: Row, name: str) -> str:
    value = number(row, name)
    return "" if value is None else f"{value:.0f}"


def fitting(row: Row) -> tuple[str, str, str]:
    """Return rank by loudness, name and level of a fitting.

    Examples
    --------
    >>> fitting({"rank": 3, "contact_id": "C1", "kind": "hose_bib", "level_db": 31.0})
    ('3', 'hose bib C1', '31.0 dB')
    >>> fitting({"contact_id": "C1", "kind": "meter", "used": False, "reason": "Too far off."})
    ('', 'meter C1', 'not used: Too far off.')
    """
    level = number(row, "level_db")
    loudness = "no level" if level is None else f"{level:.1f} dB"
    if "used" in row and not flag(row, "used"):
        loudness = f"not used: {text(row, 'reason') or 'no reason recorded'}"
    kind = text(row, "kind").replace("_", " ")
    return _count(row, "rank"), f"{kind} {text(row, 'contact_id')}".strip(), loudness


def air_test(row: Row, units: str) -> tuple[str, str, str]:
    """Return place, verdict and message of an air test."""
    role, verdict = text(row, "role"), text(row, "verdict")
    where = f"{_ROLE.get(role, role)}, {tape_text(number(row, 'chainage_m'), units)}"
    return where, _VERDICT.get(verdict, verdict.replace("_", " ")), text(row, "message")


def meter_tests(view: LineView) -> list[str]:
    """Return the message of each meter test of the line."""
    return [text(row, "message") for row in view.rows("meter_results")]


def meter_brief(view: LineView, units: str) -> str:
    """Return the loss of the line as a short text if a meter shows one, else ``""``."""
    for row in view.rows("meter_results"):
        if text(row, "verdict") == "loss_shown":
            return f"Meter: loses {loss_text(number(row, 'loss_l_per_day'), units)}"
    return ""


def improvement_reason(view: LineView) -> str:
    """Return why the line needs improvement; ``""`` if it does not."""
    return next((text(row, "why") for row in view.rows("improvements")), "")
