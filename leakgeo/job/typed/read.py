"""Read a typed file, and check its rows as those of a job are checked."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import texts
from leakgeo.errors import ParameterError
from leakgeo.faults import Fault
from leakgeo.job.checks import check_layer, check_settings, tape_m
from leakgeo.job.sources import RawLayer
from leakgeo.job.typed.blocks import TypedSheets, sheets_of
from leakgeo.job.typed.cells import read_text, records
from leakgeo.job.typed.headers import FITTINGS, ON_PAPER, known_headers
from leakgeo.job.typed.rows import complete
from leakgeo.reason import Reason
from leakgeo.wording import active_wording

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from leakgeo.arrays import Bools, Objects

#: Unit of a plain number on a tape, by the units that people work in.
TAPE_UNITS = {"us": "ft", "si": "m"}


@dataclass(frozen=True)
class TypedFile:
    """A typed file as read and checked.

    Parameters
    ----------
    name : str
        Name of the file.
    layer : str
        Layer of the contract that takes its rows; ``""`` if the file can't be read.
    rows : int
        Number of rows in the file.
    table : pandas.DataFrame
        Rows that can be used, in columns of the contract that have a value.
    labels : tuple of str
        Name of each of these rows in faults: the file, and the number of its line.
    faults : tuple of Fault
        Each row that is left out has one that is rejected.
    addresses : dict of str to str
        Address of each line that has one.
    """

    name: str
    layer: str
    rows: int
    table: pd.DataFrame
    labels: tuple[str, ...]
    faults: tuple[Fault, ...]
    addresses: Mapping[str, str] = field(default_factory=dict)

    @property
    def left_out(self) -> int:
        """Number of rows that can't be used."""
        return self.rows - len(self.table)


def read_typed(path: Path, *, units: str | None = None) -> TypedFile:
    r"""Read stops or fittings as typed from paper sheets; no content raises.

    Parameters
    ----------
    path : pathlib.Path
        Text with headers, separated by commas, semicolons or tabs. Its headers decide whether it
        holds stops, at least line, from, tape, level and unit, or fittings.
    units : {"si", "us"}, optional
        Unit of tapes that are plain numbers and have none in the file: metres, or feet. Without
        it, such rows are left out, as a wrong guess would put each stop elsewhere.

    Returns
    -------
    TypedFile
        Rows that can be used, and the faults of the others.

    Raises
    ------
    ParameterError
        If `units` is neither.

    Examples
    --------
    >>> import tempfile, pathlib
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = pathlib.Path(folder) / "stops.csv"
    ...     _ = path.write_text("line;from;tape;level;unit\nA-1;H-3;2' 6\";41,5;dB\n;;3 m;;\n")
    ...     read = read_typed(path)
    >>> read.table[["reading_id", "tape", "sound_level", "sound_unit"]].to_numpy().tolist()
    [['A-1 stops stop 1', '2\' 6"', 41.5, 'db']]
    >>> [fault.feature for fault in read.faults if fault.effect == "rejected"]
    ['stops.csv line 3']
    """
    if units is not None and units not in TAPE_UNITS:
        raise ParameterError.of("units", f"{units!r} is not allowed; use one of si, us.")
    text = read_text(path)
    if isinstance(text, Reason):
        return _unread(path.name, text)
    lines = records(text, known_headers)
    if not lines:
        return _unread(path.name, Reason("typed_file_empty"))
    return _checked(path, sheets_of(lines), TAPE_UNITS.get(units or ""))


def _unread(name: str, why: Reason) -> TypedFile:
    return TypedFile(name, "", 0, pd.DataFrame(), (), (Fault("typed file", why, name),))


def _checked(path: Path, sheets: TypedSheets, tape_unit: str | None) -> TypedFile:
    layer, name = sheets.kind.layer, path.name
    if sheets.wrong is not None:
        fault = Fault(layer, sheets.wrong, name)
        return TypedFile(name, layer, len(sheets.rows), pd.DataFrame(), (), (fault,))
    lines = (Reason("typed_line", file=name, line=str(row.line)) for row in sheets.rows)
    labels = np.array([*map(active_wording().text, lines)], dtype=object)
    table = _table(sheets, complete(sheets, path.stem))
    wrong = [row.wrong for row in sheets.rows]
    good = np.array([why is None for why in wrong], dtype=bool)
    faults = _notes(sheets, name)
    faults += [Fault(layer, why, label) for why, label in zip(wrong, labels, strict=True) if why]
    kept, labels = table[good].reset_index(drop=True), labels[good]
    kept, without_unit = _with_tape_units(kept, sheets, tape_unit)
    if without_unit.any():
        reason = Reason("typed_tapes_without_unit", tapes=int(without_unit.sum()))
        faults.append(Fault(layer, reason, name, sheets.kind.tape))
    kept, accepted, more = _as_checked(kept, sheets, labels)
    usable = accepted & ~without_unit
    if _is_listed(sheets):
        incomplete = _of_incomplete_lists(sheets, kept, usable, good)
        reason = Reason("typed_list_incomplete")
        more += [Fault(layer, reason, label) for label in labels[incomplete]]
        usable &= ~incomplete
    return TypedFile(name, layer, len(table), kept[usable].reset_index(drop=True),
                     tuple(labels[usable]), (*faults, *more), sheets.addresses)  # fmt: skip


def _table(sheets: TypedSheets, made: Sequence[dict[str, str]]) -> pd.DataFrame:
    """Return the rows as a table of texts, with the columns that any row has."""
    columns = [name for name in sheets.kind.schema.columns if any(name in row for row in made)]
    return pd.DataFrame({c: pd.Series([row.get(c) for row in made], dtype=object) for c in columns},
                        index=range(len(made)))  # fmt: skip


def _with_tape_units(
    table: pd.DataFrame, sheets: TypedSheets, tape_unit: str | None
) -> tuple[pd.DataFrame, Bools]:
    """Fill in the unit of plain tapes, and return which rows have none.

    These get one for the checks alone, so that their other faults are reported too.
    """
    units, tapes = texts(table, "tape_unit"), texts(table, sheets.kind.tape)
    plain = np.array([_is_plain(tape) and unit is None
                      for tape, unit in zip(tapes, units, strict=True)], dtype=bool)  # fmt: skip
    if not plain.any():
        return table, plain
    units[plain] = tape_unit or "m"
    filled = table.assign(tape_unit=pd.Series(units, index=table.index, dtype=object))
    return filled, plain & (tape_unit is None)


def _is_plain(tape: object) -> bool:
    """Return whether a tape is a number without a unit."""
    return tape is not None and tape_m(str(tape), None) is None and (
        tape_m(str(tape), "m") is not None
    )  # fmt: skip


def _as_checked(
    table: pd.DataFrame, sheets: TypedSheets, labels: Objects
) -> tuple[pd.DataFrame, Bools, list[Fault]]:
    """Return the rows in the types of the contract, which the checks accept, and their faults."""
    schema, key = sheets.kind.schema, sheets.kind.schema.key[0]
    # Faults name the line of the file, which is what people have in hand.
    named = table.assign(**{key: pd.Series(labels, index=table.index, dtype=object)})
    raw = named.reindex(columns=list(schema.columns)).astype(object)
    # The taped list of its line places a fitting.
    unplaced = replace(schema, geometry_types=()) if _is_listed(sheets) else schema
    checked = check_layer(
        RawLayer(raw.where(raw.notna(), None), None), unplaced, check_settings({})
    )
    kept = pd.DataFrame(checked.table)[[c for c in schema.columns if c in table]]
    # The checks compute the chainage of a tape; a job has what was typed.
    typed = {c: kept[c].where(table[c].notna()) for c in ("chainage_m",) if c in kept}
    texts_typed = {c: table[c] for c in (key, sheets.kind.tape) if c in kept}
    good = checked.table["reason"].isna().to_numpy()
    faults = _without_echoes(checked.faults)
    if _is_listed(sheets):
        unread = _unread_tapes(table)
        tapes = texts(table, FITTINGS.tape)[unread]
        faults += [Fault(schema.name, Reason("tape_not_a_length", value=tape), label, FITTINGS.tape)
                   for label, tape in zip(labels[unread], tapes, strict=True)]  # fmt: skip
        good = good & ~unread
    return kept.assign(**typed, **texts_typed), good, faults


def _is_listed(sheets: TypedSheets) -> bool:
    """Return whether rows are fittings of taped lists."""
    return sheets.kind is FITTINGS and FITTINGS.tape in sheets.kind.schema.columns


def _unread_tapes(table: pd.DataFrame) -> Bools:
    """Return which lengths from the fitting before are none; a job checks its lists as a whole."""
    pairs = zip(texts(table, FITTINGS.tape), texts(table, "tape_unit"), strict=True)
    return np.array([t is not None and tape_m(str(t), unit) is None for t, unit in pairs], bool)


def _of_incomplete_lists(
    sheets: TypedSheets, kept: pd.DataFrame, usable: Bools, good: Bools
) -> Bools:
    """Return the usable fittings of lists that lack one: the tapes after it would be too short."""
    lines = np.array([row.cells.get("line_id") for row in sheets.rows], dtype=object)
    whole = good.copy()
    whole[good] = usable
    broken = {line for line in lines[~whole] if line is not None}
    listed = set(kept.loc[pd.notna(texts(kept, FITTINGS.tape)), "line_id"])
    return usable & np.isin(texts(kept, "line_id"), list(broken & listed))


def _without_echoes(faults: Sequence[Fault]) -> list[Fault]:
    """Leave out that a row has no geometry where its tape is at fault."""
    own = {fault.feature for fault in faults if fault.column == "tape"}
    return [f for f in faults if f.code != "reading_without_geometry" or f.feature not in own]


def _notes(sheets: TypedSheets, name: str) -> list[Fault]:
    """Return notes on cells that were filled from above, and on columns that are not used."""
    notes: list[Reason] = []
    if sheets.filled:
        columns = [Reason(f"header_{column}") for column in sheets.filled]
        notes.append(Reason("typed_filled", cells=sum(sheets.filled.values()), columns=columns))
    if sheets.unused:
        names = [Reason(f"header_{c}") if c in (*ON_PAPER, "address") else c for c in sheets.unused]
        cells = sum(sheets.unused.values())
        notes.append(Reason("typed_not_used", cells=cells, columns=names))
    return [Fault(sheets.kind.layer, note, name, effect="noted") for note in notes]
