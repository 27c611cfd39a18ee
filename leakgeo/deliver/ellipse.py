"""The 95 % error ellipse around a mark."""

from __future__ import annotations

import numpy as np
from shapely import Polygon

from leakgeo.wording.quantities import is_known


def error_ellipse(
    x_m: float, y_m: float, along_95_m: float, across_95_m: float, grid_azimuth_deg: float | None
) -> Polygon:
    """Draw the ellipse that holds the leak with 95 % probability.

    Parameters
    ----------
    x_m, y_m : float
        Centre, in a metre CRS.
    along_95_m, across_95_m : float
        Half-axes along and across the pipe, in metres.
    grid_azimuth_deg : float or None
        Direction of the pipe, clockwise from grid north. Where it isn't known the ellipse becomes a
        circle of the longer half-axis: never smaller than the truth.

    Returns
    -------
    shapely.Polygon
        Of 48 sides.

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
