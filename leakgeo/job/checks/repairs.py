"""Repairs in the digs of a job: when each line was last repaired, and tests before that."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely

from leakgeo.arrays import floats, texts
from leakgeo.job.checks.lines import OFF_LINE_M, OFF_LINE_SD, row_of_line
from leakgeo.job.checks.registry import check
from leakgeo.reason import Reason

if TYPE_CHECKING:
    import geopandas as gpd

    from leakgeo.arrays import Floats, Ints
    from leakgeo.job.checks.collector import IssueCollector
    from leakgeo.job.checks.layer import CheckedLayer

#: Position error of a hole whose place was not taped (1-sigma).
HOLE_SD_M = 1.0


def with_repairs(
    routes: CheckedLayer, digs: CheckedLayer | None, route_sd_m: float
) -> CheckedLayer:
    """Add ``repaired_time``: when the last leak found on each line was repaired, null if never.

    What was measured before no longer describes the line.

    Parameters
    ----------
    routes : CheckedLayer
        In the local CRS.
    digs : CheckedLayer or None
        ``dig_outcomes``, in the local CRS.
    route_sd_m : float
        Error of a route that states none (1-sigma).
    """
    table = routes.table
    time = pd.Series(pd.NaT, index=table.index, dtype="datetime64[ns, UTC]")
    if digs is not None and len(digs.table):
        good = table[table["reason"].isna()]
        own = digs.table
        repaired = own["repaired"].astype("boolean").fillna(value=False)
        counts = own["reason"].isna() & (own["found"] == "leak") & repaired & own["time"].notna()
        own = own[counts.to_numpy(dtype=bool)]
        line = rows_of_digs(own, good, route_sd_m)
        last = own["time"].groupby(line).max()
        last = last[last.index >= 0]
        time.loc[good.index[last.index]] = last.to_numpy()
    return replace(routes, table=table.assign(repaired_time=time))


def rows_of_digs(digs: pd.DataFrame, routes: pd.DataFrame, route_sd_m: float) -> Ints:
    """Return the row in `routes` of the line of each dig; -1 if it is not known.

    A dig without ``line_id`` is of the only line that it can be on.
    """
    row = row_of_line(digs, routes)
    named = pd.notna(texts(digs, "line_id"))
    points, shapes = (layer["geometry"].to_numpy() for layer in (digs, routes))
    reach = reach_m(routes, HOLE_SD_M, route_sd_m)
    dig, line = shapely.STRtree(shapes).query(
        points, predicate="dwithin", distance=float(reach.max(initial=0.0))
    )
    near = shapely.distance(points[dig], shapes[line]) <= reach[line]
    dig, line = dig[near], line[near]
    only = (np.bincount(dig, minlength=len(row)) == 1)[dig] & ~named[dig]
    row[dig[only]] = line[only]
    return row


def reach_m(routes: pd.DataFrame, point_sd_m: float, route_sd_m: float) -> Floats:
    """Return the distance from each route within which a point may be on it, shape (l,)."""
    line_sd = floats(routes, "position_sd_m", null=route_sd_m)
    return np.asarray(OFF_LINE_M + OFF_LINE_SD * np.hypot(point_sd_m, line_sd))


def before_repair(time: pd.Timestamp) -> Reason:
    """Return the reason of what was measured before the repair of its line at `time`.

    Examples
    --------
    >>> before_repair(pd.Timestamp("2026-05-03T10:00Z"))
    Reason('before_repair', day='2026-05-03')
    """
    return Reason("before_repair", day=f"{time:%Y-%m-%d}")


@check("meter_tests", order=40)
def meter_tests_before_repairs(
    rows: pd.DataFrame, issues: IssueCollector, routes: gpd.GeoDataFrame
) -> None:
    """Reject meter tests that began before the leak on their line was repaired."""
    line = row_of_line(rows, routes)
    repaired = pd.Series(routes["repaired_time"].array.take(line, allow_fill=True), rows.index)
    before = (rows["start_time"] < repaired).to_numpy(dtype=bool)
    reasons = [before_repair(time) for time in repaired[before]]
    issues.report(before, reasons, column="start_time")
