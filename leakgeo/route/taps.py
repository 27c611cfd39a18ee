"""Readings while a tap was open: place of the fitting on their line, and that they are apart."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely

from leakgeo.arrays import floats, texts
from leakgeo.job.checks import FITTING_SD_M, OFF_LINE_M, OFF_LINE_SD
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from leakgeo.arrays import Bools
    from leakgeo.route.lines import Lines


def with_taps(placed: pd.DataFrame, readings: pd.DataFrame, lines: Lines) -> pd.DataFrame:
    """Return placed readings with ``tap_m``, the chainage of the open fitting on their line.

    Parameters
    ----------
    placed : pandas.DataFrame
        As `leakgeo.route.place.place_on_routes` returns it.
    readings : pandas.DataFrame
        ``readings`` of the job, with the index of `placed`.
    lines : Lines

    Returns
    -------
    pandas.DataFrame
        ``tap_m`` is NaN where no fitting was open, and where it has no place on the line; usable
        readings of the latter then have the reason ``tap_not_on_line``.
    """
    reason, line = texts(placed, "reason"), np.asarray(placed["line"])
    xy = np.column_stack([floats(readings, "tap_x"), floats(readings, "tap_y")])
    tap, known = np.full(len(line), np.nan), np.isfinite(xy[:, 0]) & (line >= 0)
    at, off = lines.routes.locate(shapely.points(xy[known]), line[known])
    reach = OFF_LINE_M + OFF_LINE_SD * np.hypot(FITTING_SD_M, lines.trace_sd_m[line[known]])
    tap[known] = np.where(np.abs(off) <= reach, at, np.nan)
    named = texts(readings, "tap_open")
    for k in np.flatnonzero(tapped(readings) & np.isnan(tap)):
        if reason[k] is None:
            reason[k] = Reason("tap_not_on_line", contact=str(named[k]))
    return placed.assign(reason=reason, tap_m=tap)


def tapped(readings: pd.DataFrame) -> Bools:
    """Return which readings were taken while a fitting was open to a trickle, shape (n,).

    Parameters
    ----------
    readings : pandas.DataFrame
        With ``tap_open``, such as ``readings_on_route``; without it none was.
    """
    if "tap_open" not in readings:
        return np.zeros(len(readings), dtype=bool)
    return np.asarray(pd.notna(readings["tap_open"]), dtype=bool)
