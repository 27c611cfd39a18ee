"""The record of its run in ``result.gpkg``, and the layers without rows that it names."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import pandas as pd

from leakgeo.job.schema import load_schemas
from leakgeo.job.sources import read_layer

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pyproj import CRS

    from leakgeo.job.schema import LayerSchema
    from leakgeo.job.sources import LayerSource

#: Table of one row with the record of the run as JSON.
RUN_RECORD = "run_record"
#: Prefix of the layers of the job, as used, in a result.
PREFIX = "job_"
#: In the record: layers without rows, with the columns that their schemas lack, and the types.
WITHOUT_ROWS = "without_rows"
# Types that the reader of GeoPackages gives columns without rows.
_TYPES: Mapping[str, str] = {
    "string": "object", "number": "float64", "integer": "int64", "boolean": "bool",
    "datetime": "datetime64[ms]", "date": "datetime64[ms]",
}  # fmt: skip


def stored_record(opened: LayerSource) -> dict[str, Any]:
    """Return the record of the run; empty if it is missing or damaged."""
    if RUN_RECORD not in opened.layers:
        return {}
    try:
        record = json.loads(read_layer(opened, RUN_RECORD).table["record"].iloc[0])
    except (ValueError, KeyError, IndexError, TypeError):
        return {}
    return record if isinstance(record, dict) else {}


def layers_without_rows(record: Mapping[str, Any], crs: CRS) -> dict[str, pd.DataFrame]:
    """Return the layers of the contract that a result has without rows, by their tables.

    Parameters
    ----------
    record : mapping of str to object
        As `stored_record` returns it.
    crs : pyproj.CRS
        CRS of the layers with geometry.

    Examples
    --------
    >>> import pyproj
    >>> made = layers_without_rows({"without_rows": {"holds": {}}}, pyproj.CRS(32610))
    >>> made["holds"]["order"].dtype
    dtype('int64')
    """
    named = record.get(WITHOUT_ROWS)
    named = named if isinstance(named, dict) else {}
    of_job = {PREFIX + name: schema for name, schema in load_schemas("input").items()}
    schemas = {**load_schemas("output"), **of_job}
    return {name: _without_rows(schema, named[name], crs)
            for name, schema in schemas.items() if name in named}  # fmt: skip


def _without_rows(schema: LayerSchema, more: object, crs: CRS) -> pd.DataFrame:
    types: dict[str, str] = {field.name: field.type for field in schema.fields}
    for name, kind in more.items() if isinstance(more, dict) else ():
        types.setdefault(str(name), str(kind))
    table = pd.DataFrame({n: pd.Series([], dtype=_TYPES.get(t, "object"))
                          for n, t in types.items() if n != "geometry"})  # fmt: skip
    return gpd.GeoDataFrame(table, geometry=[], crs=crs) if schema.geometry_types else table
