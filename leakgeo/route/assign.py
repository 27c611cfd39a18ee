"""Assignment of points without a ``line_id`` to lines, by distance and position error."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from leakgeo.job.checks import OFF_LINE_SD

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Ints, Objects

# The likeliest line is assigned if it is this many times likelier than the second.
DECISIVE = 20.0
OFF_ROUTE, AMBIGUOUS = -1, -2


def assign_lines(points: Objects, point_sd_m: Floats, lines: Objects, line_sd_m: Floats) -> Ints:
    """Assign points to lines by distance and position error, or flag them as ambiguous.

    The likelihood of a line is the normal density of the point's distance, with the sum of the
    variances of point and line.

    Parameters
    ----------
    points : ndarray of Point, shape (n,)
    point_sd_m : ndarray of float, shape (n,)
        1-sigma horizontal error of each point.
    lines : ndarray of LineString, shape (l,)
        In the CRS of the points, in metres.
    line_sd_m : ndarray of float, shape (l,)
        1-sigma horizontal error of each line.

    Returns
    -------
    ndarray of int, shape (n,)
        Index of the line, `OFF_ROUTE` or `AMBIGUOUS`.

    Examples
    --------
    >>> lines = shapely.from_wkt(["LINESTRING(0 0,9 0)", "LINESTRING(0 2,9 2)"])
    >>> points = shapely.points([[1, 0.2], [1, 1.0], [1, 90]])
    >>> assign_lines(points, np.full(3, 0.5), lines, np.full(2, 0.3)).tolist()
    [0, -2, -1]
    """
    line_sd_m = np.asarray(line_sd_m, dtype=float)
    widest = float(line_sd_m.max(initial=0.0))
    reach = OFF_LINE_SD * np.hypot(point_sd_m, widest)
    who, line = shapely.STRtree(lines).query(points, predicate="dwithin", distance=reach)
    sd = np.hypot(point_sd_m[who], line_sd_m[line])
    away = shapely.distance(points[who], lines[line]) / sd
    near = away <= OFF_LINE_SD
    who, line, log_odds = who[near], line[near], -(away[near] ** 2) / 2 - np.log(sd[near])
    return _decide(len(points), who, line, log_odds)


def _decide(n: int, who: Ints, line: Ints, log_odds: Floats) -> Ints:
    """Return the likeliest line of each point, if it is decisively likelier than the second."""
    order = np.lexsort((line, -log_odds, who))
    who, line, log_odds = who[order], line[order], log_odds[order]
    best = np.ones(len(who), dtype=bool)
    best[1:] = who[1:] != who[:-1]
    ahead = np.full(len(who), np.inf)
    ahead[:-1][who[1:] == who[:-1]] = (log_odds[:-1] - log_odds[1:])[who[1:] == who[:-1]]
    found = np.full(n, OFF_ROUTE)
    found[who[best]] = np.where(ahead[best] >= np.log(DECISIVE), line[best], AMBIGUOUS)
    return found
