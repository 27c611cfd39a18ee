"""Read sheets that people typed: find layers and columns by their headers, and clean them."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.errors import JobError
from leakgeo.faults import Fault
from leakgeo.job.checks import names_start
from leakgeo.job.schema import load_schema
from leakgeo.job.sources import RawLayer, points_from_columns, read_layer, usual_columns
from leakgeo.job.typed.headers import unit_of
from leakgeo.job.typed.rows import code_of
from leakgeo.job.workbook.names import columns_of_headers, sheet_named
from leakgeo.job.workbook.stops import with_stop_names
from leakgeo.job.workbook.values import (
    days_without_hour,
    filled_down,
    levels,
    pressures_in_kpa,
    respelled,
    tape_units,
    totals,
    with_points,
)
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.job.sources import LayerSource
    from leakgeo.job.workbook.names import Sheet

#: Files that people type into.
SHEET_FILES = frozenset((".xlsx", ".ods", ".csv"))
# How many rows may stand above the headers.
_MOST_ABOVE = 10
# Columns with names, where a row of totals has its word.
_NAMES = ("line_id", "contact_id", "reading_id", "chainage_from")
# Columns that name a fitting, by layer.
_NAMING = {"readings": ("chainage_from", "chainage_toward", "tap_open"),
           "meter_tests": ("contact_id",)}  # fmt: skip


def with_sheets(source: LayerSource) -> LayerSource:
    """Return a source in which the sheets of a crew are layers of the data contract.

    A sheet is known by its name (Lines, Fittings, Stops, Meter tests, Digs), and its columns by
    their headers; a layer under its own name goes before. Values that hold for the rows below are
    filled down, and names of lines and fittings get the spelling of their own sheets; a note says
    what was changed.

    Parameters
    ----------
    source : LayerSource
        An open workbook, or a folder of CSV files; any other is returned unchanged.
    """
    found: dict[str, tuple[str, Sheet]] = {}
    for name, (path, _) in source.layers.items():
        typed = isinstance(path, Path) and path.suffix.casefold() in SHEET_FILES
        sheet = sheet_named(name) if typed else None
        if sheet is not None and sheet.layer not in source.layers:
            found.setdefault(sheet.layer, (name, sheet))
    layers = {**source.layers, **{layer: source.layers[name] for layer, (name, _) in found.items()}}
    ready: dict[str, RawLayer] = {}
    for layer, (name, sheet) in found.items():
        try:
            raw = _typed(read_layer(source, name), sheet)
        except JobError:  # reported when the layer is read under its own name
            continue
        ready[layer] = raw
        if raw.table.empty and layer not in ("routes", "readings"):
            del layers[layer], ready[layer]
    faults = source.faults
    if found:
        pairs = [Reason("sheet_as_layer", sheet=sheet.title, layer=layer)
                 for layer, (_, sheet) in found.items() if layer in layers]  # fmt: skip
        faults = (*faults, Fault("job", Reason("sheets_are_layers", sheets=pairs), effect="noted"))
    linked = {n: replace(raw, table=raw.table.reset_index(drop=True))
              for n, raw in _linked(ready).items()}  # fmt: skip
    ready = {**source.ready, **linked}
    return replace(source, layers=layers, ready=ready, faults=faults)


def _typed(raw: RawLayer, sheet: Sheet) -> RawLayer:
    """Return a sheet with the columns of its layer, whose index has the numbers of its rows."""
    table = pd.DataFrame(raw.table).reset_index(drop=True).map(_stripped)
    # GDAL names columns so where it takes the first row for data.
    unnamed = all(re.fullmatch(r"Field\d+", str(name)) for name in table)
    table.index += 1 if unnamed else 2
    table = _with_headers(table.dropna(how="all"), sheet.layer)
    headers = columns_of_headers([str(c) for c in table], sheet.layer)
    table = table.rename(columns={c: headers.get(str(c), str(c)) for c in table})
    table = table.drop(
        columns=[c for c in table if table[c].isna().all() and c not in headers.values()]
    )
    table, left_out = _without_totals(table)
    table, filled = filled_down(table, sheet.down)
    table, words = _in_units(_with_unit_of_header(table, headers), sheet)
    notes = (*raw.notes, *left_out, *filled, *words, *_hourless(table, sheet))
    pair = usual_columns(str(c) for c in table) if sheet.layer == "contacts" else None
    if pair is not None and "lat" in pair[1].casefold():
        placed = points_from_columns(table, *pair, "EPSG:4326")
        bad = [Reason("sheet_not_degrees", values=placed.bad[:5])] if placed.bad else []
        return RawLayer(placed.table.set_index(table.index), placed.table.crs, (*notes, *bad))
    return RawLayer(table, None, notes)


def _without_totals(table: pd.DataFrame) -> tuple[pd.DataFrame, tuple[Reason, ...]]:
    """Return a sheet without rows of totals, and a note that names them."""
    wrong = totals(table, _NAMES)
    rows = table.index[wrong].tolist()
    return table[~wrong], (Reason("sheet_totals_left_out", rows=rows),) if rows else ()


def _with_unit_of_header(table: pd.DataFrame, headers: Mapping[str, str]) -> pd.DataFrame:
    """Return a sheet in which tapes without a unit have that of their header, as in Tape (ft)."""
    units = [unit_of(h) for h, c in headers.items() if c in ("tape", "tape_from_previous")]
    if not units or units[0] is None:
        return table
    given = table.get("tape_unit", pd.Series(None, index=table.index, dtype=object))
    return table.assign(tape_unit=given.astype(object).where(given.notna(), units[0]))


def _in_units(table: pd.DataFrame, sheet: Sheet) -> tuple[pd.DataFrame, tuple[Reason, ...]]:
    """Return a sheet with codes for words, and values in the units of their columns; notes."""
    coded = {f.name: table[f.name].map(lambda v, f=f: code_of(v, f) if isinstance(v, str) else v)
             for f in load_schema(sheet.layer).fields if f.codes and f.name in table}  # fmt: skip
    numbers = [f.name for f in load_schema(sheet.layer).fields if f.type == "number"]
    points = {name: with_points(table[name]) for name in numbers if name in table}
    if "tape_unit" in table:
        coded["tape_unit"] = tape_units(table["tape_unit"])
    pairs = dict.fromkeys(
        (str(a), str(b)) for name, now in coded.items() if name != "tape_unit"
        for a, b in zip(table[name], now, strict=True)
        if isinstance(a, str) and _letters(a) != _letters(b)
    )  # fmt: skip
    table = table.assign(**coded, **points)
    if "sound_level" in table:
        units = table.get("sound_unit", pd.Series(None, index=table.index, dtype=object))
        level, unit = levels(table["sound_level"], units)
        if sheet.layer == "contacts":
            unit = unit.mask(level.isna(), None)
        table = table.assign(sound_level=level, sound_unit=unit)
    if "pressure_kpa" in table:
        table = table.assign(pressure_kpa=pressures_in_kpa(table["pressure_kpa"]))
    words = [Reason("respelled", was=a, now=b) for a, b in pairs]
    return table, (Reason("sheet_words_as_codes", words=words),) if words else ()


def _letters(text: str) -> str:
    return "".join(c for c in text.casefold() if c.isalnum())


def _hourless(table: pd.DataFrame, sheet: Sheet) -> tuple[Reason, ...]:
    """Return a note if times are days alone, as of cells whose format shows no hour."""
    names = [f.name for f in load_schema(sheet.layer).fields if f.type == "datetime"]
    days = {name: days_without_hour(table[name]) for name in names if name in table}
    columns = [name for name, count in days.items() if count]
    if not columns:
        return ()
    return (Reason("sheet_days_without_hour", cells=sum(days.values()), columns=columns),)


def _with_headers(table: pd.DataFrame, layer: str) -> pd.DataFrame:
    """Return a sheet whose headers were read as data, as of a sheet with a title above them."""
    if len(columns_of_headers([str(c) for c in table], layer)) > 1:
        return table
    for k in range(min(len(table), _MOST_ABOVE)):
        heads = [str(value) for value in table.iloc[k]]
        if len(columns_of_headers(heads, layer)) > 1 or (k == 0 and _all_known(heads, layer)):
            return table.iloc[k + 1 :].set_axis(heads, axis=1)
    return table


def _all_known(heads: list[str], layer: str) -> bool:
    given = [head for head in heads if head not in ("None", "nan")]
    return bool(given) and len(columns_of_headers(given, layer)) == len(given)


def _stripped(value: Any) -> Any:
    """Return a cell without spaces around it; None where nothing else is in it."""
    if not isinstance(value, str):
        return value
    return value.replace("\u00a0", " ").strip() or None


def _linked(raws: Mapping[str, RawLayer]) -> dict[str, RawLayer]:
    """Return sheets in which lines and fittings have the spelling of their own sheets."""
    done = dict(raws)
    lines = _column(done.get("routes"), "line_id")
    for name, raw in raws.items():
        if name != "routes" and "line_id" in raw.table:
            spelled = respelled(raw.table["line_id"], None, lines, None)
            done[name] = _with(raw, {"line_id": spelled})
    fittings = done.get("contacts")
    for name, columns in _NAMING.items():
        if name not in done or "line_id" not in done[name].table:
            continue
        raw = done[name]
        names, of_line = _column(fittings, "contact_id"), _column(fittings, "line_id")
        changed = {
            column: respelled(raw.table[column], raw.table["line_id"], names, of_line)
            for column in columns if column in raw.table
        }  # fmt: skip
        done[name] = _with(raw, changed)
    if "readings" in done:
        done["readings"] = _from_the_start(done["readings"], _column(fittings, "contact_id"))
        done["readings"] = _with_stop_names(done["readings"])
    return done


def _from_the_start(raw: RawLayer, fittings: list[object]) -> RawLayer:
    """Return stops in which the word start is no fitting, but the start of the line."""
    if "chainage_from" not in raw.table:
        return raw
    at = raw.table["chainage_from"]
    begun = at.map(lambda name: names_start(name) and name not in fittings)
    return replace(raw, table=raw.table.assign(chainage_from=at.mask(begun.astype(bool), None)))


def _with_stop_names(raw: RawLayer) -> RawLayer:
    if "line_id" not in raw.table:
        return raw
    table, changed = with_stop_names(raw.table)
    notes = (Reason("sheet_stops_named", stops=changed),) if changed else ()
    return replace(raw, table=table, notes=(*raw.notes, *notes))


def _column(raw: RawLayer | None, name: str) -> list[object]:
    return [] if raw is None or name not in raw.table else raw.table[name].tolist()


def _with(raw: RawLayer, columns: Mapping[str, pd.Series[Any]]) -> RawLayer:
    """Return a sheet with respelled columns, and a note of the names that changed."""
    notes = []
    for name, column in columns.items():
        before, after = (np.array(c, dtype=object) for c in (raw.table[name], column))
        pairs = dict.fromkeys((str(a), str(b)) for a, b in zip(before, after, strict=True)
                              if pd.notna(a) and str(a) != str(b))  # fmt: skip
        words = [Reason("respelled", was=a, now=b) for a, b in list(pairs)[:5]]
        if words:
            notes.append(Reason("sheet_respelled", column=name, names=words))
    return replace(raw, table=raw.table.assign(**columns), notes=(*raw.notes, *notes))
