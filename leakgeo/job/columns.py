"""Bring the columns of a layer as read to the names and types of the contract."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from leakgeo.job.schema import Field, FieldType

    Parsed = tuple[pd.Series[Any], NDArray[np.bool_]]

_DTYPES: dict[FieldType, Any] = {
    "string": object,
    "number": "float64",
    "integer": "float64",
    "boolean": "boolean",
    "datetime": "datetime64[us, UTC]",
    "date": "datetime64[us]",
}
_TRUTH = {
    "true": True, "t": True, "yes": True, "y": True, "1": True, "1.0": True,
    "false": False, "f": False, "no": False, "n": False, "0": False, "0.0": False,
}  # fmt: skip
_ZONE_AT_END = re.compile(r"(?:[zZ]|[+-]\d{2}(?::?\d{2})?)\s*$")


def empty_column(field: Field, length: int) -> pd.Series[Any]:
    """Give a column of nulls in the type that `field` has inside leakgeo.

    Text is ``object`` with None; numbers and integers alike are ``float64`` with NaN; booleans are
    pandas' nullable ``boolean``; times are ``datetime64[us, UTC]``, dates ``datetime64[us]``.
    """
    nothing: Any = None if field.type in ("string", "boolean") else np.nan
    if field.type in ("datetime", "date"):
        nothing = pd.NaT
    return pd.Series([nothing] * length, dtype=_DTYPES[field.type])


def match_columns(names: Iterable[str], wanted: Iterable[str]) -> dict[str, str]:
    """Find each wanted column among those there are, whatever their case.

    Returns
    -------
    dict of str to str
        The contract's name to the name as read; an exact match wins.

    Examples
    --------
    >>> match_columns(["LINE_ID", "Pipe"], ["line_id", "material"])
    {'line_id': 'LINE_ID'}
    """
    there = [str(n) for n in names]
    loose = {n.strip().casefold(): n for n in reversed(there)}
    exact = set(there)
    return {w: w if w in exact else loose[w] for w in wanted if w in exact or w in loose}


def parse_column(raw: pd.Series[Any], field: Field) -> tuple[Parsed, bool]:
    """Bring one column to the type of `field`.

    Parameters
    ----------
    raw : pandas.Series, shape (n,)
        Values as read.
    field : Field

    Returns
    -------
    parsed : tuple of pandas.Series and ndarray of bool
        Values in the type inside leakgeo, and which could not be read as it (null there).
    zoneless : bool
        Whether any time came without a zone (and was taken as UTC).
    """
    blanked = _blank(raw, field.missing)
    if field.type in ("datetime", "date"):
        return _times(blanked, field.type)
    parse = {"string": _texts, "number": _numbers, "integer": _integers, "boolean": _booleans}
    return parse[field.type](blanked), False


def _is_text(raw: pd.Series[Any]) -> bool:
    return raw.dtype == object or isinstance(raw.dtype, pd.StringDtype)


def _blank(raw: pd.Series[Any], missing: tuple[str, ...]) -> pd.Series[Any]:
    """Turn every text that stands for no value to None, and strip the others."""
    if not _is_text(raw):
        return raw
    column = raw.astype(object)
    texts = column.map(lambda v: v.strip() if isinstance(v, str) else v)
    return texts.mask(texts.isna() | texts.isin(missing), None)


def _texts(raw: pd.Series[Any]) -> Parsed:
    """Take numbers as texts without a trailing ``.0``: identifiers often come as 1001.0."""
    known = raw.notna().to_numpy()
    if pd.api.types.is_float_dtype(raw.dtype):
        whole = known & (raw.to_numpy() % 1 == 0) & (np.abs(raw.to_numpy()) < 2.0**53)
        texts = raw.astype(object).where(~whole, raw.where(whole, 0).astype("int64")).astype(str)
    elif _is_text(raw):
        texts = raw.where(raw.map(lambda v: isinstance(v, str)), raw.astype(str))
    else:
        texts = raw.astype(str)
    return texts.astype(object).where(known, None), np.zeros(len(raw), dtype=bool)


def _numbers(raw: pd.Series[Any]) -> Parsed:
    if pd.api.types.is_datetime64_any_dtype(raw.dtype):
        return pd.Series(np.full(len(raw), np.nan)), raw.notna().to_numpy()
    values = pd.to_numeric(raw, errors="coerce").astype("float64")
    bad = raw.notna().to_numpy() & ~np.isfinite(values.to_numpy())
    return values.mask(bad), bad


def _integers(raw: pd.Series[Any]) -> Parsed:
    values, bad = _numbers(raw)
    bad = bad | (values.notna().to_numpy() & (values.to_numpy() % 1 != 0))
    return values.mask(bad), bad


def _booleans(raw: pd.Series[Any]) -> Parsed:
    known = raw.notna().to_numpy()
    if pd.api.types.is_bool_dtype(raw.dtype):
        return raw.astype("boolean"), np.zeros(len(raw), dtype=bool)
    values = raw.map(lambda v: _TRUTH.get(str(v).casefold()) if v is not None else None)
    typed = values.astype(object).where(values.notna(), None).astype("boolean")
    return typed, known & values.isna().to_numpy()


def _times(raw: pd.Series[Any], kind: FieldType) -> tuple[Parsed, bool]:
    if pd.api.types.is_numeric_dtype(raw.dtype):
        # A bare number could be seconds, days or a year: not guessed.
        return (
            pd.Series(pd.NaT, index=raw.index, dtype=_DTYPES[kind]),
            raw.notna().to_numpy(),
        ), False
    known = raw.notna().to_numpy()
    zoneless = _zoneless(raw)
    values = pd.to_datetime(raw, errors="coerce", utc=True, format=_format(raw))
    bad = known & values.isna().to_numpy()
    if kind == "date":
        values = values.dt.tz_localize(None).dt.normalize()
    return (values.astype(_DTYPES[kind]), bad), zoneless


def _format(raw: pd.Series[Any]) -> str | None:
    return "ISO8601" if _is_text(raw) else None


def _zoneless(raw: pd.Series[Any]) -> bool:
    if not _is_text(raw):
        return getattr(raw.dt, "tz", None) is None and bool(raw.notna().any())
    known = raw[raw.notna()]
    naive = known.map(lambda v: not _ZONE_AT_END.search(v) if isinstance(v, str) else
                      getattr(v, "tzinfo", None) is None)  # fmt: skip
    return bool(naive.any())
