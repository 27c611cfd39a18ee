"""What a crew reports after a dig: places as typed, and every fault at once."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import cache

import numpy as np
import pandas as pd
import pytest
import shapely

from leakgeo.dig.closing import Closing, MeterAfter, closing_rows
from leakgeo.errors import JobError
from leakgeo.job.read import read_job
from leakgeo.route.typed_place import chainages
from leakgeo.wording import wording
from tests.job import jobs

NOW = datetime(2026, 5, 3, 15, 0, tzinfo=UTC)
FOOT_M = 0.3048


@cache
def job():
    """Line L1 of 50 m with a meter at 2 m and a curb stop at 20 m."""
    fittings = jobs.layer(
        [shapely.Point(jobs.EAST + x, jobs.NORTH) for x in (2.0, 20.0)],
        contact_id=["M-3", "CS-12"], kind=["meter", "curb_stop"], sound_level=[1.0, 2.0],
        sound_unit=["db"] * 2,
    )  # fmt: skip
    return read_job({"routes": jobs.routes(), "readings": jobs.heard(), "contacts": fittings})


def rows(tmp_path, found="leak", line="L1", **given):
    return closing_rows(job(), Closing(line, found, **given), tmp_path, NOW)


def codes(tmp_path, **given):
    with pytest.raises(JobError, match="Nothing was written") as caught:
        rows(tmp_path, **given)
    return [fault.code for fault in caught.value.faults]


@pytest.mark.parametrize(
    ("typed", "at_m"),
    [("12.5", 12.5), ("12.5 m", 12.5), ("41'", 41 * FOOT_M), ("10' from CS-12", 20 + 10 * FOOT_M),
     ("10' from CS-12 toward M-3", 20 - 10 * FOOT_M), ("3 m desde m-3 hacia cs-12", 5.0),
     ("21 ft 5 in from curb stop CS-12 toward meter M-3", 20 - 257 / 12 * FOOT_M),
     ("10' from CS-12 toward the start of the route", 20 - 10 * FOOT_M),
     ("10' from CS-12 toward the end of the route", 20 + 10 * FOOT_M),
     ("4 m from the start of the route toward curb stop CS-12", 4.0), ("50.2", 50.01)],
)  # fmt: skip
def test_places_as_people_type_them(typed, at_m):
    [found], wrong = chainages(job(), "L1", 50.0, [typed])
    assert wrong == []
    assert found == pytest.approx(at_m, abs=0.02)


def test_a_number_needs_its_unit_where_people_work_in_feet(tmp_path):
    typed = ["12.5", "12.5 from CS-12", "41'", "12.5 m"]
    found, wrong = chainages(job(), "L1", 50.0, typed, plain_m=False)
    assert [each.code for each in wrong] == ["place_without_unit"] * 2
    assert np.isnan(found).tolist() == [True, True, False, False]
    with pytest.raises(JobError, match=r"Write 12\.5 ft or 12\.5 m\.") as caught:
        closing_rows(job(), Closing("L1", "leak", at="12.5"), tmp_path, NOW, wording("us", "en"))
    assert caught.value.complete


def test_a_repaired_leak_with_its_meter_is_one_row_of_each_layer(tmp_path):
    photo = tmp_path / "photos" / "hole 1.jpg"
    photo.parent.mkdir()
    photo.touch()
    meter = MeterAfter("1240.50", "1240.50", 30, "gal")
    made = rows(tmp_path, at="13.4", exposed=("14.0", "13.0"), repaired=True, cause="split",
                meter=meter, photos=(photo,))  # fmt: skip
    dig, test = (made[name].iloc[0] for name in ("dig_outcomes", "meter_tests"))
    assert dig[["dig_id", "leak_chainage_m", "exposed_from_m", "exposed_to_m", "repaired",
                "photos"]].tolist() == [
        "D-20260503-1", 13.4, 13.0, 14.0, True, "photos/hole 1.jpg"]  # fmt: skip
    # Without a time, the meter was read until now, after the repair.
    assert dig["time"] == test["start_time"] == (NOW - timedelta(minutes=30)).isoformat()
    assert (test["end_time"], test["water_used"]) == (NOW.isoformat(), False)
    assert test["resolution"] == pytest.approx(0.01)
    off = made["dig_outcomes"].to_crs(jobs.CRS).geometry.iloc[0]
    assert off.distance(shapely.Point(jobs.EAST + 13.4, jobs.NORTH)) < 0.05


def test_every_fault_at_once(tmp_path):
    found = codes(
        tmp_path, line="L-1", at="10' from CS-21", exposed=("by the tree", "2"), repaired=True,
        photos=(tmp_path / "none.jpg",), meter=MeterAfter(start="12"), supersedes="D-1",
        time=NOW + timedelta(days=2),
    )  # fmt: skip
    assert found == [
        "place_line_unknown_like", "place_not_read", "place_fitting_unknown_like",
        "closing_meter_incomplete", "closing_photo_missing", "closing_record_unknown",
        "time_in_future",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("given", "code"),
    [({"at": "50.5"}, "place_beyond_line"),
     ({"at": "31 m from CS-12"}, "place_beyond_line"),
     ({"at": "3 m from CS-12 toward CS-12"}, "tape_without_direction"),
     ({"at": "12", "exposed": ("12.2", "13")}, "closing_leak_outside"),
     ({}, "closing_place_missing"),
     ({"found": "dry"}, "closing_exposed_missing"),
     ({"found": "dry", "exposed": ("1", "2"), "repaired": True}, "closing_repair_without_leak"),
     ({"at": "12", "meter": MeterAfter("2", "1", 9, "l")}, "meter_reading_falls"),
     ({"at": "12", "meter": MeterAfter("1", "x", 9, "l")}, "not_number"),
     ({"at": "12", "meter": MeterAfter("1", "1", 0, "l")}, "closing_no_minutes")],
)  # fmt: skip
def test_what_can_not_be(tmp_path, given, code):
    assert codes(tmp_path, **given) == [code]


def test_the_place_of_a_dry_hole_is_not_that_of_a_leak(tmp_path):
    dig = rows(tmp_path, found="dry", at="12", exposed=("11", "13"))["dig_outcomes"].iloc[0]
    assert dig["leak_chainage_m"] is None
    assert dig["repaired"] is None
    reached = rows(tmp_path, found="pipe_not_reached")["dig_outcomes"]
    assert reached.geometry.isna().all()
    assert np.isnan(reached["exposed_from_m"].astype(float)).all()


def test_a_hole_on_a_line_by_tape_alone_has_a_chainage_and_no_position(tmp_path):
    fittings = {"line_id": "L1", "contact_id": ["M-3", "CS-12"], "kind": "other",
                "tape_from_previous": [None, "18 m"]}  # fmt: skip
    stops = {"line_id": "L1", "reading_id": ["a", "b"], "chainage_m": [4.0, 6.0],
             "sound_level": [30.0, 31.0], "sound_unit": "db"}  # fmt: skip
    tables = {"routes": {"line_id": ["L1"]}, "contacts": fittings, "readings": stops}
    by_tape = read_job({name: pd.DataFrame(table) for name, table in tables.items()})
    assert by_tape.routes["trace"].iloc[0] == "taped"
    closing = Closing("L1", "leak", at="4 m from CS-12 toward M-3", repaired=True)
    dig = closing_rows(by_tape, closing, tmp_path, NOW)["dig_outcomes"]
    assert dig["leak_chainage_m"].tolist() == pytest.approx([14.0])
    assert dig.geometry.isna().all()
