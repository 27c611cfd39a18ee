"""What still holds a dig: sentences, from data that is there or missing.

A dig is never cleared here. Every test reads "hold unless it is known that": what is missing, blank
or not understood holds.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from leakgeo.dig.said import joined, say
from leakgeo.dig.tickets import is_after_dig, is_expired, notice_is_short
from leakgeo.dig.words import names_of

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import ArrayLike, NDArray

    from leakgeo.dig.rules import Rule
    from leakgeo.dig.said import Said
    from leakgeo.dig.tickets import TicketRule

    Tests = list[tuple[ArrayLike, str]]

ANSWERS = ("marked", "clear", "not_present")
MARK_FIELDS = ("chainage_m", "along_sd_m", "along_95_m", "across_95_m", "probability_within_1ft",
               "limited_by")  # fmt: skip
_NOBODY = ("no utility is on record near the hole, and no owner has answered for it: no record "
           "does not mean that nothing is there (put each owner's answer into "
           "utilities)")  # fmt: skip


def utility_holds(pairs: pd.DataFrame, rule: Rule, ticket: TicketRule) -> list[Said]:
    """Say what each utility near a dig still holds it for.

    Parameters
    ----------
    pairs : pandas.DataFrame
        As `leakgeo.dig.conflicts.find_conflicts` gives.
    rule : Rule
    ticket : TicketRule

    Returns
    -------
    list of (positions, texts)
        One text a utility, all its holds in it; positions are of the dig zones.
    """
    tests = [
        *_record_tests(pairs),
        *_answer_tests(pairs),
        *_ticket_tests(pairs, ticket),
        *_place_tests(pairs, rule),
    ]
    said = joined([say(test, text) for test, text in tests], len(pairs), ", ")
    held = (said != "").to_numpy()
    texts = [f"{n}: {text}" for n, text in zip(names_of(pairs)[held], said[held], strict=True)]
    return [(pairs["zone"].to_numpy()[held], texts)]


def _record_tests(pairs: pd.DataFrame) -> Tests:
    """What its record lacks."""
    return [
        (pairs["reason"].notna(), "its record was rejected and has to be corrected"),
        (pairs["utility_id"].isna(), "it has no utility_id"),
        (pairs["kind"].isna() | (pairs["kind"] == "unknown"), "its kind is not known"),
        (pairs["owner"].isna(), "its owner is not known"),
        (pairs["width_unknown"], "its width is not known"),
        (pairs["repaired"], "its shape was invalid and has to be corrected"),
        (pairs["level"] == "", "its quality level is not known"),
        (pairs["level"].isin(["", "D"]),
         "its position is not known (have it located or exposed)"),
    ]  # fmt: skip


def _answer_tests(pairs: pd.DataFrame) -> Tests:
    """What its owner has not done, or did not do well."""
    answer = pairs["response"].fillna("none")
    answered, marked = answer.isin(ANSWERS), answer == "marked"
    found = pairs["level"].isin(["A", "B"])
    return [
        (~pairs["notified"], "its owner was not notified"),
        (answer == "none", "its owner has not answered"),
        (~answered & (answer != "none"), "its owner's answer is not understood"),
        (answered & pairs["response_time"].isna(), "the time of the answer is not known"),
        (marked & (pairs["mark_missed"] | ~(found | pairs["mark_seen"])),
         ("it is said to be marked, but no mark inside the expected area is on record (look for "
         "it, or ask again)")),
        ((pairs["private"] == "yes") & ~(marked & found),
         ("it is private and no one-call centre marks it (have its owner or a private locator "
         "mark it)")),
        (~pairs["private"].isin(["no", "yes"]) & ~(marked & found),
         ("it is not known whether it is private, so that no one-call centre marks it (put no or "
         "yes into private)")),
    ]  # fmt: skip


def _ticket_tests(pairs: pd.DataFrame, ticket: TicketRule) -> Tests:
    """What its ticket lacks; times before the notice are answers to another ticket."""
    notified, answered, told = pairs["notified_time"], pairs["response_time"], pairs["notified"]
    return [
        (told & pairs["ticket"].isna() & (pairs["private"] != "yes"),
         "its ticket has no number on record"),
        (told & notified.isna(), "the time of its notice is not known"),
        (answered < notified, "its answer is older than its notice"),
        (notice_is_short(notified, ticket),
         f"its notice is short of {ticket.notice_days} full working days before the dig"),
        (is_expired(notified, ticket) | is_expired(answered, ticket),
         f"its ticket is older than its validity of {ticket.validity_days} days"),
        (is_after_dig(answered, ticket) | is_after_dig(notified, ticket),
         "its notice or answer is dated after the dig"),
    ]  # fmt: skip


def _place_tests(pairs: pd.DataFrame, rule: Rule) -> Tests:
    """Where it is: hand dig or vacuum only."""
    inside = pairs["margin_m"] <= 0
    caught = pairs["in_caution_zone"] & rule.expose_in_caution
    marked = pairs["response"] == "marked"
    return [
        (inside & marked,
         "the hole is inside its tolerance zone (hand dig or vacuum only, and expose it first)"),
        (inside & ~marked,
         "the hole is inside its tolerance zone by the records (ask its owner again)"),
        (caught, "the hole is inside its caution zone (hand dig or vacuum until it is exposed)"),
    ]  # fmt: skip


def dig_holds(
    digs: pd.DataFrame, neighbours: NDArray[np.int64], layer: str | None, ticket: TicketRule
) -> list[Said]:
    """Say what holds each dig apart from a single utility.

    Parameters
    ----------
    digs : pandas.DataFrame
        One row a mark: the mark's columns, ``drawn`` (the hole could be drawn), ``located``,
        ``cut_short``, depth_m, pressure_kpa, air_on, isolated.
    neighbours : (n,) numpy.ndarray
        Utilities that have a say in each dig.
    layer : str or None
        What is wrong with the utilities layer as a whole, which holds every dig.
    ticket : TicketRule

    Returns
    -------
    list of (positions, texts)
    """
    n, drawn = len(digs), digs["drawn"]
    tests: Tests = [
        (~digs["located"], ("the leak is not located on this line (narrow it first): what there is "
         "is a stretch to search, not a hole")),
        (digs["located"] & ~drawn, ("the mark's place or error is not known, so no hole could be "
         "drawn")),
        (digs["cut_short"], ("the mark's 95 % error is longer than the longest hole (narrow it "
         "first)")),
        (digs["depth_m"].isna(), "the cover over the pipe is not known (measure its depth_m)"),
        (np.full(n, layer is not None), layer or ""),
        (drawn & (neighbours == 0) & (layer is None), _NOBODY),
        (np.full(n, bool(ticket.lacks)),
         f"notice and validity of the tickets were not checked (give {ticket.lacks})"),
        *_line_tests(digs),
    ]  # fmt: skip
    for field in MARK_FIELDS:
        missing = digs[field].isna() if field in digs else np.full(n, True)
        tests.append((missing, f"the mark has no {field}"))
    return [say(test, text) for test, text in tests]


def _line_tests(digs: pd.DataFrame) -> Tests:
    """What is in the line itself, until someone has seen it shut off and vented."""
    live, pressure = ~digs["isolated"], digs["pressure_kpa"]
    return [
        (live & (pressure > 0), ("the line is under pressure (shut it off, or have the person in "
         "charge decide)")),
        (live & ~(pressure >= 0), ("the pressure in the line is not known (take it as under "
         "pressure)")),
        (live & digs["air_on"], "air was injected into the line (vent it, and see it at rest)"),
    ]  # fmt: skip
