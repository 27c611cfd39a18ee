"""Convert layers to their schemas: columns in order, types of a GeoPackage, the output CRS."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from pyproj import CRS

    from leakgeo.job.schema import Field, FieldType, LayerSchema

_TYPES: Mapping[FieldType, str] = {
    "string": "str", "number": "float64", "integer": "Int64", "boolean": "boolean",
    "datetime": "datetime64[us, UTC]", "date": "datetime64[us, UTC]",
}  # fmt: skip
# Kinds of arrays of numpy, with the types that hold every value of theirs.
_NOTHING_TO_CONVERT = {("f", "float64"), ("i", "Int64"), ("b", "boolean")}


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
    kinds = {} if schema is None else {f.name: type_of(f) for f in schema.fields}
    names = [str(name) for name in plain.columns]
    typed = [as_type(column, kinds.get(str(name))) for name, column in plain.items()]
    columns = dict(zip(_unique_names(names), typed, strict=True))
    if shapes is None:
        return pd.DataFrame(columns, index=plain.index)
    columns["geometry"] = _project_flat(shapes, crs).reset_index(drop=True)
    return gpd.GeoDataFrame(columns, index=plain.index, geometry="geometry")


def type_of(field: Field) -> str:
    """Return the type of pandas of a column of a schema."""
    return _TYPES[field.type]


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
    kinds = shapely.get_type_id(flat)
    if np.isin(kinds, _MULTI_KINDS).any():
        single = np.isin(kinds, [*_MULTI])
        flat[single] = [_MULTI[shapely.get_type_id(shape)]([shape]) for shape in flat[single]]
    return gpd.GeoSeries(flat, crs=crs)


# Numbers of shapely: multi-part shapes, and those that they are made of.
_MULTI_KINDS = (4, 5, 6)
_MULTI: Mapping[int, Callable[[list[Any]], Any]] = {
    0: shapely.MultiPoint, 1: shapely.MultiLineString, 3: shapely.MultiPolygon,
}  # fmt: skip
