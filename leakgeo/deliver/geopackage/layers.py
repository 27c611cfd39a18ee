"""Write a result as one GeoPackage: layers typed, described, and in the output CRS."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from functools import partial
from itertools import chain
from types import MappingProxyType
from typing import TYPE_CHECKING

import geopandas as gpd
import pyarrow as pa
import pyogrio

from leakgeo.arrays import texts
from leakgeo.arrow import as_arrow
from leakgeo.checkpoint import checkpoint
from leakgeo.deliver.geopackage.layer_styles import add_styles
from leakgeo.deliver.geopackage.metadata import describe_geopackage, layer_notes
from leakgeo.deliver.geopackage.rows import layer_rows, run_record_table
from leakgeo.deliver.geopackage.update import updated_geopackage
from leakgeo.deliver.geopackage.written import Written
from leakgeo.errors import OutputError
from leakgeo.job.column_descriptions import write_column_descriptions
from leakgeo.job.crs import is_georeferenced
from leakgeo.job.digest import LayerDigest
from leakgeo.job.results.stored_record import PREFIX, RUN_RECORD
from leakgeo.job.schema import load_schemas
from leakgeo.process_settings import SharedSetting, gdal_options

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from pathlib import Path

    import pandas as pd

    from leakgeo.deliver.geopackage.rows import LayerRows
    from leakgeo.job.schema import LayerSchema
    from leakgeo.result import Result
    from leakgeo.wording import Wording

# No flushing while writing: the file is flushed once, before it is moved into place.
UNFLUSHED = {"OGR_SQLITE_SYNCHRONOUS": "OFF"}
unflushed = SharedSetting(partial(gdal_options, UNFLUSHED))
# GDAL before 3.8 warns at every layer of a newer version.
_DATASET = {"VERSION": "1.3"}
# Layers without a spatial index, which takes nearly as much room as their points. Without it, GDAL
# looks through all rows for those of a street: 0.1 s for the readings of 10,000 lines.
_WITHOUT_INDEX = ("profile", "readings_on_route", f"{PREFIX}readings")


def write_geopackage(
    result: Result, path: Path, words: Wording | None = None, old: Path | None = None
) -> dict[str, str]:
    """Write every layer of a result that has rows into a new GeoPackage.

    Parameters
    ----------
    result : Result
        Layers in the job's local metre CRS; written in ``job.output_crs``.
    path : pathlib.Path
        A file that does not exist yet; its name ends in ``.gpkg``.
    words : Wording, optional
        Writes the text columns; the layers have theirs already if None.
    old : pathlib.Path, optional
        The file that an earlier run wrote. If what is kept of that run is of this file, it is
        copied, and only the rows that changed are written.

    Returns
    -------
    dict of str to str
        Digest of the content of each layer, with rows or without; see
        `leakgeo.job.digest.LayerDigest`.

    Raises
    ------
    OutputError
        If it can't be written.

    Notes
    -----
    Layers are in the order of work (`leakgeo.deliver.geopackage.order`), those of the job last;
    columns are in the order of the schemas, followed by any others. A layer without rows is named
    in the table ``run_record``, which tells it from one that the result lacks. The file also has
    styles (``layer_styles``), descriptions of columns (the schema extension) and metadata.
    """
    every = layer_rows(result, words)
    empty = [rows for rows in every.values() if rows.is_empty]
    layers = {name: rows for name, rows in every.items() if rows not in empty}
    record = run_record_table(result, empty)
    written = None if old is None else updated_geopackage(result, layers, record, old, path)
    if written is None:
        written = _written(result, layers, record, path)
    written.save(result, layers, path)
    return {**{rows.name: LayerDigest({}).value for rows in empty}, **written.contents}


def _written(
    result: Result, layers: Mapping[str, LayerRows], record: pd.DataFrame, path: Path
) -> Written:
    """Write the whole file."""
    written, notes = Written(), layer_notes(result)
    with unflushed:
        for rows in layers.values():
            checkpoint()
            parts = written.noted(rows)
            append_rows(path, rows, parts, {} if written.contents else notes)
    if layers:
        finish_geopackage(path, result, record, [*layers])
    return written


def finish_geopackage(
    path: Path, result: Result, record: pd.DataFrame, layers: Sequence[str]
) -> None:
    """Add to a GeoPackage what is not a layer: the record of the run, styles and descriptions.

    Parameters
    ----------
    path : pathlib.Path
    result : Result
        Worded.
    record : pandas.DataFrame
        As of `run_record_table`.
    layers : sequence of str
        Names of the layers in the file.
    """
    about = {"DESCRIPTION": "What was run on what, for leakgeo to read the result back."}
    with unflushed:
        append_layer(path, RUN_RECORD, record, None, about)
    schemas = load_schemas("output")
    write_column_descriptions(path, [schemas[n] for n in layers if n in schemas])
    with closing(sqlite3.connect(path)) as base, base:
        add_styles(base, result, layers)
        describe_geopackage(base, result, layers)


def _geometry_type(frame: pd.DataFrame, schema: LayerSchema | None) -> str | None:
    """Return the geometry type of a layer: that of its rows, or of the schema if it has none."""
    if not isinstance(frame, gpd.GeoDataFrame):
        return None
    kinds = frame.geometry.geom_type.dropna().unique()
    if len(kinds) == 1:
        return str(kinds[0])
    if len(kinds) == 0 and schema is not None and schema.geometry_types:
        return schema.geometry_types[0]
    return "Unknown"


def append_rows(
    path: Path, rows: LayerRows, parts: Iterator[pd.DataFrame],
    notes: Mapping[str, str] = MappingProxyType({}),
) -> None:  # fmt: skip
    """Append a layer to a GeoPackage, by its typed parts; `notes` are its metadata."""
    if rows.is_numbered:  # GDAL takes the numbers from the column of that name
        parts = (part.assign(fid=rows.numbers(texts(part, "line_id"))) for part in parts)
    frame = next(parts)
    taken = set() if rows.is_numbered else {c.lower() for c in frame.columns}
    options = {"DESCRIPTION": rows.description, "IDENTIFIER": rows.title,
               "FID": "fid" if "fid" not in taken else "row_id"}  # fmt: skip
    if isinstance(frame, gpd.GeoDataFrame):
        index = "NO" if rows.name in _WITHOUT_INDEX else "YES"
        options |= {"GEOMETRY_NAME": "geom", "SPATIAL_INDEX": index}
    kind = _geometry_type(frame, rows.schema)
    append_layer(path, rows.name, frame, kind, options, notes, more=parts)


def append_layer(
    path: Path, name: str, frame: pd.DataFrame, geometry_type: str | None,
    options: Mapping[str, str], metadata: Mapping[str, str] = MappingProxyType({}),
    more: Iterable[pd.DataFrame] = (),
) -> None:  # fmt: skip
    """Append a layer to a GeoPackage, which is created if it is missing.

    Parameters
    ----------
    path : pathlib.Path
    name : str
        Name of the layer.
    frame : pandas.DataFrame or geopandas.GeoDataFrame
    geometry_type : str or None
        Name of the type in OGR; None for a table.
    options, metadata : mapping of str to str
        GDAL layer creation options, and metadata of the layer; no metadata by default.
    more : iterable of pandas.DataFrame or geopandas.GeoDataFrame
        Further parts of the layer with the same columns, read one at a time; none by default.

    Raises
    ------
    OutputError
        If it can't be written.
    """
    first = as_arrow(frame)
    batches = (b for part in chain([first], map(as_arrow, more)) for b in part.to_batches())
    there = path.exists()
    try:
        pyogrio.write_arrow(
            pa.RecordBatchReader.from_batches(first.schema, batches),
            path,
            layer=name,
            driver="GPKG",
            append=there,
            crs=_crs_of(frame),
            geometry_name=frame.geometry.name if isinstance(frame, gpd.GeoDataFrame) else None,
            geometry_type=geometry_type,
            dataset_options={} if there else _DATASET,
            layer_options=dict(options),
            layer_metadata=dict(metadata) or None,
        )
    except (OSError, RuntimeError) as error:
        raise OutputError(f"{path.name}, layer {name}: can't be written ({error}).") from error


# What GeoPackage calls a plane that is nowhere on the earth.
_UNDEFINED = 'LOCAL_CS["Undefined Cartesian SRS",UNIT["Metre",1]]'


def _crs_of(frame: pd.DataFrame) -> str | None:
    if not isinstance(frame, gpd.GeoDataFrame) or frame.crs is None:
        return None
    if not is_georeferenced(frame.crs):
        return _UNDEFINED
    code = frame.crs.to_epsg()
    return f"EPSG:{code}" if code else str(frame.crs.to_wkt("WKT1_GDAL"))
