"""Points of the readings where they were placed on their pipe."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from leakgeo.arrays import floats, texts
from leakgeo.route.chainage import RouteSet

if TYPE_CHECKING:
    import geopandas as gpd

    from leakgeo.arrays import Objects

# From this weight on the tape alone places a reading, so that its offset is taped too.
_TAPED = 1.0 - 1e-6
# A reading with this reason has a chainage only because every point has a nearest one.
_OFF = "off_its_route"


def placed_points(readings: gpd.GeoDataFrame, routes: gpd.GeoDataFrame) -> Objects:
    """Return the point of each reading at its chainage on its route.

    Parameters
    ----------
    readings : geopandas.GeoDataFrame
        ``readings_on_route``, in a metre CRS.
    routes : geopandas.GeoDataFrame
        Routes in the same CRS, with ``line_id``.

    Returns
    -------
    ndarray of Point, shape (n,)
        On the route, as the distance of a fix from it is mostly error of the fix; a taped offset is
        kept, and that of a sweep. A reading without a place on a route stays at its fix.

    Examples
    --------
    >>> import geopandas as gpd
    >>> routes = gpd.GeoDataFrame({"line_id": ["a"]}, crs=32616, geometry=[
    ...     shapely.LineString([(500000, 4e6), (500020, 4e6)])])
    >>> heard = gpd.GeoDataFrame({"line_id": ["a"], "chainage_m": [5.0]}, crs=32616, geometry=[
    ...     shapely.Point(500007, 4e6 + 2)])
    >>> print(shapely.to_wkt(placed_points(heard, routes)[0], 1))
    POINT (500005 4000000)
    """
    points: Objects = readings.geometry.to_numpy().copy()
    shapes = routes.geometry.to_numpy()
    drawn = np.flatnonzero((shapely.get_type_id(shapes) == 1) & (shapely.length(shapes) > 0.0))
    row_of = {name: k for k, name in enumerate(texts(routes, "line_id")[drawn])}
    which = np.array([row_of.get(name, -1) for name in texts(readings, "line_id")], dtype=int)
    chainage = floats(readings, "chainage_m")
    on_pipe = np.isfinite(chainage) & (which >= 0) & (texts(readings, "reason_code") != _OFF)
    at = np.flatnonzero(on_pipe)
    if not at.size or readings.crs is None:
        return points
    lines = RouteSet.of(shapes[drawn], readings.crs)
    points[at] = lines.points(which[at], chainage[at])
    offset = floats(readings, "offset_m", null=0.0)
    weight = floats(readings, "tape_weight", null=0.0)
    swept = np.isfinite(floats(readings, "sweep_m"))
    off = at[((weight[at] >= _TAPED) | swept[at]) & (offset[at] != 0.0)]
    along = np.radians(lines.grid_azimuth_deg(which[off], chainage[off]))
    left = np.column_stack([-np.cos(along), np.sin(along)]) * offset[off, None]
    points[off] = shapely.points(shapely.get_coordinates(points[off]) + left)
    return points
