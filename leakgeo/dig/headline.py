"""What a crew reads first of a dig: what is in the way, and the one thing to do next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.reason import Reason, columns_of, reasons_in

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy as np
    import pandas as pd
    from numpy.typing import NDArray

# What stands in the headline of a utility, the first that applies; each has a message `card_CODE`.
CAUSES = (
    "owner_not_notified", "no_answer", "emergency_no_answer", "on_site_without_answer",
    "answer_not_understood", "mark_not_seen",
    "private_not_marked", "private_not_known", "ticket_expired", "notice_short",
    "answer_before_notice", "dated_after_dig", "record_rejected",
)  # fmt: skip
# Paperwork of a ticket: it holds the dig, and stands in no headline.
FORMAL = (
    "no_ticket_number", "notice_time_not_known", "answer_time_not_known", "ticket_not_checked",
    "no_utility_id", "owner_missing", "width_not_known", "quality_level_not_known",
)  # fmt: skip
# Holds of every dig of a job alike, which people read once.
JOB_WIDE = ("ticket_not_checked",)
# What to do about each cause, in the order in which it is done: the first that applies is next.
_ACTIONS = {
    "not_located": "listen_on", "hole_not_drawn": "listen_on",
    "error_longer_than_hole": "listen_on",
    "owner_not_notified": "notify_owner",
    "no_utilities_layer": "ask_owners", "no_utilities_rows": "ask_owners",
    "no_utility_on_record": "ask_owners",
    "no_answer": "get_answer", "emergency_no_answer": "get_answer",
    "on_site_without_answer": "get_answer", "answer_not_understood": "get_answer",
    "answer_before_notice": "get_answer", "dated_after_dig": "get_answer",
    "line_not_placed": "place_line",
    "ticket_expired": "renew_ticket", "notice_short": "wait_for_notice",
    "private_not_marked": "private_locator", "private_not_known": "private_locator",
    "mark_not_seen": "find_mark", "position_not_known": "have_located",
    "record_rejected": "correct_record", "kind_not_known": "correct_record",
    "shape_was_invalid": "correct_record", "no_utility_id": "correct_record",
    "owner_missing": "correct_record", "width_not_known": "correct_record",
    "quality_level_not_known": "correct_record", "utilities_without_position": "correct_records",
    "ticket_not_checked": "check_ticket", "no_ticket_number": "check_ticket",
    "notice_time_not_known": "check_ticket", "answer_time_not_known": "check_ticket",
    "cover_not_known": "probe_depth",
    "line_under_pressure": "shut_line", "pressure_not_known": "shut_line",
    "air_in_line": "vent_line",
    "inside_tolerance_zone": "expose", "inside_tolerance_zone_by_records": "expose",
    "inside_caution_zone": "expose",
}  # fmt: skip
_ORDER = {code: k for k, code in enumerate(dict.fromkeys(_ACTIONS.values()))}
# So many utilities are named; the others are counted.
_NAMED = 2


def headlines(
    table: pd.DataFrame,
    holds: pd.DataFrame,
    clearance_m: Mapping[tuple[object, str], float],
    key: str = "line_id",
) -> dict[str, NDArray[np.object_]]:
    """Sum up what holds each dig, or the digs of each line, and what to do next.

    Parameters
    ----------
    table : pandas.DataFrame
        A line or a dig a row: `key`, ``dig_status``, and ``advice_code`` and ``advice_values``
        where `advise` has run.
    holds : pandas.DataFrame
        As `leakgeo.dig.holds.holds_table` gives, in its order.
    clearance_m : mapping of (value of key, utility_id) to float
        Metres from the hole to the utility's edge; 0 where they overlap.
    key : {"line_id", "zone"}
        Column of `table` and `holds` that they are joined by; default ``line_id``.

    Returns
    -------
    dict of str to ndarray of str
        Codes and values of the columns ``held_by`` and ``next_action``, one a row. ``held_by`` is
        null where there is no hole to hold.
    """
    own = _by_name(holds, key)
    held, after = [], []
    for name, advice in zip(table[key], _advice(table), strict=True):
        reasons = own.get(name, [])
        located = bool(reasons) and all(code != "not_located" for code, _ in reasons)
        held.append(_held_by(name, [r for _, r in reasons], clearance_m) if located else None)
        after.append(_next_action([r for _, r in reasons]) if located else advice)
    ready = table["dig_status"].eq("no_hold_recorded").to_numpy()
    after = [Reason("no_hold_on_record") if r else a for r, a in zip(ready, after, strict=True)]
    return {**columns_of("held_by", held), **columns_of("next_action", after)}


def _advice(table: pd.DataFrame) -> list[Reason | None]:
    if "advice_code" not in table:
        return [None] * len(table)
    return reasons_in(table, "advice")


def _by_name(holds: pd.DataFrame, key: str) -> dict[object, list[tuple[str, Reason]]]:
    """Return the codes and messages of the holds of each dig or line."""
    named = holds[holds[key].notna()]
    own: dict[object, list[tuple[str, Reason]]] = {}
    for name, code, reason in zip(
        named[key].tolist(), named["code"], reasons_in(named, "message"), strict=True
    ):
        assert reason is not None  # a hold has one
        own.setdefault(name, []).append((code, reason))
    return own


def _held_by(
    dig: object,
    holds: list[Reason],
    clearance_m: Mapping[tuple[object, str], float],
) -> Reason | None:
    """Name the utilities in the way, those that can kill first, and what else is wrong."""
    by_utility: dict[object, list[Reason]] = {}
    for reason in holds:
        by_utility.setdefault(dict(reason.values).get("utility"), []).append(reason)
    whole = by_utility.pop(None, [])
    named = [
        item
        for name, reasons in by_utility.items()
        if isinstance(name, Reason)
        and (item := _in_the_way(name, reasons, _clearance(dig, name, clearance_m)))
    ]
    if not holds:
        return None
    more = len(named) - len(named[:_NAMED])
    causes = [
        *named[:_NAMED],
        *([Reason("more_utilities", utilities=more)] if more else []),
        *dict.fromkeys(Reason(f"card_{r.code}") for r in whole if r.code not in FORMAL),
    ]
    return Reason("held_by", what=causes) if causes else Reason("held_by_paperwork")


def _clearance(
    dig: object, name: Reason, clearance_m: Mapping[tuple[object, str], float]
) -> float | None:
    utility = dict(name.values).get("utility")
    return clearance_m.get((dig, utility)) if isinstance(utility, str) else None


def _in_the_way(name: Reason, reasons: list[Reason], clearance_m: float | None) -> Reason | None:
    codes = {reason.code for reason in reasons}
    cause = next((code for code in CAUSES if code in codes), None)
    if clearance_m is not None and clearance_m <= 0.0:
        where = "in_the_hole"
    elif codes & {"inside_tolerance_zone", "inside_tolerance_zone_by_records"}:
        where = "at_the_hole"
    elif "position_not_known" in codes:
        where = "position_unknown"
    else:
        where = "near_the_hole"
    if cause is None and where == "near_the_hole":
        return None
    kind = dict(name.values)["kind"]
    why = None if cause is None else Reason(f"card_{cause}")
    if why is None:
        return Reason("in_the_way", kind=kind, where=Reason(where))
    return Reason("in_the_way_and", kind=kind, where=Reason(where), why=why)


def _next_action(holds: list[Reason]) -> Reason:
    """Say what to do first about what holds a dig."""
    known = [reason for reason in holds if reason.code in _ACTIONS]
    if not known:
        return Reason("do_correct_mark")
    first = min(known, key=lambda reason: _ORDER[_ACTIONS[reason.code]])
    name, action = dict(first.values).get("utility"), _ACTIONS[first.code]
    if not isinstance(name, Reason):
        return Reason(f"do_{action}")
    values = dict(name.values)
    return Reason(f"do_for_{action}", kind=values["kind"], utility=values["utility"])
