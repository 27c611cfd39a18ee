"""What can be done next on a line, as the rows of a short table."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.deliver.views.rows import number, text
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from leakgeo.deliver.views.line_view import LineView

Row = dict[str, object]
#: Actions in the table, the best first; the layer has all.
MOST_ACTIONS = 4
#: Column titles, by their codes.
HEADS = ("number", "what", "minutes", "less_doubt")
# Values of a message that name the place of its action.
_PLACES = ("fitting", "end", "place")
# Valves first: the fitting of a closed valve is where its effect is read.
_IDS = ("valve_id", "contact_id")
# Messages with what to observe where a valve is operated or air goes in.
_CAUTIONS = ("valve_cautions", "before_air")
# The building is at an end of the route, whose chainage says nothing more.
_NO_PLACE = ("look_inside",)


def next_actions(view: LineView) -> list[tuple[str, str, str, str]]:
    """Return order, action with its place, minutes, and expected gain of the best actions.

    Empty for a line with a mark, where the dig comes next, and for a line with one action, which
    the advice says in full.

    Parameters
    ----------
    view : LineView
    """
    rows = sorted(view.rows("next_actions"), key=lambda row: number(row, "order") or 99)
    if view.located or len(rows) < 2:
        return []
    return [
        (str(order), _what(row, view), _minutes(row), _less_doubt(row, view))
        for order, row in enumerate(rows[:MOST_ACTIONS], start=1)
    ]


def action_cautions(view: LineView) -> list[str]:
    """Return what to observe in the actions of the table, and of the advice, without repeating.

    Parameters
    ----------
    view : LineView
    """
    if not next_actions(view):
        return []
    ordered = sorted(view.rows("next_actions"), key=lambda row: number(row, "order") or 99)[
        :MOST_ACTIONS
    ]
    said = [
        view.wording.text(part)
        for row in ordered
        for part in Reason.parse(text(row, "code"), text(row, "values")).then
        if part.code in _CAUTIONS
    ]
    advice = text(view.row, "advice")
    return [one for one in dict.fromkeys(said) if one not in advice]


def _what(row: Row, view: LineView) -> str:
    action, place = text(row, "action"), _place(row)
    if place is None or action in _NO_PLACE:
        return view.wording.term(action, "step")
    return view.wording.text(Reason("step_with_place", action=action, place=place))


def _place(row: Row) -> Reason | str | None:
    """Return the fitting or the end that an action is at, else its chainage; None without one."""
    values = dict(Reason.parse(text(row, "code"), text(row, "values")).values)
    named = next((values[name] for name in _PLACES if name in values), None)
    # The advice tapes a place between fittings; the table is short.
    if isinstance(named, Reason) and named.code != "taped_place":
        return named
    if found := next((text(row, name) for name in _IDS if text(row, name)), ""):
        return found.replace(",", ", ")
    at = number(row, "chainage_m")
    return None if at is None else Reason("at_chainage", chainage_m=at)


def _minutes(row: Row) -> str:
    minutes = number(row, "minutes")
    return "" if minutes is None else f"{max(minutes, 1.0):.0f}"


def _less_doubt(row: Row, view: LineView) -> str:
    basis, bits = text(row, "basis"), number(row, "expected_gain_bits")
    if bits is None:
        return view.wording.text(Reason("doubt_not_computed", basis=basis))
    return view.wording.text(Reason("doubt_less", basis=basis, share=less_doubt(bits)))


def less_doubt(bits: float) -> float:
    """Return the share by which an information gain makes what is open less.

    Examples
    --------
    >>> less_doubt(0.0), less_doubt(1.0), less_doubt(2.0)
    (0.0, 0.5, 0.75)
    """
    return float(1.0 - 2.0**-bits)
