"""Checks across layers: rows must belong to a route that is there, and to a line asked for."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.arrays import texts
from leakgeo.faults import Fault
from leakgeo.job.model import NOT_ASKED

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.arrays import Ints
    from leakgeo.job.checks.layer import CheckedLayer


# Zeros in front of a number; what parts two numbers, and what parts anything else.
_ZEROS = re.compile(r"(?<!\d)0+(?=\d)")
_BETWEEN = re.compile(r"(?<=\d)[\W_]+(?=\d)")
_BESIDE = re.compile(r"(?<!\d)[\W_]+|[\W_]+(?!\d)")


def link_lines(checked: CheckedLayer, routes: CheckedLayer) -> CheckedLayer:
    """Reject rows whose line is not among the routes, or whose route is rejected."""
    if not checked.schema.refers_to_routes:
        return checked
    known = routes.table["line_id"].dropna()
    sound = routes.table.loc[routes.table["reason"].isna(), "line_id"]
    line = checked.table["line_id"]
    is_known, is_sound = line.isin(known), line.isin(sound)
    found = checked.findings()
    unknown = line.notna() & ~is_known
    found.tell(
        unknown.to_numpy(), "Unknown line: no route has line_id {value}.",
        "Correct line_id, or add the route.", column="line_id",
        values=_with_the_like(line.where(unknown), known),
    )  # fmt: skip
    found.tell(
        (is_known & ~is_sound).to_numpy(), "The route of its line, {value}, is rejected.",
        "Mend the route.", column="line_id", values=line,
    )  # fmt: skip
    return checked.with_findings(found)


def _with_the_like(line: pd.Series[Any], known: pd.Series[Any]) -> pd.Series[Any]:
    """Add to each name the known one that differs in case, spaces, dashes or zeros alone."""
    plain = {_loosely(name): name for name in known}
    like = {name: plain.get(_loosely(name)) for name in line.dropna().unique()}
    return line.map({n: n if k is None else f"{n}, though one has {k}" for n, k in like.items()})


def _loosely(name: str) -> str:
    """Give a name without what people write now so, now otherwise.

    Examples
    --------
    >>> _loosely("WM 0012-a") == _loosely("wm-12A"), _loosely("1-11") == _loosely("11-1")
    (True, False)
    """
    text = _BETWEEN.sub("-", str(name).casefold())
    return _ZEROS.sub("", _BESIDE.sub("", text))


def row_of_line(table: pd.DataFrame, lines: pd.DataFrame) -> Ints:
    """Give the place among `lines`, whose names differ, of the line each row names; -1 for none."""
    known, named = (pd.Index(texts(rows, "line_id")) for rows in (lines, table))
    return np.asarray(known.get_indexer(named), dtype=np.int64)


def as_names(lines: object) -> list[str] | None:
    """Give names of lines as text: one alone, or as numbers, means the same.

    Examples
    --------
    >>> as_names("H-126"), as_names((101, "102")), as_names(None)
    (['H-126'], ['101', '102'], None)
    """
    if lines is None:
        return None
    several = isinstance(lines, Iterable) and not isinstance(lines, str)
    return [str(name) for name in lines] if several else [str(lines)]  # type: ignore[attr-defined]


def pick_lines(
    layers: Mapping[str, CheckedLayer], lines: Sequence[str]
) -> tuple[dict[str, CheckedLayer], list[Fault]]:
    """Give rows of lines not asked for `NOT_ASKED` as reason, and tell of lines that are not there.

    Rows without line_id stay: where they belong is found by position, among all routes.
    """
    known = set(layers["routes"].table["line_id"].dropna())
    faults = [
        Fault("routes", f"Line {line} was asked for, and no route has that line_id.",
              "Check its name.", line, "line_id", line)
        for line in dict.fromkeys(lines) if line not in known
    ]  # fmt: skip
    if not known & set(lines):
        faults.append(
            Fault("routes", "None of the lines asked for is in the job.", "Check their names.",
                  column="line_id", value=", ".join(lines), effect="stops")
        )  # fmt: skip
    return {name: _picked(checked, set(lines)) for name, checked in layers.items()}, faults


def _picked(checked: CheckedLayer, lines: set[str]) -> CheckedLayer:
    """Mark other lines' rows; that is no fault, so none is told."""
    if "line_id" not in checked.table:
        return checked
    line, found = checked.table["line_id"], checked.findings()
    other = line.notna() & ~line.isin(lines)
    found.reasons[other.to_numpy() & found.good] = NOT_ASKED
    return checked.with_findings(found)
