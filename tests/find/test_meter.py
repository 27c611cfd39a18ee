"""Meter tests: loss, its error, its verdict; hole and pressure against published figures."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pyogrio
import pytest

import leakgeo
from leakgeo.find.loss.meter import loss_by_line
from leakgeo.find.loss.meter_tests import losses, resolution
from leakgeo.find.loss.orifice import DISCHARGE, equivalent_hole
from leakgeo.wording import wording
from tests.job import jobs
from tests.test_cli import leakgeo_command

GALLON_L = 3.785411784  # 231 cubic inches (NIST Handbook 44, appendix C)
PSI_KPA = 6.894757293168361  # NIST SP 811
INCH_MM, MILE_M, FOOT_M = 25.4, 1609.344, 0.3048
BEGIN = pd.Timestamp("2025-03-31T08:00Z")


def metered(*rows, line="L1", unit="l"):
    """Give tests of one line: (start, end, hours, water used) each, a day apart."""
    table = pd.DataFrame(rows, columns=["start_reading", "end_reading", "hours", "used"])
    begin = BEGIN + pd.to_timedelta(np.arange(len(table)), unit="D")
    return pd.DataFrame({
        "line_id": line, "start_reading": table["start_reading"].astype(float),
        "end_reading": table["end_reading"].astype(float), "volume_unit": unit,
        "start_time": begin, "end_time": begin + pd.to_timedelta(table["hours"], unit="h"),
        "water_used": table["used"].astype("boolean"), "reason": None,
    })  # fmt: skip


@pytest.mark.parametrize("pressure", [0.0, -5.0, np.nan])
def test_without_pressure_no_hole_is_named(pressure):
    assert np.isnan(equivalent_hole(100.0, pressure))


def test_the_error_is_that_of_two_readings_to_the_nearest_step():
    rng = np.random.default_rng(1)
    start = rng.uniform(0, 100, 40_000)
    loss = losses(metered((100, 130, 24, False)))["L1"]
    assert loss.litres_per_day == 30.0
    assert loss.sd_l_per_day == pytest.approx(1 / 6**0.5)
    # Over many starts at once: the true fraction of a step is what makes the error.
    fraction = rng.uniform(0, 1, start.size)
    read = np.round(start + 30 + fraction) - np.round(start)
    assert np.std(read - 30 - fraction) == pytest.approx(loss.sd_l_per_day, rel=0.02)


@pytest.mark.parametrize(
    ("row", "verdict", "why"),
    [
        ((100, 101, 2, False), "loss_shown", None),
        ((100, 100, 2, False), "none_within_resolution", None),
        ((100, 130, 2, True), "not_valid", "water_was_used"),
        ((100, 130, 2, None), "not_valid", "water_use_not_known"),
        ((100, 130, 0, False), "not_valid", "no_time_passed"),
        ((130, 100, 2, False), "not_valid", "meter_ran_back"),
    ],
)
def test_verdicts(row, verdict, why):
    # Any change over two hours of no use is a probable leak (US EPA news release).
    loss = losses(metered(row))["L1"]
    assert loss.verdict == verdict
    assert [dict(note.values)["why"].code for note in loss.notes] == ([why] if why else [])
    assert (verdict == "not_valid") == np.isnan(loss.litres_per_day)


def test_no_loss_shown_reports_what_would_not_show():
    loss = losses(metered((100, 100, 12, False)))["L1"]
    assert (loss.litres_per_day, loss.low_l_per_day, loss.least_l_per_day) == (0.0, 0.0, 2.0)


def test_the_step_is_the_last_decimal_of_any_reading_or_as_given():
    several = metered((100.0, 100.5, 2, False), (101.25, 102, 2, False))
    assert resolution(several).tolist() == [0.01, 0.01]
    assert resolution(several.assign(resolution=[5.0, np.nan])).tolist() == [5.0, 0.01]
    assert resolution(metered((48_123_456.7, 48_123_460, 2, True))).tolist() == [0.1]


def test_tests_that_agree_are_pooled_over_their_time():
    loss = losses(metered((0, 10, 2, False), (10, 70, 12, False), (70, 99, 5, True)))["L1"]
    assert loss.litres_per_day == pytest.approx(70 / (14 / 24))
    assert (loss.tests, loss.valid_tests, loss.verdict) == (3, 2, "loss_shown")
    assert "1 of 3 tests not valid: water was used" in wording().text(loss.notes[-1])
    alone = losses(metered((10, 70, 12, False)))["L1"]
    assert loss.sd_l_per_day == pytest.approx(2**0.5 / 6**0.5 / (14 / 24))
    assert alone.sd_l_per_day < 2.0


def test_tests_that_disagree_are_reported_and_the_latest_counts():
    loss = losses(metered((0, 100, 2, False), (100, 110, 2, False)))["L1"]
    assert loss.litres_per_day == pytest.approx(120.0)
    assert "disagree (120 to 1,200 litres a day)" in wording().text(loss.notes[0])


def test_a_short_test_without_change_does_not_outweigh_a_long_one():
    loss = losses(metered((0, 10, 24, False), (10, 10, 1, False)))["L1"]
    assert loss.verdict == "loss_shown"
    assert loss.litres_per_day == pytest.approx(10 / (25 / 24))


def job_of(folder, meter_tests, **layers):
    routes = jobs.routes(pressure_kpa=[413.7, np.nan], diameter_mm=[25.0, 25.0])
    return jobs.read(folder, routes=routes, meter_tests=meter_tests, **layers)


def test_the_step_reports_loss_money_hole_and_other_pressure(tmp_path):
    table = pd.concat([
        metered((100, 110, 2, False), unit="gal"), metered((5, 5, 2, False), line="L2"),
    ]).drop(columns="reason")  # fmt: skip
    result = leakgeo.meter(job_of(tmp_path, table), price_per_m3=2.5, currency="USD",
                           other_pressure_kpa=206.85, n1=1.0)  # fmt: skip
    row = result["meter_results"].set_index("line_id").loc["L1"]
    litres = 120 * GALLON_L
    assert row["loss_l_per_day"] == pytest.approx(litres)
    assert row["cost_per_year"] == pytest.approx(litres * 365.25 / 1000 * 2.5)
    assert row["loss_at_other_l_per_day"] == pytest.approx(litres / 2)
    jet = np.sqrt(2 * 413_700 / 999.0)  # metres a second, of Torricelli
    out = DISCHARGE * np.pi / 4 * (row["hole_mm"] / 1000) ** 2 * jet * 86_400_000
    assert out == pytest.approx(litres, rel=1e-3)
    quiet = result["meter_results"].set_index("line_id").loc["L2"]
    assert quiet["verdict"] == "none_within_resolution"
    assert np.isnan(quiet["hole_mm"])
    assert "12 litres a day would not show" in quiet["message"]


def test_a_test_that_does_not_count_is_reported(tmp_path):
    table = metered((100, 110, 2, None)).drop(columns="reason")
    result = leakgeo.meter(job_of(tmp_path, table))
    assert [f.problem for f in result.faults] == [
        "Not valid: it is not known whether water was used."
    ]
    assert result["meter_results"]["verdict"].tolist() == ["not_valid"]
    assert loss_by_line(result.job.meter_tests).empty


def test_a_job_without_tests_has_an_empty_layer(tmp_path):
    result = leakgeo.meter(jobs.read(tmp_path))
    assert result["meter_results"].empty
    assert "message" in result["meter_results"]


def test_a_loss_ranks_lines_that_nobody_has_listened_to(tmp_path):
    table = pd.concat([
        metered((100, 101, 2, False)), metered((5, 95, 2, False), line="L2"),
    ]).drop(columns="reason")  # fmt: skip
    job = job_of(tmp_path, table, readings=jobs.readings(0))
    lines = leakgeo.locate(job)["lines"].set_index("line_id")
    assert lines["status"].tolist() == ["not_listened_to", "not_listened_to"]
    assert lines["priority"].to_dict() == {"L2": 1, "L1": 2}


def test_only_a_valid_loss_ranks(tmp_path):
    table = pd.concat([
        metered((100, 101, 2, False)), metered((5, 95, 2, True), line="L2"),
    ]).drop(columns="reason")  # fmt: skip
    job = job_of(tmp_path, table, readings=jobs.readings(0))
    lines = leakgeo.locate(job)["lines"].set_index("line_id")
    assert lines["priority"].to_dict() == {"L1": 1, "L2": 2}
    assert np.isnan(lines.loc["L2", "loss_l_per_day"])


def test_the_command_reports_the_loss_of_each_line(tmp_path):
    jobs.write(tmp_path / "job.gpkg", meter_tests=jobs.meter_tests())
    done = leakgeo_command("meter", tmp_path / "job.gpkg", "--out", tmp_path / "out")
    assert "L1     loss shown. Loses 18,000 litres a day" in done.stdout
    table = pyogrio.read_dataframe(tmp_path / "out" / "result.gpkg", layer="meter_results")
    assert table["loss_l_per_day"].tolist() == pytest.approx([18_000.0])
