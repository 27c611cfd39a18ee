"""Lists of fittings with the taped lengths between them, and what is wrong with them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.job.checks.shapes import MAX_ROUTE_M
from leakgeo.job.checks.tape_text import is_plain_number, tape_m
from leakgeo.job.columns import match_columns, parse_column
from leakgeo.job.schema import load_schema
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from leakgeo.arrays import Bools, Floats, Ints, Objects
    from leakgeo.job.checks.collector import IssueCollector
    from leakgeo.job.schema import LayerSchema
    from leakgeo.job.sources import RawLayer

#: Layers whose rows need no geometry on a line with a taped list.
PLACED_BY_TAPE = ("routes", "contacts")
TAPE, UNIT, ORDER = "tape_from_previous", "tape_unit", "seq"


@dataclass(frozen=True)
class TapedList:
    """The fittings of one line in order.

    Parameters
    ----------
    rows : ndarray of int, shape (n,)
        Rows of the fittings in ``contacts``.
    at_m : ndarray of float, shape (n,)
        Taped chainage of each fitting from the first, in metres on the ground.
    """

    rows: Ints
    at_m: Floats

    @property
    def length_m(self) -> float:
        """Taped length of the line."""
        return float(self.at_m[-1])


def lines_with_lists(raw: RawLayer | None) -> frozenset[str]:
    """Return the names of the lines whose fittings have taped lengths between them.

    Parameters
    ----------
    raw : RawLayer or None
        ``contacts`` as read; None if there are none.
    """
    if raw is None:
        return frozenset()
    matched = match_columns(
        [str(c) for c in raw.table], ("line_id", TAPE), longest=raw.longest_name
    )
    if len(matched) < 2:
        return frozenset()
    schema, table = load_schema("contacts"), raw.table.reset_index(drop=True)
    line, tape = (parse_column(table[was], schema.field(n)).column for n, was in matched.items())
    return frozenset(line[tape.notna() & line.notna()])


def needs_no_geometry(frame: pd.DataFrame, schema: LayerSchema, listed: frozenset[str]) -> Bools:
    """Return which routes, fittings and holes a list or a chainage may place, shape (n,).

    A reading with a tape that can't be read is rejected for that, and needs no other reason.
    """
    if schema.name == "readings":
        return np.asarray(frame[["line_id", "tape"]].notna().all(axis=1), dtype=bool)
    if schema.name not in PLACED_BY_TAPE:
        return np.zeros(len(frame), dtype=bool)
    return np.asarray(frame["line_id"].isin(listed), dtype=bool)


def taped_lists(contacts: pd.DataFrame, issues: IssueCollector) -> dict[str, TapedList]:
    """Return the list of each line that has one without a fault; report the others.

    Parameters
    ----------
    contacts : pandas.DataFrame
        Columns of ``contacts`` in their types.
    issues : IssueCollector
        Of ``contacts``. A list with a fault places nothing.

    Returns
    -------
    dict of str to TapedList
        By ``line_id``.
    """
    line, tape, seq = texts(contacts, "line_id"), texts(contacts, TAPE), floats(contacts, ORDER)
    rows_of = pd.Series(np.arange(len(line))).groupby(pd.Series(line, dtype=object)).indices
    metres = _lengths(tape, texts(contacts, UNIT), pd.notna(line), issues)
    found: dict[str, TapedList] = {}
    for name, rows in rows_of.items():
        own = np.asarray(rows, dtype=np.int64)
        written, numbered = pd.notna(tape[own]), np.isfinite(seq[own])
        if not written.any():
            continue
        # Without numbers a fitting that lacks its length can't be told from one outside the list.
        inside = own[numbered | written] if numbered.any() else own
        one = _list_of(inside, metres, tape, seq, issues)
        if one is not None:
            found[str(name)] = one
    return found


def _lengths(tape: Objects, unit: Objects, in_list: Bools, issues: IssueCollector) -> Floats:
    """Return the taped lengths in metres, NaN where one is missing or can't be read."""
    read = [None if text is None else tape_m(str(text), each)
            for text, each in zip(tape, unit, strict=True)]  # fmt: skip
    unread = np.array([m is None for m in read], dtype=bool) & pd.notna(tape) & in_list
    plain = unread & np.array([is_plain_number(text) for text in tape], dtype=bool)
    metres = np.array([np.nan if m is None else m for m in read])
    for wrong, code in ((plain, "tape_without_unit"), (unread & ~plain, "tape_not_a_length"),
                        (metres < 0.0, "list_tape_negative")):  # fmt: skip
        issues.report(wrong, Reason(code), column=TAPE, values=tape)
    return np.where(metres < 0.0, np.nan, metres)


def _list_of(
    rows: Ints, metres: Floats, tape: Objects, seq: Floats, issues: IssueCollector
) -> TapedList | None:
    """Return the list of some rows of one line in order; None with a report if it has a fault."""
    order = seq[rows]
    if np.isfinite(order).any():
        known, count = np.unique(order[np.isfinite(order)], return_counts=True)
        again = np.isin(order, known[count > 1])
        _report(issues, rows[~np.isfinite(order)], "list_order_missing", ORDER)
        _report(issues, rows[again], "list_order_repeated", ORDER)
        if again.any() or not np.isfinite(order).all():
            return None
        rows = rows[np.argsort(order, kind="stable")]
    if len(rows) < 2:
        _report(issues, rows, "list_of_one", TAPE)
        return None
    first, rest = rows[0], rows[1:]
    if tape[first] is not None and metres[first] != 0.0:
        _report(issues, rows[:1], "list_starts_with_length", TAPE)
        return None
    _report(issues, rest[pd.isna(tape[rest])], "list_tape_missing", TAPE)
    at = np.concatenate([[0.0], np.cumsum(metres[rest])])
    if not np.isfinite(at).all():
        return None
    if 0.0 < at[-1] <= MAX_ROUTE_M:
        return TapedList(rows, at)
    if at[-1] <= 0.0:
        _report(issues, rows, "list_without_length", TAPE)
    else:
        longest = rest[[int(np.argmax(metres[rest]))]]
        _report(issues, longest, "list_too_long", TAPE, length_m=float(at[-1]))
    return None


def _report(
    issues: IssueCollector, rows: Ints, code: str, column: str, **values: float
) -> None:  # fmt: skip
    wrong = np.zeros(len(issues.labels), dtype=bool)
    wrong[rows] = True
    issues.report(wrong, Reason(code, **values), column=column)
