"""Names of stops that crews number anew on each line and each walk, or not at all."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pandas as pd

from leakgeo.job.workbook.values import as_name

if TYPE_CHECKING:
    from collections.abc import Hashable, Sequence


def with_stop_names(table: pd.DataFrame) -> tuple[pd.DataFrame, int]:
    """Return stops with names that differ, and how many of the names were made.

    A number that several walks of a line have gets the walk before it; one that a walk has twice,
    as with air off and on, the row behind it, and the readings the same ``stop_id`` if their
    tapes are the same. A row that is typed twice in all of its cells keeps its name.

    Parameters
    ----------
    table : pandas.DataFrame
        Columns of ``readings``, with ``line_id``; its index has the numbers of rows.

    Examples
    --------
    >>> stops = pd.DataFrame({"line_id": "A", "walk_id": ["W1", "W1", "W2"],
    ...                       "reading_id": ["1", None, "1"]}, index=[2, 4, 5])
    >>> with_stop_names(stops)[0]["reading_id"].tolist()
    ['A W1 1', 'A row 4', 'A W2 1']
    """
    line, walk, stop = (_texts(table, c) for c in ("line_id", "walk_id", "reading_id"))
    own = list(zip(line, walk, stop, strict=True))
    content = _contents(table)
    again = [count > 1 for count in _distinct(own, content)]
    of_walks = _distinct(list(zip(line, stop, strict=True)), walk)
    of_lines = _distinct(stop, line)
    names = [
        _name(one, walks > 1, lines > 1, f"row {k}" if twice or not one[2] else "")
        for one, walks, lines, twice, k
        in zip(own, of_walks, of_lines, again, table.index, strict=True)
    ]  # fmt: skip
    done = table.assign(reading_id=pd.Series(names, index=table.index, dtype=object))
    changed = sum(a != b for a, b in zip(names, stop, strict=True))
    return _with_stop_ids(done, own, content), changed


def _name(own: tuple[str, str, str], by_walk: bool, by_line: bool, row: str) -> str:
    line, walk, stop = own
    if not (by_walk or by_line or row):
        return stop
    return " ".join(filter(None, (line, walk if by_walk and stop else "", stop, row)))


def _with_stop_ids(
    table: pd.DataFrame, own: Sequence[tuple[str, str, str]], content: Sequence[Hashable]
) -> pd.DataFrame:
    """Return stops in which several readings of one number and one tape share their place."""
    if "stop_id" in table:
        return table
    tapes = zip(own, _texts(table, "tape"), _texts(table, "chainage_from"), strict=True)
    shared = [count > 1 and bool(one[2])
              for one, count in zip(own, _distinct(list(tapes), content), strict=True)]  # fmt: skip
    if not any(shared):
        return table
    names = [" ".join(filter(None, one)) if yes else None
             for one, yes in zip(own, shared, strict=True)]  # fmt: skip
    return table.assign(stop_id=pd.Series(names, index=table.index, dtype=object))


def _contents(table: pd.DataFrame) -> list[tuple[str, ...]]:
    """Return all cells of each row but its name."""
    rest = table.drop(columns="reading_id", errors="ignore")
    return [tuple(map(str, row)) for row in rest.itertuples(index=False, name=None)]


def _texts(table: pd.DataFrame, column: str) -> list[str]:
    cells: Any = table[column] if column in table else [None] * len(table)
    return ["" if pd.isna(cell) else as_name(cell) for cell in cells]


def _distinct(keys: Sequence[Hashable], values: Sequence[Hashable]) -> list[int]:
    """Return of each key how many different values it has."""
    found: dict[Hashable, set[Hashable]] = {}
    for key, value in zip(keys, values, strict=True):
        found.setdefault(key, set()).add(value)
    return [len(found[key]) for key in keys]
