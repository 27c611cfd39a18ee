"""Words of the advice that contradict one another, or its actions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.reason import reasons_in

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import pandas as pd

    from leakgeo.reason import Reason

# Codes that say that it is enough, that the walk should stop, and that nothing is left to do.
ENOUGH = ("short_enough", "enough_readings", "no_evidence_yet")
STOPS = ("until_short", "more_stops_unclear", "more_stops_no_shorter", "splits_stretch")
NOTHING = ("nothing_else", "not_this_pipe")
# Codes that say to stop, with what they must say it for.
STOP_FOR = {"until_short": "wanted_m", "short_enough": "wanted_m"}
# Statuses of lines on which it is enough to say so.
SETTLED = ("located", "no_leak_heard")


def contradictions(layers: Mapping[str, pd.DataFrame]) -> list[str]:
    """Give what contradicts, a sentence for each line and kind.

    Parameters
    ----------
    layers : mapping of str to DataFrame
        With ``lines`` and ``next_actions`` of a result.
    """
    lines, rows = layers["lines"], layers["next_actions"].sort_values(["line_id", "order"])
    first = rows.drop_duplicates("line_id").set_index("line_id")
    messages = dict(zip(rows["line_id"], reasons_in(rows, "message"), strict=True))
    named = dict(zip(first.index, reasons_in(first, "message"), strict=True))
    found = []
    told = zip(lines["line_id"], lines["status"], reasons_in(lines, "advice"), strict=True)
    for name, status, advice in told:
        said = {} if advice is None else {one.code: dict(one.values) for one in parts(advice)}
        action = str(first.loc[name, "action"]) if name in first.index else ""
        found += [f"{name} ({status}) {what}" for what in _of(said, action, str(status))]
        if action and name in named and named[name].code not in said:
            found.append(f"{name} ({status}) has {action} first, and the advice does not say so")
        if not action and name in messages:
            found.append(f"{name} ({status}) has actions, and none is the first")
    return found


def _of(said: Mapping[str, Mapping[str, object]], action: str, status: str) -> Iterator[str]:
    """Yield what contradicts in the advice on one line, with its first action or none."""
    for code in said:
        if action and code in (*ENOUGH, *NOTHING):
            yield f"has {action} to do, and is told {code}"
        if action == "walk_on" and code in STOPS:
            yield f"has to walk on, and is told {code}"
        if code in STOP_FOR and said[code].get(STOP_FOR[code]) is None:
            yield f"is told {code}, and not for what"
    if "nothing_else" in said and status in SETTLED:
        yield "is settled, and is told nothing_else"
    if not said and status not in (*SETTLED, "rejected"):
        yield "is open, and is told nothing"


def parts(reason: Reason) -> Iterator[Reason]:
    """Yield a reason and what goes on after it."""
    yield reason
    for after in reason.then:
        if after is not None:
            yield from parts(after)
