"""Linear referencing: ground chainage of points on lines, vectorised over both."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import ops

from leakgeo.job.crs import ground_scale

if TYPE_CHECKING:
    from pyproj import CRS

    from leakgeo.arrays import Floats, Ints, Objects

# Gap between the numeric ranges of consecutive lines, so that one search serves all lines.
_RANGE_GAP = 1.0


@dataclass(frozen=True)
class RouteSet:
    """Lines with the chainage of each vertex, in the plane of the CRS and on the ground.

    Parameters
    ----------
    lines : ndarray of LineString, shape (l,)
        In a metre CRS.
    first : ndarray of int, shape (l + 1,)
        Index of each line's first vertex in the vertex arrays.
    grid_m : ndarray of float, shape (v,)
        Chainage of each vertex in the plane of the CRS.
    ground_m : ndarray of float, shape (v,)
        Chainage of each vertex on the ground.
    """

    lines: Objects
    first: Ints
    grid_m: Floats
    ground_m: Floats

    @classmethod
    def of(cls, lines: Objects, crs: CRS) -> RouteSet:
        """Return the route set of `lines`, in the metre CRS `crs`.

        Examples
        --------
        >>> from pyproj import CRS
        >>> line = np.array([shapely.LineString([(500000, 4e6), (500100, 4e6)])])
        >>> routes = RouteSet.of(line, CRS(32631))
        >>> routes.length_m.round(2)  # scale 0.9996 on the central meridian
        array([100.04])
        """
        xy, owner = shapely.get_coordinates(lines, return_index=True)
        first = np.searchsorted(owner, np.arange(len(lines) + 1))
        step = np.diff(xy, axis=0, prepend=xy[:1])
        middle = xy - step / 2
        length = np.hypot(step[:, 0], step[:, 1])
        scale = ground_scale(crs, middle[:, 0], middle[:, 1])
        return cls(
            lines,
            first,
            _cumulative_by_line(length, first),
            _cumulative_by_line(length / scale, first),
        )

    @property
    def length_m(self) -> Floats:
        """Ground length of each line, shape (l,)."""
        return self.ground_m[self.first[1:] - 1]

    def locate(self, points: Objects, which: Ints) -> tuple[Floats, Floats]:
        """Return chainage and signed offset of each point on its line.

        Parameters
        ----------
        points : ndarray of Point, shape (n,)
            In the CRS of the lines.
        which : ndarray of int, shape (n,)
            Index of each point's line.

        Returns
        -------
        chainage_m : ndarray of float, shape (n,)
            On the ground, from the line's first vertex.
        offset_m : ndarray of float, shape (n,)
            Distance from the line, positive to the left of its direction.
        """
        lines = self.lines[which]
        grid = shapely.line_locate_point(lines, points)
        foot = shapely.line_interpolate_point(lines, grid)
        away = shapely.get_coordinates(points) - shapely.get_coordinates(foot)
        along = self._unit_vectors(lines, grid)
        left = along[:, 0] * away[:, 1] - along[:, 1] * away[:, 0]
        # Adding 0.0 turns -0.0 into 0.0.
        offset = np.copysign(np.hypot(away[:, 0], away[:, 1]), left) + 0.0
        return self._interpolate(grid, which, self.grid_m, self.ground_m), offset

    def points(self, which: Ints, chainage_m: Floats) -> Objects:
        """Return the points at the given chainages, clipped to the line, shape (n,)."""
        grid = self._interpolate(chainage_m, which, self.ground_m, self.grid_m)
        return np.asarray(shapely.line_interpolate_point(self.lines[which], grid), dtype=object)

    def grid_azimuth_deg(self, which: Ints, chainage_m: Floats) -> Floats:
        """Return the line's direction at each chainage, in degrees from grid north, shape (n,)."""
        grid = self._interpolate(chainage_m, which, self.ground_m, self.grid_m)
        along = self._unit_vectors(self.lines[which], grid)
        return np.degrees(np.arctan2(along[:, 0], along[:, 1])) % 360.0

    def pieces(self, which: Ints, begin_m: Floats, end_m: Floats) -> Objects:
        """Return the pieces of the lines between two chainages each, shape (n,)."""
        begin = self._interpolate(begin_m, which, self.ground_m, self.grid_m)
        end = self._interpolate(end_m, which, self.ground_m, self.grid_m)
        pieces = [
            ops.substring(line, a, b)
            for line, a, b in zip(self.lines[which], begin, end, strict=True)
        ]
        return np.array(pieces, dtype=object)

    def _unit_vectors(self, lines: Objects, grid: Floats) -> Floats:
        """Return unit vectors along the lines, measured over 1 cm at each place."""
        reach = 0.005
        length = shapely.length(lines)
        middle = np.clip(grid, reach, np.maximum(length - reach, reach))
        ahead = shapely.line_interpolate_point(lines, np.minimum(middle + reach, length))
        behind = shapely.line_interpolate_point(lines, middle - reach)
        step = shapely.get_coordinates(ahead) - shapely.get_coordinates(behind)
        norm = np.hypot(step[:, 0], step[:, 1])
        return step / np.where(norm > 0, norm, 1.0)[:, None]

    def _interpolate(self, value: Floats, which: Ints, source: Floats, target: Floats) -> Floats:
        """Convert between grid and ground chainage by interpolation between the vertices."""
        owner = np.repeat(np.arange(len(self.lines)), np.diff(self.first))
        base = np.concatenate([[0.0], np.cumsum(source[self.first[1:] - 1] + _RANGE_GAP)])
        inside = np.clip(value, 0.0, source[self.first[which + 1] - 1])
        place = np.searchsorted(source + base[owner], inside + base[which], side="right")
        low = np.clip(place - 1, self.first[which], self.first[which + 1] - 2)
        span = source[low + 1] - source[low]
        share = np.where(span > 0, (inside - source[low]) / np.where(span > 0, span, 1.0), 0.0)
        return np.asarray(target[low] + share * (target[low + 1] - target[low]))


def _cumulative_by_line(step: Floats, first: Ints) -> Floats:
    """Return the cumulative sum of the steps of each line, from zero."""
    total = np.zeros_like(step)
    # Not compiled: a check of a job needs no other loop, and numba takes long to load.
    for begin, end in pairwise(first.tolist()):
        np.cumsum(step[begin + 1 : end], out=total[begin + 1 : end])
    return total
