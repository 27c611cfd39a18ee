"""Access to rows of layers: by line, and typed values that may be missing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import pandas as pd
import shapely

from leakgeo.job.checks import ASIDE_M
from leakgeo.wording.quantities import is_known

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.result import Result


def layer(result: Result, name: str) -> pd.DataFrame | None:
    """Return a layer of a result, or None if it is absent or empty.

    Parameters
    ----------
    result : Result
    name : str
        Name of the layer in the data contract.
    """
    frame = result.layers.get(name)
    return None if frame is None or frame.empty else frame


def rows_by_line(frame: pd.DataFrame | None) -> dict[str, list[dict[str, object]]]:
    """Group the rows of a layer by ``line_id``; rows without one are left out.

    Parameters
    ----------
    frame : pandas.DataFrame or None

    Returns
    -------
    dict of str to list of dict
        In order of first appearance.

    Examples
    --------
    >>> table = pd.DataFrame({"line_id": ["b", "a", None, "b"], "n": [1, 2, 3, 4]})
    >>> {k: [row["n"] for row in rows] for k, rows in rows_by_line(table).items()}
    {'b': [1, 4], 'a': [2]}
    """
    if frame is None or frame.empty or "line_id" not in frame:
        return {}
    frame = pd.DataFrame(frame)  # rows of a plain table are chosen many times as fast
    known = frame.loc[frame["line_id"].notna()]
    out: dict[str, list[dict[str, object]]] = {}
    for row in records(known):
        out.setdefault(str(row["line_id"]), []).append(row)
    return out


def records(frame: pd.DataFrame | None) -> list[dict[str, object]]:
    """Return the rows of a table as dictionaries, geometry included.

    Examples
    --------
    >>> records(pd.DataFrame({"a": [1], "b": ["x"]}))
    [{'a': 1, 'b': 'x'}]
    """
    if frame is None or frame.empty:
        return []
    # A list: pandas makes each label of an index anew.
    names = frame.columns.tolist()
    # Columns of a plain table are taken out three times as fast.
    columns = [column.tolist() for _, column in pd.DataFrame(frame).items()]
    return [dict(zip(names, row, strict=True)) for row in zip(*columns, strict=True)]


def number(row: Mapping[str, object], name: str) -> float | None:
    """Return a number of a row, or None if the column is absent or the value is not finite.

    Examples
    --------
    >>> number({"a": 1}, "a"), number({"a": float("nan")}, "a"), number({}, "a")
    (1.0, None, None)
    """
    value = row.get(name)
    return float(value) if is_known(value) else None  # type: ignore[arg-type]


def mark_of(row: Mapping[str, object], column: str = "mark_rank") -> tuple[str, int]:
    """Return the mark that a row belongs to, as its ``line_id`` and rank.

    Examples
    --------
    >>> mark_of({"line_id": "a", "mark_rank": 2}), mark_of({"line_id": "a"})
    (('a', 2), ('a', 1))
    """
    return text(row, "line_id"), int(number(row, column) or 1)


def flag(row: Mapping[str, object], name: str) -> bool:
    """Return a boolean of a row; a missing value is False.

    Examples
    --------
    >>> flag({"a": True}, "a"), flag({"a": None}, "a"), flag({"a": pd.NA}, "a"), flag({"a": 1}, "a")
    (True, False, False, True)
    """
    value = row.get(name)
    return bool(value) if is_known(value) else False


def text(row: Mapping[str, object], name: str) -> str:
    r"""Return a text of a row without control characters; ``""`` if it is missing.

    Examples
    --------
    >>> text({"a": "x\ny\x07"}, "a"), text({"a": None}, "a"), text({"a": float("nan")}, "a")
    ('x y', '', '')
    """
    value = row.get(name)
    if value is None or (not isinstance(value, str) and bool(pd.isna(value))):  # type: ignore[call-overload]
        return ""
    return printable(str(value))


def printable(raw: str) -> str:
    """Return a text without control characters and surrounding white space."""
    if not raw.isprintable():
        raw = "".join(c if c.isprintable() else " " if c.isspace() else "" for c in raw)
    return raw.strip()


def texts(row: Mapping[str, object], name: str) -> tuple[str, ...]:
    """Split a text of a row at its semicolons.

    Examples
    --------
    >>> texts({"holds": "no answer from gas; no ticket;"}, "holds")
    ('no answer from gas', 'no ticket')
    """
    return tuple(part.strip() for part in text(row, name).split(";") if part.strip())


def with_geometry(frame: pd.DataFrame | None) -> gpd.GeoDataFrame | None:
    """Return the rows that have a geometry, or None if no row has one."""
    if not isinstance(frame, gpd.GeoDataFrame) or frame.empty:
        return None
    shapes = frame.geometry.to_numpy()
    good = frame.loc[shapely.is_geometry(shapes) & ~shapely.is_empty(shapes)]
    return None if good.empty else good


def beside_in_sweep(row: Mapping[str, object]) -> bool:
    """Return whether a reading is part of a sweep across its line and beside the pipe.

    Examples
    --------
    >>> beside_in_sweep({"sweep_m": 17.0, "offset_m": -2.0}), beside_in_sweep({"sweep_m": None})
    (True, False)
    """
    return number(row, "sweep_m") is not None and abs(number(row, "offset_m") or 0.0) > ASIDE_M
