"""Convert values of a source to the codes and units of the contract."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.conversion import UNITS_BY_KIND, conversion
from leakgeo.job.columns import normalized_code, parse_column
from leakgeo.job.lengths import mixed_number
from leakgeo.job.mapping.former import is_former_boolean
from leakgeo.job.mapping.model import as_key
from leakgeo.job.mapping.times import read_times

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.job.mapping.model import ColumnMap
    from leakgeo.job.schema import Field


_SYNONYMS = MappingProxyType({
    "metre": "m", "metres": "m", "meter": "m", "meters": "m", "millimetre": "mm",
    "millimetres": "mm", "millimeter": "mm", "millimeters": "mm", "centimetres": "cm",
    "centimeters": "cm", "inch": "in", "inches": "in", '"': "in", "foot": "ft", "feet": "ft",
    "'": "ft", "us_ft": "us_survey_ft", "us_foot": "us_survey_ft", "us_feet": "us_survey_ft",
    "survey_ft": "us_survey_ft", "us_survey_foot": "us_survey_ft", "us_survey_feet": "us_survey_ft",
    "yard": "yd", "yards": "yd", "psig": "psi", "lbf/in2": "psi", "bars": "bar", "barg": "bar",
    "mh2o": "m_head", "mwc": "m_head", "fth2o": "ft_head", "litre": "l", "litres": "l",
    "liter": "l", "liters": "l", "cf": "ft3", "cuft": "ft3", "cu_ft": "ft3", "hcf": "ccf",
    "gallon": "gal", "gallons": "gal", "us_gal": "gal", "kgallon": "kgal", "decibel": "db",
    "decibels": "db",
})  # fmt: skip


def known_units(target: str) -> tuple[str, ...]:
    """Return the units that can be converted to `target`; none if it is not known.

    Examples
    --------
    >>> known_units("kPa")[:4]
    ('kpa', 'pa', 'mpa', 'bar')
    """
    return next((tuple(kind) for kind in UNITS_BY_KIND.values() if _unit_name(target) in kind), ())


def factor(unit: str, target: str) -> float | None:
    """Return the factor that converts a value from `unit` to `target`.

    Parameters
    ----------
    unit : str
        In any usual spelling: ``"ft"``, ``"US survey foot"``, ``"psi"`` ...
    target : str
        Unit of the data contract.

    Returns
    -------
    float or None
        None if the unit is not known, or of another kind than `target`.

    Examples
    --------
    >>> factor("in", "mm"), factor("psi", "m"), round(factor("psi", "kPa"), 9)
    (25.4, None, 6.894757293)
    """
    for kind in UNITS_BY_KIND.values():
        if _unit_name(unit) in kind and _unit_name(target) in kind:
            return conversion(_unit_name(unit), _unit_name(target))
    return None


def _unit_name(unit: str) -> str:
    plain = unit.strip().casefold().replace(".", "").replace("-", "_").replace(" ", "_")
    return _SYNONYMS.get(plain, plain)


@dataclass(frozen=True)
class Converted:
    """A column converted to the contract.

    Parameters
    ----------
    column : pandas.Series, shape (n,)
        Values that can't be converted are unchanged; the checks of the layer report them.
    uncovered : mapping of str to int
        Counts of values that are not codes of the contract.
    """

    column: pd.Series[Any]
    uncovered: Mapping[str, int] = field(default_factory=dict)


def convert(raw: pd.Series[Any], column_map: ColumnMap, field: Field) -> Converted:
    """Convert a column to the contract.

    Parameters
    ----------
    raw : pandas.Series, shape (n,)
        As read.
    column_map : ColumnMap
    field : Field
        Column of the contract.

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
    if column_map.codes or column_map.missing or field.codes or field.type == "boolean":
        column, uncovered = _with_mapped_codes(raw, column_map, field)
    if column_map.factor != 1.0:
        column = _scaled(column, column_map.factor)
    if column_map.date_format or column_map.time_zone:
        column = read_times(column, column_map.date_format, column_map.time_zone)
    return Converted(column, uncovered)


def constant(column_map: ColumnMap, size: int) -> pd.Series[Any]:
    """Return a column with the constant of a mapping in every row."""
    value = column_map.value
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        value = value * column_map.factor
    return pd.Series(np.full(size, value, dtype=object), dtype=object)


def _with_mapped_codes(
    raw: pd.Series[Any], column_map: ColumnMap, field: Field
) -> tuple[pd.Series[Any], dict[str, int]]:
    """Replace mapped values, and count those that neither the mapping nor the contract has."""
    levels, distinct = pd.factorize(_comparable(raw))
    own = {as_key(k): (None if v == "" else v) for k, v in column_map.codes.items()}
    own |= dict.fromkeys(column_map.missing)
    keys = [as_key(v) for v in distinct]
    new = [own.get(k, v) for k, v in zip(keys, distinct, strict=True)]
    counts = np.bincount(levels[levels >= 0], minlength=len(distinct))
    unknown = _unknown_values([k in own for k in keys], list(distinct), field)
    uncovered = {str(v): int(n) for v, n, s in zip(distinct, counts, unknown, strict=True) if s}
    table = np.empty(len(new) + 1, dtype=object)
    table[:-1], table[-1] = new, None
    return pd.Series(table[levels], dtype=object, index=raw.index), uncovered


def _unknown_values(mapped: list[bool], distinct: list[Any], field: Field) -> list[bool]:
    if field.codes:
        fine = {normalized_code(c) for c in field.codes} | {m.casefold() for m in field.missing}
        right = [normalized_code(v) in fine or as_key(v) in fine or is_former_boolean(v, field)
                 for v in distinct]  # fmt: skip
    elif field.type == "boolean":
        right = list(~parse_column(pd.Series(distinct, dtype=object), field).bad)
    else:
        return [False] * len(distinct)
    return [not (m or r) for m, r in zip(mapped, right, strict=True)]


def _comparable(raw: pd.Series[Any]) -> pd.Series[Any]:
    """Convert lists and other objects to text; nulls are unchanged."""
    plain = raw.astype(object).where(raw.notna(), None)
    scalar = (str, int, float, bool, type(None))
    return pd.Series([v if isinstance(v, scalar) else str(v) for v in plain], dtype=object)


def _without_fraction(value: object) -> object:
    """Return a mixed number as a decimal, such as 1.5 for 1 1/2; other values unchanged."""
    if not isinstance(value, str) or "/" not in value:
        return value
    try:
        return mixed_number(value)
    except (ValueError, ZeroDivisionError):
        return value


def _scaled(raw: pd.Series[Any], factor: float) -> pd.Series[Any]:
    """Scale numbers and fractions; other text, such as a length with its unit, is unchanged."""
    plain = raw.astype(object).where(raw.notna(), None).map(_without_fraction)
    numbers = pd.to_numeric(plain, errors="coerce").to_numpy(dtype=float, na_value=np.nan)
    text = plain.notna().to_numpy() & np.isnan(numbers)
    if not text.any():
        return pd.Series(numbers * factor, index=raw.index)
    mixed = (numbers * factor).astype(object)
    mixed[text] = plain.to_numpy()[text]
    return pd.Series(mixed, dtype=object, index=raw.index)
