"""Readings from before the repair of their line, which no longer describe it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.faults import Fault
from leakgeo.job.checks import before_repair
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from leakgeo.arrays import Ints, Objects
    from leakgeo.route.lines import Lines


def readings_before_repair(
    time: pd.Series | None, line: Ints, lines: Lines, layer: str = "readings"
) -> tuple[Objects, list[Fault]]:
    """Return why readings from before the repair of their line are not used.

    Parameters
    ----------
    time : pandas.Series or None
        Time of each reading, null or None where not known; such readings are used.
    line : ndarray of int, shape (n,)
        Index of the line of each reading in `lines`, -1 for none.
    lines : Lines
        With ``repaired_time`` in its table; without it no line was repaired.
    layer : str
        Layer that the faults name.

    Returns
    -------
    reasons : ndarray of object, shape (n,)
        ``before_repair``; None for the other readings.
    faults : list of Fault
        A note on each repaired line with readings without time.
    """
    reasons: Objects = np.full(len(line), None, dtype=object)
    if time is None:
        time = pd.Series(pd.NaT, index=range(len(line)), dtype="datetime64[ns, UTC]")
    if "repaired_time" not in lines.table or lines.table["repaired_time"].isna().all():
        return reasons, []
    repaired = pd.Series(lines.table["repaired_time"].array.take(line, allow_fill=True))
    before = (time.reset_index(drop=True) < repaired).to_numpy(dtype=bool)
    reasons[before] = [before_repair(each) for each in repaired[before]]
    undated = repaired.notna().to_numpy() & time.isna().to_numpy() & lines.selected[line]
    faults = []
    for k in np.unique(line[undated]):
        count = int((undated & (line == k)).sum())
        reason = Reason("time_missing_since_repair", readings=count, day=lines.repair_day(k))
        faults.append(Fault(layer, reason, str(lines.table.index[k]), "time", effect="noted"))
    return reasons, faults
