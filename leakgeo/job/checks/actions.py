"""Check that results of actions are from after a repair, and name the place they are about."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely

from leakgeo.arrays import texts
from leakgeo.job.checks.lines import row_of_line
from leakgeo.job.checks.registry import check
from leakgeo.job.checks.repairs import before_repair, reach_m
from leakgeo.job.checks.tape_origin import FITTING_SD_M
from leakgeo.reason import Reason

if TYPE_CHECKING:
    import geopandas as gpd

    from leakgeo.arrays import Bools, Ints, Objects
    from leakgeo.job.checks.collector import IssueCollector

# A fitting so near an end of a route is at it; plans show fittings beside the pipe.
_AT_END_M = 5.0


@check("action_results", order=40)
def results_before_repairs(
    rows: pd.DataFrame, issues: IssueCollector, routes: gpd.GeoDataFrame
) -> None:
    """Reject results from before the leak on their line was repaired."""
    line = row_of_line(rows, routes)
    repaired = pd.Series(routes["repaired_time"].array.take(line, allow_fill=True), rows.index)
    before = (rows["time"] < repaired).to_numpy(dtype=bool)
    issues.report(before, [before_repair(time) for time in repaired[before]], column="time")


@check("action_results", order=41)
def results_without_place(
    rows: pd.DataFrame, issues: IssueCollector, routes: gpd.GeoDataFrame,
    contacts: gpd.GeoDataFrame | None, route_sd_m: float,
) -> None:  # fmt: skip
    """Note fittings that were shut and are not named, or on another line, and ends not named."""
    action = rows["action"].to_numpy(dtype=object)
    shut, beyond = (issues.good & (action == name) for name in ("shut_fitting", "listen_beyond"))
    named = pd.notna(texts(rows, "contact_id"))
    issues.report(shut & ~named, Reason("shut_fitting_not_named"), column="contact_id",
                  rejects=False)  # fmt: skip
    off = shut & named & ~_on_line(rows, routes, contacts, route_sd_m)
    issues.report(off, Reason("shut_fitting_off_line"), column="contact_id",
                  values=rows["contact_id"], rejects=False)  # fmt: skip
    without = pd.isna(ends_listened_beyond(rows, routes, contacts))
    issues.report(beyond & without, Reason("end_not_named"), column="beyond", rejects=False)


def ends_listened_beyond(
    rows: pd.DataFrame, routes: gpd.GeoDataFrame, contacts: gpd.GeoDataFrame | None
) -> Objects:
    """Return the end beyond which was listened in each row, shape (n,).

    Parameters
    ----------
    rows : pandas.DataFrame
        ``action_results``.
    routes : geopandas.GeoDataFrame
        Good routes, in the CRS of `contacts`.
    contacts : geopandas.GeoDataFrame or None

    Returns
    -------
    ndarray of object, shape (n,)
        ``start`` or ``end``: as the row says, else the end that its fitting is at; None if neither
        is known.
    """
    ends = texts(rows, "beyond")
    at, fitting, line = _named_fittings(rows, routes, contacts)
    away = np.array([shapely.distance(fitting.geometry.to_numpy(), shapely.get_point(line, vertex))
                     for vertex in (0, -1)])  # fmt: skip
    near = (away.min(axis=0) <= _AT_END_M) & pd.isna(ends[at])
    ends[at[near]] = np.where(away[0] <= away[1], "start", "end")[near]
    return ends


def _on_line(
    rows: pd.DataFrame, routes: gpd.GeoDataFrame, contacts: gpd.GeoDataFrame | None,
    route_sd_m: float,
) -> Bools:  # fmt: skip
    """Return whether the fitting of each row is on the line of the row: as it says, or by place."""
    on = np.zeros(len(rows), dtype=bool)
    at, fitting, line = _named_fittings(rows, routes, contacts)
    reach = reach_m(routes, FITTING_SD_M, route_sd_m)[row_of_line(rows, routes)[at]]
    near = shapely.distance(fitting.geometry.to_numpy(), line) <= reach
    own = texts(fitting, "line_id")
    on[at] = np.where(pd.isna(own), near, own == texts(rows, "line_id")[at])
    return on


def _named_fittings(
    rows: pd.DataFrame, routes: gpd.GeoDataFrame, contacts: gpd.GeoDataFrame | None
) -> tuple[Ints, gpd.GeoDataFrame, Objects]:
    """Return the rows that name a fitting and a line with a place, with both, shape (k,) each."""
    line = row_of_line(rows, routes)
    if contacts is None:
        return np.empty(0, dtype=np.int64), routes.iloc[:0], np.empty(0, dtype=object)
    placed = contacts[contacts.geometry.notna() & contacts["contact_id"].notna()]
    placed = placed.drop_duplicates("contact_id")
    known, named = (pd.Index(texts(table, "contact_id")) for table in (placed, rows))
    fitting = known.get_indexer(named)
    at = np.flatnonzero((line >= 0) & (fitting >= 0))
    return at, placed.iloc[fitting[at]], routes.geometry.to_numpy()[line[at]]
