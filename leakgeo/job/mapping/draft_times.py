"""In which format the times of a column are, as far as its values tell."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pandas as pd

from leakgeo.job.mapping.text import quoted

if TYPE_CHECKING:
    from collections.abc import Sequence

_DAYS = ("%m/%d/%Y", "%d/%m/%Y", "%d.%m.%Y", "%Y/%m/%d", "%Y%m%d", "%d-%b-%Y", "%m-%d-%Y",
         "%d-%m-%Y", "%m/%d/%y", "%d/%m/%y")  # fmt: skip
_CLOCKS = ("", " %H:%M", " %H:%M:%S", " %I:%M %p", " %I:%M:%S %p", " %H%M")
_SAMPLE = 500
# Seconds from 2001 to 2065 since 1970, and milliseconds.
_SECONDS = (1e9, 3e9)


def time_keys(values: pd.Series[Any]) -> tuple[list[str], str]:
    """Find the keys that a mapping needs for a column of times, and what is in doubt.

    Parameters
    ----------
    values : pandas.Series, shape (n,)

    Returns
    -------
    keys : list of str
    doubt : str
        ``""`` where there is none.

    Examples
    --------
    >>> time_keys(pd.Series(["3/31/2025 14:05"]))
    (['date_format = "%m/%d/%Y %H:%M"'], '')
    >>> time_keys(pd.Series(["2025-03-31T14:05:00Z"]))
    ([], '')
    """
    known = values[values.notna().to_numpy()].head(_SAMPLE)
    if known.empty or pd.api.types.is_datetime64_any_dtype(known.dtype):
        return [], ""
    if pd.api.types.is_numeric_dtype(known.dtype):
        return _since_1970(known)
    texts = pd.Series([str(v).strip() for v in known], dtype=object)
    if _all_read(texts, "ISO8601") and not texts.str.fullmatch(r"\d+").any():
        return [], ""
    return _choice([f"{d}{c}" for d in _DAYS for c in _CLOCKS if _all_read(texts, f"{d}{c}")],
                   str(texts.iloc[0]))  # fmt: skip


def _since_1970(known: pd.Series[Any]) -> tuple[list[str], str]:
    for name, scale in (("unix", 1.0), ("unix_ms", 1000.0)):
        if known.between(_SECONDS[0] * scale, _SECONDS[1] * scale).all():
            return [f"date_format = {quoted(name)}"], ""
    return [], f"what does {known.iloc[0]} mean?"


def _choice(formats: Sequence[str], sample: str) -> tuple[list[str], str]:
    if not formats:
        return [], f"in which date_format is {sample}?"
    doubt = "" if len(formats) == 1 else f"or {' or '.join(formats[1:3])}? such as {sample}"
    return [f"date_format = {quoted(formats[0])}"], doubt


def _all_read(texts: pd.Series[Any], form: Any) -> bool:
    try:
        return bool(pd.to_datetime(texts, format=form, errors="coerce", utc=True).notna().all())
    except ValueError:
        return False
