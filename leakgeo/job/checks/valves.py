"""Check that valves are on the lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from leakgeo.arrays import texts
from leakgeo.job.checks.lines import row_of_line
from leakgeo.job.checks.registry import check
from leakgeo.job.checks.repairs import reach_m
from leakgeo.job.checks.tape_origin import FITTING_SD_M
from leakgeo.reason import Reason

if TYPE_CHECKING:
    import geopandas as gpd

    from leakgeo.job.checks.collector import IssueCollector


@check("valves", order=41)
def valves_off_lines(
    rows: gpd.GeoDataFrame, issues: IssueCollector, routes: gpd.GeoDataFrame, route_sd_m: float
) -> None:
    """Note valves that are on no line, or off the line that they name: they cut nothing off."""
    points, shapes = rows.geometry.to_numpy(), routes.geometry.to_numpy()
    at = np.flatnonzero(issues.good & ~shapely.is_missing(points))
    line = row_of_line(rows, routes)[at]
    named = line >= 0
    line[~named] = shapely.STRtree(shapes).nearest(points[at[~named]])
    away = shapely.distance(points[at], shapes[line])
    far = away > reach_m(routes, FITTING_SD_M, route_sd_m)[line]
    off = np.zeros(len(rows), dtype=bool)
    off[at[far]] = True
    names = texts(routes, "line_id")[line[far]]
    reasons = [
        Reason("valve_off_line", off_m=by, line=name)
        if has_name
        else Reason("valve_off_network", off_m=by)
        for by, name, has_name in zip(away[far], names, named[far], strict=True)
    ]
    issues.report(off, reasons, column="geometry", rejects=False)
