"""True north on the grid of a CRS: bearings that people see are from it, the grid's are not."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pyproj

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray
    from pyproj import CRS

# Half of the step along the grid's north: long enough that rounding of degrees does not show.
_HALF_STEP_M = 50.0


def grid_convergence_deg(crs: CRS, x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
    """Give the meridian convergence: the true bearing of grid north, clockwise.

    A bearing from true north is one from grid north plus this. It is the azimuth of the geodesic
    along the grid's north, on the ellipsoid of `crs`.

    Parameters
    ----------
    crs : pyproj.CRS
        Projected, in metres, x to the east, as `Job.crs` is.
    x, y : array-like, shape (n,)
        Easting and northing in `crs`.

    Returns
    -------
    ndarray, shape (n,)
        Degrees, -180 to 180; NaN where a coordinate is not finite or has no place on the earth.

    Examples
    --------
    >>> utm = pyproj.CRS(32633)
    >>> grid_convergence_deg(utm, [500000.0, 700000.0], [5550000.0, 5550000.0]).round(3).tolist()
    [0.0, 2.144]
    """
    east, north = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float))
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
    """Turn directions on the grid into bearings from true north.

    Parameters
    ----------
    grid_deg : array-like, shape (n,)
        Degrees clockwise from grid north.
    crs : pyproj.CRS
        Of the grid; projected, in metres, x to the east.
    x, y : array-like, shape (n,)
        Where, in `crs`.

    Returns
    -------
    ndarray, shape (n,)
        Degrees clockwise from true north, 0 up to 360; NaN where it is not known.

    Examples
    --------
    >>> from_true_north([0.0, 359.0], pyproj.CRS(32633), [700000.0], [5550000.0]).round(3).tolist()
    [2.144, 1.144]
    """
    return _within_360(np.asarray(grid_deg, float) + grid_convergence_deg(crs, x, y))


def from_grid_north(
    true_deg: ArrayLike, crs: CRS, x: ArrayLike, y: ArrayLike
) -> NDArray[np.float64]:
    """Turn bearings from true north into directions on the grid, to draw by.

    Parameters
    ----------
    true_deg : array-like, shape (n,)
        Degrees clockwise from true north.
    crs : pyproj.CRS
        Of the grid; projected, in metres, x to the east.
    x, y : array-like, shape (n,)
        Where, in `crs`.

    Returns
    -------
    ndarray, shape (n,)
        Degrees clockwise from grid north, 0 up to 360; NaN where it is not known.

    Examples
    --------
    >>> from_grid_north([1.144], pyproj.CRS(32633), [700000.0], [5550000.0]).round(3).tolist()
    [359.0]
    """
    return _within_360(np.asarray(true_deg, float) - grid_convergence_deg(crs, x, y))


def _within_360(deg: NDArray[np.float64]) -> NDArray[np.float64]:
    # Twice: the remainder of a tiny negative number is rounded to 360 itself.
    return deg % 360.0 % 360.0
