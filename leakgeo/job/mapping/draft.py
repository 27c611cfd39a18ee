"""Draft a mapping from the names and values in a source, with uncertain lines as comments."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.job.columns import normalized_code, parse_column
from leakgeo.job.lengths import length_m
from leakgeo.job.mapping.guess import (
    LIKELY,
    SURE,
    WEAK,
    column_score,
    guess_boolean,
    guess_code,
    is_opposite,
    unit_in,
    words,
)
from leakgeo.job.mapping.layer_info import list_layers, match_layers
from leakgeo.job.mapping.model import as_key, toml_comment, toml_string
from leakgeo.job.mapping.times import time_keys
from leakgeo.job.mapping.values import factor, known_units
from leakgeo.job.schema import readable_layers
from leakgeo.job.sources import display_address, open_source, usual_columns

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from leakgeo.job.mapping.layer_info import LayerInfo
    from leakgeo.job.schema import Field, LayerSchema
    from leakgeo.job.sources import RawLayer


_MAX_VALUES = 40


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
        Columns with coordinates.
    fixed : mapping of str to str
        Constants of columns of the contract, by the name of the layer.

    Returns
    -------
    list of str
        Lines of TOML: single-line entries first, then the tables of codes.
    """
    names = [str(c) for c in raw.table.columns if c != "geometry" and c not in used]
    pairs = match_columns_to(schema, names)
    fixed = {**fixed, **_tape_unit(schema, pairs)}
    plain, tables = [f"[{schema.name}.columns]"], []
    for field in schema.fields:
        if field.name not in pairs:
            plain += _missing_column(field, fixed)
            continue
        name, score = pairs[field.name]
        lines = _codes(schema, field, name, raw.table[name]) if score >= LIKELY else []
        tables += lines
        plain += [] if lines else [_simple(field, name, score, raw.table[name])]
    left = [n for n in names if n not in {n for n, _ in pairs.values()}]
    if left:
        plain.append(f"# Columns that nothing was made of: {toml_comment(', '.join(left))}")
    return [*plain, *tables]


def match_columns_to(schema: LayerSchema, names: list[str]) -> dict[str, tuple[str, float]]:
    """Match each column of the contract with the likeliest column, each used once; with scores.

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


def _tape_unit(schema: LayerSchema, pairs: Mapping[str, tuple[str, float]]) -> dict[str, str]:
    """Return the unit of plain numbers of a tape, if the name of their column ends with it."""
    if "tape_unit" not in schema.columns or "tape_unit" in pairs:
        return {}
    taped = [pairs[n] for n in ("tape", "tape_from_previous") if n in pairs]
    units = [str(unit_in(name)) for name, score in taped if score >= LIKELY]
    known = [unit for unit in units if unit in schema.field("tape_unit").codes]
    return {"tape_unit": known[0]} if known else {}


def _missing_column(field: Field, fixed: Mapping[str, str]) -> list[str]:
    if field.name in fixed:
        value = toml_string(fixed[field.name])
        return [f"{field.name} = {{ value = {value} }}  # by the name of its layer or column"]
    if not field.required:
        return []
    if field.codes:
        codes = ", ".join(field.codes)
        value = toml_string(field.codes[0])
        return [f"# {field.name} = {{ value = {value} }}  # needed: a column, or one of {codes}"]
    return [f'# {field.name} = ""  # needed: {toml_comment(field.description)}']


def _simple(field: Field, name: str, score: float, values: pd.Series[Any]) -> str:
    """Return one line; a comment if name, unit or format of the values is uncertain."""
    keys, doubt = [f"column = {toml_string(name)}"], "" if score >= LIKELY else "is it this column?"
    if known_units(field.unit or "") and score < SURE:
        unit = unit_in(name)
        typed = _have_units(field, values)
        sure = typed or (unit is not None and factor(unit, str(field.unit)) is not None)
        keys += [] if typed else [f"unit = {toml_string(unit if sure else field.unit)}"]
        doubt = doubt or ("" if sure else f"in which unit? {_span(values)}")
    if field.type in ("datetime", "date"):
        more, unsure = time_keys(values)
        keys, doubt = keys + more, doubt or unsure
    if field.unique:
        doubt = _repeated(values) or doubt
    if field.required and score == WEAK:
        doubt = f"needed: {doubt}"
    line = f"{field.name} = {{ {', '.join(keys)} }}" if len(keys) > 1 else (
        f"{field.name} = {toml_string(name)}"
    )  # fmt: skip
    return f"# {line}  # {toml_comment(doubt)}" if doubt else line


def _have_units(field: Field, values: pd.Series[Any]) -> bool:
    """Return whether all values are lengths with a unit, such as 38' 6"."""
    known = values[values.notna()]
    lengths = (isinstance(v, str) and length_m(v) is not None for v in known)
    return field.unit in ("m", "mm") and len(known) > 0 and all(lengths)


def _repeated(values: pd.Series[Any]) -> str:
    """Return why a column is none of identifiers, as its values repeat; nothing if they do not."""
    known = values[values.notna()].astype(str)
    different = known.nunique()
    if different == len(known):
        return ""
    return f"its values repeat: {different} in {len(known)} rows; each row needs its own"


def _span(values: pd.Series[Any]) -> str:
    numbers = pd.to_numeric(values.astype(object), errors="coerce").to_numpy(float, na_value=np.nan)
    known = numbers[np.isfinite(numbers)]
    return f"values from {known.min():g} to {known.max():g}" if known.size else "no numbers in it"


def _codes(schema: LayerSchema, field: Field, name: str, values: pd.Series[Any]) -> list[str]:
    """Return a table of codes with guesses; nothing if all are codes of the contract."""
    if not field.codes and field.type != "boolean":
        return []
    plain = values.astype(object)[values.notna().to_numpy()]
    counts = pd.Series([value_text(v) for v in plain], dtype=object).value_counts()
    inverted = is_opposite(name, field)
    unknown = [v for v in counts.index if inverted or not _is_known(v, field)]
    if not unknown:
        return []
    key = f"{schema.name}.columns.{field.name}"
    codes = ", ".join(field.codes) or "true, false"
    lines = ["", f"[{key}]", f"column = {toml_string(name)}", f"[{key}.values]  # one of: {codes}"]
    seen: set[str] = set()
    for value in unknown[:_MAX_VALUES]:
        if as_key(value) not in seen:
            seen.add(as_key(value))
            lines.append(_code(value, int(counts[value]), field, inverted=inverted))
    if len(unknown) > _MAX_VALUES:
        lines.append(f"# and {len(unknown) - _MAX_VALUES} more values: is it this column?")
    return lines


def value_text(value: object) -> str:
    """Return a value as shown in the draft: whole numbers without decimals."""
    whole = isinstance(value, float) and value.is_integer()
    return str(int(value)) if whole else str(value).strip()  # type: ignore[call-overload]


def _is_known(value: str, field: Field) -> bool:
    if value.casefold() in {m.casefold() for m in field.missing}:
        return True
    if field.type == "boolean":
        return not parse_column(pd.Series([value], dtype=object), field).bad[0]
    return normalized_code(value) in {normalized_code(c) for c in field.codes}


def _code(value: str, count: int, field: Field, *, inverted: bool) -> str:
    guess = guess_boolean(value) if field.type == "boolean" else guess_code(value, field.codes)
    if inverted and isinstance(guess, bool):
        guess = not guess
    if guess is None:
        return f'# {toml_string(value)} = ""  # {count}x; which is it?'
    written = toml_string(guess) if isinstance(guess, str) else str(guess).lower()
    return f"{toml_string(value)} = {written}  # {count}x"


_HEADER = """\
# Which layers, columns and codes of {name} are which of leakgeo's.
# This is a draft, made from names and values. Go through every line: a line that begins with #
# does nothing until you correct it and take the # away. A column that is not here is not used,
# unless it has the contract's own name. Then: leakgeo check JOB --mapping THIS_FILE
#
# Units of a column: m mm cm ft us_survey_ft in yd, kpa bar psi m_head ft_head, l m3 gal ft3 ccf.
# Times without a zone are taken as UTC, unless you say where they were taken:
# time_zone = "America/Chicago"
# Numbers with a comma, such as 41,5, are read where this is said:
# decimal = ","
"""


def draft_mapping(source: str | Path) -> str:
    """Draft a mapping, for the user to correct.

    Parameters
    ----------
    source : str or pathlib.Path
        As for `leakgeo.read_job`.

    Returns
    -------
    str
        TOML that `read_job` reads as its mapping.

    Raises
    ------
    JobError
        If the source can't be read.

    Examples
    --------
    >>> import leakgeo
    >>> text = leakgeo.draft_mapping("examples/two_walks/job.gpkg")
    >>> [line for line in text.splitlines() if line.startswith("layer = ")]
    ['layer = "routes"', 'layer = "readings"']
    """
    schemas = readable_layers()
    with open_source(source) as opened:
        seen = list_layers(opened)
        found = match_layers(seen, schemas.values())
        name = display_address(source).replace("\\", "/").rpartition("/")[2]
        parts = [_HEADER.format(name=toml_comment(name))]
        parts += [_layer(schema, found.get(schema.name, [])) for schema in schemas.values()
                  if schema.name in found or not schema.part_of]  # fmt: skip
    used = [info for infos in found.values() for info in infos]
    left = [toml_comment(s.layer) for s in seen if s not in used]
    parts += [f"# {toml_comment(str(fault))}\n" for fault in opened.faults]
    if left:
        parts.append(f"# Layers that nothing was made of: {', '.join(left)}\n")
    return "\n".join(parts)


def _layer(schema: LayerSchema, infos: list[LayerInfo]) -> str:
    if not infos:
        need = "needed; name the layer" if schema.required else "no layer was seen for it"
        return f'# [{schema.name}]  # {need}\n# layer = ""\n'
    many = len(infos) > 1
    return "\n".join(_part(schema, info, many=many) for info in infos)


def _part(schema: LayerSchema, info: LayerInfo, *, many: bool) -> str:
    raw = info.read()
    head = f"[[{schema.name}]]" if many else f"[{schema.name}]"
    lines = [f"{head}  # {len(raw.table)} rows; {toml_comment(schema.title)}"]
    if info.file is not None:
        lines.append(f"file = {toml_string(info.file)}")
    lines.append(f"layer = {toml_string(info.layer)}")
    used: tuple[str, ...] = ()
    if schema.geometry_types and not raw.has_geometry:
        written, used = _coordinates(info)
        lines += written
    elif schema.geometry_types and raw.crs is None:
        lines.append('# crs = "EPSG:"  # needed: the layer does not say which it is in')
    fixed = _kind_by_name(schema, info)
    lines += ["", *draft_columns(schema, raw, used, fixed)]
    return "\n".join(lines) + "\n"


def _coordinates(info: LayerInfo) -> tuple[list[str], tuple[str, ...]]:
    pair = usual_columns(info.columns)
    if pair is None:
        return ['# x = ""', '# y = ""', '# crs = "EPSG:4326"'], ()
    named = [f"x = {toml_string(pair[0])}", f"y = {toml_string(pair[1])}"]
    if "lat" in pair[1].casefold():
        return [*named, 'crs = "EPSG:4326"  # longitude and latitude: is it WGS 84?'], pair
    return [*(f"# {n}" for n in named), '# crs = "EPSG:"  # needed: which are they in?'], pair


def _kind_by_name(schema: LayerSchema, info: LayerInfo) -> dict[str, str]:
    """Return the kind of a utility from the name of its layer, such as GasMains."""
    if schema.job_layer != "utilities":
        return {}
    codes = schema.field("kind").codes
    guesses = (guess_code(w, codes) for w in words(info.layer) if len(w) > 2)
    kind = next((g for g in guesses if g), None)
    return {"kind": kind} if kind else {}
