"""Layers of one geometry put together, and rows that name a row of another layer."""

from __future__ import annotations

import pandas as pd
import pytest
import shapely

from leakgeo.job.read import read_job
from tests.job import jobs

HERE = shapely.Point(jobs.EAST, jobs.NORTH)
WAY = shapely.LineString([(jobs.EAST, jobs.NORTH + 2), (jobs.EAST + 20, jobs.NORTH + 2)])


def job_with(**layers):
    given = {
        "routes": jobs.routes(), "readings": jobs.readings(),
        "contacts": jobs.layer([HERE], contact_id=["C"], sound_level=[3.0], sound_unit=["db"]),
        "valves": jobs.layer([HERE], valve_id=["V1"], kind=["isolation"]),
        "isolation_tests": jobs.isolation_tests(),
        "closed_valves": pd.DataFrame({"test_id": ["T1"], "valve_id": ["V1"]}),
    }  # fmt: skip
    return read_job({**given, **layers})


def test_utilities_come_from_layers_of_one_geometry_and_from_a_mixed_one():
    line = jobs.layer([WAY, WAY], utility_id=["U-1", None], kind=["gas", "oil"])
    area = jobs.layer([HERE.buffer(2)], utility_id=[None], kind=["steam"])
    mixed = jobs.layer([HERE, WAY], utility_id=["U-3", "U-4"], kind=["electric", "dragon"])
    job = job_with(utility_lines=line, utility_areas=area, utilities=mixed)
    assert job.utilities["utility_id"].tolist() == [
        "U-3", "U-4", "U-1", "utility_lines row 2", "utility_areas row 1"]  # fmt: skip
    assert job.utilities["kind"].tolist() == ["electric", "unknown", "gas", "oil", "steam"]
    assert job.counts["utilities"] == 5
    layers = {f.layer for f in job.faults if f.column in ("utility_id", "kind")}
    assert layers == {"utility_lines", "utility_areas", "utilities"}
    assert not [f for f in job.faults if "not clearance" in f.problem]


def test_a_shape_of_another_kind_is_rejected_under_the_name_of_its_layer():
    job = job_with(utility_lines=jobs.layer([HERE], utility_id=["U-1"], kind=["gas"]))
    [fault] = [f for f in job.faults if f.feature == "U-1"]
    assert (fault.layer, fault.effect) == ("utility_lines", "rejected")


def test_history_comes_from_points_and_areas():
    job = job_with(history_points=jobs.layer([HERE], kind=["repair"]),
                 history_areas=jobs.layer([HERE.buffer(3)], kind=["excavation"]))  # fmt: skip
    assert job.history["kind"].tolist() == ["repair", "excavation"]


def test_isolation_tests_and_valves_that_fit_are_carried():
    job = job_with()
    for layer in (job.valves, job.isolation_tests, job.closed_valves):
        assert layer["reason"].isna().all()
    assert job.isolation_tests["settled"].tolist() == [True]


@pytest.mark.parametrize(
    ("layer", "column", "said"),
    [
        ({"isolation_tests": jobs.isolation_tests(measured_at=["X"])}, "measured_at",
         "contacts.contact_id or valves.valve_id has no X"),
        ({"closed_valves": pd.DataFrame({"test_id": ["T9"], "valve_id": ["V1"]})}, "test_id",
         "T9"),
        ({"closed_valves": pd.DataFrame({"test_id": ["T1"], "valve_id": ["V9"]})}, "valve_id",
         "V9"),
        ({"isolation_tests": jobs.isolation_tests(unit=["psi"])}, "unit", "not one of a flow: psi"),
        ({"isolation_tests": jobs.isolation_tests(end_time=["2025-03-31T07:00Z"])}, "end_time",
         "not after start_time"),
        ({"isolation_tests": jobs.isolation_tests(measure=["meter"], unit=["gal"])}, "after",
         "less than before"),
    ],
)  # fmt: skip
def test_what_does_not_fit_is_rejected_with_the_value(layer, column, said):
    [(name, _)] = layer.items()
    job = job_with(**layer)
    [fault] = jobs.about(job.faults, name, column)
    assert said in fault.problem
    assert fault.effect == "rejected"
    assert getattr(job, name)["reason"].notna().all()


def test_a_meter_that_no_fitting_is_leaves_the_test():
    job = job_with(meter_tests=jobs.meter_tests(contact_id=["M-7"], house_valve=["shut"]))
    assert job.meter_tests["contact_id"].isna().all()
    assert job.meter_tests["reason"].isna().all()
    assert [f.effect for f in jobs.about(job.faults, "meter_tests", "contact_id")] == ["noted"]


def test_ends_of_a_stretch_that_was_seen_are_looked_at():
    seen = jobs.layer([HERE], line_id=["L1"], found=["dry"], exposed_from_m=[3.0],
                      exposed_to_m=[1.0])  # fmt: skip
    job = job_with(dig_outcomes=seen)
    assert job.dig_outcomes["reason"].isna().all()
    [fault] = jobs.about(job.faults, "dig_outcomes", "exposed_to_m")
    assert "less than exposed_from_m" in fault.problem
