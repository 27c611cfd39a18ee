"""What else may be true of a line than a leak on it, as one text."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from leakgeo.deliver.views.rows import number, text
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterator

    from leakgeo.deliver.views.line_view import LineView

Row = dict[str, object]
#: An explanation that is less probable is left out.
LEAST_PROBABILITY = 0.05
# Codes in the message of a line that say an explanation, by its kind.
_SAID_BY = {
    "nearby_line": ("also_on_other_line",),
    "beyond_start": ("leak_beyond", "also_beyond"),
    "beyond_end": ("leak_beyond", "also_beyond"),
    "fitting": ("fitting_sounds", "also_fitting"),
    "unknown": ("sounds_elsewhere",),
}


def what_else(view: LineView) -> str:
    """Return what else may be true of a line, with probabilities; ``""`` for a located line.

    The probability of a leak on the line stands beside it, and what the message of the line says is
    left out.

    Parameters
    ----------
    view : LineView
    """
    if view.located:
        return ""
    said = list(_every(Reason.parse(text(view.row, "code"), text(view.row, "values"))))
    rows = sorted(view.rows("explanations"), key=lambda row: -(number(row, "probability") or 0.0))
    also = [
        _explained(row, view)
        for row in rows
        if (number(row, "probability") or 0.0) >= LEAST_PROBABILITY
        and text(row, "kind") != "leak"
        and not _is_said(row, said)
    ]
    return view.wording.text(Reason("what_else", each=also)) if also else ""


def _every(reason: Reason) -> Iterator[Reason]:
    """Yield a reason and all reasons in it."""
    yield reason
    for value in (*reason.then, *(value for _, value in reason.values)):
        for each in value if isinstance(value, tuple) else (value,):
            if isinstance(each, Reason):
                yield from _every(each)


def _is_said(row: Row, said: list[Reason]) -> bool:
    kind, probability = text(row, "kind"), row["probability"]
    return any(
        each.code in _SAID_BY.get(kind, ())
        # Another source may sound beside a leak, so its probability in the message is higher.
        and (kind == "unknown" or dict(each.values).get("probability") == probability)
        for each in said
    )


def _explained(row: Row, view: LineView) -> Reason:
    values: dict[str, Any] = {"probability": number(row, "probability")}
    kind, line = text(row, "kind"), text(row, "other_line_id")
    if kind == "nearby_line":
        return Reason("may_be_nearby_line", line=line, at_m=number(row, "chainage_m"), **values)
    if kind == "fitting":
        return Reason("also_fitting", place=_fitting(text(row, "contact_id"), view), **values)
    return Reason("may_be", kind=kind, **values)


def _fitting(contact_id: str, view: LineView) -> Reason | str:
    """Return the name of a fitting with its kind, if that is known."""
    for row in view.rows("contact_ranking"):
        if text(row, "contact_id") == contact_id:
            return Reason("fitting", kind=text(row, "kind"), contact=contact_id)
    return contact_id
