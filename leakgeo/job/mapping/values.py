"""Values of one source column, brought to the codes, units and times of the contract."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.job.checks.columns import parse_column
from leakgeo.job.checks.values import loose_code
from leakgeo.job.mapping.column import as_key
from leakgeo.job.mapping.former import is_former
from leakgeo.job.mapping.time_zone import read_times

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.job.mapping.model import ColumnMap
    from leakgeo.job.schema import Field


@dataclass(frozen=True)
class Converted:
    """A column in the contract's terms.

    Parameters
    ----------
    column : pandas.Series, shape (n,)
        What could not be converted stays as it was: the checks of the layer tell of it.
    uncovered : mapping of str to int
        Values that are no code of the contract, and how often each occurs.
    """

    column: pd.Series[Any]
    uncovered: Mapping[str, int] = field(default_factory=dict)


def convert(raw: pd.Series[Any], how: ColumnMap, known: Field) -> Converted:
    """Bring a column to the contract.

    Parameters
    ----------
    raw : pandas.Series, shape (n,)
        As read.
    how : ColumnMap
    known : Field
        Of the contract.

    Returns
    -------
    Converted

    Examples
    --------
    >>> from leakgeo.job.mapping.model import ColumnMap
    >>> from leakgeo.job.schema import load_schema
    >>> material = load_schema("routes").field("material")
    >>> how = ColumnMap("material", (), "MAT", codes={"CU": "copper"})
    >>> done = convert(pd.Series(["cu", "PVC", "??", "??"]), how, material)
    >>> done.column.tolist(), done.uncovered
    (['copper', 'PVC', '??', '??'], {'??': 2})
    """
    column = raw
    uncovered: dict[str, int] = {}
    if how.codes or how.missing or known.codes or known.type == "boolean":
        column, uncovered = _coded(raw, how, known)
    if how.factor != 1.0:
        column = _scaled(column, how.factor)
    if how.date_format or how.time_zone:
        column = read_times(column, how.date_format, how.time_zone)
    return Converted(column, uncovered)


def constant(how: ColumnMap, size: int) -> pd.Series[Any]:
    """Give a column that has the constant of a mapping in every row."""
    value = how.value
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        value = value * how.factor
    return pd.Series(np.full(size, value, dtype=object), dtype=object)


def _coded(
    raw: pd.Series[Any], how: ColumnMap, known: Field
) -> tuple[pd.Series[Any], dict[str, int]]:
    """Replace each distinct value once, and count what neither mapping nor contract knows."""
    levels, distinct = pd.factorize(_comparable(raw))
    own = {as_key(k): (None if v == "" else v) for k, v in how.codes.items()}
    own |= dict.fromkeys(how.missing)
    keys = [as_key(v) for v in distinct]
    new = [own.get(k, v) for k, v in zip(keys, distinct, strict=True)]
    counts = np.bincount(levels[levels >= 0], minlength=len(distinct))
    strange = _strange([k in own for k in keys], list(distinct), known)
    uncovered = {str(v): int(n) for v, n, s in zip(distinct, counts, strange, strict=True) if s}
    table = np.empty(len(new) + 1, dtype=object)
    table[:-1], table[-1] = new, None
    return pd.Series(table[levels], dtype=object, index=raw.index), uncovered


def _strange(mapped: list[bool], distinct: list[Any], known: Field) -> list[bool]:
    if known.codes:
        fine = {loose_code(c) for c in known.codes} | {m.casefold() for m in known.missing}
        right = [loose_code(v) in fine or as_key(v) in fine or is_former(v, known)
                 for v in distinct]  # fmt: skip
    elif known.type == "boolean":
        right = list(~parse_column(pd.Series(distinct, dtype=object), known).bad)
    else:
        return [False] * len(distinct)
    return [not (m or r) for m, r in zip(mapped, right, strict=True)]


def _comparable(raw: pd.Series[Any]) -> pd.Series[Any]:
    """Turn lists and the like to text; null stays null."""
    plain = raw.astype(object).where(raw.notna(), None)
    scalar = (str, int, float, bool, type(None))
    return pd.Series([v if isinstance(v, scalar) else str(v) for v in plain], dtype=object)


def _scaled(raw: pd.Series[Any], factor: float) -> pd.Series[Any]:
    """Convert what is a number; text that is none stays, to be told of."""
    plain = raw.astype(object).where(raw.notna(), None)
    numbers = pd.to_numeric(plain, errors="coerce").to_numpy(dtype=float, na_value=np.nan)
    text = plain.notna().to_numpy() & np.isnan(numbers)
    if not text.any():
        return pd.Series(numbers * factor, index=raw.index)
    mixed = (numbers * factor).astype(object)
    mixed[text] = plain.to_numpy()[text]
    return pd.Series(mixed, dtype=object, index=raw.index)
