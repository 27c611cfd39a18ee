"""Values of sheets as people type them: blocks with a value in the first row, spellings, units."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import pandas as pd

from leakgeo.conversion import conversion
from leakgeo.job.mapping import guess_code
from leakgeo.job.schema import load_schema
from leakgeo.job.typed.blocks import is_total
from leakgeo.job.typed.rows import level_in_db
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Sequence

# A hyphen between words; one before a number alone is its sign.
_SEPARATORS = re.compile(r"(?<=\w)[-_\u2010-\u2015](?=\w)")
# Three digits after a comma may be thousands.
_DECIMAL_COMMA = re.compile(r"([+-]?\d+),(\d{1,2})(?!\d)")
_DAY = re.compile(r"\d{4}[-/]\d{2}[-/]\d{2}")
_PRESSURE = re.compile(r"([\d.,]+)\s*(kpa|psi|bar)\.?", re.IGNORECASE)


def filled_down(
    table: pd.DataFrame, columns: Sequence[str]
) -> tuple[pd.DataFrame, tuple[Reason, ...]]:
    """Fill empty cells with the value above, on the same line; return a note on what was filled.

    Parameters
    ----------
    table : pandas.DataFrame
    columns : sequence of str
        Columns whose value holds for the rows below; ``line_id`` first, if it is among them.

    Examples
    --------
    >>> table = pd.DataFrame({"line_id": ["A", None, "B"], "tape_unit": ["ft", None, None]})
    >>> filled_down(table, ["line_id", "tape_unit"])[0].to_numpy().tolist()
    [['A', 'ft'], ['A', 'ft'], ['B', None]]
    """
    done, filled = table.copy(), {}
    for name in (c for c in columns if c in table):
        by_line = name != "line_id" and "line_id" in done
        own = done[name].astype(object)
        below = (
            own.groupby(done["line_id"].astype(object), sort=False).ffill()
            if by_line
            else own.ffill()
        )
        count = int((own.isna() & below.notna()).sum())
        if count:
            filled[name] = count
            done[name] = below.where(below.notna(), None)
    if not filled:
        return done, ()
    return done, (Reason("sheet_filled_down", columns=list(filled), cells=sum(filled.values())),)


def respelled(
    names: pd.Series[Any], lines: pd.Series[Any] | None, known: Sequence[object],
    of_line: Sequence[object] | None,
) -> pd.Series[Any]:  # fmt: skip
    """Return names with the spelling of the known ones that differ in case and separators alone.

    Parameters
    ----------
    names : pandas.Series
        As typed.
    lines : pandas.Series or None
        Line of each name; None if names do not depend on lines.
    known, of_line : sequence
        Names as they should be, and the line of each.

    Examples
    --------
    >>> respelled(pd.Series(["cs-12 ", "m 3", "M4"]), None, ["CS-12", "M-3", "M-4"], None).tolist()
    ['CS-12', 'M-3', 'M4']
    """
    groups: dict[tuple[str, str], set[str]] = {}
    for name, line in zip(known, of_line or [""] * len(known), strict=True):
        if not pd.isna(name):  # type: ignore[call-overload]
            key = ("" if lines is None else _plain(line), _plain(name))
            groups.setdefault(key, set()).add(as_name(name))
    typed = [""] * len(names) if lines is None else [_plain(line) for line in lines]
    out = []
    for line, name in zip(typed, names, strict=True):
        found = set() if pd.isna(name) else groups.get((line, _plain(name)), set())
        # Of two spellings that differ only so, neither can be chosen.
        out.append(next(iter(found)) if len(found) == 1 else name)
    return pd.Series(out, index=names.index, dtype=object)


def pressures_in_kpa(column: pd.Series[Any]) -> pd.Series[Any]:
    """Return pressures with a written unit in kilopascals; other values stay as they are.

    Examples
    --------
    >>> [round(float(p), 1) for p in pressures_in_kpa(pd.Series(["60 psi", "4,1 bar", 400]))]
    [413.7, 410.0, 400.0]
    """
    return column.map(_in_kpa, na_action="ignore")


def _in_kpa(value: Any) -> Any:
    found = _PRESSURE.fullmatch(value) if isinstance(value, str) else None
    if found is None:
        return value
    try:
        number = float(found[1].replace(",", "."))
    except ValueError:
        return value
    return number * conversion(found[2].casefold(), "kpa")


def totals(table: pd.DataFrame, columns: Sequence[str]) -> pd.Series[Any]:
    """Return which rows have a word for a total in place of a name, such as Total.

    Parameters
    ----------
    table : pandas.DataFrame
    columns : sequence of str
        Columns with names, of those that the table has.

    Examples
    --------
    >>> totals(pd.DataFrame({"line_id": ["A", "Total:", None]}), ["line_id", "tape"]).tolist()
    [False, True, False]
    """
    named = table[[c for c in columns if c in table]]
    found = [any(map(is_total, row)) for row in named.itertuples(index=False)]
    return pd.Series(found, index=table.index, dtype=bool)


def levels(column: pd.Series[Any], units: pd.Series[Any]) -> tuple[pd.Series[Any], pd.Series[Any]]:
    """Return levels without the unit that some have beside them, and the units of all.

    A unit beside a level that is not that of its row is left, as either may be wrong.

    Examples
    --------
    >>> column, units = pd.Series(["35 dB", "36", 7, "4 dB"]), [None, "db", "db", "scale"]
    >>> [one.tolist() for one in levels(column, pd.Series(units))]
    [['35', '36', 7, '4 dB'], ['db', 'db', 'db', 'scale']]
    """
    plain, own = [], []
    for level, unit in zip(column, units, strict=True):
        found = level_in_db(level) if isinstance(level, str) else None
        known = "db" if found and pd.isna(unit) else unit
        plain.append(found if found and known == "db" else level)
        own.append(known)
    index: Any = column.index
    return pd.Series(plain, index=index, dtype=object), pd.Series(own, index=index, dtype=object)


def with_points(column: pd.Series[Any]) -> pd.Series[Any]:
    """Return numbers with a decimal point for the comma of texts such as 0,9 m.

    Examples
    --------
    >>> with_points(pd.Series(["0,9 m", "35,5", "1,234", 7])).tolist()
    ['0.9 m', '35.5', '1,234', 7]
    """
    return column.map(lambda v: _DECIMAL_COMMA.sub(r"\1.\2", v, count=1)
                      if isinstance(v, str) and _DECIMAL_COMMA.match(v) else v)  # fmt: skip


def days_without_hour(column: pd.Series[Any]) -> int:
    """Return how many times are days alone.

    Examples
    --------
    >>> days_without_hour(pd.Series(["2026/05/03", "2026-05-03T06:10", None]))
    1
    """
    if pd.api.types.is_datetime64_any_dtype(column.dtype):
        given = column.dropna()
        return 0 if (given != given.dt.normalize()).any() else len(given)
    return sum(_DAY.fullmatch(str(value)) is not None for value in column)


def tape_units(column: pd.Series[Any]) -> pd.Series[Any]:
    """Return units of a tape as codes; other values stay as they are.

    Examples
    --------
    >>> tape_units(pd.Series(["Feet", "m", "yd"])).tolist()
    ['ft', 'm', 'yd']
    """
    codes = load_schema("readings").field("tape_unit").codes
    return column.map(lambda unit: guess_code(str(unit), codes) or unit, na_action="ignore")


def as_name(name: object) -> str:
    """Return a name as text; spreadsheets store numbers such as 12.0."""
    if isinstance(name, float) and name.is_integer():
        return str(int(name))
    return str(name)


def _plain(name: object) -> str:
    return " ".join(_SEPARATORS.sub(" ", as_name(name).casefold()).split())
