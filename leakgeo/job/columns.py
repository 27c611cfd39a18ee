"""Match columns of a source by name, and convert them to the types of the contract."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.job.lengths import length_m

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from leakgeo.job.schema import Field, FieldType


#: Types in memory. Integers are float64, so that a column has the same type with and without nulls.
DTYPES: dict[FieldType, Any] = {
    "string": object,
    "number": "float64",
    "integer": "float64",
    "boolean": "boolean",
    "datetime": "datetime64[us, UTC]",
    "date": "datetime64[us]",
}
_BOOLEANS = {
    "true": True, "t": True, "yes": True, "y": True, "1": True, "1.0": True,
    "false": False, "f": False, "no": False, "n": False, "0": False, "0.0": False,
}  # fmt: skip
_ZONE_AT_END = re.compile(r":\d{2}(?:\.\d+)?\s*(?:[zZ]|[+-]\d{2}(?::?\d{2})?)$")
_SPACES = re.compile(r"[\s-]+")
_LAST_YEAR = 9999
# Units of length columns, in metres.
_TO_METRES = {"m": 1.0, "mm": 0.001}
_LARGEST_EXACT = 2.0**53


@dataclass(frozen=True)
class Parsed:
    """A column converted to its type in memory.

    Parameters
    ----------
    column : pandas.Series, shape (n,)
        Null where the value is missing or can't be converted.
    bad : ndarray of bool, shape (n,)
        Whether each value can't be converted.
    without_zone : bool
        Whether any time has no zone, and is read as UTC.
    """

    column: pd.Series[Any]
    bad: NDArray[np.bool_]
    without_zone: bool = False


def empty_column(field: Field, length: int) -> pd.Series[Any]:
    """Return a column of nulls in the type of `field` in memory.

    Text is ``object`` with None; numbers and integers are ``float64`` with NaN; booleans are
    pandas' nullable ``boolean``; times are ``datetime64[us, UTC]``, dates ``datetime64[us]``.
    """
    nulls = np.full(length, None, dtype=object)
    column: pd.Series[Any] = pd.Series(nulls, dtype=object).astype(DTYPES[field.type])
    return column


def match_columns(
    names: Iterable[str], wanted: Iterable[str], *, longest: int | None = None
) -> dict[str, str]:
    """Match names of the contract with names of columns, ignoring case, and spaces for underscores.

    Parameters
    ----------
    names, wanted : iterable of str
        Names of the columns; names of the contract.
    longest : int, optional
        Length that the file format truncates names to; truncated names match by their beginning.

    Returns
    -------
    dict of str to str
        Name of the contract to name of the column; exact matches take precedence.

    Examples
    --------
    >>> match_columns(["LINE_ID", "Pipe"], ["line_id", "material"])
    {'line_id': 'LINE_ID'}
    >>> match_columns(["Sound Unit", "sound_leve"], ["sound_level", "sound_unit"], longest=10)
    {'sound_level': 'sound_leve', 'sound_unit': 'Sound Unit'}
    """
    existing, wanted = [str(n) for n in names], list(wanted)
    normalized = {_SPACES.sub("_", n.strip().casefold()): n for n in reversed(existing)}
    found = {w: w if w in existing else normalized[w]
             for w in wanted if w in existing or w in normalized}  # fmt: skip
    for name in wanted if longest is not None else ():
        cut = normalized.get(name[:longest])
        if name not in found and cut is not None and cut not in found.values():
            found[name] = cut
    return {w: found[w] for w in wanted if w in found}


def parse_column(raw: pd.Series[Any], field: Field) -> Parsed:
    """Convert one column to the type of `field`.

    Parameters
    ----------
    raw : pandas.Series, shape (n,)
        Values as read.
    field : Field

    Returns
    -------
    Parsed

    Examples
    --------
    >>> from leakgeo.job.schema import load_schema
    >>> depth = load_schema("routes").field("depth_m")
    >>> parse_column(pd.Series(["0.9", "NULL", "deep", "3 ft"]), depth).column.tolist()
    [0.9, nan, nan, 0.9144]
    """
    if raw.dtype != object and not isinstance(raw.dtype, pd.StringDtype):
        return _parse(raw, field.type)
    # Texts repeat a lot, so each distinct text is converted once.
    levels, distinct = pd.factorize(hashable(raw))
    stripped = _stripped(np.asarray(distinct, dtype=object), field.missing)
    if field.type == "number" and field.unit in _TO_METRES:
        stripped = _with_parsed_lengths(stripped, _TO_METRES[field.unit])
    once = _parse(stripped, field.type)
    # factorize numbers nulls -1, which selects the null at the end.
    with_null = pd.concat([once.column, empty_column(field, 1)], ignore_index=True)
    values = with_null.take(levels).reset_index(drop=True)
    bad = np.append(once.bad, [False])[levels]
    return Parsed(values, bad, once.without_zone)


def _parse(raw: pd.Series[Any], kind: FieldType) -> Parsed:
    if kind in ("datetime", "date"):
        return _times(raw, kind)
    parse = {"string": _texts, "number": _numbers, "integer": _integers, "boolean": _booleans}
    return parse[kind](raw)


def hashable(raw: pd.Series[Any]) -> pd.Series[Any]:
    """Convert lists and other objects, which some formats store, to text."""
    if raw.dtype != object:
        return raw
    if pd.api.types.infer_dtype(raw) in ("string", "empty"):
        return raw
    texts = [v if isinstance(v, (str, int, float, bool, type(None))) else str(v) for v in raw]
    return pd.Series(texts, dtype=object)


def _stripped(distinct: Iterable[Any], missing: tuple[str, ...]) -> pd.Series[Any]:
    """Strip texts, and replace those that mean a missing value by None."""
    texts = [v.strip() if isinstance(v, str) else v for v in distinct]
    nothing = frozenset(m.casefold() for m in missing)
    longest = max(map(len, nothing), default=0)
    kept = [None if isinstance(v, str) and len(v) <= longest and v.casefold() in nothing else v
            for v in texts]  # fmt: skip
    return pd.Series(kept, dtype=object)


def _with_parsed_lengths(distinct: pd.Series[Any], in_metres: float) -> pd.Series[Any]:
    """Replace lengths with a unit, such as 38' 6", by numbers."""
    metres = [length_m(v) if isinstance(v, str) else None for v in distinct]
    read = [v if m is None else m / in_metres for v, m in zip(distinct, metres, strict=True)]
    return pd.Series(read, dtype=object)


def _texts(raw: pd.Series[Any]) -> Parsed:
    """Convert values to text, whole numbers without ``.0``: identifiers are often 1001.0."""
    none_bad = np.zeros(len(raw), dtype=bool)
    if raw.dtype == object:
        texts = [v if v is None or isinstance(v, str) else str(v) for v in raw]
        return Parsed(pd.Series(texts, dtype=object), none_bad)
    if pd.api.types.is_float_dtype(raw.dtype):
        plain = raw.to_numpy(dtype=float, na_value=np.nan)
        whole = np.isfinite(plain) & (plain % 1 == 0) & (np.abs(plain) < _LARGEST_EXACT)
        texts_of = plain.astype(str).astype(object)
        texts_of[whole] = plain[whole].astype("int64").astype(str)
    else:
        texts_of = raw.astype(str).to_numpy(dtype=object, copy=True)
    texts_of[raw.isna().to_numpy()] = None
    return Parsed(pd.Series(texts_of, dtype=object), none_bad)


def _numbers(raw: pd.Series[Any]) -> Parsed:
    known = raw.notna().to_numpy()
    if pd.api.types.is_datetime64_any_dtype(raw.dtype):
        return Parsed(pd.Series(np.full(len(raw), np.nan)), known)
    plain = pd.to_numeric(raw, errors="coerce").to_numpy(dtype=float, na_value=np.nan)
    bad = known & ~np.isfinite(plain)
    return Parsed(pd.Series(np.where(bad, np.nan, plain)), bad)


def _integers(raw: pd.Series[Any]) -> Parsed:
    numbers = _numbers(raw)
    plain = numbers.column.to_numpy()
    bad = numbers.bad | (np.isfinite(plain) & (plain % 1 != 0))
    return Parsed(pd.Series(np.where(bad, np.nan, plain)), bad)


def _booleans(raw: pd.Series[Any]) -> Parsed:
    if pd.api.types.is_bool_dtype(raw.dtype):
        return Parsed(raw.astype("boolean"), np.zeros(len(raw), dtype=bool))
    known = raw.notna().to_numpy()
    rows, distinct = pd.factorize(raw)
    # The last entry is for nulls, which factorize numbers -1.
    truths = pd.array([*map(parse_boolean, distinct), None], dtype="boolean")
    values: pd.Series[Any] = pd.Series(truths.take(rows))
    return Parsed(values, known & values.isna().to_numpy())


def parse_boolean(value: object) -> bool | None:
    """Return the boolean that a value means; None if it is neither true nor false.

    Examples
    --------
    >>> parse_boolean(True), parse_boolean("N"), parse_boolean(1.0), parse_boolean("maybe")
    (True, False, True, None)
    """
    return _BOOLEANS.get(str(value).strip().casefold())


def _times(raw: pd.Series[Any], kind: FieldType) -> Parsed:
    known = raw.notna().to_numpy()
    if raw.dtype != object and not pd.api.types.is_datetime64_any_dtype(raw.dtype):
        # Numbers could be seconds, days or years, so they are not converted.
        nulls = pd.Series(np.full(len(raw), None, dtype=object), dtype=object)
        return Parsed(nulls.astype(DTYPES[kind]), known)
    if raw.dtype == object:
        texts = pd.Series([v if isinstance(v, str) else None for v in raw], dtype=object)
        values = pd.to_datetime(texts, errors="coerce", utc=True, format="ISO8601")
    else:
        values = pd.to_datetime(raw, utc=True)
    # ISO 8601 texts and Python's calendar have years from 1 to 9999.
    years = values.dt.year
    values = values.where((years >= 1) & (years <= _LAST_YEAR))
    bad = known & values.isna().to_numpy()
    if kind == "date":
        values = values.dt.tz_localize(None).dt.normalize()
    return Parsed(values.astype(DTYPES[kind]), bad, _has_no_zone(raw[known & ~bad]))


def _has_no_zone(known: pd.Series[Any]) -> bool:
    if known.dtype != object:
        return len(known) > 0 and known.dt.tz is None
    return any(not _ZONE_AT_END.search(str(v)) for v in known)


def normalized_code(code: object) -> str:
    """Return a code for comparison: lower case, with underscores for hyphens and spaces.

    Examples
    --------
    >>> normalized_code("Ductile-Iron")
    'ductile_iron'
    """
    return "_".join(str(code).casefold().replace("-", " ").replace("_", " ").split())
