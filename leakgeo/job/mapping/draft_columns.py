"""The columns of one layer in the draft of a mapping."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.job.checks.columns import parse_column
from leakgeo.job.checks.values import loose_code
from leakgeo.job.mapping.column import as_key
from leakgeo.job.mapping.draft_times import time_keys
from leakgeo.job.mapping.guess import (
    LIKELY,
    SURE,
    WEAK,
    code_of,
    column_score,
    is_opposite,
    truth_of,
    unit_in,
)
from leakgeo.job.mapping.text import comment, quoted
from leakgeo.job.mapping.units import factor, known_units

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.job.schema import Field, LayerSchema
    from leakgeo.job.sources.layers import RawLayer

_MOST_VALUES = 40


def draft_columns(
    schema: LayerSchema, raw: RawLayer, used: tuple[str, ...], fixed: Mapping[str, str]
) -> list[str]:
    """Draft the columns of a layer.

    Parameters
    ----------
    schema : LayerSchema
    raw : RawLayer
        The layer of the source.
    used : tuple of str
        Columns that are coordinates.
    fixed : mapping of str to str
        Columns of the contract whose value is known otherwise.

    Returns
    -------
    list of str
        Lines of TOML: what is simple first, then the tables of codes.
    """
    names = [str(c) for c in raw.table.columns if c != "geometry" and c not in used]
    pairs = match_columns_to(schema, names)
    plain, tables = [f"[{schema.name}.columns]"], []
    for field in schema.fields:
        if field.name not in pairs:
            plain += _absent(field, fixed)
            continue
        name, score = pairs[field.name]
        lines = _codes(schema, field, name, raw.table[name]) if score >= LIKELY else []
        tables += lines
        plain += [] if lines else [_simple(field, name, score, raw.table[name])]
    left = [n for n in names if n not in {n for n, _ in pairs.values()}]
    if left:
        plain.append(f"# Columns that nothing was made of: {comment(', '.join(left))}")
    return [*plain, *tables]


def match_columns_to(schema: LayerSchema, names: list[str]) -> dict[str, tuple[str, float]]:
    """Find the likeliest column for each of the contract; none stands for two.

    Examples
    --------
    >>> from leakgeo.job.schema import load_schema
    >>> match_columns_to(load_schema("routes"), ["PIPE_ID", "MAT", "DEPTH_FT"])["depth_m"]
    ('DEPTH_FT', 0.8)
    """
    scored = [(column_score(n, f), f.name, n) for f in schema.fields for n in names]
    found: dict[str, tuple[str, float]] = {}
    used: set[str] = set()
    for score, field, name in sorted(scored, key=lambda s: -s[0]):
        if score > 0 and field not in found and name not in used:
            found[field] = (name, score)
            used.add(name)
    return found


def _absent(field: Field, fixed: Mapping[str, str]) -> list[str]:
    if field.name in fixed:
        return [f"{field.name} = {{ value = {quoted(fixed[field.name])} }}  # by the layer's name"]
    if not field.required:
        return []
    if field.codes:
        codes = ", ".join(field.codes)
        value = quoted(field.codes[0])
        return [f"# {field.name} = {{ value = {value} }}  # needed: a column, or one of {codes}"]
    return [f'# {field.name} = ""  # needed: {comment(field.description)}']


def _simple(field: Field, name: str, score: float, values: pd.Series[Any]) -> str:
    """Write one line: a comment where name, unit or form of the values leave a doubt."""
    keys, doubt = [f"column = {quoted(name)}"], "" if score >= LIKELY else "is it this column?"
    if known_units(field.unit or "") and score < SURE:
        unit = unit_in(name)
        sure = unit is not None and factor(unit, str(field.unit)) is not None
        keys.append(f"unit = {quoted(unit if sure else field.unit)}")
        doubt = doubt or ("" if sure else f"in which unit? {_span(values)}")
    if field.type in ("datetime", "date"):
        more, unsure = time_keys(values)
        keys, doubt = keys + more, doubt or unsure
    if field.required and score == WEAK:
        doubt = f"needed: {doubt}"
    line = f"{field.name} = {{ {', '.join(keys)} }}" if len(keys) > 1 else (
        f"{field.name} = {quoted(name)}"
    )  # fmt: skip
    return f"# {line}  # {comment(doubt)}" if doubt else line


def _span(values: pd.Series[Any]) -> str:
    numbers = pd.to_numeric(values.astype(object), errors="coerce").to_numpy(float, na_value=np.nan)
    known = numbers[np.isfinite(numbers)]
    return f"values from {known.min():g} to {known.max():g}" if known.size else "no numbers in it"


def _codes(schema: LayerSchema, field: Field, name: str, values: pd.Series[Any]) -> list[str]:
    """Write a table of codes, each with a guess; none where all are the contract's already."""
    if not field.codes and field.type != "boolean":
        return []
    plain = values.astype(object)[values.notna().to_numpy()]
    counts = pd.Series([as_text(v) for v in plain], dtype=object).value_counts()
    turned = is_opposite(name, field)
    strange = [v for v in counts.index if turned or not _is_known(v, field)]
    if not strange:
        return []
    key = f"{schema.name}.columns.{field.name}"
    codes = ", ".join(field.codes) or "true, false"
    lines = ["", f"[{key}]", f"column = {quoted(name)}", f"[{key}.values]  # one of: {codes}"]
    seen: set[str] = set()
    for value in strange[:_MOST_VALUES]:
        if as_key(value) not in seen:
            seen.add(as_key(value))
            lines.append(_code(value, int(counts[value]), field, turned=turned))
    if len(strange) > _MOST_VALUES:
        lines.append(f"# and {len(strange) - _MOST_VALUES} more values: is it this column?")
    return lines


def as_text(value: object) -> str:
    """Give a value as the draft shows it: whole numbers without decimals."""
    whole = isinstance(value, float) and value.is_integer()
    return str(int(value)) if whole else str(value).strip()  # type: ignore[call-overload]


def _is_known(value: str, field: Field) -> bool:
    if value.casefold() in {m.casefold() for m in field.missing}:
        return True
    if field.type == "boolean":
        return not parse_column(pd.Series([value], dtype=object), field).bad[0]
    return loose_code(value) in {loose_code(c) for c in field.codes}


def _code(value: str, count: int, field: Field, *, turned: bool) -> str:
    guess = truth_of(value) if field.type == "boolean" else code_of(value, field.codes)
    if turned and isinstance(guess, bool):
        guess = not guess
    if guess is None:
        return f'# {quoted(value)} = ""  # {count}x; which is it?'
    told = quoted(guess) if isinstance(guess, str) else str(guess).lower()
    return f"{quoted(value)} = {told}  # {count}x"
