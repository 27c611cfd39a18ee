"""Coordinates of marks, rounded to their error, and the error ellipse of a mark."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS
from shapely import Polygon

from leakgeo.arrays import floats
from leakgeo.deliver.views.rows import mark_of, records, with_geometry
from leakgeo.job.datum import datum_shift
from leakgeo.reason import Reason
from leakgeo.wording.quantities import is_known

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Ints
    from leakgeo.wording import Wording

WGS84 = CRS(4326)
# Decimals of a degree: six are about 0.1 m on the ground, five about 1 m.
FINE, COARSE = 6, 5
_COARSE_FROM_M = 1.0


def degree_decimals(error_m: Floats | float) -> Ints:
    """Return the decimals of a degree to print for an error on the ground in metres.

    An unknown error (NaN) gets the fewest decimals.

    Examples
    --------
    >>> degree_decimals(np.array([0.3, 4.0, np.nan])).tolist()
    [6, 5, 5]
    """
    return np.where(np.asarray(error_m) < _COARSE_FROM_M, FINE, COARSE)


def datum_error_m(crs: CRS | None, place: tuple[float, float]) -> float:
    """Return the error in metres of transforming a CRS to WGS 84 at a (longitude, latitude).

    NaN if it is unknown.
    """
    if crs is None:
        return float("nan")
    shift = datum_shift(crs, WGS84, place)
    return float("nan") if shift.guessed else shift.accuracy_m


def first_datum_error_m(marks: object) -> float:
    """Return the error in metres of the datum shift at the first mark, taken for all; or NaN."""
    good = with_geometry(marks) if isinstance(marks, gpd.GeoDataFrame) else None
    if good is None:
        return float("nan")
    x, y = shapely.get_coordinates(good.iloc[:1].to_crs(WGS84).geometry.to_numpy())[0].tolist()
    return datum_error_m(good.crs, (x, y))


def in_degrees(marks: object) -> pd.DataFrame:
    """Return the marks in degrees, rounded to their own error and that of the datum shift.

    Parameters
    ----------
    marks : geopandas.GeoDataFrame or None
        The ``marks`` layer, in any CRS.

    Returns
    -------
    pandas.DataFrame
        Indexed as `marks`, those with a geometry only: ``longitude`` and ``latitude`` (WGS 84
        degrees), and the significant ``decimals``.
    """
    good = with_geometry(marks) if isinstance(marks, gpd.GeoDataFrame) else None
    if good is None:
        return pd.DataFrame({"longitude": [], "latitude": [], "decimals": []}, dtype=float)
    globe = good.geometry.to_crs(WGS84)
    x, y = globe.x.to_numpy(), globe.y.to_numpy()
    own = floats(good, "along_95_m") if "along_95_m" in good else np.zeros(len(good))
    decimals = degree_decimals(np.hypot(first_datum_error_m(good), own))
    longitude, latitude = (
        [float(f"{value:.{d}f}") + 0.0 for value, d in zip(v.round(FINE), decimals, strict=True)]
        for v in (x, y)
    )
    columns = {"longitude": longitude, "latitude": latitude, "decimals": decimals}
    return pd.DataFrame(columns, index=good.index)


def mark_places(
    marks: object, output_crs: CRS, words: Wording
) -> dict[tuple[str, int], list[tuple[str, str]]]:
    """Return the coordinates of each mark as (label, text) pairs, by ``line_id`` and rank.

    Parameters
    ----------
    marks : geopandas.GeoDataFrame or None
        The ``marks`` layer, in any CRS.
    output_crs : pyproj.CRS
        CRS of the results; its coordinates are added if it is projected.
    words : Wording
        Of the labels.

    Returns
    -------
    dict of (str, int) to list of tuple

    Examples
    --------
    >>> from shapely import Point
    >>> marks = gpd.GeoDataFrame({"line_id": ["a"]}, geometry=[Point(500000, 0)], crs=32616)
    >>> from leakgeo.wording import wording
    >>> mark_places(marks, CRS(32616), wording())["a", 1][1]
    ('East, north (EPSG:32616, metre)', '500,000.0, 0.0')
    """
    degrees = in_degrees(marks)
    latlon = [
        (words.term("place_latlon"), degrees_text((lat, lon), int(decimals)))
        for lon, lat, decimals in degrees.to_numpy()
    ]
    good = with_geometry(marks)  # type: ignore[arg-type]
    if good is None:
        return {}
    names = [mark_of(row, "rank") for row in records(good)]
    if not output_crs.is_projected:
        return {name: [pair] for name, pair in zip(names, latlon, strict=True)}
    grid = good.geometry.to_crs(output_crs)
    label = words.text(Reason("place_plane", crs=_crs_text(output_crs)))
    between = "; " if words.number(".") == "," else ", "
    plane = [(label, between.join(words.number(f"{c:,.1f}") for c in place))
             for place in zip(grid.x, grid.y, strict=True)]  # fmt: skip
    pairs = zip(names, latlon, plane, strict=True)
    return {name: [globe_text, grid_text] for name, globe_text, grid_text in pairs}


def _crs_text(crs: CRS) -> str:
    """Return the code of a CRS, or its name, and the unit of its coordinates."""
    known = crs.to_authority()
    return f"{':'.join(known) if known else crs.name}, {crs.axis_info[0].unit_name}"


def degrees_text(place: tuple[float, float], decimals: int) -> str:
    """Format a (latitude, longitude) with the given number of decimals.

    Examples
    --------
    >>> degrees_text((43.2, -87.29989), 5)
    '43.20000, -87.29989'
    """
    return f"{place[0] + 0.0:.{decimals}f}, {place[1] + 0.0:.{decimals}f}"


def error_ellipse(
    x_m: float, y_m: float, along_95_m: float, across_95_m: float, grid_azimuth_deg: float | None
) -> Polygon:
    """Return the error ellipse of a mark as a polygon.

    Its semi-axes are two intervals of 95 % each; it is a drawing, and no region of 95 % of both.

    Parameters
    ----------
    x_m, y_m : float
        Centre, in a metre CRS.
    along_95_m, across_95_m : float
        Semi-axes along and across the pipe, in metres.
    grid_azimuth_deg : float or None
        Direction of the pipe in degrees clockwise from grid north. If it is unknown, the ellipse
        becomes a circle of the longer semi-axis, so that it is never too small.

    Returns
    -------
    shapely.Polygon
        A polygon of 48 sides.

    Examples
    --------
    >>> [round(v, 6) for v in error_ellipse(0, 0, 2.0, 1.0, 90.0).bounds]
    [-2.0, -1.0, 2.0, 1.0]
    >>> [round(v, 6) for v in error_ellipse(0, 0, 2.0, 1.0, None).bounds]
    [-2.0, -2.0, 2.0, 2.0]
    """
    if grid_azimuth_deg is None or not is_known(grid_azimuth_deg):
        along_95_m = across_95_m = max(along_95_m, across_95_m)
        grid_azimuth_deg = 0.0
    turn = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    along, across = along_95_m * np.cos(turn), across_95_m * np.sin(turn)
    bearing = np.radians(grid_azimuth_deg)
    east = along * np.sin(bearing) + across * np.cos(bearing)
    north = along * np.cos(bearing) - across * np.sin(bearing)
    return Polygon(np.column_stack([x_m + east, y_m + north]))
