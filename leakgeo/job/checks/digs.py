"""Checks of the records of digs: places by chainage, and records that others correct."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import pyproj
import shapely

from leakgeo.arrays import floats, texts
from leakgeo.job.checks.lines import OFF_LINE_M, points_along, row_of_line
from leakgeo.job.checks.registry import check
from leakgeo.job.checks.repairs import HOLE_SD_M, reach_m, rows_of_digs
from leakgeo.job.crs import ground_scale
from leakgeo.job.lengths import INCH_M
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from leakgeo.arrays import Bools, Floats
    from leakgeo.job.checks.collector import IssueCollector
    from leakgeo.job.checks.layer import CheckedLayer


def hole_chainages(digs: pd.DataFrame) -> Floats:
    """Return the measured chainage of each hole: of the leak, else the middle of what was seen.

    Examples
    --------
    >>> digs = pd.DataFrame({"leak_chainage_m": [4.0, None], "exposed_from_m": [None, 2.0],
    ...                      "exposed_to_m": [None, 3.0]}, dtype=float)
    >>> hole_chainages(digs).tolist()
    [4.0, 2.5]
    """
    leak, begin, end = (floats(digs, c) for c in ("leak_chainage_m", *_EXPOSED))
    return np.where(np.isfinite(leak), leak, (begin + end) / 2.0)


_EXPOSED = ("exposed_from_m", "exposed_to_m")
_FOOT_M = 12.0 * INCH_M


def place_digs_by_chainage(digs: CheckedLayer, routes: CheckedLayer) -> CheckedLayer:
    """Give digs without position the position of their chainage along the route.

    Parameters
    ----------
    digs, routes : CheckedLayer
        In the local CRS, in metres; `digs` linked to `routes`.

    Returns
    -------
    CheckedLayer
        Digs with neither keep a null geometry, and are noted.
    """
    table, lines = digs.table, routes.table[routes.table["reason"].isna()]
    bare = (table.geometry.isna() & table["reason"].isna()).to_numpy()
    line, along = row_of_line(table, lines), hole_chainages(table)
    at = np.flatnonzero(bare & (line >= 0) & np.isfinite(along))
    shapes = table.geometry.to_numpy().copy()
    if at.size:
        traces = lines.geometry.to_numpy()[line[at]]
        x, y = shapely.get_coordinates(shapely.centroid(traces)).T
        on_map = along[at] * ground_scale(pyproj.CRS(table.crs), x, y)
        shapes[at] = points_along(traces, on_map, np.zeros(at.size))
    issues, saw = digs.issues(), table["found"].isin(["leak", "dry"]).to_numpy()
    lost = bare & saw & shapely.is_missing(shapes)
    issues.report(lost, Reason("dig_without_place"), column="leak_chainage_m", rejects=False)
    points = gpd.GeoSeries(shapes, index=table.index, crs=table.crs)
    return replace(digs, table=table.assign(geometry=points)).with_issues(issues)


@check("dig_outcomes", stage="read", order=10)
def exposed_stretches(table: pd.DataFrame, issues: IssueCollector) -> None:
    """Report exposed stretches of pipe whose ends are exchanged, and leaks outside them."""
    ends = table[list(_EXPOSED)]
    issues.report(
        (table["exposed_to_m"] < table["exposed_from_m"]).to_numpy(),
        Reason("exposed_ends_exchanged"),
        column="exposed_to_m", values=table["exposed_to_m"], rejects=False,
    )  # fmt: skip
    leak = table["leak_chainage_m"]
    outside = (leak < ends.min(axis=1) - _EDGE_M) | (leak > ends.max(axis=1) + _EDGE_M)
    issues.report(
        (outside & ends.notna().all(axis=1)).to_numpy(), Reason("leak_outside_exposed"),
        column="leak_chainage_m", values=leak, rejects=False,
    )  # fmt: skip


# Tapes to the same end of a hole differ by so much.
_EDGE_M = 0.3


@check("dig_outcomes", stage="read", order=11)
def repairs_without_time(table: pd.DataFrame, issues: IssueCollector) -> None:
    """Report repaired leaks without the time of the repair."""
    repaired = table["repaired"].astype("boolean").fillna(value=False) & (table["found"] == "leak")
    issues.report(
        (repaired & table["time"].isna()).to_numpy(dtype=bool), Reason("repair_time_missing"),
        column="time", rejects=False,
    )  # fmt: skip


@check("dig_outcomes", stage="read", order=12)
def superseded_records(table: pd.DataFrame, issues: IssueCollector) -> None:
    """Leave out records that another one corrects: they are kept, and noted."""
    name, corrects = texts(table, "dig_id"), texts(table, "supersedes")
    by = {old: new for old, new in zip(corrects, name, strict=True) if old is not None}
    in_circle = np.array([_in_circle(each, by) for each in name], dtype=bool)
    issues.report(in_circle, Reason("supersedes_in_circle"), column="supersedes", values=corrects,
                  rejects=False)  # fmt: skip
    old = np.array([each in by for each in name], dtype=bool) & ~in_circle
    reasons = [Reason("superseded", by=by[each]) for each in name[old]]
    issues.report(old, reasons, column="dig_id", rejects=False)
    first = np.flatnonzero(old & issues.good)
    given = dict(zip(np.flatnonzero(old).tolist(), reasons, strict=True))
    for k in first.tolist():
        issues.reasons[k] = given[k]


def _in_circle(name: str | None, by: dict[str, str]) -> bool:
    """Return whether a record corrects itself, through others or not."""
    passed: set[str] = set()
    each = by.get(str(name))
    while each is not None and each != name and each not in passed:
        passed.add(each)
        each = by.get(each)
    return each is not None and each == name


@check("dig_outcomes", order=40)
def digs_off_lines(
    rows: gpd.GeoDataFrame, issues: IssueCollector, routes: gpd.GeoDataFrame, route_sd_m: float
) -> None:
    """Note holes off their line, and chainages beyond its end."""
    named = row_of_line(rows, routes)
    shapes, points = routes.geometry.to_numpy(), rows.geometry.to_numpy()
    away, limit = np.full(len(rows), np.nan), np.full(len(rows), np.inf)
    on = np.flatnonzero(named >= 0)
    away[on] = shapely.distance(points[on], shapes[named[on]])
    limit[on] = reach_m(routes, HOLE_SD_M, route_sd_m)[named[on]]
    # A chainage along the named line places the hole, whatever its position.
    off = issues.good & (away > limit) & ~np.isfinite(floats(rows, "leak_chainage_m"))
    issues.report(
        off, [Reason("dig_off_line", off_m=each) for each in away[off]], column="geometry",
        rejects=False,
    )  # fmt: skip
    line = rows_of_digs(rows, routes, route_sd_m)
    x, y = shapely.get_coordinates(shapely.centroid(shapes)).T
    length = shapely.length(shapes) / ground_scale(pyproj.CRS(routes.crs), x, y)
    length = np.where(line >= 0, length[line], np.inf)
    for code, column, to in (
        ("exposed_beyond_route", "exposed_to_m", rows[list(_EXPOSED)].max(axis=1)),
        ("leak_beyond_route", "leak_chainage_m", rows["leak_chainage_m"]),
    ):
        _report_beyond(issues, to.to_numpy(dtype=float), length, code, column)


@check("dig_outcomes", order=41)
def holes_elsewhere(
    rows: gpd.GeoDataFrame, issues: IssueCollector, routes: gpd.GeoDataFrame, route_sd_m: float
) -> None:
    """Note chainages that disagree with the point of their hole, as those typed in feet do."""
    line, at, points = rows_of_digs(rows, routes, route_sd_m), hole_chainages(rows), rows.geometry
    own = np.flatnonzero(issues.good & (line >= 0) & np.isfinite(at) & points.notna().to_numpy())
    if not own.size:
        return
    shapes, along = routes.geometry.to_numpy()[line[own]], np.full(len(rows), np.nan)
    x, y = shapely.get_coordinates(shapely.centroid(shapes)).T
    scale = ground_scale(pyproj.CRS(routes.crs), x, y)
    along[own] = shapely.line_locate_point(shapes, points.to_numpy()[own]) / scale
    length, limit = np.full(len(rows), np.inf), np.full(len(rows), np.inf)
    length[own] = shapely.length(shapes) / scale
    limit[own] = reach_m(routes, HOLE_SD_M, route_sd_m)[line[own]]
    # One beyond the end of the route is reported as such.
    away = (np.abs(along - at) > limit) & (at <= length + OFF_LINE_M)
    feet = away & (np.abs(along - at * _FOOT_M) < limit / 2.0)
    for which, code in ((feet, "dig_chainage_in_feet"), (away & ~feet, "dig_elsewhere")):
        reasons = [Reason(code, at_m=m, number=m, point_m=p)
                   for m, p in zip(at[which], along[which], strict=True)]  # fmt: skip
        issues.report(which, reasons, column="leak_chainage_m", rejects=False)


def _report_beyond(
    issues: IssueCollector, to: Floats, length: Floats, code: str, column: str
) -> None:
    far: Bools = issues.good & (to - length > OFF_LINE_M)
    reasons = [Reason(code, to_m=at, route_m=end)
               for at, end in zip(to[far], length[far], strict=True)]  # fmt: skip
    issues.report(far, reasons, column=column, rejects=False)
