"""One stop added to a job: its place, what it takes from the stop before, and what is refused."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta

import click
import pandas as pd
import pytest
import shapely

import leakgeo
from leakgeo.cli.add_command import ADD
from leakgeo.errors import JobError, OutputError
from leakgeo.job.append import append_rows
from leakgeo.job.read import read_job
from leakgeo.job.schema import load_schema
from leakgeo.job.template import write_template
from leakgeo.job.typed.add import add_typed
from leakgeo.wording import wording
from tests.job import jobs
from tests.test_cli import leakgeo_command

TIME = datetime(2026, 5, 3, 10, 20, tzinfo=UTC)
HEARD = {"unit": "db", "time": TIME}
FEET = 2263


@pytest.fixture
def path(tmp_path):
    """A job with two fittings on its first line, 10 m and 25 m along it."""
    points = [shapely.Point(jobs.EAST + at, jobs.NORTH) for at in (10, 25)]
    fittings = jobs.layer(points, contact_id=["CS-12", "M-3"], line_id=["L1", "L1"],
                          kind=["curb_stop", "meter"])  # fmt: skip
    readings = jobs.readings(
        sensor=["ground_plate"] * 4,
        gain_db=[15.0] * 4,
        surface=["grass"] * 4,
        seq=[1, 2, 3, 4],
        time=[TIME - timedelta(minutes=k) for k in (40, 30, 20, 10)],
    )
    return jobs.write(tmp_path / "job.gpkg", readings=readings, contacts=fittings)


def test_a_stop_taped_from_a_fitting_is_stored_as_it_was_said(path):
    added = leakgeo.add_stop(path, "L1", 43, at="6.5 m from CS-12 toward M-3", **HEARD)
    row = added.row
    assert (row["tape"], row["chainage_from"], row["chainage_toward"]) == ("6.5 m", "CS-12", "M-3")
    assert row["chainage_m"] == 6.5
    assert added.chainage_m == pytest.approx(16.5, abs=0.01)
    assert row["geometry"].distance(shapely.Point(jobs.EAST + 16.5, jobs.NORTH)) < 0.02
    assert added.used
    assert (row["walk_id"], row["seq"]) == ("W", 5)
    assert dict(added.taken) == {"sensor": "ground_plate", "gain_db": 15.0, "surface": "grass",
                                 "walk_id": "W"}  # fmt: skip
    assert len(read_job(path).readings) == 5


def test_a_length_alone_begins_where_the_last_tape_on_the_line_did(path):
    assert leakgeo.add_stop(path, "L1", 41, at=4.0, **HEARD).chainage_m == 4.0
    leakgeo.add_stop(path, "L1", 43, at="6 m from CS-12 toward M-3", **HEARD)
    again = leakgeo.add_stop(path, "L1", 44, at="7 m", unit="db", time=TIME + timedelta(minutes=2))
    assert again.chainage_m == pytest.approx(17.0, abs=0.01)
    assert again.taken["chainage_from"] == "CS-12"
    assert leakgeo.add_stop(path, "L1", 44, at="7 m from start", **HEARD).chainage_m == 7.0


def test_a_tape_toward_the_start_runs_toward_a_fitting_that_lies_there(path):
    added = leakgeo.add_stop(path, "L1", 43, at="5 m from M-3 toward start", **HEARD)
    assert added.row["chainage_toward"] == "CS-12"
    assert added.chainage_m == pytest.approx(20.0, abs=0.01)
    with pytest.raises(JobError, match="No fitting of the line lies that way"):
        leakgeo.add_stop(path, "L1", 43, at="5 m from CS-12 toward start", **HEARD)


def test_a_position_in_its_own_crs(path):
    here = jobs.layer([shapely.Point(jobs.EAST + 12, jobs.NORTH + 1)]).to_crs(4326).geometry[0]
    added = leakgeo.add_stop(path, "L1", 43, xy=(here.x, here.y), crs=4326, **HEARD)
    assert added.chainage_m == pytest.approx(12.0, abs=0.01)
    assert pd.isna(added.row["chainage_m"])
    with pytest.raises(JobError, match="from L1"):
        leakgeo.add_stop(path, "L1", 43, xy=(here.x, here.y), **HEARD)


def test_a_walk_ends_after_four_hours(path):
    later = leakgeo.add_stop(path, "L1", 43, at=3.0, unit="db", time=TIME + timedelta(hours=5))
    assert later.row["walk_id"] == "W20260503-1520"
    assert pd.isna(later.row["seq"])
    next_one = leakgeo.add_stop(path, "L1", 44, at=3.5, time=TIME + timedelta(hours=5.1))
    assert next_one.row["walk_id"] == "W20260503-1520"
    assert next_one.taken["sound_unit"] == "db"
    assert leakgeo.add_stop(path, "L1", 44, at=4.0, walk_id="W", **HEARD).row["seq"] == 5


def test_every_fault_at_once_and_nothing_is_written(path):
    before = path.read_bytes()
    with pytest.raises(JobError) as caught:
        leakgeo.add_stop(path, "L1", 300, at="99 m", tap_open="M-4", surface="lawn", unit="db",
                         air_kpa=-5, time=datetime.now(UTC) + timedelta(days=2))  # fmt: skip
    codes = {fault.code for fault in caught.value.faults}
    assert codes >= {"place_beyond_line", "place_fitting_unknown_like", "unknown_code",
                     "number_out_of_range", "time_in_future", "level_not_decibels"}  # fmt: skip
    with pytest.raises(JobError) as caught:
        leakgeo.add_stop(path, "L11", 40)
    assert [f.code for f in caught.value.faults] == ["place_line_unknown_like",
                                                     "stop_place_missing"]  # fmt: skip
    assert path.read_bytes() == before


def test_the_first_stop_of_a_job_needs_its_unit(tmp_path):
    empty = write_template(tmp_path / "job.gpkg", crs=jobs.CRS)
    jobs.routes().to_file(empty, layer="routes", mode="a", promote_to_multi=True)
    with pytest.raises(JobError, match="sound_unit"):
        leakgeo.add_stop(empty, "L1", 43, at=3.0)
    assert leakgeo.add_stop(empty, "L1", 43, at=3.0, unit="scale").row["sound_unit"] == "scale"


def test_a_plain_number_is_refused_where_people_work_in_feet(tmp_path):
    routes = jobs.routes().set_crs(FEET, allow_override=True)
    path = jobs.write(tmp_path / "job.gpkg", routes=routes,
                      readings=jobs.readings().set_crs(FEET, allow_override=True))  # fmt: skip
    with pytest.raises(JobError, match="Write 12 ft or 12 m"):
        leakgeo.add_stop(path, "L1", 43, at="12", unit="db")
    added = leakgeo.add_stop(path, "L1", 43, at="12", tape_unit="ft", unit="db")
    assert added.row["tape"] == "12 ft"
    assert added.chainage_m == pytest.approx(12 * 0.3048)


def test_a_line_by_tape_alone_takes_a_stop(tmp_path):
    stops = tmp_path / "fittings.csv"
    stops.write_text("line,fitting,kind,tape\nA-1,V-1,valve,\nA-1,V-2,valve,20 m\n")
    path = tmp_path / "job.gpkg"
    add_typed(path, [stops], crs=jobs.CRS)
    added = leakgeo.add_stop(path, "A-1", 43, at="4 m from V-1 toward V-2", unit="db")
    assert (added.chainage_m, added.used) == (pytest.approx(4.0), True)


def test_a_program_that_writes_is_waited_for_and_then_reported(path, monkeypatch):
    with closing(sqlite3.connect(path)) as base:
        base.execute("BEGIN IMMEDIATE")
        monkeypatch.setattr(append_rows, "__kwdefaults__", {"wait_s": 0.1})
        with pytest.raises(OutputError):
            leakgeo.add_stop(path, "L1", 43, at=3.0, **HEARD)


def test_a_stop_that_is_set_aside_is_kept_in_the_job_of_its_folder(path):
    added = leakgeo.add_stop(path.parent, "L1", 43, at=3.0, set_aside=True, **HEARD)
    assert (added.used, added.row["reason"].code) == (False, "set_aside")
    assert "It is not used" in wording().text(added.message)


@pytest.mark.parametrize(
    ("name", "what"), [("job.xlsx", "sheet Stops"), ("", "sheet Stops"), ("job.shp", "your GIS")]
)
def test_a_job_that_is_no_geopackage_says_where_to_type(tmp_path, name, what):
    with pytest.raises(JobError, match=what):
        leakgeo.add_stop(tmp_path / name, "L1", 43, at=3.0)


def test_the_command_and_its_document(path):
    call = ("add", str(path), "L1", "-3,5", "--at", "6.5 m from CS-12 toward M-3", "--unit", "db",
            "--time", "2026-05-03T10:20Z")  # fmt: skip
    done = leakgeo_command(*call, "--json")
    document = json.loads(done.stdout)
    assert done.returncode == document["exit_code"] == 0
    stop = document["stop"]
    assert (stop["sound_level"], stop["chainage_from"], stop["used"]) == (-3.5, "CS-12", True)
    assert stop["along_m"] == pytest.approx(16.5, abs=0.01)
    assert document["taken"]["surface"] == "grass"
    said = leakgeo_command(*call[:-1], "2026-05-03T10:21Z", "--language", "es").stdout
    assert "16,50 m a lo largo de la tubería, que mide 50,02 m. Tomado del punto" in said
    assert said.count("\n") == 1


def test_codes_of_the_command_are_those_of_the_contract():
    schema = load_schema("readings")
    columns = {"unit": "sound_unit", "gain_db": "gain_db"}
    chosen = {p.name: p.type.choices for p in ADD.params if isinstance(p.type, click.Choice)}
    for name in ("unit", "surface", "air", "sensor", "band", "tape_unit"):
        assert tuple(chosen[name]) == schema.field(columns.get(name, name)).codes, name
