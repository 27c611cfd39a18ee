"""The month of the latest date of a job, from which the age of records is counted."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from leakgeo.arrays import Floats
    from leakgeo.job.model import Job


def latest_month(job: Job) -> float:
    """Return when the month of the latest date of a job begins, in days since 1970.

    NaN if it has no dates. The age of records is counted from it, not from today, so that a job
    always has one result; by months, as the records of a job should not change with each reading.
    """
    days = [
        days_of(job.readings, "time"),
        days_of(job.contacts, "time"),
        days_of(job.history, "date"),
    ]
    known = np.concatenate(days)
    return month_of(np.nanmax(known)) if np.isfinite(known).any() else np.nan


def month_of(day: float) -> float:
    """Return when the month of a day begins, both in days since 1970; NaN for NaN.

    Examples
    --------
    >>> month_of(40.5), month_of(float("nan"))
    (31.0, nan)
    """
    if not np.isfinite(day):
        return np.nan
    month = np.datetime64(int(np.floor(day)), "D").astype("datetime64[M]")
    return float(month.astype("datetime64[D]").astype(np.int64))


def latest_day(times: pd.Series[Any]) -> float:
    """Return the latest of some times, in days since 1970; NaN if there is none."""
    days = days_of(pd.DataFrame({"time": times}), "time")
    return float(np.nanmax(days)) if np.isfinite(days).any() else np.nan


def days_of(layer: pd.DataFrame | None, column: str) -> Floats:
    """Return a column of times as days since 1970; NaN where there is none.

    Examples
    --------
    >>> days_of(pd.DataFrame({"date": ["1970-01-02", None]}), "date").tolist()
    [1.0, nan]
    """
    if layer is None or column not in layer:
        return np.empty(0)
    time = pd.to_datetime(layer[column], utc=True, errors="coerce")
    return ((time - pd.Timestamp(0, tz="UTC")) / pd.Timedelta(days=1)).to_numpy(dtype=float)
