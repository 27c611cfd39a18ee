"""Make one line of a route that was drawn in several parts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Objects

# Ends nearer than this meet: a digitising slip, far below any trace error.
MEET_M = 0.05


def join_parts(geometry: Objects) -> tuple[Objects, Floats]:
    """Join the parts of each route where their ends meet, keeping the first vertex first.

    Parameters
    ----------
    geometry : ndarray of LineString or MultiLineString, shape (n,)
        In a metre CRS; Z is dropped.

    Returns
    -------
    lines : ndarray of LineString or None, shape (n,)
        None where the parts leave a gap.
    gap_m : ndarray of float, shape (n,)
        The narrowest gap that keeps the parts apart, 0 where they join.

    Examples
    --------
    >>> from shapely import from_wkt
    >>> lines, gap = join_parts(np.array([from_wkt("MULTILINESTRING((0 0,1 0),(2 0,1 0))")]))
    >>> lines[0].wkt, float(gap[0])
    ('LINESTRING (0 0, 1 0, 2 0)', 0.0)
    """
    flat = shapely.force_2d(np.asarray(geometry, dtype=object))
    single = shapely.get_num_geometries(flat) == 1
    lines = np.full(len(flat), None, dtype=object)
    lines[single] = shapely.get_geometry(flat[single], 0)
    gap = np.zeros(len(flat))
    for i in np.flatnonzero(~single):
        lines[i], gap[i] = _join(list(shapely.get_parts(flat[i])))
    return lines, gap


def _join(parts: list[shapely.LineString]) -> tuple[shapely.LineString | None, float]:
    """Chain parts onto the first, end to end or end to start, nearest first."""
    chain = shapely.get_coordinates(parts[0])
    rest: list[Floats] = [shapely.get_coordinates(p) for p in parts[1:]]
    while rest:
        distance, at_end, which, flip = min(_meetings(chain, rest))
        if distance > MEET_M:
            return None, distance
        piece = rest.pop(which)
        piece = piece[::-1] if flip else piece
        chain = np.vstack([chain, piece[1:]] if at_end else [piece[:-1], chain])
    return shapely.LineString(chain), 0.0


def _meetings(chain: Floats, rest: list[Floats]) -> list[tuple[float, bool, int, bool]]:
    """List distance, at the chain's end or not, which part, and whether it must be turned."""
    ways = [(True, False, -1, 0), (True, True, -1, -1), (False, False, 0, -1), (False, True, 0, 0)]
    return [
        (float(np.hypot(*(chain[mine] - part[its]))), at_end, which, flip)
        for which, part in enumerate(rest)
        for at_end, flip, mine, its in ways
    ]
