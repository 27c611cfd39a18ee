"""Dig zones: the mark's error ellipse with working space around it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray
    from pyproj import CRS

# Six decimals of a degree are up to 0.08 m off at a corner: the rectangle still contains the hole
# after rounding.
ROUNDING_M = 0.12

TANGENTS = 64  # a multiple of four, so that the tangents at the tips are among them


def hole_polygons(
    centres: NDArray[np.object_],
    along_m: ArrayLike,
    across_m: ArrayLike,
    grid_azimuth_deg: ArrayLike,
    working_width_m: ArrayLike = 0.0,
) -> NDArray[np.object_]:
    """Return ellipses extended by a margin of constant width, as polygons.

    Each polygon is formed by tangents at fixed directions: it always contains the exact shape,
    stays within its bounding box, and contains every polygon with smaller axes or margin.

    Parameters
    ----------
    centres : (n,) array of shapely Points
        In a metre CRS.
    along_m, across_m : (n,) array_like
        Semi-axes along and across the azimuth, in metres.
    grid_azimuth_deg : (n,) array_like
        Direction of the first axis, degrees clockwise from grid north. Where it is NaN, a circle
        of the larger axis is returned, which contains the ellipse in any direction.
    working_width_m : float or (n,) array_like
        Margin around the ellipse, in metres.

    Returns
    -------
    (n,) array of shapely Polygons
        None where the centre or an axis is missing, infinite or negative.

    Notes
    -----
    The support function of an ellipse is ``sqrt((a cos t)^2 + (b sin t)^2)``, and that of a shape
    with a margin is the sum of the two (convex geometry, textbook).

    Examples
    --------
    >>> hole = hole_polygons(np.array([shapely.Point(0, 0)]), [2.0], [1.0], [90.0], 0.5)
    >>> [round(float(v), 2) for v in hole[0].bounds]  # along east, margin of 0.5 m
    [-2.5, -1.5, 2.5, 1.5]
    """
    x, y = shapely.get_x(centres), shapely.get_y(centres)
    a, b, margin = (
        np.broadcast_to(np.asarray(v, float), x.shape) for v in (along_m, across_m, working_width_m)
    )
    azimuth = np.asarray(grid_azimuth_deg, dtype=float)
    known = np.isfinite(azimuth)
    wide = np.maximum(a, b)
    a, b = np.where(known, a, wide), np.where(known, b, wide)
    good = np.isfinite(x + y + a + b + margin) & (np.minimum(a, b) >= 0) & (margin >= 0)
    out = np.full(x.shape, None, dtype=object)
    heading = np.pi / 2 - np.deg2rad(np.where(known, azimuth, 0.0))
    out[good] = _cut_by_tangents(
        np.stack([x, y], axis=1)[good], *(v[good] for v in (a, b, heading, margin))
    )
    return out


def _cut_by_tangents(
    centre: NDArray[np.float64],
    a: NDArray[np.float64],
    b: NDArray[np.float64],
    heading: NDArray[np.float64],
    margin: NDArray[np.float64],
) -> NDArray[np.object_]:
    """Return the polygons whose corners are the intersections of neighbouring tangents."""
    t = heading[:, None] + np.arange(TANGENTS) * (2 * np.pi / TANGENTS)
    own = t - heading[:, None]
    support = np.hypot(a[:, None] * np.cos(own), b[:, None] * np.sin(own)) + margin[:, None]
    t_next, s_next = np.roll(t, -1, axis=1), np.roll(support, -1, axis=1)
    sine = np.sin(2 * np.pi / TANGENTS)
    px = (support * np.sin(t_next) - s_next * np.sin(t)) / sine
    py = (s_next * np.cos(t) - support * np.cos(t_next)) / sine
    ring = np.stack([px, py], axis=-1) + centre[:, None, :]
    return np.asarray(shapely.polygons(ring), dtype=object)


def white_lines(digs: pd.DataFrame, holes: NDArray[np.object_], crs: CRS) -> gpd.GeoDataFrame:
    """Return the rectangle to be marked in white around each hole, for the locate request.

    Parameters
    ----------
    digs : (n,) pandas.DataFrame
        With line_id, mark_rank and depth_m.
    holes : (n,) array of shapely Polygons or None
        In a metre CRS; a mark without a hole gets no rectangle.
    crs : pyproj.CRS

    Returns
    -------
    geopandas.GeoDataFrame
        Columns as in the data contract's ``locate_requests``; four corners, counterclockwise.
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
        "mark_rank": digs["mark_rank"].to_numpy()[drawn],
        "depth_m": digs["depth_m"].to_numpy(dtype=float)[drawn],
        "length_m": sides.max(axis=1, initial=0.0),
        "width_m": sides.min(axis=1, initial=np.inf),
        "area_m2": shapely.area(boxes),
    })  # fmt: skip
    return gpd.GeoDataFrame(table, geometry=boxes, crs=crs)
