"""Where the routes of a job meet: ends on ends, and ends on the middle of another route."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from leakgeo.job.checks import IssueCollector
from leakgeo.options import JOIN_GAP_M
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from leakgeo.arrays import Bools, Floats, Ints
    from leakgeo.faults import Fault
    from leakgeo.route.lines import Lines

# Ends that lie within this many standard errors of both traces may be one place.
JOIN_SD = 2.0
# Traces that are drawn better than they are digitised still miss each other by this.
JOIN_FLOOR_M = JOIN_GAP_M.number
# However bad the traces, ends further apart than this are not taken to meet: neighbours would.
JOIN_MOST_M = float(str(JOIN_GAP_M.maximum))
# An end joins the nearest route, and others that are about as near; not all that are in reach.
_ALIKE_M = 0.3
# Ends that stay apart are reported up to so many times the reach.
_CLOSE = 2.0
# A route whose two ends meet is a ring if it is so many times longer than the reach.
_RING = 4.0
_COLUMNS = ["line_a", "chainage_a_m", "line_b", "chainage_b_m", "gap_m"]


@dataclass(frozen=True, eq=False)
class Junctions:
    """Places where two routes are joined, each pair once, ``line_a <= line_b``.

    Parameters
    ----------
    line_a, line_b : ndarray of int, shape (j,)
        Places of the routes among the measurable lines; the same where a route closes on itself.
    chainage_a_m, chainage_b_m : ndarray of float, shape (j,)
        Chainage of the junction on each.
    gap_m : ndarray of float, shape (j,)
        How far apart the two are drawn.
    faults : tuple of Fault
        Noted: what comes close and was not joined.
    """

    line_a: Ints
    chainage_a_m: Floats
    line_b: Ints
    chainage_b_m: Floats
    gap_m: Floats
    faults: tuple[Fault, ...] = ()


def junctions_of(
    lines: Lines, *, join_sd: float = JOIN_SD, floor_m: float = JOIN_FLOOR_M
) -> Junctions:
    """Find where an end of a route meets another route, at its end or along it.

    Two routes are joined where an end is nearer to the other than `join_sd` standard deviations of
    both traces together plus `floor_m`, though never than `JOIN_MOST_M`. An end joins the nearest
    route and those about as near. Routes that cross without an end there are not joined.

    Parameters
    ----------
    lines : Lines
    join_sd : float
        Standard deviations of both traces, combined as the root of squares.
    floor_m : float
        Added to it, in metres.

    Returns
    -------
    Junctions

    Examples
    --------
    A service that is drawn 20 cm short of its main:

    >>> from pyproj import CRS
    >>> from leakgeo.route.chainage import RouteSet
    >>> from leakgeo.route.lines import Lines
    >>> drawn = shapely.from_wkt(["LINESTRING(5e5 0,500100 0)", "LINESTRING(500040 .2,500040 9)"])
    >>> table = pd.DataFrame({"reason": None}, index=["main", "service"])
    >>> lines = Lines(table, RouteSet.of(drawn, CRS(32631)), pd.Series(), np.full(2, 0.1), ())
    >>> found = junctions_of(lines)
    >>> found.chainage_a_m.round(2).tolist(), found.chainage_b_m.tolist()
    ([40.02], [0.0])
    """
    near = _near(lines, join_sd, floor_m)
    kept = pd.concat([near[_accepted(near)], _rings(lines, join_sd, floor_m)])
    pairs = _once(_ordered(kept))
    found = Junctions(*(pairs[name].to_numpy() for name in _COLUMNS))  # type: ignore[arg-type]
    part = parts_of(len(lines.length_m), found)
    faults = [*_close_faults(lines, near, part), *_crossing_faults(lines, found)]
    return replace(found, faults=tuple(faults))


def parts_of(count: int, junctions: Junctions) -> Ints:
    """Number the connected parts of the network.

    Parameters
    ----------
    count : int
        How many lines there are.
    junctions : Junctions

    Returns
    -------
    ndarray of int, shape (count,)
        Part that each line is in, in order of their first lines.
    """
    a, b = junctions.line_a, junctions.line_b
    graph = coo_array((np.ones(len(a)), (a, b)), shape=(count, count))
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.int64)


def _reach(lines: Lines, a: Ints, b: Ints, join_sd: float, floor_m: float) -> Floats:
    """How far apart an end of one line and another line may be drawn and still meet."""
    both = np.hypot(lines.trace_sd_m[a], lines.trace_sd_m[b])
    return np.asarray(np.minimum(join_sd * both + floor_m, JOIN_MOST_M))


def _near(lines: Lines, join_sd: float, floor_m: float) -> pd.DataFrame:
    """Every end with every other line that is near it; in reach or just beyond."""
    routes = lines.routes
    end = _ends(lines)
    own = np.arange(len(end)) // 2
    widest = np.full(len(end), np.argmax(lines.trace_sd_m) if len(own) else 0)
    far = _CLOSE * _reach(lines, own, widest, join_sd, floor_m)
    which, b = shapely.STRtree(routes.lines).query(end, predicate="dwithin", distance=far)
    which, b = which[own[which] != b], b[own[which] != b]
    a, reach = own[which], _reach(lines, own[which], b, join_sd, floor_m)
    chainage, _ = routes.locate(end[which], b)
    chainage = _on_ends(lines, end[which], b, chainage, reach)
    gap = shapely.distance(end[which], routes.points(b, chainage))
    at = np.where(which % 2 == 1, lines.length_m[a], 0.0)
    frame = pd.DataFrame(dict(zip(_COLUMNS, (a, at, b, chainage, gap), strict=True)))
    frame = frame.assign(end=which, reach=reach)
    return frame[frame["gap_m"] <= _CLOSE * reach]


def _ends(lines: Lines) -> np.ndarray[tuple[int], np.dtype[np.object_]]:
    """First and last point of each line, one after the other, shape (2 l,)."""
    drawn = lines.routes.lines
    return np.stack([shapely.get_point(drawn, 0), shapely.get_point(drawn, -1)], axis=1).ravel()


def _on_ends(
    lines: Lines, points: np.ndarray[tuple[int], np.dtype[np.object_]], b: Ints, chainage: Floats,
    reach: Floats,
) -> Floats:  # fmt: skip
    """Move a foot that is within reach of an end of its line to that end, if the point is too."""
    ends, moved = _ends(lines), chainage.copy()
    for last in (False, True):
        at = lines.length_m[b] if last else np.zeros(len(b))
        away = shapely.distance(points, ends[2 * b + last])
        # Both ends of a short line may be in reach: the nearer one is meant.
        other = shapely.distance(points, ends[2 * b + (not last)])
        there = (away <= reach) & (np.abs(chainage - at) <= reach) & (away <= other)
        moved[there] = at[there]
    return moved


def _accepted(near: pd.DataFrame) -> Bools:
    """Tell which are joined: in reach, and about as near as the nearest to that end."""
    nearest = near.groupby("end")["gap_m"].transform("min")
    joined = (near["gap_m"] <= near["reach"]) & (near["gap_m"] <= nearest + _ALIKE_M)
    return np.asarray(joined, dtype=bool)


def _rings(lines: Lines, join_sd: float, floor_m: float) -> pd.DataFrame:
    """Lines whose own two ends meet."""
    own = np.arange(len(lines.length_m))
    ends = _ends(lines).reshape(-1, 2)
    gap = shapely.distance(ends[:, 0], ends[:, 1])
    reach = _reach(lines, own, own, join_sd, floor_m)
    ring = (gap <= reach) & (lines.length_m > _RING * reach)
    at = (own, np.zeros(len(own)), own, lines.length_m, gap)
    return pd.DataFrame(dict(zip(_COLUMNS, at, strict=True)))[ring].assign(reach=reach[ring])


def _ordered(found: pd.DataFrame) -> pd.DataFrame:
    """Put the earlier line of each pair first."""
    turn = (found["line_a"] > found["line_b"]).to_numpy()
    a, b = _COLUMNS[:2], _COLUMNS[2:4]
    turned = found.copy()
    turned.loc[turn, a + b] = found.loc[turn, b + a].to_numpy()
    return turned.astype({"line_a": np.int64, "line_b": np.int64})


def _once(found: pd.DataFrame) -> pd.DataFrame:
    """Of junctions of two lines that are one place within reach, keep the one drawn closest."""
    names = ["line_a", "line_b", "gap_m", "chainage_a_m", "chainage_b_m"]
    found = found.sort_values(names, ignore_index=True).assign(row=np.arange(len(found)))
    both = found.merge(found, on=["line_a", "line_b"], suffixes=("", "_2"))
    both = both[both["row_2"] < both["row"]]
    apart = [(both[c] - both[f"{c}_2"]).abs() for c in ("chainage_a_m", "chainage_b_m")]
    same = (apart[0] <= both["reach"]) & (apart[1] <= both["reach"])
    return found[~found["row"].isin(both.loc[same, "row"])]


def _close_faults(lines: Lines, near: pd.DataFrame, part: Ints) -> list[Fault]:
    """Report ends that come close to a route of another part of the network."""
    apart = near[part[near["line_a"]] != part[near["line_b"]]].sort_values("gap_m")
    first = apart.drop_duplicates("line_a").sort_values("line_a")
    names = lines.table.index.to_numpy(dtype=object)
    who = zip(first["gap_m"], names[first["line_b"]], strict=True)
    issues = IssueCollector("routes", names[first["line_a"]])
    reasons = [Reason("end_near_route", gap_m=gap, other=other) for gap, other in who]
    every = np.ones(len(first), dtype=bool)
    issues.report(every, reasons, column="geometry", rejects=False)
    return issues.faults


def _crossing_faults(lines: Lines, junctions: Junctions) -> list[Fault]:
    """Report once routes that cross and have no junction."""
    drawn = lines.routes.lines
    a, b = shapely.STRtree(drawn).query(drawn, predicate="crosses")
    joined = set(zip(junctions.line_a.tolist(), junctions.line_b.tolist(), strict=True))
    crossing = [(i, j) for i, j in zip(a.tolist(), b.tolist(), strict=True) if i < j]
    apart = [pair for pair in crossing if pair not in joined]
    if not apart:
        return []
    names = lines.table.index
    some = "; ".join(f"{names[i]} and {names[j]}" for i, j in apart[:5])
    issues = IssueCollector("routes", np.empty(0, dtype=object))
    issues.report_layer(Reason("routes_cross", times=len(apart)), column="geometry", value=some)
    return issues.faults
