"""The verdict of a line follows what was recorded of its dig."""

from __future__ import annotations

import pandas as pd
import pytest
import shapely

import leakgeo
from leakgeo.job.read import read_job
from leakgeo.wording import wording
from tests.job import jobs

BEFORE, DIG = pd.Timestamp("2026-05-01T08:00Z"), pd.Timestamp("2026-05-03T10:00Z")
STILL = {"meter_start": "500.00", "meter_end": "500.00"}
TURNS = {"meter_start": "500.00", "meter_end": "507.50"}
TEST = {"meter_minutes": 60, "volume_unit": "gal"}


@pytest.fixture(scope="module")
def walked(tmp_path_factory):
    """A job whose line L1 is located at 15 m, behind a meter at its start."""
    meter = jobs.layer([shapely.Point(jobs.EAST, jobs.NORTH)], contact_id=["M"], kind=["meter"],
                       sound_level=[1.0], sound_unit=["db"], line_id=["L1"])  # fmt: skip
    readings = jobs.heard(25, chainage_m=[1.0 + 28.0 * k / 24 for k in range(25)],
                          time=[BEFORE] * 25, set_aside=[True] + [False] * 24)  # fmt: skip
    path = tmp_path_factory.mktemp("walked") / "job.gpkg"
    return jobs.write(path, contacts=meter, readings=readings)


@pytest.fixture
def close(walked, tmp_path):
    def closed(**given):
        path = tmp_path / "job.gpkg"
        path.write_bytes(walked.read_bytes())
        done = leakgeo.close_line(path, "L1", time=DIG.to_pydatetime(), **given)
        result = leakgeo.advise(read_job(path))
        lines = result.worded("si")["lines"].set_index("line_id")
        return done.record.believed, lines.loc["L1"], result

    return closed


def test_before_the_dig_the_leak_is_located(walked):
    line = leakgeo.locate(read_job(walked))["lines"].set_index("line_id").loc["L1"]
    assert line["status"] in ("located", "keep_listening")
    assert line["leak_probability"] > 0.9
    assert line["chainage_m"] == pytest.approx(15.0, abs=0.7)


def test_repaired_and_the_meter_still(close):
    believed, line, result = close(found="leak", at=15, repaired=True, **STILL, **TEST)
    assert believed.then[0].code == "closed_stands_still"
    assert line["status"] in ("no_leak_heard", "not_listened_to")
    assert line["leak_probability"] < 0.5
    if line["status"] == "no_leak_heard":
        assert result["next_readings"].query("line_id == 'L1'").empty


def test_repaired_and_the_meter_still_turns(close):
    believed, line, result = close(found="leak", at=15, repaired=True, **TURNS, **TEST)
    assert [each.code for each in believed.then] == [
        "closed_still_turns", "closed_walk_again", "closed_run_again",
    ]  # fmt: skip
    assert line["status"] == "keep_listening"
    assert "still turns after the repair" in line["message"]
    assert "walk the line" in " ".join(result.worded("si")["next_actions"]["message"])
    assert result["marks"].query("line_id == 'L1'").empty


def test_repaired_and_the_meter_not_read(close):
    believed, line, result = close(found="leak", at=15, repaired=True)
    assert [each.code for each in believed.then] == ["closed_read_meter", "closed_run_again"]
    told = wording("us").text(believed)
    assert "Results made before (list, map, report) still show the mark" in told
    assert "with --update, or with --overwrite" in told
    assert line["status"] == "not_listened_to"
    # One stop was set aside before: it changes nothing.
    assert "set_aside" in result["readings_on_route"]["reason_code"].tolist()
    [advice] = result.worded("si")["next_actions"].query("line_id == 'L1'")["message"]
    assert advice.startswith("Nothing was measured since the repair: read the meter twice")


def test_a_dry_hole_moves_the_odds_away(close, walked):
    _, line, result = close(found="dry", exposed=(14.2, 15.4))
    before = leakgeo.locate(read_job(walked))
    there, now = (density_in(each, 14.4, 14.9) for each in (before, result))
    assert now < 0.6 * there
    assert not 14.4 < line["chainage_m"] < 15.2  # null without a mark


def density_in(result, begin, end):
    """Give the sum of the densities of L1 on a stretch, by that of the whole line."""
    own = result["profile"].query("line_id == 'L1'")
    inside = own["chainage_m"].between(begin, end)
    return own.loc[inside, "leak_density_per_m"].sum() / own["leak_density_per_m"].sum()


def test_a_leak_that_is_not_repaired_is_marked_where_it_was_taped(close):
    _, line, _ = close(found="leak", at="15.6", exposed=(15.0, 16.0))
    assert line["status"] == "located"
    assert line["chainage_m"] == pytest.approx(15.6, abs=0.06)


def test_a_box_that_was_not_ticked_is_no_repair(close):
    _, line, result = close(found="leak", at=15)
    assert result.job.dig_outcomes["repaired"].tolist() == [False]
    assert line["status"] == "located"
    assert result["readings_on_route"]["used"].any()


def test_a_corrected_record_is_no_evidence(walked, tmp_path):
    path = tmp_path / "job.gpkg"
    path.write_bytes(walked.read_bytes())
    when = DIG.to_pydatetime()
    wrong = leakgeo.close_line(path, "L1", found="leak", at=4, time=when)
    leakgeo.close_line(path, "L1", found="leak", at=15, time=when, supersedes=wrong.record.dig_id)
    result = leakgeo.locate(read_job(path))
    marks = result["marks"].query("line_id == 'L1'")["chainage_m"].tolist()
    assert marks == [pytest.approx(15.0, abs=0.1)]
