"""The `steptest` step: which valves of a district to shut next, and which segment loses water."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd

from leakgeo.errors import ParameterError
from leakgeo.find.advise.action_costs import action_costs
from leakgeo.find.advise.district_of_job import JobDistrict
from leakgeo.find.advise.district_tests import step_results
from leakgeo.find.advise.valve_tests import valve_cautions
from leakgeo.find.weights import load_weights
from leakgeo.reason import Reason, columns_of
from leakgeo.route.junctions import junctions_of
from leakgeo.route.lines import lines_of

if TYPE_CHECKING:
    from leakgeo.arrays import Objects
    from leakgeo.find.advise.step_test import NextStep
    from leakgeo.job.model import Job
    from leakgeo.result import Result

_SEGMENTS = ("segment", "line_id", "from_chainage_m", "to_chainage_m", "length_m", "probability",
             "likely")  # fmt: skip
_STEPS = ("order", "valves", "expected_gain_bits", "minutes", "closures_made")
# Pipes, and segments, that a message names.
_NAMED = 4


def steptest(
    result: Result, *, inlets: str, boundary: str, use_l_per_min: float, route_sd_m: float,
    join_gap_m: float,
) -> Result:  # fmt: skip
    """Choose the next closure of a step test, or name the segment that loses water.

    Parameters
    ----------
    result : Result
        A job without sound readings is enough.
    inlets : str
        Fittings or valves at which all water enters the district and is measured, separated by
        commas; both layers are empty where there are none.
    boundary : str
        Valves that stay closed around the district, separated by commas.
    use_l_per_min : float
        Legitimate use of the district at the hour of the tests.
    route_sd_m : float
        Trace error of routes without ``position_sd_m`` (1-sigma).
    join_gap_m : float
        Gap between routes that are still joined, beyond twice their errors.

    Returns
    -------
    Result
        With ``district_segments`` and ``district_steps``.

    Raises
    ------
    ParameterError
        If a fitting or a valve is not known, or the inlets do not make out one district.
    """
    entries, around = parse_names(inlets), parse_names(boundary)
    if not entries:
        if around:
            raise ParameterError.of(
                "inlets", "name the fittings or valves at which water enters the district."
            )
        none = pd.DataFrame(columns=list(_SEGMENTS))
        return result.adding(_layers(result.job, none, np.empty(0, dtype=object), []))
    lines = lines_of(result.job, route_sd_m)
    junctions = junctions_of(lines, floor_m=join_gap_m)
    own = JobDistrict.of(result.job, lines, junctions, entries, around)
    made, faults = step_results(result.job.isolation_tests, own, use_l_per_min)
    step = own.district.next_step(made)
    segments, shapes = _segments(own, step)
    return result.adding(
        _layers(result.job, segments, shapes, [_row(own, step, segments, len(made))]), faults
    )


def parse_names(names: str) -> list[str]:
    """Return names that are separated by commas, each once.

    Examples
    --------
    >>> parse_names("V-2, V-1,V-2,")
    ['V-2', 'V-1']
    """
    return list(dict.fromkeys(name for each in names.split(",") if (name := each.strip())))


def _layers(
    job: Job, segments: pd.DataFrame, shapes: Objects,
    rows: list[tuple[Reason, *tuple[object, ...]]],
) -> dict[str, pd.DataFrame]:  # fmt: skip
    """Return both layers."""
    steps = pd.DataFrame([row[1:] for row in rows], columns=list(_STEPS))
    return {
        "district_segments": gpd.GeoDataFrame(segments, geometry=shapes, crs=job.crs),
        "district_steps": steps.assign(**columns_of("message", [row[0] for row in rows])),
    }


def _segments(own: JobDistrict, step: NextStep) -> tuple[pd.DataFrame, Objects]:
    """Return the stretches of each segment, numbered by line_id and chainage, and their shapes."""
    lines, found = own.valves.lines, own.stretches()
    number = {label: k for k, label in enumerate(dict.fromkeys(f[0] for f in found), start=1)}
    label, line = (np.array([f[k] for f in found], dtype=np.int64) for k in (0, 1))
    begin, end = (np.array([f[k] for f in found], dtype=float) for k in (2, 3))
    table = pd.DataFrame({
        "segment": [number[each] for each in label.tolist()],
        "line_id": lines.table.index.to_numpy(dtype=object)[line],
        "from_chainage_m": begin,
        "to_chainage_m": end,
        "length_m": end - begin,
        "probability": step.probability[label],
        "likely": np.isin(label, step.segments),
    })  # fmt: skip
    order = np.argsort(table["segment"].to_numpy(), kind="stable")
    return table.iloc[order].reset_index(drop=True), lines.routes.pieces(line, begin, end)[order]


def _row(
    own: JobDistrict, step: NextStep, segments: pd.DataFrame, made: int
) -> tuple[Reason, *tuple[object, ...]]:
    """Return the message and the columns of the next closure, or of the end of the search."""
    if not step.valves:
        return _end(own, segments, made), 1, None, np.nan, np.nan, made
    message = Reason("district_shut", valve_cautions(), valves=step.valves, inlets=own.inlets,
                     together=len(step.valves) > 1, several=len(own.inlets) > 1)  # fmt: skip
    minutes = action_costs().minutes("close_valve", valves=len(step.valves))
    return message, 1, ", ".join(step.valves), step.bits, minutes, made


def _end(own: JobDistrict, segments: pd.DataFrame, made: int) -> Reason:
    """Return why the search ends, and the pipes to walk next."""
    likely = segments[segments["likely"]]
    each = likely.drop_duplicates("segment")
    probability, numbers = float(each["probability"].sum()), each["segment"].tolist()
    share = likely["probability"] * likely["length_m"]
    share /= likely.groupby("segment")["length_m"].transform("sum")
    pipes = share.groupby(likely["line_id"]).sum().sort_values(ascending=False, kind="stable")
    walk = Reason("district_walk", lines=list(pipes.index[:_NAMED]),
                  more=max(len(pipes) - _NAMED, 0))  # fmt: skip
    if not own.district.valves:
        return Reason("district_no_valve", walk)
    weight = load_weights("leakgeo.find.advise", "valve_tests")["district"]
    if made == 0 and len(numbers) > 1:
        return Reason("district_loops", valve_cautions(), valves=int(weight["most_valves"]))
    best = each.iloc[int(each["probability"].to_numpy().argmax())]
    if len(numbers) == 1 and probability >= weight["enough"] - 1e-9:
        return Reason("district_found", walk, segment=best["segment"], probability=probability)
    return Reason(
        "district_ends", walk, segment=best["segment"], probability=best["probability"],
        segments=numbers[:_NAMED], more=max(len(numbers) - _NAMED, 0), together=probability,
    )  # fmt: skip
