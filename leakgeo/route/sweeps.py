"""Readings of sweeps across a line: not off their route, and not along it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from leakgeo.arrays import floats, texts
from leakgeo.job.checks import ASIDE_M, TAPED_SD_M, offsets_across, sweep_places
from leakgeo.job.model import NOT_SELECTED
from leakgeo.route.taps import tapped

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

    from leakgeo.arrays import Bools
    from leakgeo.route.lines import Lines

# Reason of readings too far from the route; those of a sweep are meant to be there.
_OFF = "off_its_route"


def with_sweeps(
    placed: pd.DataFrame, readings: gpd.GeoDataFrame, lines: Lines, reading_sd_m: float
) -> pd.DataFrame:
    """Return placed readings with the sweeps across each line.

    Parameters
    ----------
    placed : pandas.DataFrame
        As `leakgeo.route.place.place_on_routes` returns it.
    readings : geopandas.GeoDataFrame
        ``readings`` of the job, with the index of `placed`.
    lines : Lines
    reading_sd_m : float
        Error of a position that states none (1-sigma).

    Returns
    -------
    pandas.DataFrame
        With the column ``sweep_m``, the chainage of the sweep, NaN for readings of none. Readings
        of a sweep are not off their route, and a taped ``offset_m`` replaces that of the position.
    """
    reason, line = texts(placed, "reason"), np.asarray(placed["line"]).copy()
    off = np.array([each is not None and each.code == _OFF for each in reason], dtype=bool)
    good = off | np.array([each is None or each == NOT_SELECTED for each in reason], dtype=bool)
    line[~good] = -1
    aside = floats(readings, "offset_m")
    taped = np.isfinite(aside)
    at = np.flatnonzero((line >= 0) & ~taped)
    aside[at] = offsets_across(lines.routes.lines[line[at]], readings.geometry.to_numpy()[at])
    error = np.where(taped, TAPED_SD_M, floats(readings, "position_sd_m", null=reading_sd_m))
    sweep = sweep_places(line, floats(placed, "chainage_m"), aside, error, taped)
    swept = np.isfinite(sweep)
    kept = np.flatnonzero(off & swept)
    chosen = lines.selected[line[kept]]
    reason[kept[chosen]], reason[kept[~chosen]] = None, NOT_SELECTED
    offset = np.where(swept, aside, floats(placed, "offset_m"))
    return placed.assign(reason=reason, offset_m=offset, sweep_m=sweep)


def swept_beside(placed: pd.DataFrame) -> Bools:
    """Return which readings are part of a sweep and beside the pipe, shape (n,).

    Parameters
    ----------
    placed : pandas.DataFrame
        With ``sweep_m`` and ``offset_m``, such as ``readings_on_route``.
    """
    swept = np.isfinite(floats(placed, "sweep_m"))
    return np.asarray(swept & (np.abs(floats(placed, "offset_m")) > ASIDE_M))


def apart(readings: pd.DataFrame) -> Bools:
    """Return which readings say nothing of the sound along their line, shape (n,).

    Parameters
    ----------
    readings : pandas.DataFrame
        ``readings_on_route``.
    """
    return swept_beside(readings) | tapped(readings)


def along_the_line(readings: pd.DataFrame) -> Bools:
    """Return which readings are used along their line: no part of a sweep alone, no tap open.

    Parameters
    ----------
    readings : pandas.DataFrame
        ``readings_on_route``.
    """
    return np.asarray(readings["used"], dtype=bool) & ~apart(readings)
