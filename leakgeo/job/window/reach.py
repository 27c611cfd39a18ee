"""How far a line reaches: rows farther away have no effect on its result."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import pyproj
import shapely

from leakgeo.job.crs import is_georeferenced

if TYPE_CHECKING:
    from collections.abc import Collection

    from pyproj import CRS

    from leakgeo.arrays import Bools, Floats, Objects

#: Routes within this distance are included, so that ends meet the same lines as in the whole job.
NEAR_M = 30.0
#: Utilities, fittings and records farther away than this have no effect on a line.
AROUND_M = 150.0
# Datums and arcs displace a feature by less than this between its CRS and the local one.
_MARGIN_M = 10.0
# So many boxes are given to a source; more are joined to their neighbours.
_MOST_BOXES = 200


@dataclass(frozen=True, eq=False)
class Reach:
    """All places within a distance of some shapes.

    Parameters
    ----------
    shapes : ndarray of shapely.Geometry, shape (n,)
        In `crs`; None and empty ones are left out.
    crs : pyproj.CRS
        In metres.
    distance_m : float
    """

    shapes: Objects
    crs: CRS
    distance_m: float

    @property
    def _drawn(self) -> Objects:
        there = ~(shapely.is_missing(self.shapes) | shapely.is_empty(self.shapes))
        return self.shapes[there]

    def meets(self, shapes: Objects) -> Bools:
        """Return whether each shape, by the box around it, is within reach.

        Parameters
        ----------
        shapes : ndarray of shapely.Geometry, shape (n,)
            In `crs`; None where a row has none.
        """
        met = np.zeros(len(shapes), dtype=bool)
        at = np.flatnonzero(is_drawn(shapes))
        tree = shapely.STRtree(self._drawn)
        boxes, reach = shapely.envelope(shapes[at]), self.distance_m + _MARGIN_M
        met[at[tree.query(boxes, predicate="dwithin", distance=reach)[0]]] = True
        return met

    def boxes(self, crs: CRS | None) -> Floats | None:
        """Return bounds that together contain the reach, shape (k, 4), in another CRS.

        None if that CRS has no place on the ground, so that no row can be left out by them.
        """
        drawn = self._drawn
        if crs is None or not is_georeferenced(crs) or not len(drawn):
            return None
        bounds = _few(shapely.bounds(drawn)) + (self.distance_m + 2 * _MARGIN_M) * np.array(
            [-1.0, -1.0, 1.0, 1.0]
        )
        change = pyproj.Transformer.from_crs(self.crs, crs, always_xy=True)
        moved = np.array([change.transform_bounds(*box) for box in bounds])
        wrapped = moved[:, 0] > moved[:, 2]  # over the antimeridian
        return moved if np.isfinite(moved).all() and not wrapped.any() else None


def _few(bounds: Floats) -> Floats:
    """Join bounds that lie together, until they are few."""
    if len(bounds) <= _MOST_BOXES:
        return bounds
    middle = (bounds[:, :2] + bounds[:, 2:]) / 2
    size = np.ptp(middle, axis=0).max() / np.sqrt(_MOST_BOXES) or 1.0
    cell = pd.Series(list(map(tuple, np.floor(middle / size))))
    by = pd.DataFrame(bounds).groupby(cell, sort=False)
    return np.column_stack([by[[0, 1]].min().to_numpy(), by[[2, 3]].max().to_numpy()])


def is_drawn(shapes: Objects) -> Bools:
    """Return which shapes have a place: numbers of which all are finite."""
    there = ~(shapely.is_missing(shapes) | shapely.is_empty(shapes))
    # The bounds of nothing are not finite.
    return np.asarray(there & np.isfinite(shapely.bounds(shapes)).all(axis=1))


def is_own(
    names: Objects, shapes: Objects, routes: Objects, lines: Objects, selected: Collection[str]
) -> Bools:
    """Return which rows belong to selected lines: by name, or by the nearest line without one.

    Parameters
    ----------
    names : ndarray of str or None, shape (n,)
        ``line_id`` of each row.
    shapes : ndarray of shapely.Geometry or None, shape (n,)
    routes : ndarray of shapely.Geometry, shape (r,)
        In the CRS of the shapes.
    lines : ndarray of str or None, shape (r,)
        ``line_id`` of the routes.
    selected : collection of str

    Examples
    --------
    >>> routes = shapely.from_wkt(["LINESTRING (0 0, 9 0)", "LINESTRING (0 5, 9 5)"])
    >>> names = np.array(["A", "B", None, None], dtype=object)
    >>> lines = np.array(["A", "B"], dtype=object)
    >>> points = shapely.points([[1, 9], [1, 0], [1, 1], [1, 4]])
    >>> is_own(names, points, routes, lines, {"A"}).tolist()
    [True, False, True, False]
    """
    own = np.isin(names.astype(str), list(selected)) & ~pd.isna(names)
    known = ~pd.isna(names) & np.isin(names.astype(str), lines[~pd.isna(lines)].astype(str))
    free = np.flatnonzero(~known & is_drawn(shapes))
    drawn = np.flatnonzero(is_drawn(routes))
    if len(free) and len(drawn):
        tree = shapely.STRtree(routes[drawn])
        at, route = tree.query_nearest(shapes[free], all_matches=False)
        own[free[at]] = np.isin(lines[drawn[route]].astype(str), list(selected))
    return own
