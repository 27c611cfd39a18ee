"""Columns for formats with narrow limits: short names, short texts, times as texts."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

import pandas as pd

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

_Frame = TypeVar("_Frame", bound=pd.DataFrame)
DBF_NAME, DBF_TEXT = 10, 254
CUT = " [CUT: see result.gpkg]"
# Larger integers do not fit the field that GDAL creates.
DBF_WHOLE = 10**17


def times_as_text(frame: _Frame) -> _Frame:
    """Convert columns of times to ISO 8601 texts in UTC."""
    zoned = [str(name) for name in frame if isinstance(frame[name].dtype, pd.DatetimeTZDtype)]
    return frame.assign(**{name: _iso(frame[name]) for name in zoned})


def _iso(times: pd.Series) -> pd.Series:
    text: pd.Series = times.dt.strftime("%Y-%m-%dT%H:%M:%S.%fZ").astype("str")
    return text


def short_names(names: Iterable[str], most: int = DBF_NAME) -> Mapping[str, str]:
    """Cut names to a length and keep them unique, ignoring case.

    Parameters
    ----------
    names : iterable of str
    most : int
        Maximum number of characters; default 10, that of dBASE.

    Returns
    -------
    dict of str to str
        Short name by name.

    Examples
    --------
    >>> short_names(["chainage_m", "probability_at_mark", "probability_lost", "probability"])
    {'chainage_m': 'chainage_m', 'probability_at_mark': 'probabilit',
     'probability_lost': 'probabil_2', 'probability': 'probabil_3'}
    """
    out: dict[str, str] = {}
    taken: set[str] = set()
    for name in names:
        plain = "".join(c if c.isascii() and (c.isalnum() or c == "_") else "_" for c in name)
        short, turn = plain[:most], 1
        while short.lower() in taken:
            turn += 1
            short = f"{plain[: most - len(str(turn)) - 1]}_{turn}"
        taken.add(short.lower())
        out[name] = short
    return out


def dbf_columns(frame: _Frame) -> tuple[_Frame, list[str]]:
    """Convert a layer to the limits of dBASE.

    Parameters
    ----------
    frame : pandas.DataFrame or geopandas.GeoDataFrame

    Returns
    -------
    frame : pandas.DataFrame or geopandas.GeoDataFrame
        With short names, texts of at most 254 bytes, and times as texts.
    lost : list of str
        What was cut, as sentences.
    """
    shapes = getattr(frame, "_geometry_column_name", None)
    columns = [str(c) for c in frame if c != shapes]
    names = short_names(columns)
    plain = times_as_text(frame)
    lost: list[str] = []
    for name in columns:
        if isinstance(plain[name].dtype, pd.StringDtype):
            cut = plain[name].map(_cut, na_action="ignore").astype("str")
            count = int((cut != plain[name])[plain[name].notna()].sum())
            lost += [f"{name} is cut to {DBF_TEXT} bytes in {count} rows."] if count else []
            plain = plain.assign(**{name: cut})
        elif isinstance(plain[name].dtype, pd.BooleanDtype):
            plain = plain.assign(**{name: plain[name].astype("Int64").astype("Int32")})
        elif isinstance(plain[name].dtype, pd.Int64Dtype) and (plain[name].abs() > DBF_WHOLE).any():
            plain = plain.assign(**{name: plain[name].astype("str")})
    return plain.rename(columns=dict(names)), lost


def _cut(text: str) -> str:
    """Cut a text to the limit in bytes, at a character, with a note: the rest may hold a dig."""
    raw = text.encode()
    if len(raw) <= DBF_TEXT:
        return text
    return raw[: DBF_TEXT - len(CUT.encode())].decode(errors="ignore") + CUT
