"""Read layers of an earlier result, to compare its marks with excavation results."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import geopandas as gpd

from leakgeo.errors import JobError, ParameterError
from leakgeo.faults import Fault
from leakgeo.job.digest import LayerDigest, column_types
from leakgeo.job.results.stored_record import layers_without_rows, stored_record
from leakgeo.job.results.which_run import superseded_faults
from leakgeo.job.schema import load_schemas
from leakgeo.job.sources import open_source, read_layer
from leakgeo.reason import Reason
from leakgeo.staging import RECORD, finish_commit

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    import pandas as pd
    from pyproj import CRS

    from leakgeo.job.sources import LayerSource

REQUIRED = ("lines", "marks", "profile")
OPTIONAL = ("readings_on_route",)


def earlier_layers(path: Path, crs: CRS) -> tuple[dict[str, pd.DataFrame], tuple[Fault, ...]]:
    """Read layers of an earlier result.

    Parameters
    ----------
    path : pathlib.Path
        Its ``result.gpkg``, or the folder of this file.
    crs : pyproj.CRS
        CRS to transform the layers to.

    Returns
    -------
    layers : dict of str to pandas.DataFrame or geopandas.GeoDataFrame
        ``lines``, ``marks`` and ``profile``, and ``readings_on_route`` if the result has it.
    faults : tuple of Fault
        Layers that were changed since the run.

    Raises
    ------
    ParameterError
        If the file can't be read, or is not a result of leakgeo.
    """
    file = path / "result.gpkg" if path.is_dir() else path
    finish_commit(file.parent)
    try:
        with open_source(file, in_part=True) as opened:
            names = [name for name in (*REQUIRED, *OPTIONAL) if name in opened.layers]
            empty = layers_without_rows(stored_record(opened), crs)
            missing = [name for name in REQUIRED if name not in (*names, *empty)]
            if missing:
                raise ParameterError.of("results", f"{file} has no layer {', '.join(missing)}.")
            tables = {name: read_layer(opened, name).table for name in names}
    except JobError as error:
        raise ParameterError.of("results", f"{error}") from error
    faults = compared_with_run(file, tables)[1]
    layers = {name: table for name, table in empty.items() if name in (*REQUIRED, *OPTIONAL)}
    return layers | {name: _in_crs(table, crs) for name, table in tables.items()}, faults


def _in_crs(table: pd.DataFrame, crs: CRS) -> pd.DataFrame:
    """Return a layer in a CRS; one without places, as of taped lines, has none to transform."""
    if not isinstance(table, gpd.GeoDataFrame) or not table.crs:
        return table
    if table.geometry.isna().all():
        return table.set_crs(crs, allow_override=True)
    return table.to_crs(crs)


def compared_with_run(
    path: Path, tables: Mapping[str, pd.DataFrame]
) -> tuple[str, tuple[Fault, ...]]:
    """Compare layers of a result with the digests in the record of its run.

    Parameters
    ----------
    path : pathlib.Path
        The ``result.gpkg``; ``run.json`` is read from the same folder.
    tables : mapping of str to pandas.DataFrame or geopandas.GeoDataFrame
        Layers as read, with all rows.

    Returns
    -------
    run_id : str
        Identifier of the run that wrote the layers; ``""`` if they have none.
    faults : tuple of Fault
        One for each layer that was changed since the run, or one if the record can't be used; and
        one if the result was superseded.
    """
    run, faults = _compared(path, tables)
    return run, (*superseded_faults(path.parent), *faults)


def changed_since_run(opened: LayerSource, path: Path, names: Iterable[str]) -> tuple[Fault, ...]:
    """Compare some layers of an open result with the digests in the record of its run.

    Parameters
    ----------
    opened : LayerSource
        The ``result.gpkg``.
    path : pathlib.Path
        Its path; ``run.json`` is read from the same folder.
    names : iterable of str
        Layers; those that the result lacks are passed over. Each is read whole.

    Returns
    -------
    tuple of Fault
        As those of `compared_with_run`, but for a superseded result.
    """
    there = (name for name in names if name in opened.layers)
    return _compared(path, {name: read_layer(opened, name).table for name in there})[1]


def _compared(path: Path, tables: Mapping[str, pd.DataFrame]) -> tuple[str, tuple[Fault, ...]]:
    run = _run_id_of(tables)
    try:
        record = json.loads((path.parent / RECORD).read_text("utf-8"))
        written, contents = str(record["run_id"]), dict(record["contents"])
    except (OSError, ValueError, KeyError, TypeError):
        return run, (_noted_fault("lines", Reason("result_without_record", record=RECORD)),)
    if run and written != run:
        reason = Reason("result_of_other_run", run=run, record=RECORD, written=written)
        return run, (_noted_fault("lines", reason),)
    schemas = load_schemas("output")
    faults = []
    for name, table in tables.items():
        digest = LayerDigest.of(table, column_types(schemas.get(name)))
        if name in contents and contents[name] != digest:
            faults.append(_noted_fault(name, Reason("layer_changed", layer=name, run=written)))
    return run or written, tuple(faults)


def _run_id_of(tables: Mapping[str, pd.DataFrame]) -> str:
    lines = tables.get("lines")
    known = set() if lines is None or "run_id" not in lines else set(lines["run_id"].dropna())
    return str(known.pop()) if len(known) == 1 else ""


def _noted_fault(layer: str, reason: Reason) -> Fault:
    return Fault(layer, reason, effect="noted")
