"""The `meter` step: loss of each line, its cost, and the equivalent hole."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.faults import Fault
from leakgeo.find.loss.meter_tests import each_test, losses
from leakgeo.find.loss.orifice import equivalent_hole, loss_at_pressure
from leakgeo.job.model import NOT_SELECTED
from leakgeo.reason import Reason, columns_of

if TYPE_CHECKING:
    from leakgeo.find.loss.meter_tests import Loss
    from leakgeo.job.model import Job
    from leakgeo.result import Result

DAYS_A_YEAR = 365.25


def loss_by_line(meter_tests: pd.DataFrame | None) -> pd.Series[float]:
    """Return the loss of each line with a valid test, in litres a day; 0 without a loss.

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
    ...     "start_time": day[:1], "end_time": day[1:], "water_used": [False],
    ...     "reason": [None]})).tolist()
    [1000.0]
    """
    by_line = {i: s.litres_per_day for i, s in losses(meter_tests).items() if s.valid_tests}
    return pd.Series(by_line, dtype=float)


def meter(
    result: Result, *, price_per_m3: float | None, currency: str, other_pressure_kpa: float | None,
    n1: float, discharge: float,
) -> Result:  # fmt: skip
    """Compute the loss of every line with meter readings before and after a time without use.

    Parameters
    ----------
    result : Result
        A job without sound readings is enough.
    price_per_m3 : float or None
        Price of a cubic metre of water.
    currency : str
        Name of the currency.
    other_pressure_kpa : float or None
        Pressure to compute the loss at, besides the line's own.
    n1 : float
        Exponent of pressure (N1).
    discharge : float
        Discharge coefficient of the equivalent hole.

    Returns
    -------
    Result
        With ``meter_results``: one row per line tested.
    """
    by_line = _selected_losses(result.job)
    names = np.array(list(by_line), dtype=object)
    found = list(by_line.values())
    price = np.nan if price_per_m3 is None else price_per_m3
    loss = np.array([s.litres_per_day for s in found], dtype=float)
    pressure = _pressure(result.job, names)
    other = np.full(len(loss), np.nan if other_pressure_kpa is None else other_pressure_kpa)
    shown = np.where(loss > 0, loss, np.nan)
    frame = _table(names, found).assign(
        loss_l_per_year=loss * DAYS_A_YEAR,
        cost_per_year=loss * DAYS_A_YEAR / 1000.0 * price,
        currency=None if price_per_m3 is None else currency,
        pressure_kpa=pressure,
        hole_mm=equivalent_hole(shown, pressure, discharge),
        other_pressure_kpa=other,
        loss_at_other_l_per_day=loss_at_pressure(shown, pressure, other, n1),
        n1=np.where(np.isfinite(other), n1, np.nan),
    )
    messages = [
        _message(s, d, p) for s, d, p in zip(found, frame["hole_mm"], pressure, strict=True)
    ]
    frame = frame.assign(**columns_of("message", messages))
    return result.adding({"meter_results": frame}, _faults(result.job))


def _selected_losses(job: Job) -> dict[str, Loss]:
    """Return the losses of the selected lines."""
    apart = set(job.routes.loc[job.routes["reason"] == NOT_SELECTED, "line_id"])
    return {name: loss for name, loss in losses(job.meter_tests).items() if name not in apart}


def _pressure(job: Job, names: np.ndarray) -> np.ndarray:
    """Return the pressure of each line, NaN where unknown."""
    known = pd.Series(floats(job.routes, "pressure_kpa"), index=texts(job.routes, "line_id"))
    return known[~known.index.duplicated()].reindex(names).to_numpy(dtype=float)


def _table(names: np.ndarray, found: list[Loss]) -> pd.DataFrame:
    numbers = {
        "duration_h": "hours", "loss_l_per_day": "litres_per_day",
        "loss_sd_l_per_day": "sd_l_per_day", "loss_low_l_per_day": "low_l_per_day",
        "loss_high_l_per_day": "high_l_per_day", "least_l_per_day": "least_l_per_day",
    }  # fmt: skip
    return pd.DataFrame({
        "line_id": names,
        "verdict": np.array([s.verdict for s in found], dtype=object),
        "tests": np.array([s.tests for s in found], dtype=int),
        "valid_tests": np.array([s.valid_tests for s in found], dtype=int),
        **{k: np.array([getattr(s, v) for s in found], dtype=float) for k, v in numbers.items()},
    })  # fmt: skip


def _message(loss: Loss, hole_mm: float, pressure_kpa: float) -> Reason:
    """Return the message of a line: result of its tests, and what to do."""
    if loss.verdict == "not_valid":
        return Reason("loss_not_known", *loss.notes)
    if loss.verdict == "none_within_resolution":
        return Reason("no_loss", *loss.notes, hours=loss.hours, least_l=loss.least_l_per_day)
    one_step = loss.litres_per_day <= 1.01 * loss.least_l_per_day
    then = Reason("loss_is_one_step" if one_step else "loss_maybe_inside")
    lost = {"loss_l": loss.litres_per_day, "low_l": loss.low_l_per_day,
            "high_l": loss.high_l_per_day}  # fmt: skip
    if not np.isfinite(hole_mm):
        return Reason("loss", then, *loss.notes, **lost)
    return Reason("loss_and_hole", then, *loss.notes, hole_mm=hole_mm, pressure_kpa=pressure_kpa,
                  **lost)  # fmt: skip


def _faults(job: Job) -> list[Fault]:
    """Report invalid tests; those rejected by the job's checks are reported there."""
    if job.meter_tests is None:
        return []
    why = texts(each_test(job.meter_tests), "why")
    fresh = np.flatnonzero(pd.notna(why) & job.meter_tests["reason"].isna().to_numpy())
    names = texts(job.meter_tests, "line_id")
    return [
        Fault("meter_tests", Reason("test_not_valid", why=why[i]), str(names[i]), "water_used")
        for i in fresh
    ]  # fmt: skip
