"""Geometries as the map's script takes them: nested latitude and longitude, seven decimals."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

if TYPE_CHECKING:
    import geopandas as gpd

DECIMALS = 7  # about a centimetre on the ground


def nested(shapes: gpd.GeoSeries) -> list[Any]:
    """Give each shape as nested ``[latitude, longitude]`` lists, None where there is none.

    Parameters
    ----------
    shapes : geopandas.GeoSeries
        In any CRS that is known.

    Returns
    -------
    list
        A point as one pair; a line as a list of parts; a polygon as a list of parts, each a list of
        rings; as Leaflet takes them.

    Examples
    --------
    >>> import geopandas as gpd
    >>> from shapely import LineString, Point
    >>> shapes = gpd.GeoSeries([Point(10, 50), LineString([(10, 50), (11, 51)]), None], crs=4326)
    >>> nested(shapes)
    [[50.0, 10.0], [[[50.0, 10.0], [51.0, 11.0]]], None]
    """
    there = shapes.to_crs(4326).to_numpy()
    if (shapely.get_type_id(there) == 0).all() and not shapely.is_empty(there).any():
        return _pairs(there)
    return [_shape(shape) for shape in there]


def _shape(shape: Any) -> Any:
    if shape is None or shape.is_empty:
        return None
    parts = shapely.get_parts(shape)
    if shape.geom_type in {"Polygon", "MultiPolygon"}:
        return [[_pairs(ring) for ring in (part.exterior, *part.interiors)] for part in parts]
    if shape.geom_type in {"LineString", "MultiLineString", "LinearRing"}:
        return [_pairs(part) for part in parts]
    return _pairs(parts[0])[0]


def _pairs(shape: Any) -> list[list[float]]:
    lonlat = shapely.get_coordinates(shape)
    pairs: list[list[float]] = np.round(lonlat[:, ::-1], DECIMALS).tolist()
    return pairs
