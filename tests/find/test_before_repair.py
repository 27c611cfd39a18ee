"""What was measured before a repair is set aside: readings, fittings, and meter tests."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import shapely

import leakgeo
from leakgeo.find.loss.meter_tests import losses
from leakgeo.job.read import read_job
from tests.job import jobs

REPAIR = pd.Timestamp("2025-03-31T12:00Z")
SPOT = shapely.Point(jobs.EAST + 15, jobs.NORTH)
EARLY, LATE = "2025-03-31T08:00Z", "2025-04-02T08:00Z"


def holes(**columns):
    data = {"line_id": ["L1"], "found": ["leak"], "repaired": [True], "time": [REPAIR]}
    return jobs.layer([SPOT], **{**data, **columns})


def heard(times, **columns):
    return jobs.heard(12, time=pd.to_datetime(times, utc=True), **columns)


def job_of(**layers):
    return read_job({"routes": jobs.routes(), "readings": jobs.heard(), **layers})


def placed(job):
    return leakgeo.profile(job)["readings_on_route"]


def test_readings_from_before_a_repair_are_rejected_counted_and_explained():
    job = job_of(dig_outcomes=holes(), readings=heard([EARLY] * 5 + [LATE] * 7))
    result = leakgeo.profile(job)
    table = result["readings_on_route"]
    assert table["reason_code"].fillna("").tolist() == ["before_repair"] * 5 + [""] * 7
    assert table["used"].tolist() == [False] * 5 + [True] * 7
    told = [f for f in result.faults if f.code == "before_repair"]
    assert len(told) == 5
    assert {f.effect for f in told} == {"rejected"}
    assert "2025-03-31" in told[0].problem


@pytest.mark.parametrize(
    "columns",
    [{"found": ["dry"]}, {"repaired": [False]}, {"repaired": [None]}, {"line_id": ["L2"]},
     {"found": ["pipe_not_reached"]}, {"time": [pd.NaT]}],
)  # fmt: skip
def test_only_a_repaired_leak_of_the_line_sets_anything_aside(columns):
    job = job_of(dig_outcomes=holes(**columns), readings=heard([EARLY] * 12))
    assert placed(job)["used"].all()


def test_a_repair_without_its_time_is_reported():
    job = job_of(dig_outcomes=holes(time=[pd.NaT]))
    assert [f.effect for f in job.faults if f.code == "repair_time_missing"] == ["noted"]


def test_lines_by_position_are_those_of_the_hole_and_of_the_readings():
    job = job_of(dig_outcomes=holes(line_id=[None]),
                 readings=heard([EARLY] * 12, line_id=[None] * 12))  # fmt: skip
    assert (placed(job)["reason_code"] == "before_repair").all()


def test_a_hole_that_may_be_on_two_lines_is_of_neither():
    routes = jobs.routes()
    routes.loc[1, "geometry"] = shapely.LineString([
        (jobs.EAST, jobs.NORTH + 1.5), (jobs.EAST + 30, jobs.NORTH + 1.5)])  # fmt: skip
    job = job_of(routes=routes, dig_outcomes=holes(line_id=[None]), readings=heard([EARLY] * 12))
    assert placed(job)["used"].all()


def test_the_last_repair_counts_whatever_the_order_of_the_rows():
    two = pd.concat([holes(), holes(time=[REPAIR + pd.Timedelta("30D")])])
    for digs in (two, two[::-1]):
        job = job_of(dig_outcomes=digs.reset_index(drop=True), readings=heard([LATE] * 12))
        assert (placed(job)["reason_code"] == "before_repair").all()


def test_readings_without_time_could_mark_the_place_that_was_repaired_and_are_not_used():
    job = job_of(dig_outcomes=holes())
    result = leakgeo.profile(job)
    table = result["readings_on_route"]
    assert (table["reason_code"] == "undated_since_repair").all()
    told = [f for f in result.faults if f.code == "undated_since_repair"]
    assert sum(f.features for f in told) == len(table)
    assert {f.effect for f in told} == {"rejected"}
    assert "Fill in time" in str(told[0])
    [line] = leakgeo.locate(result)["lines"].query("line_id == 'L1'")["status"]
    assert line == "not_listened_to"
    assert placed(job_of(dig_outcomes=holes(line_id=["L2"])))["used"].all()


def test_a_selection_of_lines_sets_the_same_readings_aside():
    layers = {"routes": jobs.routes(), "dig_outcomes": holes(), "readings": heard([EARLY] * 12)}
    kept = read_job(layers, lines="L2")
    assert (placed(kept)["reason_code"] == "before_repair").all()


def test_fittings_heard_before_a_repair_keep_their_place_and_lose_their_level():
    contacts = jobs.layer(
        [SPOT, shapely.Point(jobs.EAST + 25, jobs.NORTH)], contact_id=["C1", "C2"],
        line_id=["L1"] * 2, kind=["hydrant"] * 2, sound_level=[30.0, 20.0], sound_unit=["db"] * 2,
        time=pd.to_datetime([EARLY, LATE], utc=True),
    )  # fmt: skip
    result = leakgeo.survey(job_of(dig_outcomes=holes(), contacts=contacts))
    ranking = result["contact_ranking"]
    assert ranking["reason_code"].fillna("").tolist() == ["before_repair", ""]
    assert np.isfinite(ranking["chainage_m"]).all()
    assert [f.feature for f in result.faults if f.code == "before_repair"] == ["C1"]


def test_a_meter_test_from_before_a_repair_shows_nothing_of_the_line_since():
    tests = jobs.meter_tests(
        line_id=["L1"] * 2, start_reading=[100.0, 102.0], end_reading=[101.5, 102.0],
        volume_unit=["m3"] * 2, water_used=[False] * 2,
        start_time=pd.to_datetime([EARLY, LATE]),
        end_time=pd.to_datetime([EARLY, LATE]) + pd.Timedelta("2h"),
    )  # fmt: skip
    job = job_of(dig_outcomes=holes(), meter_tests=tests)
    assert jobs.codes(job.meter_tests) == ["before_repair", None]
    loss = losses(job.meter_tests)["L1"]
    assert (loss.verdict, loss.valid_tests) == ("none_within_resolution", 1)
    assert losses(job_of(meter_tests=tests).meter_tests)["L1"].valid_tests == 2


def test_before_and_after_swapped_is_reported_with_what_to_do():
    back = jobs.meter_tests(start_reading=[101.5], end_reading=[100.0])
    [fault] = jobs.about(job_of(meter_tests=back).faults, "meter_tests")
    assert (fault.code, fault.effect) == ("meter_reading_falls", "rejected")
    assert "Correct the readings" in str(fault)
    late = jobs.meter_tests(end_time=pd.to_datetime(["2025-03-31T07:00Z"]))
    [fault] = jobs.about(job_of(meter_tests=late).faults, "meter_tests")
    assert (fault.code, fault.effect) == ("end_not_after_start", "rejected")


@pytest.mark.parametrize(("by_m", "noted"), [(0.0, False), (3.0, False), (9.0, True)])
def test_a_meter_that_is_not_on_the_line_of_its_test_is_noted(by_m, noted):
    meter = jobs.layer([shapely.Point(jobs.EAST + 2, jobs.NORTH - by_m)], contact_id=["M"],
                       kind=["meter"], sound_level=[1.0], sound_unit=["db"])  # fmt: skip
    job = job_of(contacts=meter, meter_tests=jobs.meter_tests(contact_id=["M"]))
    told = [f for f in job.faults if f.code == "meter_off_line"]
    assert [f.effect for f in told] == ["noted"] * noted
    assert job.meter_tests["reason"].isna().all()
    assert job.meter_tests["contact_id"].tolist() == ["M"]


def test_a_hole_off_its_line_and_a_stretch_beyond_its_end_are_noted():
    away = shapely.Point(jobs.EAST + 15, jobs.NORTH - 9)
    digs = jobs.layer(
        [SPOT, away, SPOT], line_id=["L1", "L1", None], found=["dry"] * 3,
        exposed_from_m=[10.0, np.nan, 60.0], exposed_to_m=[12.0, np.nan, 62.0],
    )  # fmt: skip
    job = job_of(dig_outcomes=digs)
    told = [(f.code, f.feature) for f in jobs.about(job.faults, "dig_outcomes")]
    assert told == [("dig_off_line", "row 2"), ("exposed_beyond_route", "row 3")]
    assert job.dig_outcomes["reason"].isna().all()


@pytest.mark.parametrize(
    ("leak_m", "code"),
    [(15.0, None), (18.0, None), (15.0 / 0.3048, "dig_chainage_in_feet"), (35.0, "dig_elsewhere"),
     (2.0, "dig_elsewhere"), (np.nan, None)],
)  # fmt: skip
def test_a_chainage_that_disagrees_with_the_point_of_its_hole_is_noted(leak_m, code):
    job = job_of(dig_outcomes=holes(leak_chainage_m=[leak_m]))
    told = [f.code for f in jobs.about(job.faults, "dig_outcomes")]
    assert told == ([] if code is None else [code])
    assert job.dig_outcomes["reason"].isna().all()
