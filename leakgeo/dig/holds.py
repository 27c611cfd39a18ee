"""Holds: what must be cleared before each dig.

No dig is ever cleared here. Every test reads "hold unless it is known that": data that is missing,
blank or not understood puts a hold on the dig.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.dig.tickets import is_after_dig, is_expired, notice_is_short
from leakgeo.job.placed import TAPED
from leakgeo.reason import Reason, columns_of

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from leakgeo.dig.rules import Rule
    from leakgeo.dig.tickets import TicketRule

    # Mask of the rows that get the hold, its code, and its values.
    Tests = list[tuple[ArrayLike, str, dict[str, object]]]

ANSWERS = ("marked", "clear", "not_present")
# The owner's representative is at the dig: a response to an emergency ticket, and to no other.
ON_SITE = "on_site"
MARK_FIELDS = ("chainage_m", "along_sd_m", "along_95_m", "across_95_m", "probability_within_1ft",
               "limited_by")  # fmt: skip
# Utilities that can kill are listed first.
_HAZARDS = ("electric", "gas", "oil", "steam", "gas_oil_steam")
COLUMNS = ("line_id", "mark_rank", "order", "utility_id", "code", "values")


def holds_table(
    digs: pd.DataFrame, pairs: pd.DataFrame, layer: Reason | None, rule: Rule, ticket: TicketRule
) -> pd.DataFrame:
    """Return all holds of each dig, the worst first.

    Parameters
    ----------
    digs : pandas.DataFrame
        One row per mark: the mark's columns, ``drawn`` (the hole has a polygon), ``located``,
        ``trace`` of the line, ``cut_short``, depth_m, pressure_kpa, air_on, isolated.
    pairs : pandas.DataFrame
        As `leakgeo.dig.conflicts.find_conflicts` returns them.
    layer : Reason or None
        Fault of the utilities layer as a whole; it applies to every dig.
    rule : Rule
    ticket : TicketRule

    Returns
    -------
    pandas.DataFrame
        Columns `COLUMNS`, and ``zone``, the row of the dig. Holds of utilities come first, lethal
        and nearest ones at the top; holds of the dig as a whole follow.
    """
    of_digs = _failed(_dig_tests(digs, pairs, layer, ticket))
    of_pairs = _failed([
        *_place_tests(pairs, rule), *_answer_tests(pairs), *_record_tests(pairs),
        *_ticket_tests(pairs, ticket),
    ])  # fmt: skip
    near = of_pairs["row"].to_numpy(dtype=int)
    names = utility_names(pairs)
    rows = pd.DataFrame({
        "zone": [*pairs["zone"].to_numpy()[near], *of_digs["row"]],
        "not_lethal": [*~pairs["kind"].isin(_HAZARDS).to_numpy()[near], *[True] * len(of_digs)],
        "margin": [*pairs["margin_m"].fillna(-np.inf).to_numpy()[near], *[np.inf] * len(of_digs)],
        "utility": [*near, *[len(pairs)] * len(of_digs)],
        "utility_id": pd.Series([*pairs["utility_id"].to_numpy()[near], *[None] * len(of_digs)],
                                dtype=object),
        "reason": [
            *(Reason(code, utility=names[at], **more)
              for at, code, more in of_pairs.itertuples(index=False)),
            *(Reason(code, **more) for code, more in of_digs[["code", "more"]].to_numpy()),
        ],
    })  # fmt: skip
    rows = rows.sort_values(
        ["zone", "not_lethal", "margin", "utility"], kind="stable", ignore_index=True
    )
    dig = rows["zone"].to_numpy(dtype=int)
    rows = rows.assign(
        line_id=digs["line_id"].to_numpy(dtype=object)[dig],
        mark_rank=digs["mark_rank"].to_numpy()[dig],
        order=rows.groupby("zone").cumcount() + 1,
        **columns_of("message", rows["reason"]),
    )
    return rows[[*COLUMNS, "zone"]]


def _failed(tests: Tests) -> pd.DataFrame:
    """Return one row per failed test: ``row``, ``code``, ``more`` (its values)."""
    found = [
        (at, code, more)
        for mask, code, more in tests
        for at in np.flatnonzero(np.asarray(mask, dtype=bool))
    ]
    return pd.DataFrame(found, columns=["row", "code", "more"])


def utility_names(pairs: pd.DataFrame) -> list[Reason]:
    """Name each utility for people, also where its identifier or owner is missing.

    Parameters
    ----------
    pairs : pandas.DataFrame
        Columns utility_id, kind, owner (null where not known) and utility (row in its layer).
    """
    columns = (pairs[c] for c in ("kind", "utility_id", "owner", "utility"))
    return [
        Reason(
            "utility_name",
            kind=kind or "utility",
            utility=which or Reason("utility_in_row", row=row + 1),
            owner=owner or Reason("owner_not_known"),
        )
        for kind, which, owner, row in zip(*columns, strict=True)
    ]


def _record_tests(pairs: pd.DataFrame) -> Tests:
    """Tests of the utility's record."""
    return [
        (pairs["reason"].notna(), "record_rejected", {}),
        (pairs["utility_id"].isna(), "no_utility_id", {}),
        (pairs["kind"].isna() | (pairs["kind"] == "unknown"), "kind_not_known", {}),
        (pairs["owner"].isna(), "owner_missing", {}),
        (pairs["width_unknown"], "width_not_known", {}),
        (pairs["repaired"], "shape_was_invalid", {}),
        (pairs["level"] == "", "quality_level_not_known", {}),
        (pairs["level"].isin(["", "D"]), "position_not_known", {}),
    ]


def _answer_tests(pairs: pd.DataFrame) -> Tests:
    """Tests of the owner's notification and response."""
    answer = pairs["response"].fillna("none")
    emergency, present, silent = pairs["emergency"], answer == ON_SITE, answer == "none"
    answered, marked = answer.isin(ANSWERS) | (emergency & present), answer == "marked"
    found = pairs["level"].isin(["A", "B"])
    unmarked = ~(marked & found)
    return [
        (~pairs["notified"], "owner_not_notified", {}),
        (silent & ~emergency, "no_answer", {}),
        (silent & emergency, "emergency_no_answer", {}),
        (present & ~emergency, "on_site_without_answer", {}),
        (~answered & ~silent & ~present, "answer_not_understood", {}),
        (answered & pairs["response_time"].isna(), "answer_time_not_known", {}),
        (marked & (pairs["mark_missed"] | ~(found | pairs["mark_seen"])), "mark_not_seen", {}),
        ((pairs["private"] == "yes") & unmarked, "private_not_marked", {}),
        (~pairs["private"].isin(["no", "yes"]) & unmarked, "private_not_known", {}),
    ]


def _ticket_tests(pairs: pd.DataFrame, ticket: TicketRule) -> Tests:
    """Tests of the locate ticket; an answer before the notice belongs to another ticket."""
    notified, answered, known = (
        pairs["notified_time"],
        pairs["response_time"],
        pairs["notified"],
    )
    # What notice an emergency needs is left to local law; its age and its dates are checked.
    short = notice_is_short(notified, ticket) & ~pairs["emergency"]
    return [
        (known & pairs["ticket"].isna() & (pairs["private"] != "yes"), "no_ticket_number", {}),
        (known & notified.isna(), "notice_time_not_known", {}),
        (answered < notified, "answer_before_notice", {}),
        (short, "notice_short", {"days": ticket.notice_days}),
        (is_expired(notified, ticket) | is_expired(answered, ticket), "ticket_expired",
         {"days": ticket.validity_days}),
        (is_after_dig(answered, ticket) | is_after_dig(notified, ticket), "dated_after_dig", {}),
    ]  # fmt: skip


def _place_tests(pairs: pd.DataFrame, rule: Rule) -> Tests:
    """Tests of the position: inside a zone, hand digging or vacuum only."""
    inside = pairs["margin_m"] <= 0
    answered = pairs["response"].fillna("none") != "none"
    marked = pairs["response"] == "marked"
    caught = pairs["in_caution_zone"] & rule.expose_in_caution
    return [
        (inside & marked, "inside_tolerance_zone", {}),
        (inside & ~marked & answered, "inside_tolerance_zone_by_records", {"answered": True}),
        (inside & ~marked & ~answered, "inside_tolerance_zone_by_records", {"answered": False}),
        (caught, "inside_caution_zone", {}),
    ]


def _dig_tests(
    digs: pd.DataFrame, pairs: pd.DataFrame, layer: Reason | None, ticket: TicketRule
) -> Tests:
    """Tests of the dig as a whole."""
    n, drawn, unplaced = len(digs), digs["drawn"], digs["trace"] == TAPED
    near = np.bincount(pairs["zone"], minlength=n)
    tests: Tests = [
        (~digs["located"], "not_located", {}),
        (unplaced, "line_not_placed", {}),
        (digs["located"] & ~drawn & ~unplaced, "hole_not_drawn", {}),
        (digs["cut_short"], "error_longer_than_hole", {}),
        (digs["depth_m"].isna(), "cover_not_known", {}),
        (drawn & (near == 0) & (layer is None), "no_utility_on_record", {}),
        *_missing_rule_tests(pairs, ticket, near),
        *_line_tests(digs),
    ]
    if layer is not None:
        tests.append((np.full(n, True), layer.code, dict(layer.values)))
    for field in MARK_FIELDS:
        missing = digs[field].isna() if field in digs else np.full(n, True)
        tests.append((missing, "mark_lacks", {"column": field}))
    return tests


def _missing_rule_tests(pairs: pd.DataFrame, ticket: TicketRule, near: NDArray[np.int64]) -> Tests:
    """Tests of what the ticket checks lack; emergency tickets alone need no notice period."""
    emergencies = np.bincount(pairs["zone"], weights=pairs["emergency"], minlength=len(near))
    only = (near > 0) & (emergencies == near)
    return [
        (which & bool(lacks), "ticket_not_checked", {"lacks": lacks})
        for which, lacks in ((~only, ticket.missing), (only, ticket.missing_in_emergency))
    ]


def _line_tests(digs: pd.DataFrame) -> Tests:
    """Tests of pressure and air in the line, unless someone has seen it shut off and vented."""
    live, pressure = ~digs["isolated"], digs["pressure_kpa"]
    return [
        (live & (pressure > 0), "line_under_pressure", {}),
        (live & ~(pressure >= 0), "pressure_not_known", {}),
        (live & digs["air_on"], "air_in_line", {}),
    ]
