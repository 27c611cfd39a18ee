"""Open a source of a job: a vector file with several layers, a folder of files, or a database."""

from __future__ import annotations

import hashlib
import re
import warnings
from collections.abc import Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import geopandas as gpd
import pandas as pd

from leakgeo.errors import JobError, ParameterError
from leakgeo.faults import Fault, job_error
from leakgeo.job.guards import PARQUET, READABLE, gdal, refusal, table_too_large
from leakgeo.job.schema import CUT_NAMES_MARK
from leakgeo.job.sources.address import display_address, is_database
from leakgeo.job.sources.edited import EditedSource
from leakgeo.job.sources.layers import (
    DBF_NAME_LENGTH,
    LayerSource,
    RawLayer,
    unreadable_layer,
    without_ambiguous_columns,
)
from leakgeo.job.sources.partial import PartialSource
from leakgeo.job.sources.read_only_copy import read_only_copy
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from leakgeo.job.sources.layers import Memory
    from leakgeo.job.sources.postgis import Database


JobSource = str | Path | Mapping[str, pd.DataFrame] | EditedSource | PartialSource

#: Job in the folder of a field project.
FIELD_JOB = "job.gpkg"
# A scheme has at least two letters; one letter is a drive. pathlib turns `//` into `/`.
_URL = re.compile(r"[a-z][a-z0-9+.-]+:/", re.IGNORECASE)


# Warnings of readers about single rows, which the checks report in more detail.
_REPORTED_BY_CHECKS = ("successfully parsed", "from_wkb", "Could not parse column")


@contextmanager
def open_source(source: JobSource, *, in_part: bool = False) -> Iterator[LayerSource]:
    """Open a source, and find its layers; nothing is written to it or to its folder.

    Parameters
    ----------
    source : JobSource
    in_part : bool
        Layers are read batch by batch, or a few of them: the size of a file is no limit then.

    Raises
    ------
    JobError
        If it does not exist, can't be read, or is neither a local file nor the URL of a PostgreSQL
        database.
    """
    if isinstance(source, EditedSource):
        with open_source(source.path, in_part=in_part) as opened:
            yield _with_edits(opened, source)
        return
    if isinstance(source, PartialSource):
        # What is large in it is ready.
        with open_source(source.source, in_part=True) as opened:
            yield replace(opened, ready={**opened.ready, **source.ready})
        return
    if not isinstance(source, (str, Path)):
        from leakgeo.job.sources.layers import Memory

        if not isinstance(source, Mapping):
            kind = type(source).__name__
            raise _source_error(kind, Reason("not_a_source", type=kind))
        tables = Memory({str(name).casefold(): table for name, table in source.items()})
        yield LayerSource(tables, {name: (tables, name) for name in tables.tables})
        return
    if is_database(source):
        from leakgeo.job.sources.postgis import open_database

        with open_database(str(source)) as base:
            names = {name.casefold(): (base, name) for name in base.tables}
            also = {f"{table.schema}.{table.name}".casefold(): name.casefold()
                    for name, table in base.tables.items()}  # fmt: skip
            yield LayerSource(base, names, base.faults, also=also)
        return
    path = _local(source)
    if path.is_dir() and path.suffix.casefold() != ".gdb":
        with ExitStack() as copies:
            yield _folder(path, copies, in_part=in_part)
        return
    with read_only_copy(path) as (readable, note):
        layers = layer_names(readable, path, in_part=in_part)
        found = {str(n).casefold(): (readable, str(n)) for n in layers}
        yield LayerSource(path, found, note)


def read_columns(source: LayerSource, name: str, columns: Sequence[str]) -> pd.DataFrame:
    """Read some columns of a layer of a file; those that it lacks are null, all without a layer.

    Parameters
    ----------
    source : LayerSource
    name : str
    columns : sequence of str
        With ``geometry`` among them the layer is a GeoDataFrame.

    Raises
    ------
    JobError
        If the layer can't be read.
    """
    path, layer = source.layers.get(name, (None, ""))
    if not isinstance(path, Path):
        return pd.DataFrame(columns=list(columns))
    try:
        table = gdal.read_table(path, layer, columns=columns)
    except Exception as error:
        raise unreadable_layer(name, error) from error
    return table.reindex(columns=list(columns))


def read_layer(source: LayerSource, name: str) -> RawLayer:
    """Read one layer.

    Raises
    ------
    JobError
        If the layer can't be read.
    """
    if name in source.ready:
        return source.ready[name]
    path, layer = source.layers[name]
    if not isinstance(path, Path):
        return path.read(layer)
    if path.suffix.casefold() in PARQUET:
        from leakgeo.job.sources.parquet import read_parquet

        return read_parquet(path)
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        try:
            info = gdal.layer_info(path, layer)
            too_large = table_too_large(info["features"], len(info["fields"]))
            table = pd.DataFrame() if too_large else gdal.read_table(path, layer, info)
        except JobError:
            raise
        except Exception as error:
            raise unreadable_layer(name, error) from error
    if too_large is not None:
        raise job_error(name, Fault(name, too_large))
    messages = dict.fromkeys(str(warning.message) for warning in caught)
    notes = [Reason("reader_note", note=message.rstrip(".")) for message in messages
             if not any(text in message for text in _REPORTED_BY_CHECKS)]  # fmt: skip
    crs = table.crs if isinstance(table, gpd.GeoDataFrame) else None
    table, column_notes = without_ambiguous_columns(table)
    # A GIS hands a layer of a Shapefile over in a GeoPackage.
    described = (info.get("layer_metadata") or {}).get("DESCRIPTION")
    cut = path.suffix.casefold() == ".shp" or described == CUT_NAMES_MARK
    return RawLayer(table, crs, (*notes, *column_notes), DBF_NAME_LENGTH if cut else None)


def _with_edits(opened: LayerSource, source: EditedSource) -> LayerSource:
    """Read the layers that have edits, and return a source with the edits in them."""
    if unknown := source.layers - opened.layers.keys():
        raise ParameterError(f"rows: {source.path} has no layer {', '.join(sorted(unknown))}.")
    ready = dict(opened.ready)
    for name in source.layers:
        path, layer = opened.layers[name]
        if not isinstance(path, Path):
            raise ParameterError(f"rows: {source.path} has no numbered rows.")
        fids = gdal.read_fids(path, layer)
        ready[name] = source.edited(name, read_layer(opened, name), fids)
    return replace(opened, ready=ready)


def digest(path: Path | Database | Memory) -> str:
    """Return the SHA-256 of a file, or ``""`` for a folder, a database or tables in memory."""
    if not isinstance(path, Path) or not path.is_file():
        return ""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _local(source: str | Path) -> Path:
    text = str(source)
    if _URL.match(text) or "/vsi" in text.casefold():
        raise _source_error(display_address(text), Reason("not_a_local_file"))
    path = Path(source)
    if not path.exists():
        raise _source_error(text, Reason("no_such_file"))
    if path.suffix.casefold() in (".zip", ".gz", ".vrt"):
        raise _source_error(text, Reason("packed_or_virtual"))
    # The folder of a field project is its job: no layer has that name.
    inside = path / FIELD_JOB
    return inside if inside.is_file() else path


def _source_error(source: str, reason: Reason) -> JobError:
    return job_error(source, Fault("job", reason, value=source, effect="stops"))


def layer_names(readable: Path, path: Path, *, in_part: bool = False) -> list[str]:
    """Return the names of the layers of a file.

    Parameters
    ----------
    readable, path : pathlib.Path
        The file to open, and the original file if it is a copy.
    in_part : bool
        As for `open_source`.

    Raises
    ------
    JobError
        If the file is refused, see `leakgeo.job.guards`, or can't be read.
    """
    if reason := refusal(readable, in_part=in_part):
        raise _source_error(str(path), reason)
    if path.suffix.casefold() in PARQUET:
        return [path.stem]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            return gdal.layer_names(readable)
        except JobError as error:
            raise _source_error(str(path), error.faults[0].reason) from error
        except Exception as error:
            reason = Reason("file_unreadable", error=gdal.first_line(error))
            raise _source_error(str(path), reason) from error


def _folder(path: Path, copies: ExitStack, *, in_part: bool) -> LayerSource:
    layers: dict[str, tuple[Path, str]] = {}
    faults = []
    for file in sorted(p for p in path.iterdir() if p.suffix.casefold() in READABLE):
        name = file.stem.casefold()
        if name in layers:
            reason = Reason("layer_in_two_files", files=[layers[name][0].name, file.name])
            faults.append(Fault(name, reason, value=file.name, effect="noted"))
            continue
        try:
            readable, notes = copies.enter_context(read_only_copy(file))
            names = layer_names(readable, file, in_part=in_part)
        except JobError as error:
            faults += [Fault(name, fault.reason, value=file.name) for fault in error.faults]
            continue
        faults += [replace(note, layer=name) for note in notes]
        if names:
            layers[name] = (readable, names[0])
    return LayerSource(path, layers, tuple(faults))
