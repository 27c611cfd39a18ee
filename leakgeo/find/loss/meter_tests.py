"""Meter tests: loss from two readings, and several tests of a line combined."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Objects

Verdict = Literal["loss_shown", "none_within_resolution", "not_valid"]
# Litres in each unit of volume; the US gallon is 231 cubic inches (NIST Handbook 44, appendix C).
LITRES = {"l": 1.0, "m3": 1000.0, "gal": 3.785411784, "ft3": 28.316846592}
# Maximum number of decimals of a register.
_MOST_DECIMALS = 6
_MINUTES_A_DAY = 1440.0
# Losses that differ by this factor still agree: pressure, and so loss, is higher at night.
_AGREEMENT_FACTOR = 1.25
# Half width of a 95 % normal interval, in standard deviations.
_SD_95 = 1.959964


@dataclass(frozen=True)
class Loss:
    """Combined result of the meter tests of one line.

    Parameters
    ----------
    verdict : {"loss_shown", "none_within_resolution", "not_valid"}
    litres_per_day, sd_l_per_day : float
        Loss and its error from the register's resolution (1-sigma); NaN where no test is valid.
    low_l_per_day, high_l_per_day : float
        95 % interval of the loss.
    least_l_per_day : float
        Smallest detectable loss: one step of the register over the time of the tests.
    hours : float
        Total time between the readings that count.
    tests, valid_tests : int
    notes : tuple of Reason
        Why tests don't count or disagree.
    """

    verdict: Verdict
    litres_per_day: float
    sd_l_per_day: float
    low_l_per_day: float
    high_l_per_day: float
    least_l_per_day: float
    hours: float
    tests: int
    valid_tests: int
    notes: tuple[Reason, ...]


def losses(meter_tests: pd.DataFrame | None) -> dict[str, Loss]:
    """Return the loss of each line that was tested.

    Parameters
    ----------
    meter_tests : pandas.DataFrame or None
        Layer of a job.

    Returns
    -------
    dict of str to Loss
        By ``line_id``, sorted. Tests without a line are left out; the job's checks report them.

    Examples
    --------
    >>> day = pd.to_datetime(["2026-05-01T00:00Z", "2026-05-01T12:00Z"])
    >>> test = {"line_id": ["A"], "start_reading": [1.25], "end_reading": [1.75],
    ...         "volume_unit": ["m3"], "start_time": day[:1], "end_time": day[1:],
    ...         "water_used": [False], "reason": [None]}
    >>> loss = losses(pd.DataFrame(test))["A"]
    >>> loss.verdict, loss.litres_per_day, round(loss.sd_l_per_day, 2), loss.least_l_per_day
    ('loss_shown', 1000.0, 8.16, 20.0)
    """
    if meter_tests is None or meter_tests.empty:
        return {}
    return {line: loss for (line,), loss in losses_by(meter_tests, "line_id").items()}


def losses_by(meter_tests: pd.DataFrame, *columns: str) -> dict[tuple[str, ...], Loss]:
    """Return the loss of the tests that have the same texts in some columns.

    Parameters
    ----------
    meter_tests : pandas.DataFrame
        Layer of a job.
    *columns : str
        Tests that lack one of these texts are left out.

    Returns
    -------
    dict of tuple of str to Loss
        By the texts, sorted.
    """
    rows: dict[tuple[str, ...], list[int]] = {}
    keys = zip(*(texts(meter_tests, name) for name in columns), strict=True)
    for row, key in enumerate(keys):
        if None not in key:
            rows.setdefault(tuple(map(str, key)), []).append(row)
    table = each_test(meter_tests)
    # Arrays: selecting rows of a table costs a hundred times more.
    arrays = {str(name): np.asarray(column) for name, column in table.items()}
    return {key: _combined({n: a[rows[key]] for n, a in arrays.items()}) for key in sorted(rows)}


def least_shown(register_l: float, wait_minutes: float) -> float:
    """Return the loss, in litres a day, that moves a register by one step during a wait.

    Examples
    --------
    >>> least_shown(1.0, 15.0)
    96.0
    """
    return register_l * _MINUTES_A_DAY / wait_minutes


def each_test(meter_tests: pd.DataFrame) -> pd.DataFrame:
    """Return change, resolution and duration of each test, and why it does not count.

    Parameters
    ----------
    meter_tests : pandas.DataFrame
        Layer of a job.

    Returns
    -------
    pandas.DataFrame
        One row per test: ``line_id, litres, resolution_l, days, end_time, why`` (None where it is
        valid).
    """
    litres_each = np.array(meter_tests["volume_unit"].map(LITRES), dtype=float)
    change = floats(meter_tests, "end_reading") - floats(meter_tests, "start_reading")
    span = meter_tests["end_time"] - meter_tests["start_time"]
    days = np.array(span.dt.total_seconds(), dtype=float) / 86400.0
    return pd.DataFrame({
        "line_id": texts(meter_tests, "line_id"),
        "litres": change * litres_each,
        "resolution_l": resolution(meter_tests) * litres_each,
        "days": days,
        "end_time": meter_tests["end_time"].to_numpy(),
        "why": _invalid_reasons(meter_tests, change, days),
    })  # fmt: skip


def _invalid_reasons(meter_tests: pd.DataFrame, change: Floats, days: Floats) -> Objects:
    """Return the first reason why each test does not count, None where it does."""
    used = meter_tests["water_used"].astype("boolean")
    why = texts(meter_tests, "reason")
    tests = (
        (used.isna(), "water_use_not_known"),
        (used.fillna(value=False), "water_was_used"),
        (~(days > 0), "no_time_passed"),
        (~(change >= 0), "meter_ran_back"),
    )
    for wrong, code in tests:
        why[np.asarray(wrong, dtype=bool) & pd.isna(why)] = Reason(code)
    return why


def resolution(meter_tests: pd.DataFrame) -> Floats:
    """Return the resolution of each test in its ``volume_unit``, shape (n,).

    Without a value in the column ``resolution``, it is the last decimal of any reading of the line
    in that unit: a GIS drops trailing zeros, but seldom those of all readings.

    Examples
    --------
    >>> resolution(pd.DataFrame({"line_id": ["A", "B"], "volume_unit": ["gal", "ft3"],
    ...     "start_reading": [10.5, 20.0], "end_reading": [12.0, 21.0]})).tolist()
    [0.1, 1.0]
    """
    shown = meter_tests[["start_reading", "end_reading"]].to_numpy(dtype=float)
    decimals = np.maximum(*_decimals(shown).T)
    keys = [meter_tests["line_id"].fillna(""), meter_tests["volume_unit"].fillna("")]
    finest = pd.Series(decimals, index=meter_tests.index).groupby(keys).transform("max")
    given = floats(meter_tests, "resolution")
    return np.where(given > 0, given, 10.0 ** -finest.to_numpy(dtype=float))


def _decimals(values: Floats) -> Floats:
    """Return the number of decimals of each value."""
    steps = 10.0 ** np.arange(_MOST_DECIMALS)
    scaled = values[..., None] * steps
    slack = 1e-7 + 8.0 * np.finfo(float).eps * np.abs(scaled)
    whole = np.abs(scaled - np.rint(scaled)) <= slack
    return np.where(whole.any(axis=-1), whole.argmax(axis=-1), _MOST_DECIMALS).astype(float)


_Tests = dict[str, Any]  # arrays, by column


def _combined(own: _Tests) -> Loss:
    """Combine the tests of one line, given as the columns of `each_test`."""
    every, wrong = len(own["why"]), ~pd.isna(own["why"])
    notes = [Reason("tests_not_valid", invalid=count, tests=every, why=why)
             for why, count in Counter(own["why"][wrong]).items()]  # fmt: skip
    rows = np.flatnonzero(~wrong)
    if not rows.size:
        nothing = (np.nan,) * 6
        return Loss("not_valid", *nothing, every, 0, tuple(notes))
    rows = rows[np.argsort(own["end_time"][rows])]
    valid = {name: column[rows] for name, column in own.items()}
    counted, note = _consistent(valid)
    return _pooled(counted, every, len(rows), (*note, *notes))


def _consistent(valid: _Tests) -> tuple[_Tests, tuple[Reason, ...]]:
    """Return all tests if one loss explains them within their resolution, else the latest only."""
    days, litres, step = (valid[name] for name in ("days", "litres", "resolution_l"))
    low, high = np.maximum(litres - step, 0.0) / days, (litres + step) / days
    # As everywhere in this module, an unknown number counts for nothing.
    if np.fmax.reduce(low) <= _AGREEMENT_FACTOR * np.fmin.reduce(high):
        return valid, ()
    rate = litres / days
    disagree = Reason("tests_disagree", low_l=np.fmin.reduce(rate), high_l=np.fmax.reduce(rate))
    return {name: column[-1:] for name, column in valid.items()}, (disagree,)


def _pooled(tests: _Tests, all_tests: int, valid: int, notes: tuple[Reason, ...]) -> Loss:
    """Return the loss from consistent tests: total volume over total time.

    The error of each reading is uniform within half a step: the difference has a standard
    deviation of one step divided by the square root of six.
    """
    days, litres, step = (tests[name] for name in ("days", "litres", "resolution_l"))
    total, time = float(np.nansum(litres)), float(np.nansum(days))
    sd = float(np.sqrt(np.nansum(step**2) / 6.0)) / time
    loss = total / time
    return Loss(
        "loss_shown" if total > 0 else "none_within_resolution",
        loss, sd, max(loss - _SD_95 * sd, 0.0), loss + _SD_95 * sd,
        float(np.fmax.reduce(step)) / time, 24.0 * time, all_tests, valid, notes,
    )  # fmt: skip
