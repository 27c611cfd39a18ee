"""Readings whose positions can't be theirs: off the line they name, or all of a walk at one place.

A taped reading has its place by the tape, and its position would not be looked at again: a walk
that was noted on the wrong line would put its sound there, and nobody would hear of it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely

from leakgeo.arrays import floats, texts
from leakgeo.faults import Fault
from leakgeo.job.checks.collector import EACH
from leakgeo.job.checks.links import row_of_line
from leakgeo.job.checks.registry import check

if TYPE_CHECKING:
    from collections.abc import Iterator

    import geopandas as gpd

    from leakgeo.arrays import Bools, Floats, Ints, Objects
    from leakgeo.job.checks.collector import Findings

# A position is off its line beyond so many standard errors, and by this besides: nobody listens
# from further away.
REACH_SD, ASIDE_M = 4.0, 1.0
# So many stops of a walk at the very same coordinates, and such a share of it, are no walk.
FEWEST, SHARE = 5, 0.8


@check("readings", order=50)
def off_their_lines(
    rows: gpd.GeoDataFrame, issues: Findings, routes: gpd.GeoDataFrame,
    route_sd_m: float, reading_sd_m: float,
) -> None:  # fmt: skip
    """Reject taped readings that stand on another line than they name; note other odd positions."""
    names = texts(routes, "line_id")
    taped = issues.good & rows["chainage_m"].notna().to_numpy()
    own, other, off = _off_their_lines(rows, taped, routes, route_sd_m, reading_sd_m)
    # Single poor fixes lie on a neighbour too; a walk of another line lies there in its most part.
    stray = (other >= 0) & _in_most_of_their_walk(rows, taped, own >= 0)
    metres = np.array([f"{m:.1f}" for m in off], dtype=object)
    for pair, there, here in _pairs(own, other, stray, names):
        issues.tell(
            pair, f"It stands on {there}, {{value}} m from {here}.",
            "Correct its line_id, or its position.", column="line_id", values=metres,
        )  # fmt: skip
    issues.faults += _noted(np.where(stray, -1, own), off, names)
    issues.faults += _at_one_place(rows, issues.good)


def _off_their_lines(
    table: pd.DataFrame, taped: Bools, lines: pd.DataFrame, route_sd_m: float, reading_sd_m: float
) -> tuple[Ints, Ints, Floats]:
    """Find taped readings off their lines: row of their line, of that they stand on, and how far.

    Rows are -1 for all that is where it should be, or stands on none.
    """
    traces = floats(lines, "position_sd_m", null=route_sd_m)
    own = row_of_line(table, lines)
    at = np.flatnonzero(taped & (own >= 0))
    points, shapes = table.geometry.to_numpy()[at], lines.geometry.to_numpy()
    sd = floats(table, "position_sd_m", null=reading_sd_m)[at]
    apart = shapely.distance(points, shapes[own[at]])
    away = apart > ASIDE_M + REACH_SD * np.hypot(sd, traces[own[at]])
    at, whose = at[away], own[at[away]]
    own, other = np.full((2, len(table)), -1)
    off = np.full(len(table), np.nan)
    own[at], off[at] = whose, apart[away]
    other[at] = _standing_on(points[away], sd[away], whose, shapes, traces)
    return own, other, off


def _in_most_of_their_walk(table: pd.DataFrame, taped: Bools, away: Bools) -> Bools:
    """Whether most taped readings of each reading's walk are away from its line, shape (n,)."""
    walk = table[["line_id", "walk_id"]].fillna("").groupby(["line_id", "walk_id"]).ngroup()
    of_walk = walk.to_numpy()
    count = np.bincount(of_walk, taped)
    return np.asarray(np.bincount(of_walk, away)[of_walk] > count[of_walk] / 2)


def _standing_on(points: Objects, sd: Floats, whose: Ints, shapes: Objects, traces: Floats) -> Ints:
    """Give the nearest other route that each point is on by its error, -1 where there is none."""
    found = np.full(len(points), -1)
    reach = ASIDE_M + REACH_SD * np.hypot(sd, traces.max(initial=0.0))
    who, line = shapely.STRtree(shapes).query(points, predicate="dwithin", distance=reach)
    apart = shapely.distance(points[who], shapes[line])
    on = apart <= ASIDE_M + REACH_SD * np.hypot(sd[who], traces[line])
    who, line, apart = (v[on & (line != whose[who])] for v in (who, line, apart))
    # The nearest is written last.
    order = np.lexsort((-line, -apart))
    found[who[order]] = line[order]
    return found


def _pairs(
    own: Ints, other: Ints, stray: Bools, names: Objects
) -> Iterator[tuple[Bools, str, str]]:
    """Give rows that stray from one line to one other, and both in words; all at once if many."""
    pairs = np.unique(np.column_stack([own, other])[stray], axis=0)
    if len(pairs) > EACH:
        yield stray, "another line than the one it names", "that"
        return
    for k, j in pairs:
        rows = stray & (own == k) & (other == j)
        yield rows, f"line {names[j]}", f"line {names[k]}, which it names"


def _noted(own: Ints, off: Floats, names: Objects) -> Iterator[Fault]:
    """Tell of readings that are off their line and on none: one sentence a line, or one for all."""
    lines = np.unique(own[own >= 0])
    groups = [(str(names[k]), own == k) for k in lines]
    if len(lines) > EACH:
        groups = [(f"{names[lines[0]]} and {len(lines) - 1} more lines", own >= 0)]
    for name, rows in groups:
        yield Fault(
            "readings", f"{rows.sum()} of its taped readings have positions up to "
            f"{off[rows].max():.1f} m off its route, more than their errors explain; they were "
            "placed by the tape alone.", "Check their positions, and their line_id.", name,
            "geometry", effect="noted",
        )  # fmt: skip


def _at_one_place(table: pd.DataFrame, good: Bools) -> Iterator[Fault]:
    """Tell of walks without a tape whose stops all have one position, such as that of a house."""
    air = table["air"] if "air" in table else pd.Series(None, index=table.index, dtype=object)
    free = good & (table["chainage_m"].isna() & air.isna()).to_numpy()
    own = table.loc[free, ["line_id", "walk_id"]].fillna("")
    own = own.assign(at=shapely.to_wkb(table.geometry.to_numpy()[free]))
    alike = own.groupby(["line_id", "walk_id", "at"], sort=False).size()
    walks = alike.groupby(level=[0, 1], sort=False).agg(["max", "sum"])
    told = walks[walks["max"] >= np.maximum(FEWEST, SHARE * walks["sum"])]
    for (line, walk), (same, count) in zip(told.index, told.to_numpy(), strict=True):
        yield Fault(
            "readings", f"{same} of the {count} readings of walk {walk or 'without a name'} "
            "have one and the same position: nothing tells where along the line each was.",
            "Give each its own position, or its taped chainage_m.", str(line), "geometry",
            effect="noted",
        )  # fmt: skip
