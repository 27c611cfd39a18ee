"""What the records of a line show after its dig: the repair, the meter, and what to do next."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.find.loss.meter_tests import each_test
from leakgeo.job.model import without_fault
from leakgeo.reason import Reason, with_next

if TYPE_CHECKING:
    from datetime import tzinfo

    from leakgeo.job.model import Job


@dataclass(frozen=True)
class MeterShown:
    """What one meter test showed.

    Parameters
    ----------
    litres_per_day : float
    turns : bool
        Whether the register moved.
    minutes : float
    time : pandas.Timestamp
        Of its end.
    """

    litres_per_day: float
    turns: bool
    minutes: float
    time: pd.Timestamp


def records_of(job: Job, line_id: str) -> pd.DataFrame:
    """Return the records of the digs of a line that no other corrects, the latest last."""
    if job.dig_outcomes is None:
        return pd.DataFrame(columns=["dig_id", "line_id", "found", "repaired", "time"])
    own = texts(job.dig_outcomes, "line_id") == line_id
    good = without_fault(job.dig_outcomes["reason"]).to_numpy()
    return pd.DataFrame(job.dig_outcomes[own & good]).sort_values("time", kind="stable")


def meters_around(
    job: Job, line_id: str, time: pd.Timestamp
) -> tuple[MeterShown | None, MeterShown | None]:
    """Return the last meter test that began before a time, and the last one since; None for none.

    Parameters
    ----------
    job : Job
    line_id : str
    time : pandas.Timestamp
        Of the dig.
    """
    tests = job.meter_tests
    if tests is None or tests.empty:
        return None, None
    table = each_test(tests).assign(begin=tests["start_time"].to_numpy())
    counts = [why is None or why.code == "before_repair" for why in table["why"]]
    own = table[np.array(counts) & (table["line_id"] == line_id).to_numpy()].sort_values("end_time")
    since = (pd.to_datetime(own["begin"], utc=True) >= time).to_numpy()
    return _last(own[~since]), _last(own[since])


def _last(tests: pd.DataFrame) -> MeterShown | None:
    if tests.empty:
        return None
    row = tests.iloc[-1]
    days, litres = float(row["days"]), float(row["litres"])
    end = pd.Timestamp(row["end_time"])
    return MeterShown(litres / days, litres > 0.0, days * 1440.0,
                      end if end.tzinfo else end.tz_localize("UTC"))  # fmt: skip


def believed(job: Job, line_id: str, zone: tzinfo = UTC) -> Reason:
    """Return what the records of a line show after its latest dig, and what to do next.

    No reading is evaluated: the next run does that.

    Parameters
    ----------
    job : Job
        Read after the records were added.
    line_id : str
    zone : datetime.tzinfo
        Time zone of the days that are named.

    Returns
    -------
    Reason
        Of several dry holes, leaks and repairs the latest record counts.
    """
    records = records_of(job, line_id)
    if records.empty:
        return Reason("closed_nothing")
    last = records.iloc[-1]
    day = "" if pd.isna(last["time"]) else f"{last['time'].astimezone(zone):%Y-%m-%d}"
    place = _place(last)
    if last["found"] == "dry":
        return Reason("closed_dry", Reason("closed_run_again"), **place)
    if last["found"] != "leak":
        return Reason("closed_not_reached", Reason("closed_run_again"))
    if pd.isna(last["repaired"]) or not last["repaired"]:
        return Reason("closed_not_repaired", Reason("closed_run_again"), **place)
    after = None if pd.isna(last["time"]) else meters_around(job, line_id, last["time"])[1]
    return _repaired(Reason("closed_repaired", day=day, **place), after)


def _repaired(first: Reason, after: MeterShown | None) -> Reason:
    """Return what the meter shows after a repair."""
    again = Reason("closed_run_again")
    if after is None:
        return with_next(first, Reason("closed_read_meter"), again)
    if after.turns:
        return with_next(first, Reason("closed_still_turns", loss_l=after.litres_per_day),
                         Reason("closed_walk_again"), again)  # fmt: skip
    return with_next(first, Reason("closed_stands_still", minutes=after.minutes), again)


def _place(record: pd.Series[Any]) -> dict[str, object]:
    """Return where the leak or the dry pipe was seen, for a sentence."""
    frame = pd.DataFrame([record])
    leak, begin, end = (
        float(floats(frame, name)[0]) for name in
        ("leak_chainage_m", "exposed_from_m", "exposed_to_m")
    )  # fmt: skip
    if record["found"] == "leak" and np.isfinite(leak):
        return {"at_m": leak, "where": "at"}
    if np.isfinite(begin) and np.isfinite(end):
        return {"from_m": begin, "to_m": end, "where": "span"}
    return {"where": "unknown"}
