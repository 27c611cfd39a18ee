"""Typed rows as columns of the contract: what is missing is made, and the same again each time."""

from __future__ import annotations

import re
from collections import Counter
from functools import cache
from typing import TYPE_CHECKING

from leakgeo.conversion import conversion
from leakgeo.job.checks import names_start
from leakgeo.job.mapping import guess_code
from leakgeo.job.typed.headers import CODE_TERMS, STOPS
from leakgeo.reason import Reason
from leakgeo.wording import languages, wording

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.job.schema import Field, LayerSchema
    from leakgeo.job.typed.blocks import TypedRow, TypedSheets

_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+")
_LEVEL = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*(?:db|decibels?)\.?", re.IGNORECASE)


def complete(sheets: TypedSheets, stem: str) -> list[dict[str, str]]:
    """Return the values of each row by column of the contract, as texts.

    Parameters
    ----------
    sheets : TypedSheets
        Rows with ``wrong`` set stay, as the number of a row in its walk is part of its name. Rows
        that lack what can't be made get ``wrong``.
    stem : str
        Name of the file without its ending, which names walks without a date.

    Returns
    -------
    list of dict of str to str
        One per row. A stop is named by its walk and its number in it, and a walk by its line, its
        date and its number; so the same sheet gives the same names when it is read again.

    Examples
    --------
    >>> from leakgeo.job.typed.blocks import TypedRow, TypedSheets
    >>> row = TypedRow(2, {"line_id": "A-1", "chainage_from": "start", "tape": "3", "walk": "2"})
    >>> made = complete(TypedSheets(STOPS, [row]), "monday")
    >>> made[0]["walk_id"], made[0]["reading_id"], made[0].get("chainage_from")
    ('A-1 monday 2', 'A-1 monday 2 stop 1', None)
    """
    for row in sheets.rows:
        lacking = [c for c in sheets.kind.names if c not in row.cells]
        if lacking and row.wrong is None and sheets.wrong is None:
            row.wrong = _lacking(lacking[0])
    schema = sheets.kind.schema
    made = [_values(row, schema) for row in sheets.rows]
    if sheets.kind is STOPS:
        for values, row in zip(made, sheets.rows, strict=True):
            values.setdefault("walk_id", _walk(row, stem))
            if names_start(values.get("chainage_from")):
                del values["chainage_from"]
        _number(made, sheets.rows)
    else:
        _as_fittings(made, schema)
    return made


def _lacking(column: str) -> Reason:
    """Return what a row lacks; the origin of a tape may also be the start of the route."""
    if column == "chainage_from":
        return Reason("typed_start_needed")
    return Reason("typed_value_missing", column=Reason(f"header_{column}"))


def _values(row: TypedRow, schema: LayerSchema) -> dict[str, str]:
    """Return the values of a row that the contract has, codes in its spelling."""
    fields = {f.name: f for f in schema.fields}
    values = {n: _as_read(value, fields[n]) for n, value in row.cells.items() if n in fields}
    if "air_psi" in row.cells:
        values.setdefault("air_kpa", _kilopascals(row.cells["air_psi"]))
    level = level_in_db(values.get("sound_level", ""))
    # A unit beside the level that is not that of its row leaves both in doubt.
    if level is not None and values.get("sound_unit", "db") == "db":
        values |= {"sound_level": level, "sound_unit": "db"}
    return values


def level_in_db(text: str) -> str | None:
    """Return the number of a level with its unit beside it; None for any other text.

    Examples
    --------
    >>> level_in_db("35 dB"), level_in_db("35,5db"), level_in_db("35")
    ('35', '35.5', None)
    """
    found = _LEVEL.fullmatch(text)
    return None if found is None else found[1].replace(",", ".")


def _kilopascals(psi: str) -> str:
    try:
        return f"{float(psi.replace(',', '.')) * conversion('psi', 'kpa'):.3f}"
    except ValueError:
        return psi  # the checks report it


def _as_read(value: str, field: Field) -> str:
    if field.codes:
        return code_of(value, field)
    if field.type in ("number", "integer") and _DECIMAL_COMMA.fullmatch(value):
        return value.replace(",", ".")
    return value


def code_of(value: str, field: Field) -> str:
    """Return the code that a word means: a code, its usual abbreviations, or what sheets print.

    Examples
    --------
    >>> from leakgeo.job.schema import load_schema
    >>> [code_of(w, load_schema("contacts").field("kind")) for w in ("curb stop", "medidor", "sky")]
    ['curb_stop', 'meter', 'sky']
    """
    if (code := guess_code(value, field.codes)) is not None:
        return code
    return _printed(field).get(value.casefold(), value)


@cache
def _printed(field: Field) -> Mapping[str, str]:
    """Return the code of each word that sheets print for the codes of a column."""
    prefix = CODE_TERMS.get(field.name, field.name)
    return {wording(language=each).term(code, prefix).casefold(): code
            for each in languages() for code in field.codes}  # fmt: skip


def _walk(row: TypedRow, stem: str) -> str:
    """Return the name of the walk of a row: line, date or else the file, and its number."""
    parts = (row.cells.get("line_id", ""), row.cells.get("date") or stem,
             row.cells.get("walk", ""))  # fmt: skip
    return " ".join(part for part in parts if part)


def _number(made: Sequence[dict[str, str]], rows: Sequence[TypedRow]) -> None:
    """Number the stops of each walk, and name them: by what was typed if that is unique."""
    of_walk: dict[str, list[int]] = {}
    for i, values in enumerate(made):
        of_walk.setdefault(values["walk_id"], []).append(i)
    for walk, own in of_walk.items():
        stops = [rows[i].cells.get("stop", "") for i in own]
        unique = all(stops) and len(set(stops)) == len(stops)
        for number, (i, stop) in enumerate(zip(own, stops, strict=True), 1):
            name = stop if unique else str(number)
            made[i].setdefault("seq", str(number))
            made[i].setdefault("reading_id", f"{walk} stop {name}")
        _name_places(made, [i for i in own if rows[i].cells.get("stop")], rows, walk)


def _name_places(
    made: Sequence[dict[str, str]], own: Sequence[int], rows: Sequence[TypedRow], walk: str
) -> None:
    """Give readings of one stop and one tape, as with air off and on, the same ``stop_id``."""
    place = {i: (rows[i].cells["stop"], made[i].get("tape", "")) for i in own}
    count = Counter(place.values())
    for i in own:
        if count[place[i]] > 1:
            made[i].setdefault("stop_id", f"{walk} stop {place[i][0]}")


def _as_fittings(made: Sequence[dict[str, str]], schema: LayerSchema) -> None:
    """Number the fittings of each line in the order typed; one that is not heard has no unit."""
    order: Counter[str] = Counter()
    for values in made:
        if "sound_level" not in values:
            values.pop("sound_unit", None)
        if "seq" in schema.columns:
            order[values.get("line_id", "")] += 1
            values.setdefault("seq", str(order[values.get("line_id", "")]))
