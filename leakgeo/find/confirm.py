"""Proof by compressed air: whether the sound at a stop changes when air goes into the line."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd

from leakgeo.route.lines import lines_in

if TYPE_CHECKING:
    from leakgeo.result import Result

# Stops this close along the pipe are one place.
SAME_PLACE_M = 0.5
# A change that an ear calls clear.
CLEAR_DB = 3.0
_COLUMNS = ("line_id", "chainage_m", "level_on_db", "level_off_db", "difference_db", "verdict",
            "message")  # fmt: skip


def confirm(result: Result) -> Result:
    """Compare levels with air on and off at each place listened to both ways.

    The verdict is of Welch's t interval at 95 % of the difference of the means: ``confirmed``
    when all of it is above zero and the difference is clear, ``not_this`` when all of it is below
    a clear difference, else ``inconclusive``.

    Parameters
    ----------
    result : Result
        With ``readings_on_route``.

    Returns
    -------
    Result
        With ``air_tests``.
    """
    readings = result.layers["readings_on_route"].query("used and air.isin(['on', 'off'])")
    place = (readings["chainage_m"] / SAME_PLACE_M).round()
    rows = [
        _compared(str(line), own)
        for (line, _), own in readings.groupby([readings["line_id"], place])
        if own["air"].nunique() == 2
    ]
    frame = pd.DataFrame(rows, columns=list(_COLUMNS))
    lines = lines_in(result)
    points = lines.routes.points(
        lines.index_of(frame["line_id"]), frame["chainage_m"].to_numpy(dtype=float)
    )
    return result.adding(
        {"air_tests": gpd.GeoDataFrame(frame, geometry=points, crs=result.job.crs)}
    )


def _compared(line_id: str, own: pd.DataFrame) -> tuple[object, ...]:
    on = own.loc[own["air"] == "on", "level_db"].to_numpy(dtype=float)
    off = own.loc[own["air"] == "off", "level_db"].to_numpy(dtype=float)
    difference = float(on.mean() - off.mean())
    verdict, message = _verdict(on, off, difference)
    where = float(own["chainage_m"].mean())
    return line_id, where, float(on.mean()), float(off.mean()), difference, verdict, message


def _verdict(on: np.ndarray, off: np.ndarray, difference: float) -> tuple[str, str]:
    if min(len(on), len(off)) < 2:
        return "inconclusive", "One reading each way decides nothing: repeat the pair."
    if np.ptp(on) == 0 and np.ptp(off) == 0:
        low = high = difference
    else:
        from scipy import stats  # slow to import, and few jobs have air tests

        interval = stats.ttest_ind(on, off, equal_var=False).confidence_interval(0.95)
        low, high = float(interval.low), float(interval.high)
    span = f"Air changes the level by {difference:+.1f} dB (95 %: {low:+.1f} to {high:+.1f})."
    if low > 0 and difference >= CLEAR_DB:
        return "confirmed", f"{span} The sound here comes of the line."
    if high < CLEAR_DB:
        return "not_this", f"{span} The sound here does not follow the line."
    return "inconclusive", f"{span} More pairs would decide."
