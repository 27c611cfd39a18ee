"""Parse times of a source by a given or guessed format, and in a given time zone."""

from __future__ import annotations

import re
from datetime import MAXYEAR, MINYEAR, datetime
from functools import cache
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from leakgeo.job.mapping.model import toml_string

if TYPE_CHECKING:
    from collections.abc import Sequence


#: Seconds and milliseconds since 1970-01-01 UTC, as some services store times.
UNIX_UNITS: dict[str, Any] = {"unix": "s", "unix_ms": "ms"}
_HAS_ZONE = re.compile(r"(?:[zZ]|[+-]\d{2}:?(?:\d{2})?)$")
_HAS_CLOCK = re.compile(r"\d{1,2}:\d{2}")


def is_zone(name: object) -> bool:
    """Return whether `name` is a time zone of the IANA database.

    Examples
    --------
    >>> is_zone("America/Chicago"), is_zone("Central"), is_zone(3)
    (True, False, False)
    """
    try:
        return isinstance(name, str) and ZoneInfo(name) is not None
    except (KeyError, ValueError, OSError):
        return False


@cache
def is_date_format(given: str) -> bool:
    """Return whether a date format is usable: it can read the text that it writes.

    Examples
    --------
    >>> is_date_format("%m/%d/%Y %H:%M"), is_date_format("MM/DD/YYYY"), is_date_format("unix_ms")
    (True, False, True)
    """
    if given in UNIX_UNITS:
        return True
    if "%" not in given:
        return False
    some = datetime(2025, 3, 31, 14, 5)
    written = some.strftime(given.replace("%z", "+0000"))
    try:
        read: Any = pd.to_datetime(pd.Series([written], dtype=object), format=given)
    except Exception:  # noqa: BLE001 - pandas and re raise many kinds of errors for bad formats
        return False
    return bool(read.notna().all() and read.dt.year.iloc[0] == some.year)


def read_times(raw: pd.Series[Any], date_format: str | None, zone: str | None) -> pd.Series[Any]:
    """Convert times to ISO 8601 texts; texts that can't be parsed are unchanged.

    Parameters
    ----------
    raw : pandas.Series, shape (n,)
    date_format : str, optional
        A format of `datetime.strptime`, ``unix`` or ``unix_ms``.
    zone : str, optional
        Zone of times without one. A time that is ambiguous or does not exist in the zone, where
        daylight saving time changes, is left without a zone.

    Returns
    -------
    pandas.Series, shape (n,)

    Examples
    --------
    >>> times = pd.Series(["3/31/2025 9:05", "soon"])
    >>> read_times(times, "%m/%d/%Y %H:%M", "America/Chicago").tolist()
    ['2025-03-31T09:05:00-05:00', 'soon']
    """
    levels, distinct = pd.factorize(_as_texts(raw))
    once = np.array([*distinct, None], dtype=object)
    if date_format:
        once[:-1] = _by_format(list(distinct), date_format)
    if zone:
        once[:-1] = _in_zone(list(once[:-1]), zone)
    return pd.Series(once[levels], dtype=object, index=raw.index)


def _as_texts(raw: pd.Series[Any]) -> pd.Series[Any]:
    if pd.api.types.is_datetime64_any_dtype(raw.dtype):
        texts = [None if v is pd.NaT else v.isoformat() for v in raw]
    else:
        texts = [None if pd.isna(v) else _plain(v) for v in raw.astype(object)]
    return pd.Series(texts, dtype=object)


def _plain(value: object) -> str:
    whole = isinstance(value, float) and value.is_integer()
    return str(int(value)) if whole else str(value).strip()  # type: ignore[call-overload]


def _by_format(texts: list[str], date_format: str) -> list[str]:
    given = pd.Series(texts, dtype=object)
    if date_format in UNIX_UNITS:
        numbers = pd.to_numeric(given, errors="coerce")
        read: Any = pd.to_datetime(numbers, unit=UNIX_UNITS[date_format], errors="coerce", utc=True)
    else:
        has_zone: Any = "%z" in date_format
        read = pd.to_datetime(given, format=date_format, errors="coerce", utc=has_zone)
    return [t if r is pd.NaT else r.isoformat() for t, r in zip(given, read, strict=True)]


def _in_zone(texts: list[str], zone: str) -> list[str]:
    """Add the offset of a zone to texts of times without one."""
    bare = np.array([bool(_HAS_CLOCK.search(t)) and not _HAS_ZONE.search(t) for t in texts], bool)
    times = pd.to_datetime(
        pd.Series([t if b else None for t, b in zip(texts, bare, strict=True)], dtype=object),
        format="ISO8601", errors="coerce",
    )  # fmt: skip
    if not bare.any() or not pd.api.types.is_datetime64_any_dtype(times.dtype):
        return texts
    # Python has no offsets at either end of its calendar; such times are out of range in any zone.
    times = times.where(times.dt.year.between(MINYEAR + 1, MAXYEAR - 1))
    local: Any = times.dt.tz_localize(zone, ambiguous="NaT", nonexistent="NaT")
    return [t if z is pd.NaT else z.isoformat() for t, z in zip(texts, local, strict=True)]


_DATE_FORMATS = ("%m/%d/%Y", "%d/%m/%Y", "%d.%m.%Y", "%Y/%m/%d", "%Y%m%d", "%d-%b-%Y", "%m-%d-%Y",
         "%d-%m-%Y", "%m/%d/%y", "%d/%m/%y")  # fmt: skip
_TIME_FORMATS = ("", " %H:%M", " %H:%M:%S", " %I:%M %p", " %I:%M:%S %p", " %H%M")
_SAMPLE = 500
# Range of plausible Unix times in seconds, from 2001 to 2065.
_UNIX_RANGE = (1e9, 3e9)


def time_keys(values: pd.Series[Any]) -> tuple[list[str], str]:
    """Return the keys that a mapping needs for a column of times, and the open question.

    Parameters
    ----------
    values : pandas.Series, shape (n,)

    Returns
    -------
    keys : list of str
    doubt : str
        ``""`` if there is none.

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
        return _unix_format(known)
    texts = pd.Series([str(v).strip() for v in known], dtype=object)
    if _all_read(texts, "ISO8601") and not texts.str.fullmatch(r"\d+").any():
        return [], ""
    formats = [f"{date}{time}" for date in _DATE_FORMATS for time in _TIME_FORMATS]
    return _choice([f for f in formats if _all_read(texts, f)], str(texts.iloc[0]))


def _unix_format(known: pd.Series[Any]) -> tuple[list[str], str]:
    for name, scale in (("unix", 1.0), ("unix_ms", 1000.0)):
        if known.between(_UNIX_RANGE[0] * scale, _UNIX_RANGE[1] * scale).all():
            return [f"date_format = {toml_string(name)}"], ""
    return [], f"what does {known.iloc[0]} mean?"


def _choice(formats: Sequence[str], sample: str) -> tuple[list[str], str]:
    if not formats:
        return [], f"in which date_format is {sample}?"
    doubt = "" if len(formats) == 1 else f"or {' or '.join(formats[1:3])}? such as {sample}"
    return [f"date_format = {toml_string(formats[0])}"], doubt


def _all_read(texts: pd.Series[Any], form: Any) -> bool:
    try:
        return bool(pd.to_datetime(texts, format=form, errors="coerce", utc=True).notna().all())
    except ValueError:
        return False
