"""A line in short, for one who stands at the pipe: the hold, the place, the next stop."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.deliver.views.card import card
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from typing import Any

    from leakgeo.wording import Wording


def line_in_short(row: Mapping[Any, object], words: Wording) -> str:
    """Return what is thought of a line, where to listen next, and when to stop, in one line.

    What holds a dig comes first. Of the message and of a list of stops only the first is taken; the
    map has the rest. An action other than listening is told in full, with its cautions.

    Parameters
    ----------
    row : mapping
        Row of ``lines`` with texts, codes and values.
    words : Wording

    Examples
    --------
    >>> from leakgeo.reason import columns_of
    >>> from leakgeo.wording import wording
    >>> stops = Reason("stops_at", places=[Reason("start_of_route"), Reason("end_of_route")])
    >>> until = Reason("until_short", wanted_m=0.6)
    >>> advice = Reason("listen_on", until, stops, stops=2, less=0.2, after_m=1.0)
    >>> row = {"status": "keep_listening", "advice_code": advice.code,
    ...        "advice_values": advice.to_json(), "code": "not_shown", "values": "{}"}
    >>> line_in_short(row, wording("us"))  # doctest: +NORMALIZE_WHITESPACE
    'Keep listening. These readings do not show whether there is a leak. Next stop: the start of
    the route; 1 more after it. Stop when the search zone is no longer than 2 ft.'
    """
    shown, message = card(row, words), _reason(row, "")
    place = shown.place if message is None else words.text(_alone(message))
    where = ". ".join(part for part in (shown.state, place) if part)
    parts = [f"{shown.held}." if shown.held else "", where, *_next(row, shown.next, words)]
    return " ".join(part for part in parts if part)


def _next(row: Mapping[Any, object], after: str, words: Wording) -> Iterator[str]:
    """Iterate over the next stop, and when to stop; else over the advice, and the next action."""
    advice, marked = _reason(row, "advice_"), row.get("status") == "located"
    follow = {} if advice is None else {each.code: each for each in advice.then}
    stops = _first_stop(follow.get("stops_at"))
    if stops is not None:
        yield words.text(stops)
        yield words.text(follow["until_short"]) if "until_short" in follow else ""
    elif marked and advice is not None:
        yield words.text(_alone(advice))
    # The next action of a mark is about the dig.
    if marked or stops is None:
        yield after


def _first_stop(stops: Reason | None) -> Reason | None:
    """Return the first of the stops that an advice lists, with the number of the others."""
    places = () if stops is None else dict(stops.values)["places"]
    if not places:
        return None
    beyond = sum(
        dict(each.values)["stops"] if each.code == "and_more_stops" else 1 for each in places[1:]
    )
    if not beyond:
        return Reason("next_stop", place=places[0])
    return Reason("next_stop_of_some", place=places[0], more=beyond)


def _alone(reason: Reason) -> Reason:
    return Reason(reason.code, **dict(reason.values))


def _reason(row: Mapping[Any, object], of: str) -> Reason | None:
    code, values = row.get(f"{of}code"), row.get(f"{of}values")
    if not isinstance(code, str):
        return None
    return Reason.parse(code, values if isinstance(values, str) else None)
