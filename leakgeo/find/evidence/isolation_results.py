"""Results of isolation tests: whether a pressure fell, a flow went on or a register turned."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.conversion import conversion
from leakgeo.find.evidence.meter import leak_share_detected, load_meter_weights
from leakgeo.find.loss.meter_tests import LITRES, least_shown, resolution
from leakgeo.find.weights import load_weights
from leakgeo.job.checks import FLOW_RISES_SHARE, RISES_SHARE

if TYPE_CHECKING:
    from collections.abc import Mapping

Measure = Literal["pressure", "flow", "meter"]


@dataclass(frozen=True)
class IsolationResult:
    """Result of an isolation test.

    Parameters
    ----------
    test_id, measured_at : str
    measure : {"pressure", "flow", "meter"}
    before_kpa, after_kpa : float
        NaN unless a pressure was read.
    minutes : float
    shows : float
        1 if the pressure fell, the flow went on or the register turned; 0 if not.
    detects : float
        Probability that the instrument shows a leak.
    """

    test_id: str
    measured_at: str
    measure: Measure
    before_kpa: float
    after_kpa: float
    minutes: float
    shows: float
    detects: float = 1.0


def isolation_results(tests: pd.DataFrame | None) -> list[IsolationResult]:
    """Return the results of the valid isolation tests of a job, sorted by ``test_id``.

    Tests that had not settled, without a pressure before or with one that rose, show nothing; the
    checks of the job report them.

    Examples
    --------
    >>> times = pd.to_datetime(["2026-05-01T00:00Z", "2026-05-01T00:20Z"])
    >>> test = {"test_id": ["T1"], "measured_at": ["C-1"], "measure": ["pressure"],
    ...         "before": [4.0], "after": [1.0], "unit": ["bar"], "start_time": times[:1],
    ...         "end_time": times[1:], "settled": [True], "reason": [None]}
    >>> [result] = isolation_results(pd.DataFrame(test))
    >>> result.shows, result.before_kpa, result.minutes
    (1.0, 400.0, 20.0)
    """
    if tests is None:
        return []
    settled = tests["settled"].astype("boolean").fillna(value=False).to_numpy(dtype=bool)
    good = tests[settled & tests["reason"].isna().to_numpy()].sort_values("test_id")
    span = good["end_time"] - good["start_time"]
    minutes = np.array(span.dt.total_seconds(), dtype=float) / 60.0
    names = {"before": "start_reading", "after": "end_reading", "measured_at": "line_id",
             "unit": "volume_unit"}  # fmt: skip
    step = resolution(good.rename(columns=names))
    named = [texts(good, c) for c in ("test_id", "measured_at", "measure", "unit")]
    read = [floats(good, c).tolist() for c in ("before", "after")]
    rows = zip(*named, *read, minutes.tolist(), step.tolist(), strict=True)
    found = [_result(*row) for row in rows]
    return [result for result in found if np.isfinite(result.shows)]


def _result(
    test_id: str, measured_at: str, measure: Measure, unit: str, before: float, after: float,
    minutes: float, step: float,
) -> IsolationResult:  # fmt: skip
    """Return the result of one test; ``shows`` is NaN where it shows nothing."""
    kpa, detects = (np.nan, np.nan), 1.0
    if measure == "meter":
        shows = float(after > before)
        least = least_shown(step * LITRES[unit], minutes)
        detects = leak_share_detected(least) * (1.0 - load_meter_weights()["meter"]["stuck"])
    elif measure == "pressure":
        kpa = before * conversion(unit, "kpa"), after * conversion(unit, "kpa")
        shows = pressure_falls(*kpa)
    else:
        shows = flow_goes_on(before, after)
    return IsolationResult(test_id, measured_at, measure, *kpa, minutes, shows, detects)


def pressure_falls(before: float, after: float) -> float:
    """Return 1 for a pressure that fell, 0 for one that held, between for one that fell a little.

    NaN for one that rose, as by a valve that lets water pass, and without a pressure before.

    Examples
    --------
    >>> [pressure_falls(400.0, after) for after in (100.0, 398.0, 340.0, 450.0)]
    [1.0, 0.0, 0.5, nan]
    """
    weight = load_isolation_weights()["pressure"]
    lost = (before - after) / before if before > 0.0 else np.nan
    if not lost >= -RISES_SHARE:
        return np.nan
    return _between(lost, weight["holds_share"], weight["falls_share"])


def flow_goes_on(before: float, after: float) -> float:
    """Return 1 for a flow that goes on, 0 for one that stops, between for one that falls.

    NaN for one that rose, as when water was drawn.

    Examples
    --------
    >>> [flow_goes_on(10.0, after) for after in (9.0, 0.0, 14.0)], flow_goes_on(0.0, 0.0)
    ([1.0, 0.0, nan], 0.0)
    """
    if after > (1.0 + FLOW_RISES_SHARE) * before:
        return np.nan
    weight = load_isolation_weights()["flow"]
    on = after / before if before > 0.0 else 0.0
    return _between(on, weight["stops_share"], weight["goes_on_share"])


def _between(value: float, low: float, high: float) -> float:
    return round(float(np.clip((value - low) / (high - low), 0.0, 1.0)), 9)


def load_isolation_weights() -> Mapping[str, Mapping[str, float]]:
    """Load the assumptions about isolation tests; ``isolation.toml`` explains them."""
    return load_weights("leakgeo.find.evidence", "isolation")
