"""Values of sheets as people type them: blocks with a value in the first row, spellings, units."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import pandas as pd

from leakgeo.conversion import conversion
from leakgeo.job.mapping import guess_code
from leakgeo.job.schema import load_schema
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Sequence

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
    """Return names with the spelling of the known ones that differ in case and spaces alone.

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
    >>> respelled(pd.Series(["cs-12 ", "M 3"]), None, ["CS-12", "M-3"], None).tolist()
    ['CS-12', 'M 3']
    """
    groups: dict[tuple[str, str], set[str]] = {}
    for name, line in zip(known, of_line or [""] * len(known), strict=True):
        if not pd.isna(name):  # type: ignore[call-overload]
            key = ("" if lines is None else _plain(line), _plain(name))
            groups.setdefault(key, set()).add(_text(name))
    typed = [""] * len(names) if lines is None else [_plain(line) for line in lines]
    out = []
    for line, name in zip(typed, names, strict=True):
        found = set() if pd.isna(name) else groups.get((line, _plain(name)), set())
        # Of two spellings that differ only so, neither can be chosen.
        out.append(next(iter(found)) if len(found) == 1 else name)
    return pd.Series(out, index=names.index, dtype=object)


def stop_names(given: pd.Series[Any], lines: pd.Series[Any]) -> tuple[pd.Series[Any], int]:
    """Return names of stops that differ, and how many were made: by line, and by row where empty.

    Examples
    --------
    >>> given, lines = pd.Series(["1", None, "1"]), pd.Series(["A", "A", "B"])
    >>> stop_names(given, lines)[0].tolist()
    ['A 1', 'A row 2', 'B 1']
    """
    texts = [None if pd.isna(name) else _text(name) for name in given]
    owner = ["" if pd.isna(line) else _text(line) for line in lines]
    used: dict[str, set[str]] = {}
    for text, line in zip(texts, owner, strict=True):
        if text is not None:
            used.setdefault(text, set()).add(line)
    names = [
        f"{line} row {k}".strip() if text is None
        else f"{line} {text}" if len(used[text]) > 1 else text
        for k, (text, line) in enumerate(zip(texts, owner, strict=True), start=1)
    ]  # fmt: skip
    changed = sum(a != b for a, b in zip(names, texts, strict=True))
    return pd.Series(names, index=given.index, dtype=object), changed


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


def tape_units(column: pd.Series[Any]) -> pd.Series[Any]:
    """Return units of a tape as codes; other values stay as they are.

    Examples
    --------
    >>> tape_units(pd.Series(["Feet", "m", "yd"])).tolist()
    ['ft', 'm', 'yd']
    """
    codes = load_schema("readings").field("tape_unit").codes
    return column.map(lambda unit: guess_code(str(unit), codes) or unit, na_action="ignore")


def _text(name: object) -> str:
    """Return a name as text; spreadsheets store numbers such as 12.0."""
    if isinstance(name, float) and name.is_integer():
        return str(int(name))
    return str(name)


def _plain(name: object) -> str:
    return " ".join(_text(name).casefold().split())
