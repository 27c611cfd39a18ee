"""Convert directions between true north and grid north of a CRS."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pyproj

from leakgeo.job.crs import NOWHERE_M

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray
    from pyproj import CRS

# Half of the step along grid north, long enough that rounding of degrees has no effect.
_HALF_STEP_M = 50.0


def grid_convergence_deg(crs: CRS, x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
    """Compute the meridian convergence: the bearing of grid north from true north, clockwise.

    A bearing from true north is the bearing from grid north plus the convergence. It is the azimuth
    of the geodesic along grid north, on the ellipsoid of `crs`.

    Parameters
    ----------
    crs : pyproj.CRS
        Projected, in metres, x to the east, like `Job.crs`.
    x, y : array-like, shape (n,)
        Easting and northing in `crs`.

    Returns
    -------
    ndarray, shape (n,)
        Degrees, -180 to 180; NaN where a coordinate is not finite, not on the earth, or of a line
        that is not placed on the ground.

    Examples
    --------
    >>> utm = pyproj.CRS(32633)
    >>> grid_convergence_deg(utm, [500000.0, 700000.0], [5550000.0, 5550000.0]).round(3).tolist()
    [0.0, 2.144]
    """
    east, north = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float))
    east = np.where(east >= NOWHERE_M, np.nan, east)
    out = np.full(east.shape, np.nan)
    projection, ellipsoid = pyproj.Proj(crs), crs.get_geod() or pyproj.Geod(ellps="WGS84")
    ends = [projection(east, north + arm, inverse=True) for arm in (-_HALF_STEP_M, _HALF_STEP_M)]
    good = np.isfinite(ends).all(axis=(0, 1))
    south, ahead = ([axis[good] for axis in end] for end in ends)
    out[good] = ellipsoid.inv(*south, *ahead)[0]
    return out


def from_true_north(
    grid_deg: ArrayLike, crs: CRS, x: ArrayLike, y: ArrayLike
) -> NDArray[np.float64]:
    """Convert directions on the grid to bearings from true north.

    Parameters
    ----------
    grid_deg : array-like, shape (n,)
        Degrees clockwise from grid north.
    crs : pyproj.CRS
        CRS of the grid; projected, in metres, x to the east.
    x, y : array-like, shape (n,)
        Positions in `crs`.

    Returns
    -------
    ndarray, shape (n,)
        Degrees clockwise from true north, from 0 to below 360; NaN where not known.

    Examples
    --------
    >>> from_true_north([0.0, 359.0], pyproj.CRS(32633), [700000.0], [5550000.0]).round(3).tolist()
    [2.144, 1.144]
    """
    return _within_360(np.asarray(grid_deg, float) + grid_convergence_deg(crs, x, y))


def from_grid_north(
    true_deg: ArrayLike, crs: CRS, x: ArrayLike, y: ArrayLike
) -> NDArray[np.float64]:
    """Convert bearings from true north to directions on the grid, for drawing.

    Parameters
    ----------
    true_deg : array-like, shape (n,)
        Degrees clockwise from true north.
    crs : pyproj.CRS
        CRS of the grid; projected, in metres, x to the east.
    x, y : array-like, shape (n,)
        Positions in `crs`.

    Returns
    -------
    ndarray, shape (n,)
        Degrees clockwise from grid north, from 0 to below 360; NaN where not known.

    Examples
    --------
    >>> from_grid_north([1.144], pyproj.CRS(32633), [700000.0], [5550000.0]).round(3).tolist()
    [359.0]
    """
    return _within_360(np.asarray(true_deg, float) - grid_convergence_deg(crs, x, y))


def _within_360(deg: NDArray[np.float64]) -> NDArray[np.float64]:
    # Twice, because the remainder of a tiny negative number is rounded to 360.
    return deg % 360.0 % 360.0
