"""Read sheets that people typed: find layers and columns by their headers, and clean them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.errors import JobError
from leakgeo.faults import Fault
from leakgeo.job.checks import names_start
from leakgeo.job.sources import RawLayer, points_from_columns, read_layer, usual_columns
from leakgeo.job.typed.headers import FITTINGS, STOPS, unit_of
from leakgeo.job.workbook.names import columns_of_headers, sheet_named
from leakgeo.job.workbook.values import (
    filled_down,
    pressures_in_kpa,
    respelled,
    stop_names,
    tape_units,
)
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.job.sources import LayerSource
    from leakgeo.job.workbook.names import Sheet

#: Files that people type into.
SHEET_FILES = frozenset((".xlsx", ".ods", ".csv"))
# Columns with taped lengths.
_TAPES = (STOPS.tape, FITTINGS.tape)
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
        sheet = sheet_named(name)
        known = isinstance(path, Path) and path.suffix.casefold() in SHEET_FILES
        if known and sheet is not None and sheet.layer not in source.layers:
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
                 for layer, (_, sheet) in found.items()]  # fmt: skip
        faults = (*faults, Fault("job", Reason("sheets_are_layers", sheets=pairs), effect="noted"))
    ready = {**source.ready, **_linked(ready)}
    return replace(source, layers=layers, ready=ready, faults=faults)


def _typed(raw: RawLayer, sheet: Sheet) -> RawLayer:
    """Return a sheet with the columns of its layer, without empty rows, and filled down."""
    table = pd.DataFrame(raw.table).map(_stripped).dropna(how="all").reset_index(drop=True)
    table = _with_headers(table, sheet.layer)
    named = columns_of_headers([str(c) for c in table], sheet.layer)
    table = table.rename(columns={c: named.get(str(c), str(c)) for c in table})
    table = table.drop(
        columns=[c for c in table if table[c].isna().all() and c not in named.values()]
    )
    table, notes = filled_down(table, sheet.down)
    if "sound_unit" in table and "sound_level" in table and sheet.layer == "contacts":
        table["sound_unit"] = table["sound_unit"].mask(table["sound_level"].isna(), None)
    if "pressure_kpa" in table:
        table["pressure_kpa"] = pressures_in_kpa(table["pressure_kpa"])
    table = _with_tape_units(table, named)
    notes = (*raw.notes, *notes)
    pair = usual_columns(str(c) for c in table) if sheet.layer == "contacts" else None
    if pair is not None and "lat" in pair[1].casefold():
        placed = points_from_columns(table, *pair, "EPSG:4326")
        bad = [Reason("sheet_not_degrees", values=placed.bad[:5])] if placed.bad else []
        return RawLayer(placed.table, placed.table.crs, (*notes, *bad))
    return RawLayer(table, None, notes)


def _with_tape_units(table: pd.DataFrame, named: Mapping[str, str]) -> pd.DataFrame:
    """Return a sheet with the units of its tapes as codes; a header such as Tape (ft) has one."""
    if "tape_unit" in table:
        table["tape_unit"] = tape_units(table["tape_unit"])
    tape = next((head for head, column in named.items() if column in _TAPES), "")
    if unit := unit_of(tape):
        given = table.get("tape_unit", pd.Series(None, index=table.index, dtype=object))
        table["tape_unit"] = given.mask(given.isna() & table[named[tape]].notna(), unit)
    return table


def _with_headers(table: pd.DataFrame, layer: str) -> pd.DataFrame:
    """Return a sheet whose only row was read as data, though it has the headers, as headers."""
    if columns_of_headers([str(c) for c in table], layer) or not len(table):
        return table
    first = [str(value) for value in table.iloc[0]]
    if not columns_of_headers(first, layer):
        return table
    return table.iloc[1:].set_axis(first, axis=1).reset_index(drop=True)


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
    given = raw.table.get("reading_id", pd.Series(None, index=raw.table.index, dtype=object))
    names, changed = stop_names(given, raw.table["line_id"])
    notes = (Reason("sheet_stops_named", stops=changed),) if changed else ()
    return replace(raw, table=raw.table.assign(reading_id=names), notes=(*raw.notes, *notes))


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
