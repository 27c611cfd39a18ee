"""Write a result as one GeoPackage: layers typed, described, and in the output CRS."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import partial
from itertools import chain
from types import MappingProxyType
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import pyarrow as pa
import pyogrio
import shapely

from leakgeo.arrow import as_arrow
from leakgeo.deliver.folder.record import plain
from leakgeo.deliver.geopackage.layer_styles import add_styles
from leakgeo.deliver.geopackage.metadata import describe_geopackage, layer_notes
from leakgeo.errors import OutputError
from leakgeo.job.column_descriptions import write_column_descriptions
from leakgeo.job.crs import is_georeferenced
from leakgeo.job.digest import LayerDigest, column_types
from leakgeo.job.placed import on_the_ground
from leakgeo.job.results.read_back import PREFIX, RUN_RECORD, job_record
from leakgeo.job.schema import FieldType, load_schemas
from leakgeo.process_settings import SharedSetting, gdal_options

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from pathlib import Path

    from pyproj import CRS

    from leakgeo.job.schema import LayerSchema
    from leakgeo.result import Result

_TYPES: Mapping[FieldType, str] = {
    "string": "str", "number": "float64", "integer": "Int64", "boolean": "boolean",
    "datetime": "datetime64[us, UTC]", "date": "datetime64[us, UTC]",
}  # fmt: skip
# Kinds of arrays of numpy, with the types that hold every value of theirs.
_NOTHING_TO_CONVERT = {("f", "float64"), ("i", "Int64"), ("b", "boolean")}

# No flushing while writing: the file is flushed once, before it is moved into place.
UNFLUSHED = {"OGR_SQLITE_SYNCHRONOUS": "OFF"}
_unflushed = SharedSetting(partial(gdal_options, UNFLUSHED))
# GDAL before 3.8 warns at every layer of a newer version.
_DATASET = {"VERSION": "1.3"}


def write_geopackage(result: Result, path: Path) -> dict[str, str]:
    """Write every layer of a result into a new GeoPackage.

    Parameters
    ----------
    result : Result
        Layers in the job's local metre CRS; written in ``job.output_crs``.
    path : pathlib.Path
        A file that does not exist yet; its name ends in ``.gpkg``.

    Returns
    -------
    dict of str to str
        Digest of the content of each layer; see `leakgeo.job.digest.LayerDigest`.

    Raises
    ------
    OutputError
        If it can't be written.

    Notes
    -----
    Layers and columns are in the order of the schemas, followed by any others. Layers that the
    result lacks are left out. The file also has styles (``layer_styles``), descriptions of columns
    (the schema extension) and metadata.
    """
    schemas = load_schemas("output")
    names = [n for n in schemas if n in result.layers]
    names += [n for n in result.layers if n not in schemas]
    notes = layer_notes(result)
    contents: dict[str, str] = {}
    with _unflushed:
        for name in names:
            schema = schemas.get(name)
            digest = LayerDigest(column_types(schema))
            parts = (to_schema(part, schema, result.job.output_crs, result.run_id)
                     for part in result.parts(name))  # fmt: skip
            _append(path, name, _digested(parts, digest), schema, {} if contents else notes)
            contents[name] = digest.value
        if names:
            contents |= _append_job(path, on_the_ground(result))
    if names:
        write_column_descriptions(path, [schemas[n] for n in names if n in schemas])
        add_styles(path, result)
        describe_geopackage(path, result, list(contents))
    return contents


def _append_job(path: Path, result: Result) -> dict[str, str]:
    """Append the layers of the job as used, and the record that `read_result` needs."""
    schemas, contents = load_schemas("input"), {}
    for name, layer in replace(result.job, shown_in=None).items():
        schema = schemas[name]
        digest = LayerDigest(column_types(schema))
        parts = _digested([to_schema(layer, schema, result.job.output_crs)], digest)
        used = replace(
            schema, title=f"{schema.title}, as used",
            description=f"{schema.description} As the run has read it; `reason` says why a row "
            "was not used.",
        )  # fmt: skip
        _append(path, PREFIX + name, parts, used)
        contents[PREFIX + name] = digest.value
    record = pd.DataFrame({"record": [json.dumps(plain(job_record(result)))]})
    about = {"DESCRIPTION": "What was run on what, for leakgeo to read the result back."}
    append_layer(path, RUN_RECORD, record, None, about)
    return contents


def _digested(parts: Iterable[pd.DataFrame], digest: LayerDigest) -> Iterator[pd.DataFrame]:
    for part in parts:
        digest.add(part)
        yield part


def to_schema(
    frame: pd.DataFrame, schema: LayerSchema | None, crs: CRS, run_id: str = ""
) -> pd.DataFrame:
    """Convert a layer to its schema: order of columns, types of a GeoPackage, CRS.

    Parameters
    ----------
    frame : pandas.DataFrame or geopandas.GeoDataFrame
    schema : LayerSchema or None
        None for a layer without a schema.
    crs : pyproj.CRS
        CRS of the output.
    run_id : str
        Value of the column ``run_id``, if the schema has one; none by default.

    Returns
    -------
    pandas.DataFrame or geopandas.GeoDataFrame
        A copy with 2D geometry named ``geometry``, and a default index.

    Examples
    --------
    >>> from leakgeo.job.schema import load_schema
    >>> table = pd.DataFrame({"mine": [1], "line_id": ["a"]})
    >>> to_schema(table, load_schema("lines"), None).columns[[0, 1, -1]].tolist()
    ['line_id', 'status', 'mine']
    """
    shapes = frame.geometry if isinstance(frame, gpd.GeoDataFrame) else None
    plain = pd.DataFrame(frame if shapes is None else frame.drop(columns=shapes.name))
    plain = plain.reset_index(drop=True)
    if schema is not None:
        if run_id and "run_id" in schema.columns:
            plain = plain.assign(run_id=run_id)
        rest = [c for c in plain.columns if c not in schema.columns]
        plain = plain.reindex(columns=[*schema.columns, *rest])
    kinds = {} if schema is None else {f.name: _TYPES[f.type] for f in schema.fields}
    columns = {str(name): as_type(plain[name], kinds.get(name)) for name in plain.columns}
    typed = pd.DataFrame(columns, index=plain.index).set_axis(_unique_names(columns), axis=1)
    if shapes is None:
        return typed
    return gpd.GeoDataFrame(typed, geometry=_project_flat(shapes, crs).array)


def as_type(column: pd.Series, kind: str | None) -> pd.Series:
    """Convert a column to the type of its schema, or else to a type of a GeoPackage.

    If a value does not fit the type, the column becomes text, so that no value is lost.

    Examples
    --------
    >>> as_type(pd.Series([True, None], dtype=object), None).dtype
    BooleanDtype
    >>> as_type(pd.Series([["a", 1]]), None).item()
    '["a", 1]'
    """
    kind = kind or _kind_of(column)
    if not len(column) or (column.dtype.kind, kind) in _NOTHING_TO_CONVERT:
        return pd.Series(column if len(column) else [], dtype=kind)
    if kind == "str" and pd.api.types.infer_dtype(column, skipna=True) in ("string", "empty"):
        return column.astype("str")
    if kind == "str":
        return column.map(_text, na_action="ignore").astype("str")
    try:
        if kind.startswith("datetime"):
            return _times(column)
        typed = pd.Series(column.astype(object).where(column.notna(), None), dtype=kind)
    except (TypeError, ValueError, OverflowError):
        typed = None
    # pandas parses a text such as "NAN" as a missing number.
    if typed is None or (typed.isna() & column.notna()).any():
        return column.map(_text, na_action="ignore").astype("str")
    return typed


def _times(column: pd.Series) -> pd.Series:
    """Parse times as UTC; raise ValueError if a value is not a time."""
    seen = pd.api.types.infer_dtype(column, skipna=True)
    if seen not in ("datetime64", "datetime", "date", "string", "empty"):
        raise ValueError(f"{seen} is not a time")
    times = pd.to_datetime(column, utc=True, errors="coerce", format="ISO8601")
    if (times.isna() & column.notna()).any():
        raise ValueError("not all values are times")
    return times.dt.as_unit("us")


def _kind_of(column: pd.Series) -> str:
    seen = pd.api.types.infer_dtype(column, skipna=True)
    known = {"boolean": "boolean", "integer": "Int64", "floating": "float64",
             "mixed-integer-float": "float64", "empty": "str",
             "datetime64": _TYPES["datetime"], "datetime": _TYPES["datetime"]}  # fmt: skip
    return known.get(seen, "str")


def _text(value: object) -> str:
    if isinstance(value, (list, tuple, dict)):
        return json.dumps(value, default=str)
    return str(value)


def _unique_names(columns: Iterable[str]) -> list[str]:
    """Return names that stay different in SQLite, which ignores case."""
    seen = {"geom"}
    out = []
    for name in columns:
        fresh = name
        while fresh.lower() in seen:
            fresh += "_2"
        seen.add(fresh.lower())
        out.append(fresh)
    return out


def _project_flat(shapes: gpd.GeoSeries, crs: CRS) -> gpd.GeoSeries:
    """Project geometries, drop Z, and convert all to multi-part if one of them is."""
    there = shapes if shapes.crs is None or shapes.crs == crs else shapes.to_crs(crs)
    flat = np.array(shapely.force_2d(there.to_numpy()), dtype=object)
    kinds = gpd.GeoSeries(flat).geom_type
    if kinds.dropna().str.startswith("Multi").any():
        single = kinds.isin(list(_MULTI)).to_numpy()
        flat[single] = [_MULTI[shape.geom_type]([shape]) for shape in flat[single]]  # type: ignore[arg-type]
    return gpd.GeoSeries(flat, crs=crs)


_MULTI = {"Point": shapely.MultiPoint, "LineString": shapely.MultiLineString,
          "Polygon": shapely.MultiPolygon}  # fmt: skip


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


def _append(
    path: Path, name: str, parts: Iterator[pd.DataFrame], schema: LayerSchema | None,
    notes: Mapping[str, str] = MappingProxyType({}),
) -> None:  # fmt: skip
    frame = next(parts)
    title = name.replace("_", " ").capitalize() if schema is None else schema.title
    text = "A layer of the user's own." if schema is None else schema.description
    taken = {c.lower() for c in frame.columns}
    options = {"DESCRIPTION": text, "IDENTIFIER": title,
               "FID": "fid" if "fid" not in taken else "row_id"}  # fmt: skip
    if isinstance(frame, gpd.GeoDataFrame):
        options["GEOMETRY_NAME"] = "geom"
    append_layer(path, name, frame, _geometry_type(frame, schema), options, notes, more=parts)


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
