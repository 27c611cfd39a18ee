"""Read the streets of a digging round from a file of the user."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import shapely

from leakgeo.errors import JobError, ParameterError, parameter_label
from leakgeo.job.crs import is_georeferenced
from leakgeo.job.sources import open_source, read_layer

if TYPE_CHECKING:
    from pathlib import Path

    import pandas as pd
    from pyproj import CRS

    from leakgeo.arrays import Objects

_LINES = (shapely.GeometryType.LINESTRING, shapely.GeometryType.MULTILINESTRING)


def read_streets(path: Path, layer: str, crs: CRS) -> Objects:
    """Read street lines of any vector file that a job may come in.

    Parameters
    ----------
    path : pathlib.Path
    layer : str
        Name of the layer; ``""`` for the only one with lines.
    crs : pyproj.CRS
        CRS to transform the lines to.

    Returns
    -------
    (n,) ndarray of shapely LineString or MultiLineString

    Raises
    ------
    ParameterError
        If the file can't be read, has no lines or several layers of them, or no CRS.
    """
    try:
        with open_source(path) as opened:
            names = list(opened.layers)
            if layer and layer.casefold() not in names:
                there = ", ".join(names)
                raise _error(path, f"there is no layer {layer}; there are {there}")
            read = {n: read_layer(opened, n) for n in ([layer.casefold()] if layer else names)}
    except JobError as error:
        raise ParameterError.of("streets", f"{error}") from error
    found = {n: raw for n, raw in read.items() if raw.has_geometry and _has_lines(raw.table)}
    if len(found) != 1:
        if not found:
            raise _error(path, "it has no lines; name a file of street lines")
        named = parameter_label("streets_layer")
        there = ", ".join(found)
        raise _error(path, f"several layers have lines: {there}. Name one of them with {named}")
    ((name, raw),) = found.items()
    if raw.crs is None or not is_georeferenced(raw.crs):
        raise _error(path, f"the layer {name} has no CRS. Give it one in your GIS")
    shapes = gpd.GeoDataFrame(raw.table).geometry.to_crs(crs).to_numpy()
    return np.asarray(shapes[np.isin(shapely.get_type_id(shapes), _LINES)])


def _has_lines(table: pd.DataFrame) -> bool:
    kinds = shapely.get_type_id(gpd.GeoDataFrame(table).geometry.to_numpy())
    return bool(np.isin(kinds, _LINES).any())


def _error(path: Path, problem: str) -> ParameterError:
    return ParameterError.of("streets", f"{path.name}: {problem}.")
