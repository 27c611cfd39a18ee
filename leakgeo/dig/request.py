"""The locate request: a white-line rectangle around each hole, with few enough corners to phone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from pyproj import CRS

# Six decimals of a degree are up to 0.08 m off at a corner: the rectangle holds the hole all the
# same once it is rounded.
ROUNDING_M = 0.12


def white_lines(digs: pd.DataFrame, holes: NDArray[np.object_], crs: CRS) -> gpd.GeoDataFrame:
    """Draw the rectangle to be marked white around each hole.

    Parameters
    ----------
    digs : (n,) pandas.DataFrame
        With line_id and depth_m.
    holes : (n,) array of shapely Polygons or None
        In a metre CRS; a line without a hole has no request.
    crs : pyproj.CRS

    Returns
    -------
    geopandas.GeoDataFrame
        Columns as in the contract's ``locate_requests``; four corners each, counterclockwise.
    """
    drawn = ~shapely.is_missing(holes)
    boxes = shapely.buffer(
        shapely.oriented_envelope(holes[drawn]), ROUNDING_M, join_style="mitre", mitre_limit=2.0
    )
    boxes = shapely.orient_polygons(shapely.oriented_envelope(boxes))
    xy = shapely.get_coordinates(boxes).reshape(-1, 5, 2)
    sides = np.hypot(*np.moveaxis(np.diff(xy, axis=1)[:, :2], -1, 0))
    table = pd.DataFrame({
        "line_id": digs["line_id"].to_numpy(dtype=object)[drawn],
        "depth_m": digs["depth_m"].to_numpy(dtype=float)[drawn],
        "length_m": sides.max(axis=1, initial=0.0),
        "width_m": sides.min(axis=1, initial=np.inf),
        "area_m2": shapely.area(boxes),
    })  # fmt: skip
    return gpd.GeoDataFrame(table, geometry=boxes, crs=crs)
