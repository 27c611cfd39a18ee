"""Loss of water out of a meter read before and after a time of no use."""

from __future__ import annotations

import pandas as pd

# Litres in each unit of volume; the US gallon is 231 cubic inches (NIST Handbook 44, appendix C).
LITRES = {"l": 1.0, "m3": 1000.0, "gal": 3.785411784, "ft3": 28.316846592}


def loss_by_line(meter_tests: pd.DataFrame | None) -> pd.Series[float]:
    """Loss of each line with a valid test, in litres a day.

    A test counts when all outlets were closed and time has passed; several tests of a line are
    averaged by their durations.

    Parameters
    ----------
    meter_tests : pandas.DataFrame or None
        Layer of the job.

    Returns
    -------
    pandas.Series of float
        Indexed by ``line_id``.

    Examples
    --------
    >>> day = pd.to_datetime(["2026-05-01T00:00Z", "2026-05-01T12:00Z"])
    >>> loss_by_line(pd.DataFrame({
    ...     "line_id": ["A"], "start_reading": [1.0], "end_reading": [1.5], "volume_unit": ["m3"],
    ...     "start_time": day[:1], "end_time": day[1:], "all_outlets_closed": [True],
    ...     "reason": [None]})).tolist()
    [1000.0]
    """
    if meter_tests is None or meter_tests.empty:
        return pd.Series(dtype=float)
    days = (meter_tests["end_time"] - meter_tests["start_time"]).dt.total_seconds() / 86400.0
    litres = meter_tests["end_reading"] - meter_tests["start_reading"]
    litres = litres * meter_tests["volume_unit"].map(LITRES)
    closed = meter_tests["all_outlets_closed"].fillna(False).astype(bool)
    valid = meter_tests["reason"].isna() & closed & (days > 0) & (litres >= 0)
    kept = pd.DataFrame({"line_id": meter_tests["line_id"], "litres": litres, "days": days})[valid]
    total = kept.groupby("line_id")[["litres", "days"]].sum()
    return (total["litres"] / total["days"]).astype(float)
