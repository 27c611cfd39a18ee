"""Check that the meter of each test is on the line of the test."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
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


@check("meter_tests", order=41)
def meters_off_lines(
    rows: pd.DataFrame, issues: IssueCollector, routes: gpd.GeoDataFrame,
    contacts: gpd.GeoDataFrame | None, route_sd_m: float,
) -> None:  # fmt: skip
    """Note tests whose meter is not on their line; the place of the meter is then not known."""
    if contacts is None:
        return
    placed = contacts[contacts.geometry.notna() & contacts["contact_id"].notna()]
    placed = placed.drop_duplicates("contact_id")
    fitting = pd.Index(texts(placed, "contact_id")).get_indexer(pd.Index(texts(rows, "contact_id")))
    line = row_of_line(rows, routes)
    at = np.flatnonzero((fitting >= 0) & (line >= 0) & issues.good)
    points = placed.geometry.to_numpy()[fitting[at]]
    away = shapely.distance(points, routes.geometry.to_numpy()[line[at]])
    far = away > reach_m(routes, FITTING_SD_M, route_sd_m)[line[at]]
    off = np.zeros(len(rows), dtype=bool)
    off[at[far]] = True
    names = texts(rows, "contact_id")[off]
    reasons = [
        Reason("meter_off_line", meter=name, off_m=by)
        for name, by in zip(names, away[far], strict=True)
    ]
    issues.report(off, reasons, column="contact_id", rejects=False)
