"""Add typed stops and fittings to a job: once each, and all of them in one transaction."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.errors import JobError
from leakgeo.faults import Fault, causes_text
from leakgeo.job.append import append_rows
from leakgeo.job.checks import check_layer, check_settings
from leakgeo.job.new_file import write_new_file
from leakgeo.job.schema import load_schema
from leakgeo.job.sources import open_source, read_layer
from leakgeo.job.template import write_template
from leakgeo.job.typed.headers import FITTINGS
from leakgeo.job.typed.read import TypedFile, read_typed
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Sequence

# Columns that tell whether a row of the same name is the same row.
_COMPARED = ("line_id", "kind", "tape", "tape_from_previous", "chainage_from", "chainage_toward",
             "sound_level", "sound_unit", "air")  # fmt: skip


@dataclass(frozen=True)
class Added:
    """What became of the rows of one typed file.

    Parameters
    ----------
    name, layer : str
        File, and the layer of the job that takes its rows.
    rows, added, there, left_out : int
        Rows of the file: all, those that were added, those that the job had already, and those
        that can't be used. The last three sum to the first.
    faults : tuple of Fault
    """

    name: str
    layer: str
    rows: int
    added: int
    there: int
    left_out: int
    faults: tuple[Fault, ...]


def add_typed(
    job: str | Path,
    files: Sequence[str | Path],
    *,
    units: str | None = None,
    crs: Any = "EPSG:4326",
) -> tuple[Added, ...]:
    r"""Add stops and fittings, as typed from paper sheets, to a job; nothing is overwritten.

    A row that the job has already is not added again, so a file may be given again after its
    faulty lines were corrected.

    Parameters
    ----------
    job : str or pathlib.Path
        GeoPackage to add to; a new job is made if it does not exist.
    files : sequence of str or pathlib.Path
        Text files; see `leakgeo.job.typed.read.read_typed`.
    units : {"si", "us"}, optional
        Unit of tapes that are plain numbers and have none in their file: metres, or feet.
    crs : pyproj.CRS or any value that its constructor takes
        CRS of a new job.

    Returns
    -------
    tuple of Added
        One for each file.

    Raises
    ------
    JobError
        If no row of any file can be used, with every fault, or the job can't be read. Nothing is
        written then.
    OutputError
        If the job can't be written. Nothing is written then.
    ParameterError
        If `units` or `crs` is not allowed.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     stops = Path(folder) / "stops.csv"
    ...     _ = stops.write_text("line,from,tape,level,unit\nA-1,start,2 m,41,db\n,,,42,")
    ...     (first,) = add_typed(Path(folder) / "job.gpkg", [stops])
    ...     (again,) = add_typed(Path(folder) / "job.gpkg", [stops])
    >>> (first.rows, first.added, first.left_out), (again.added, again.there, again.left_out)
    ((2, 1, 1), (0, 1, 1))
    """
    job, read = Path(job), [read_typed(Path(file), units=units) for file in files]
    if not any(len(file.table) for file in read):
        raise _nothing(job, read)
    if job.exists():
        new, added = _new_rows(job, read)
        if new:
            append_rows(job, new)
        return added
    new, added = _new_rows(None, read)
    write_new_file(job, "a GeoPackage", ".gpkg",
                   lambda draft: append_rows(write_template(draft, crs=crs), new))  # fmt: skip
    return added


def _nothing(job: Path, read: Sequence[TypedFile]) -> JobError:
    """Return the error of files without a usable row."""
    faults = [fault for file in read for fault in file.faults]
    text = causes_text(f for f in faults if f.effect != "noted")
    return JobError(f"{job}: nothing was written, as no row can be used. {text}".strip(), faults)


def _new_rows(
    job: Path | None, read: Sequence[TypedFile]
) -> tuple[dict[str, pd.DataFrame], tuple[Added, ...]]:
    """Return the rows that the job does not have, by layer, and what becomes of each file."""
    layers = list(dict.fromkeys(file.layer for file in read if len(file.table)))
    known = {layer: _known(job, layer) for layer in layers}
    new: dict[str, list[pd.DataFrame]] = {layer: [] for layer in layers}
    lines = _new_lines(job, [file.table for file in read if file.layer == FITTINGS.layer])
    added = []
    for file in read:
        if not len(file.table):
            added.append(_outcome(file, 0, 0, ()))
            continue
        own, there, faults = _compared(file, known[file.layer])
        new[file.layer].append(own)
        faults += _addresses_left(job, file, lines)
        added.append(_outcome(file, len(own), there, faults))
    tables = {layer: pd.concat(parts, ignore_index=True) for layer, parts in new.items()}
    if lines:
        given = dict(pair for file in reversed(read) for pair in file.addresses.items())
        addresses = [given.get(line) for line in lines]
        routes = pd.DataFrame({"line_id": lines, "address": pd.Series(addresses, dtype=object)})
        tables = {"routes": routes.dropna(axis="columns", how="all"), **tables}
    return {layer: table for layer, table in tables.items() if len(table)}, tuple(added)


def _new_lines(job: Path | None, fittings: Sequence[pd.DataFrame]) -> list[str]:
    """Return the lines of taped lists that the job does not have: they need no geometry."""
    listed = [t.loc[t[FITTINGS.tape].notna(), "line_id"] for t in fittings if FITTINGS.tape in t]
    if not listed:
        return []
    known = _known(job, "routes")
    return [str(line) for line in pd.concat(listed).unique() if line not in known]


def _addresses_left(job: Path | None, file: TypedFile, new_lines: Sequence[str]) -> list[Fault]:
    """Return a note on addresses of lines that get no row of routes, and have another or none."""
    rest = {line: text for line, text in file.addresses.items() if line not in new_lines}
    if not rest:
        return []
    known = _addresses(job)
    left = [line for line, text in rest.items() if known.get(line) != text]
    reason = Reason("typed_address_left", lines=left)
    return [Fault(file.layer, reason, file.name, "address", effect="noted")] if left else []


def _addresses(job: Path | None) -> dict[str, str]:
    """Return the address of each line that the job has."""
    if job is None:
        return {}
    with open_source(job) as opened:
        if "routes" not in opened.layers:
            return {}
        raw = read_layer(opened, "routes")
        table = check_layer(raw, load_schema("routes"), check_settings({})).table
    named = table[table["line_id"].notna() & table["address"].notna()]
    return dict(zip(named["line_id"], named["address"], strict=True))


def _outcome(file: TypedFile, added: int, there: int, faults: Sequence[Fault]) -> Added:
    return Added(file.name, file.layer, file.rows, added, there, file.rows - added - there,
                 (*file.faults, *faults))  # fmt: skip


def _known(job: Path | None, layer: str) -> dict[str, tuple[object, ...]]:
    """Return what is compared of each row that the job has, by its name."""
    if job is None:
        return {}
    with open_source(job) as opened:
        if layer not in opened.layers:
            return {}
        schema = load_schema(layer)
        table = check_layer(read_layer(opened, layer), schema, check_settings({})).table
    return dict(zip(table[schema.key[0]], _contents(pd.DataFrame(table)), strict=True))


def _contents(table: pd.DataFrame) -> list[tuple[object, ...]]:
    found = table.reindex(columns=list(_COMPARED)).astype(object)
    return list(found.where(found.notna(), None).itertuples(index=False, name=None))


def _compared(
    file: TypedFile, known: dict[str, tuple[object, ...]]
) -> tuple[pd.DataFrame, int, list[Fault]]:
    """Return the new rows of a file, how many are there already, and faults of names taken."""
    key = load_schema(file.layer).key[0]
    new, there, faults = np.zeros(len(file.table), dtype=bool), 0, list[Fault]()
    for i, (name, content) in enumerate(zip(file.table[key], _contents(file.table), strict=True)):
        if name not in known:
            known[name], new[i] = content, True
        elif known[name] == content:
            there += 1
        else:
            reason = Reason("typed_name_taken", layer=file.layer, name=name)
            faults.append(Fault(file.layer, reason, file.labels[i], key, str(name)))
    if there:
        reason = Reason("typed_there_already", rows=there)
        faults.append(Fault(file.layer, reason, file.name, effect="noted"))
    return file.table[new], there, faults
