"""Results of a step test, from the isolation tests that were measured at the inlets."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.arrays import floats, texts
from leakgeo.faults import Fault
from leakgeo.find.advise.step_test import StepResult, loss_goes_on
from leakgeo.find.loss.meter_tests import LITRES
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import pandas as pd

    from leakgeo.find.advise.district_of_job import JobDistrict

# Litres a minute in each unit of flow.
_L_PER_MIN = {"l_per_min": 1.0, "m3_per_h": LITRES["m3"] / 60.0, "gal_per_min": LITRES["gal"]}


@dataclass(frozen=True)
class InletReading:
    """Flow at an inlet before and after valves were shut.

    Parameters
    ----------
    test_id, inlet : str
    valves : frozenset of str
        Valves that were shut, by the names that the district has for them.
    before_l_per_min, after_l_per_min : float
    start, end : pandas.Timestamp
    """

    test_id: str
    inlet: str
    valves: frozenset[str]
    before_l_per_min: float
    after_l_per_min: float
    start: pd.Timestamp
    end: pd.Timestamp


def step_results(
    tests: pd.DataFrame | None, district: JobDistrict, use_l_per_min: float
) -> tuple[list[StepResult], list[Fault]]:
    """Return the results of a step test so far, and the tests at inlets that show nothing.

    Tests of the same closed valves whose times overlap are one closure: its flow is the sum over
    the inlets, each with the mean of its readings. Only flows count: the pressure at an inlet is
    kept up by the supply, and a register read before and after has no flow with the valves open.

    Parameters
    ----------
    tests : pandas.DataFrame or None
        Layer ``isolation_tests`` of the job.
    district : JobDistrict
    use_l_per_min : float
        Legitimate use of the district at that hour, spread evenly along its pipes.

    Returns
    -------
    results : list of StepResult
        Does not depend on the order of the rows.
    faults : list of Fault
    """
    if tests is None:
        return [], []
    settled = tests["settled"].astype("boolean").fillna(value=False).to_numpy(dtype=bool)
    at_inlet = tests["measured_at"].isin(district.inlets).to_numpy()
    own = tests[settled & tests["reason"].isna().to_numpy() & at_inlet].sort_values("test_id")
    read = _read(own, district)
    faults = [_left_out(test, why) for test, why in read if isinstance(why, str)]
    results = []
    for closure in _closures([one for _, one in read if isinstance(one, InletReading)]):
        found = _result(closure, district, use_l_per_min)
        if isinstance(found, str):
            faults += [_left_out(one.test_id, found) for one in closure]
        else:
            results.append(found)
    return results, faults


def _read(tests: pd.DataFrame, district: JobDistrict) -> list[tuple[str, InletReading | str]]:
    """Return each test with its reading, or why it shows nothing."""
    named = (texts(tests, c).tolist() for c in ("test_id", "measured_at", "measure", "unit"))
    flows = (floats(tests, c).tolist() for c in ("before", "after"))
    found: list[tuple[str, InletReading | str]] = []
    for test, inlet, measure, unit, before, after, start, end in zip(
        *named, *flows, tests["start_time"], tests["end_time"], strict=True
    ):
        valves = _valves(test, district)
        if measure != "flow":
            found.append((test, "measure"))
        elif isinstance(valves, str):
            found.append((test, valves))
        elif _repaired_since(start, district):
            found.append((test, "repaired"))
        else:
            flow = before * _L_PER_MIN[unit], after * _L_PER_MIN[unit]
            found.append((test, InletReading(test, inlet, valves, *flow, start, end)))
    return found


def _valves(test: str, district: JobDistrict) -> frozenset[str] | str:
    """Return the valves that were shut in a test, or why it shows nothing."""
    shut = district.valves.closed.get(test, frozenset())
    if shut is None:
        return "valve_place"
    own = shut - district.closed
    if any(name not in district.same for name in own):
        return "other_valve"
    return frozenset(district.same[name] for name in own) or "no_valve"


def _repaired_since(start: pd.Timestamp, district: JobDistrict) -> bool:
    """Return whether a line of the district was repaired after a test began."""
    table = district.valves.lines.table
    if "repaired_time" not in table:
        return False
    lines = sorted({line for _, line, _, _ in district.stretches()})
    return bool((table["repaired_time"].iloc[lines] > start).any())


def _closures(readings: Sequence[InletReading]) -> Iterator[list[InletReading]]:
    """Yield the readings of each closure: of the same valves, at times that overlap."""
    own: list[InletReading] = []
    for one in sorted(readings, key=lambda each: (sorted(each.valves), each.start, each.test_id)):
        if own and (one.valves != own[0].valves or one.start >= max(each.end for each in own)):
            yield own
            own = []
        own.append(one)
    if own:
        yield own


def _result(
    closure: Sequence[InletReading], district: JobDistrict, use_l_per_min: float
) -> StepResult | str:
    """Return the result of one closure, or why it shows nothing."""
    by_inlet: dict[str, list[tuple[float, float]]] = {}
    for one in closure:
        by_inlet.setdefault(one.inlet, []).append((one.before_l_per_min, one.after_l_per_min))
    if set(by_inlet) != set(district.inlets):
        return "inlets"
    before, after = np.sum([np.mean(own, axis=0) for own in by_inlet.values()], axis=0).tolist()
    if not before > use_l_per_min:
        return "no_loss"
    valves = closure[0].valves
    cut = district.district.cut_off(sorted(valves))
    share = float(district.district.prior[cut].sum())
    shows = loss_goes_on(before, after, use_l_per_min, share)
    return StepResult(valves, shows) if np.isfinite(shows) else "rises"


def _left_out(test_id: str, why: str) -> Fault:
    return Fault(
        "isolation_tests", Reason("district_test_left_out", why=why), test_id, effect="noted"
    )
