"""Make points from two columns of coordinates, as in spreadsheets and GPS exports."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

if TYPE_CHECKING:
    from collections.abc import Iterable

# Usual names of the two columns, the most specific first.
_USUAL = (
    ("x", "y"), ("lon", "lat"), ("longitude", "latitude"), ("long", "lat"), ("lng", "lat"),
    ("easting", "northing"), ("east", "north"), ("e", "n"), ("point_x", "point_y"),
    ("xcoord", "ycoord"), ("x_coord", "y_coord"), ("coord_x", "coord_y"), ("pos_x", "pos_y"),
    ("gps_lon", "gps_lat"), ("gps_longitude", "gps_latitude"),
)  # fmt: skip


@dataclass(frozen=True)
class PointTable:
    """A table with points.

    Parameters
    ----------
    table : geopandas.GeoDataFrame
        Without the two columns; geometry is null where a coordinate is missing.
    bad : tuple of str
        Texts that are not coordinates.
    """

    table: gpd.GeoDataFrame
    bad: tuple[str, ...] = ()


def usual_columns(names: Iterable[str]) -> tuple[str, str] | None:
    """Return the two columns that have usual names of coordinates, None if there are none.

    Examples
    --------
    >>> usual_columns(["ID", "LON", "LAT"]), usual_columns(["ID", "X"])
    (('LON', 'LAT'), None)
    """
    there = {str(n).strip().casefold(): str(n) for n in names}
    pairs = ((there[x], there[y]) for x, y in _USUAL if x in there and y in there)
    return next(pairs, None)


def points_from_columns(table: pd.DataFrame, x: str, y: str, crs: str) -> PointTable:
    """Make points from two columns.

    Parameters
    ----------
    table : pandas.DataFrame
    x, y : str
        Columns with easting and northing, or longitude and latitude.
    crs : str
        CRS of the coordinates.

    Returns
    -------
    Placed

    Examples
    --------
    >>> table = pd.DataFrame({"x": ["15.1", "?"], "y": [50, 50]})
    >>> points = points_from_columns(table, "x", "y", "EPSG:4326")
    >>> points.table.geometry.tolist(), points.bad
    ([<POINT (15.1 50)>, None], ('?',))
    """
    (across, bad_x), (up, bad_y) = _numbers(table[x]), _numbers(table[y])
    points = np.array(shapely.points(across, up), dtype=object)
    points[~(np.isfinite(across) & np.isfinite(up))] = None
    placed = gpd.GeoDataFrame(table.drop(columns=[x, y]), geometry=points, crs=crs)
    return PointTable(placed, tuple(dict.fromkeys((*bad_x, *bad_y))))


def _numbers(raw: pd.Series[Any]) -> tuple[Any, list[str]]:
    numbers = pd.to_numeric(raw, errors="coerce").to_numpy(dtype=float, na_value=np.nan)
    bad = raw[raw.notna().to_numpy() & ~np.isfinite(numbers)].astype(str)
    return numbers, [b for b in bad if b.strip()]
