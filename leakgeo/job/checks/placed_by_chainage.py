"""Readings without a position that were taped: they stand on their route, where the tape says."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pyproj
import shapely

from leakgeo.arrays import floats
from leakgeo.job.checks.columns import match_columns
from leakgeo.job.checks.links import row_of_line
from leakgeo.job.crs import ground_scale

if TYPE_CHECKING:
    import pandas as pd

    from leakgeo.arrays import Bools
    from leakgeo.job.checks.layer import CheckedLayer
    from leakgeo.job.schema import LayerSchema

# A position that was made of the tape says nothing beside it.
NO_SD_M = 1e3
_TAPED = ("line_id", "chainage_m")


def may_be_taped(schema: LayerSchema, names: list[str]) -> bool:
    """Tell whether a layer without geometry has what places its rows all the same.

    Parameters
    ----------
    schema : LayerSchema
    names : list of str
        Columns as read.
    """
    return schema.name == "readings" and len(match_columns(names, _TAPED)) == len(_TAPED)


def taped(frame: pd.DataFrame, schema: LayerSchema) -> Bools:
    """Whether each row has a place on a route by its tape, shape (n,)."""
    if schema.name != "readings":
        return np.zeros(len(frame), dtype=bool)
    return frame[list(_TAPED)].notna().all(axis=1).to_numpy()


def put_on_routes(readings: CheckedLayer, routes: CheckedLayer) -> CheckedLayer:
    """Give taped readings that have no position that of their tape, near enough to be looked at.

    Parameters
    ----------
    readings, routes : CheckedLayer
        In the local CRS, in metres; `readings` linked to `routes`.
    """
    table, lines = readings.table, routes.table[routes.table["reason"].isna()]
    bare = table.geometry.isna() & table["reason"].isna()
    at = np.flatnonzero(bare.to_numpy())
    if not at.size:
        return readings
    traces = lines.geometry.to_numpy()[row_of_line(table.iloc[at], lines)]
    x, y = shapely.get_coordinates(shapely.centroid(traces)).T
    on_map = floats(table, "chainage_m")[at] * ground_scale(pyproj.CRS(table.crs), x, y)
    shapes, sd = table.geometry.to_numpy().copy(), floats(table, "position_sd_m")
    shapes[at], sd[at] = shapely.line_interpolate_point(traces, on_map), NO_SD_M
    found = readings.findings()
    found.tell_layer(
        f"{at.size} of its {len(table)} rows have no position; they are placed by their tape "
        "alone.", "Nothing, if each tape began where its route does.", "geometry",
    )  # fmt: skip
    points = gpd.GeoSeries(shapes, index=table.index, crs=table.crs)
    placed = table.assign(position_sd_m=sd, geometry=points)
    return replace(readings, table=placed).with_findings(found)
