"""Layers with their geometry as latitudes and longitudes, as the map's script takes them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from leakgeo.deliver.views.placed import placed_points
from leakgeo.deliver.views.places import error_ellipse
from leakgeo.deliver.views.rows import number, records
from leakgeo.job.north import from_grid_north

if TYPE_CHECKING:
    from pyproj import CRS

    from leakgeo.arrays import Ints, Objects
    from leakgeo.result import Result

DECIMALS = 7  # about a centimetre on the ground

Plain = dict[str, Any]
SHAPES = ("marks", "search_zones", "next_readings", "conflicts", "dig_zones", "readings_on_route",
          "survey_bracket", "locate_requests", "dig_alternatives", "contact_ranking",
          "air_tests")  # fmt: skip
# Outlines that are simplified; the corners of a white line are listed, so they stay.
_OUTLINES = ("search_zones", "conflicts", "dig_zones", "dig_alternatives", "survey_bracket")
_SIMPLIFY_M = 0.005
# A fix nearer than this to its place on the pipe isn't drawn apart.
_MOVED_M = 0.05
_READING = ["line_id", "reading_id", "chainage_m", "level_comparable_db", "used", "reason",
            "sweep_m", "offset_m", "geometry", "at", "fix"]  # fmt: skip


def with_latlon(result: Result) -> Result:
    """Add a column of latitudes and longitudes to each layer, and the ellipses of the marks."""
    layers = {name: frame for name in SHAPES if (frame := result.layers.get(name)) is not None}
    marks = layers.get("marks")
    if isinstance(marks, gpd.GeoDataFrame) and not marks.empty:
        layers["marks"] = marks.assign(ring=latlon_lists(_ellipses(marks, result.job.crs)))
    placed = {name: _with_latlon_column(frame, name in _OUTLINES) for name, frame in layers.items()}
    if "readings_on_route" in placed:
        # Rows of thousands of lines need memory: keep only the columns that the map shows.
        frame = _on_their_pipe(placed["readings_on_route"], result.job.routes)
        placed["readings_on_route"] = frame[[name for name in _READING if name in frame]]
    job = replace(result.job, routes=_with_latlon_column(result.job.routes))
    return replace(result.adding(placed), job=job)


def _on_their_pipe(readings: Any, routes: gpd.GeoDataFrame) -> Any:
    """Move the readings to their place on the pipe; ``fix`` keeps the position as recorded."""
    if not isinstance(readings, gpd.GeoDataFrame) or readings.empty:
        return readings
    points = placed_points(readings, routes)
    moved = shapely.distance(points, readings.geometry.to_numpy()) > _MOVED_M
    fix = [at if far else None for at, far in zip(readings["at"], moved, strict=True)]
    return readings.assign(
        at=latlon_lists(gpd.GeoSeries(points, crs=readings.crs)), fix=pd.Series(fix, readings.index)
    )


def _with_latlon_column(frame: pd.DataFrame, outlines: bool = False) -> Any:
    if not isinstance(frame, gpd.GeoDataFrame) or frame.empty:
        return frame
    shapes = frame.geometry.simplify(_SIMPLIFY_M) if outlines else frame.geometry
    return frame.assign(at=latlon_lists(shapes))


def _ellipses(marks: gpd.GeoDataFrame, crs: CRS) -> gpd.GeoSeries:
    spots = marks.geometry.to_numpy()
    known = pd.to_numeric(marks.get("azimuth_deg", pd.Series(np.nan, index=marks.index)))
    grid = from_grid_north(known, crs, shapely.get_x(spots), shapely.get_y(spots))
    rings = [_ellipse(row, way) for row, way in zip(records(marks), grid, strict=True)]
    return gpd.GeoSeries(rings, crs=marks.crs)


def _ellipse(row: Plain, grid_azimuth_deg: float) -> Any:
    along, across = number(row, "along_95_m"), number(row, "across_95_m")
    spot = row["geometry"]
    if along is None or across is None or spot is None or spot.is_empty:
        return None
    return error_ellipse(spot.x, spot.y, along, across, grid_azimuth_deg)


def latlon_lists(shapes: gpd.GeoSeries) -> list[Any]:
    """Return geometries as nested lists of ``[latitude, longitude]``, as Leaflet takes them.

    Parameters
    ----------
    shapes : geopandas.GeoSeries
        With a CRS.

    Returns
    -------
    list
        A point is a pair; a line is a list of parts; a polygon is a list of parts, each a list of
        rings; a missing geometry is None.

    Examples
    --------
    >>> import geopandas as gpd
    >>> from shapely import LineString, Point
    >>> shapes = gpd.GeoSeries([Point(10, 50), LineString([(10, 50), (11, 51)]), None], crs=4326)
    >>> latlon_lists(shapes)
    [[50.0, 10.0], [[[50.0, 10.0], [51.0, 11.0]]], None]
    """
    there = shapes.to_crs(4326).to_numpy()
    parts, owner = shapely.get_parts(there, return_index=True)
    kinds = shapely.get_type_id(parts)
    if (kinds == 0).all() and parts.size == there.size and not shapely.is_empty(parts).any():
        return _pairs(parts)
    found: list[list[Any]] = [[] for _ in there]
    for k, part in zip(owner.tolist(), _parts(parts, kinds), strict=True):
        if part:
            found[k].append(part)
    # A point is its place alone.
    points = dict(zip(owner.tolist(), (kinds == 0).tolist(), strict=True))
    return [(each[0][0] if points[k] else each) if each else None for k, each in enumerate(found)]


def _parts(parts: Objects, kinds: Ints) -> list[Any]:
    """Return each part as a list of pairs, and each polygon as a list of rings."""
    areas = kinds == 3
    rings, owner = shapely.get_rings(parts[areas], return_index=True)
    of_area: list[list[Any]] = [[] for _ in range(int(areas.sum()))]
    for k, ring in zip(owner.tolist(), _lists(rings), strict=True):
        of_area[k].append(ring)
    others = iter(_lists(parts[~areas]))
    each = iter(of_area)
    return [next(each) if area else next(others) for area in areas.tolist()]


def _lists(lines: Objects) -> list[list[list[float]]]:
    """Return the coordinates of each line as pairs."""
    pairs, ends = _pairs(lines), np.cumsum(shapely.get_num_coordinates(lines)).tolist()
    return [pairs[start:end] for start, end in zip([0, *ends], ends, strict=False)]


def _pairs(shapes: Objects) -> list[list[float]]:
    lonlat = shapely.get_coordinates(shapes)
    pairs: list[list[float]] = np.round(lonlat[:, ::-1], DECIMALS).tolist()
    return pairs
