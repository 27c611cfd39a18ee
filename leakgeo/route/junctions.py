"""Junctions of routes: end to end, and end to the middle of another route."""

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

# Join distance, in standard errors of both traces combined.
JOIN_SD = 2.0
# Added to it: digitising errors that the trace error does not cover.
JOIN_FLOOR_M = JOIN_GAP_M.number
# Upper limit: with a longer distance, unconnected neighbours would be joined.
MAX_JOIN_M = float(str(JOIN_GAP_M.maximum))
# An end joins the nearest route, and others at most this much farther away.
_NEAREST_MARGIN_M = 0.3
# Ends that are not joined are reported up to this multiple of the join distance.
_REPORT_FACTOR = 2.0
# A route whose two ends meet is a ring if it is longer than this multiple of the join distance.
_RING_FACTOR = 4.0
_COLUMNS = ["line_a", "chainage_a_m", "line_b", "chainage_b_m", "gap_m"]


@dataclass(frozen=True, eq=False)
class Junctions:
    """Junctions of two routes, each pair once, ``line_a <= line_b``.

    Parameters
    ----------
    line_a, line_b : ndarray of int, shape (j,)
        Indices of the routes among the measurable lines; equal where a route closes on itself.
    chainage_a_m, chainage_b_m : ndarray of float, shape (j,)
        Chainage of the junction on each route.
    gap_m : ndarray of float, shape (j,)
        Distance between the two as drawn.
    faults : tuple of Fault
        Ends close to a route, and crossings, that were not joined (noted).
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
    """Find the junctions: ends of routes that meet another route, at its end or along it.

    Two routes are joined where an end is nearer to the other than `join_sd` standard deviations of
    both traces combined plus `floor_m`, but at most `MAX_JOIN_M`. An end joins the nearest route
    and those about as near. Routes that cross without an end there are not joined.

    Parameters
    ----------
    lines : Lines
    join_sd : float
        Join distance in standard deviations of both traces, combined as root sum of squares.
    floor_m : float
        Added to the join distance, in metres.

    Returns
    -------
    Junctions

    Examples
    --------
    A service line drawn 20 cm short of its main:

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
    near = _near_ends(lines, join_sd, floor_m)
    kept = pd.concat([near[_accepted(near)], _rings(lines, join_sd, floor_m)])
    pairs = _without_duplicates(_earlier_line_first(kept))
    found = Junctions(*(pairs[name].to_numpy() for name in _COLUMNS))  # type: ignore[arg-type]
    part = connected_parts(len(lines.length_m), found)
    faults = [*_close_faults(lines, near, part), *_crossing_faults(lines, found)]
    return replace(found, faults=tuple(faults))


def connected_parts(count: int, junctions: Junctions) -> Ints:
    """Return the connected part of the network that each line is in.

    Parameters
    ----------
    count : int
        Number of lines.
    junctions : Junctions

    Returns
    -------
    ndarray of int, shape (count,)
        Part of each line, numbered in order of their first lines.
    """
    a, b = junctions.line_a, junctions.line_b
    graph = coo_array((np.ones(len(a)), (a, b)), shape=(count, count))
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.int64)


def _join_distance(lines: Lines, a: Ints, b: Ints, join_sd: float, floor_m: float) -> Floats:
    """Return the greatest gap at which an end of line `a` and line `b` are joined."""
    both = np.hypot(lines.trace_sd_m[a], lines.trace_sd_m[b])
    return np.asarray(np.minimum(join_sd * both + floor_m, MAX_JOIN_M))


def _near_ends(lines: Lines, join_sd: float, floor_m: float) -> pd.DataFrame:
    """Return each end with each other line within `_REPORT_FACTOR` times the join distance."""
    routes = lines.routes
    end = _ends(lines)
    own = np.arange(len(end)) // 2
    widest = np.full(len(end), np.argmax(lines.trace_sd_m) if len(own) else 0)
    far = _REPORT_FACTOR * _join_distance(lines, own, widest, join_sd, floor_m)
    which, b = shapely.STRtree(routes.lines).query(end, predicate="dwithin", distance=far)
    which, b = which[own[which] != b], b[own[which] != b]
    a, reach = own[which], _join_distance(lines, own[which], b, join_sd, floor_m)
    chainage, _ = routes.locate(end[which], b)
    chainage = _snapped_to_ends(lines, end[which], b, chainage, reach)
    gap = shapely.distance(end[which], routes.points(b, chainage))
    at = np.where(which % 2 == 1, lines.length_m[a], 0.0)
    frame = pd.DataFrame(dict(zip(_COLUMNS, (a, at, b, chainage, gap), strict=True)))
    frame = frame.assign(end=which, reach=reach)
    return frame[frame["gap_m"] <= _REPORT_FACTOR * reach]


def _ends(lines: Lines) -> np.ndarray[tuple[int], np.dtype[np.object_]]:
    """Return first and last point of each line, alternating, shape (2 l,)."""
    drawn = lines.routes.lines
    return np.stack([shapely.get_point(drawn, 0), shapely.get_point(drawn, -1)], axis=1).ravel()


def _snapped_to_ends(
    lines: Lines, points: np.ndarray[tuple[int], np.dtype[np.object_]], b: Ints, chainage: Floats,
    reach: Floats,
) -> Floats:  # fmt: skip
    """Snap a chainage to the end of its line if both chainage and point are in join distance."""
    ends, moved = _ends(lines), chainage.copy()
    for last in (False, True):
        at = lines.length_m[b] if last else np.zeros(len(b))
        away = shapely.distance(points, ends[2 * b + last])
        # Both ends of a short line may be in reach: the nearer one counts.
        other = shapely.distance(points, ends[2 * b + (not last)])
        there = (away <= reach) & (np.abs(chainage - at) <= reach) & (away <= other)
        moved[there] = at[there]
    return moved


def _accepted(near: pd.DataFrame) -> Bools:
    """Flag the joined pairs: in join distance, and about as near as the nearest to that end."""
    nearest = near.groupby("end")["gap_m"].transform("min")
    joined = (near["gap_m"] <= near["reach"]) & (near["gap_m"] <= nearest + _NEAREST_MARGIN_M)
    return np.asarray(joined, dtype=bool)


def _rings(lines: Lines, join_sd: float, floor_m: float) -> pd.DataFrame:
    """Return the lines whose own two ends meet."""
    own = np.arange(len(lines.length_m))
    ends = _ends(lines).reshape(-1, 2)
    gap = shapely.distance(ends[:, 0], ends[:, 1])
    reach = _join_distance(lines, own, own, join_sd, floor_m)
    ring = (gap <= reach) & (lines.length_m > _RING_FACTOR * reach)
    at = (own, np.zeros(len(own)), own, lines.length_m, gap)
    return pd.DataFrame(dict(zip(_COLUMNS, at, strict=True)))[ring].assign(reach=reach[ring])


def _earlier_line_first(found: pd.DataFrame) -> pd.DataFrame:
    """Put the earlier line of each pair first."""
    turn = (found["line_a"] > found["line_b"]).to_numpy()
    a, b = _COLUMNS[:2], _COLUMNS[2:4]
    turned = found.copy()
    turned.loc[turn, a + b] = found.loc[turn, b + a].to_numpy()
    return turned.astype({"line_a": np.int64, "line_b": np.int64})


def _without_duplicates(found: pd.DataFrame) -> pd.DataFrame:
    """Of the junctions of two lines within join distance of each other, keep the closest one."""
    names = ["line_a", "line_b", "gap_m", "chainage_a_m", "chainage_b_m"]
    found = found.sort_values(names, ignore_index=True).assign(row=np.arange(len(found)))
    both = found.merge(found, on=["line_a", "line_b"], suffixes=("", "_2"))
    both = both[both["row_2"] < both["row"]]
    apart = [(both[c] - both[f"{c}_2"]).abs() for c in ("chainage_a_m", "chainage_b_m")]
    same = (apart[0] <= both["reach"]) & (apart[1] <= both["reach"])
    return found[~found["row"].isin(both.loc[same, "row"])]


def _close_faults(lines: Lines, near: pd.DataFrame, part: Ints) -> list[Fault]:
    """Report ends close to a route of another connected part."""
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
    """Report crossing routes without a junction, in one fault."""
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
