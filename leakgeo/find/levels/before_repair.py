"""Readings from before the repair of their line, which no longer describe it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.job.checks import before_repair
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from leakgeo.arrays import Ints, Objects
    from leakgeo.route.lines import Lines

#: Codes of readings that were, or may have been, taken before the repair.
BEFORE_REPAIR = ("before_repair", "undated_since_repair")


def readings_before_repair(time: pd.Series | None, line: Ints, lines: Lines) -> Objects:
    """Return why readings from before the repair of their line are not used.

    A reading without time is not used either: if it was taken before, it would mark the place that
    was repaired.

    Parameters
    ----------
    time : pandas.Series or None
        Time of each reading, null or None where not known.
    line : ndarray of int, shape (n,)
        Index of the line of each reading in `lines`, -1 for none.
    lines : Lines
        With ``repaired_time`` in its table; without it no line was repaired.

    Returns
    -------
    ndarray of Reason or None, shape (n,)
        Of a code in `BEFORE_REPAIR`; None for the other readings.
    """
    reasons: Objects = np.full(len(line), None, dtype=object)
    if time is None:
        time = pd.Series(pd.NaT, index=range(len(line)), dtype="datetime64[ns, UTC]")
    if "repaired_time" not in lines.table or lines.table["repaired_time"].isna().all():
        return reasons
    repaired = pd.Series(lines.table["repaired_time"].array.take(line, allow_fill=True))
    before = (time.reset_index(drop=True) < repaired).to_numpy(dtype=bool)
    reasons[before] = [before_repair(each) for each in repaired[before]]
    undated = repaired.notna().to_numpy() & time.isna().to_numpy()
    reasons[undated] = [
        Reason("undated_since_repair", day=f"{each:%Y-%m-%d}") for each in repaired[undated]
    ]
    return reasons
