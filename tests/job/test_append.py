"""Rows appended to a job that another program may have open."""

import sqlite3
import subprocess
import sys
from contextlib import closing, contextmanager

import geopandas as gpd
import pandas as pd
import pyogrio
import pytest
import shapely

from leakgeo.errors import JobError, OutputError
from leakgeo.job.append import append_rows
from leakgeo.job.read import read_job
from leakgeo.job.schema import load_schema
from leakgeo.job.template import write_template
from tests.job import jobs

START, END = "2026-05-01T10:00Z", "2026-05-01T10:30Z"


def test_rows_of_several_layers(tmp_path):
    path = jobs.write(tmp_path / "job.gpkg")
    more = readings(line_id=["L1", "L1"], chainage_m=["38' 6\"", 3.0])
    assert append_rows(path, {"readings": more, "meter_tests": meter_still()}) == ()
    job = read_job(path)
    assert job.readings["reading_id"].tolist()[-2:] == ["N0", "N1"]
    assert job.readings["tape_m"].tolist()[-2:] == [pytest.approx(11.7348), 3.0]
    assert job.meter_tests["reason"].isna().all()
    assert job.meter_tests["start_time"].iloc[0] == pd.Timestamp(START)
    assert job.meter_tests["water_used"].tolist() == [False]


def test_a_position_goes_into_the_crs_the_extent_and_the_index(tmp_path):
    path = jobs.write(tmp_path / "job.gpkg")
    far = gpd.GeoSeries([shapely.Point(jobs.EAST + 40.0, jobs.NORTH + 5.0)], crs=jobs.CRS)
    more = readings(1)
    append_rows(path, {"readings": gpd.GeoDataFrame(more, geometry=far.to_crs(4326))})
    table = pyogrio.read_dataframe(path, layer="readings")
    assert table.geometry.iloc[-1].distance(far.iloc[0]) < 1e-3
    assert pyogrio.read_info(path, layer="readings", force_total_bounds=True)["total_bounds"][2:] \
        == pytest.approx((jobs.EAST + 40.0, jobs.NORTH + 5.0))  # fmt: skip
    near = pyogrio.read_dataframe(path, layer="readings", bbox=tuple(far.buffer(0.5).total_bounds))
    assert near["reading_id"].tolist() == ["N0"]
    with closing(sqlite3.connect(path)) as base:
        assert base.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert base.execute("SELECT rtreecheck('rtree_readings_geom')").fetchone() == ("ok",)
        [(counted,)] = base.execute(
            "SELECT feature_count FROM gpkg_ogr_contents WHERE table_name = 'readings'"
        )
    assert counted == len(table)


def test_a_layer_that_is_missing_is_that_of_the_template(tmp_path):
    path = jobs.write(tmp_path / "job.gpkg")
    form = write_template(tmp_path / "form.gpkg", crs=jobs.CRS)
    dig = {"line_id": ["L1"], "found": ["leak"], "repaired": [True], "time": [END]}
    spot = shapely.Point(jobs.EAST + 15.0, jobs.NORTH)
    append_rows(path, {"dig_outcomes": gpd.GeoDataFrame(dig, geometry=[spot], crs=jobs.CRS)})
    made, wanted = (pyogrio.read_info(p, layer="dig_outcomes") for p in (path, form))
    for key in ("crs", "fields", "ogr_types", "ogr_subtypes", "geometry_type", "geometry_name"):
        assert str(made[key]) == str(wanted[key]), key
    job = read_job(path)
    assert job.dig_outcomes["reason"].isna().all()
    assert job.routes["repaired_time"].notna().tolist() == [True, False]
    with closing(sqlite3.connect(path)) as base:
        [(codes,)] = base.execute(
            "SELECT count(*) FROM gpkg_data_column_constraints "
            "WHERE constraint_name = 'dig_outcomes_found'"
        )
    assert codes == len(load_schema("dig_outcomes").field("found").codes)


def test_a_column_that_is_missing_is_added(tmp_path):
    path = jobs.write(tmp_path / "job.gpkg")
    append_rows(path, {"readings": readings(1, set_aside=[True], walk_id=["V"])})
    table = pyogrio.read_dataframe(path, layer="readings")
    assert table["set_aside"].tolist()[-1] == 1
    assert table["set_aside"].isna().sum() == len(table) - 1
    assert pyogrio.read_info(path, layer="readings")["ogr_subtypes"][-1] == "OFSTBoolean"


def test_a_bad_row_undoes_every_layer(tmp_path):
    path = jobs.write(tmp_path / "job.gpkg")
    before = path.read_bytes()
    wrong = readings(2, sound_unit=["db", "loud"], offset_m=["far", 2.0], colour=["red", None])
    with pytest.raises(JobError, match="nothing was written") as caught:
        append_rows(path, {"meter_tests": meter_still(), "readings": wrong})
    told = {(f.column, f.code) for f in caught.value.faults}
    assert told == {("sound_unit", "unknown_code"), ("offset_m", "not_length"),
                    ("", "columns_not_used")}  # fmt: skip
    taken = readings(1, reading_id=["R1"])
    with pytest.raises(JobError, match="R1: The layer has a row with this reading_id"):
        append_rows(path, {"meter_tests": meter_still(), "readings": taken})
    assert path.read_bytes() == before


def test_a_layer_with_names_of_its_own_is_left_alone(tmp_path):
    path = jobs.write(tmp_path / "job.gpkg", readings=jobs.readings().rename(
        columns={"reading_id": "STOP", "sound_level": "DB"}))  # fmt: skip
    with pytest.raises(JobError, match=r"lacks reading_id, sound_level\..*mapping"):
        append_rows(path, {"readings": readings(1)})
    without = jobs.write(tmp_path / "other.gpkg", routes=None)
    with pytest.raises(JobError, match="no layer routes"):
        append_rows(without, {"readings": readings(1)})
    with pytest.raises(JobError, match="a GeoPackage only"):
        append_rows(tmp_path, {"readings": readings(1)})


def test_numbers_for_names_stay_numbers(tmp_path):
    path = jobs.write(tmp_path / "job.gpkg", readings=jobs.readings(reading_id=[1, 2, 3, 4]))
    with pytest.raises(JobError, match="stores reading_id as numbers"):
        append_rows(path, {"readings": readings(1)})
    append_rows(path, {"readings": readings(1, reading_id=["5"])})
    assert pyogrio.read_dataframe(path, layer="readings")["reading_id"].tolist()[-1] == 5


def test_another_program_that_reads_sees_the_rows_and_one_that_writes_is_waited_for(tmp_path):
    path = jobs.write(tmp_path / "job.gpkg")
    with other_program(path) as ask:
        assert ask("PRAGMA journal_mode = WAL") == "[('wal',)]"
        count = "SELECT count(*) FROM readings"
        assert ask(count) == "[(4,)]"
        append_rows(path, {"readings": readings(1)})
        assert ask(count) == "[(5,)]"
        ask("BEGIN IMMEDIATE")
        with pytest.raises(OutputError, match="Another program is writing"):
            append_rows(path, {"readings": readings(1, reading_id=["M"])}, wait_s=0.05)
        ask("COMMIT")
        append_rows(path, {"readings": readings(1, reading_id=["M"])})
        assert ask(count) == "[(6,)]"
    assert len(read_job(path).readings) == 6


def test_two_writers_lose_no_row(tmp_path):
    path = jobs.write(tmp_path / "job.gpkg")
    code = (
        "import sys, pandas as pd; from leakgeo.job.append import append_rows\n"
        "for k in range(5): append_rows(sys.argv[1], {'action_results': pd.DataFrame({"
        "'line_id': ['L1'], 'action': ['shut_fitting'], 'result': ['not_found'],"
        "'contact_id': [sys.argv[2] + str(k)]})})"
    )
    both = [subprocess.Popen([sys.executable, "-c", code, path, name]) for name in "ab"]
    assert [one.wait() for one in both] == [0, 0]
    named = pyogrio.read_dataframe(path, layer="action_results")["contact_id"]
    assert sorted(named) == [name + str(k) for name in "ab" for k in range(5)]


@pytest.mark.parametrize("sql", [
    "SELECT load_extension('evil')", "DELETE FROM readings WHERE reading_id != NEW.reading_id",
    "UPDATE routes SET line_id = 'other'", "DELETE FROM routes",
])  # fmt: skip
def test_a_trigger_of_the_file_does_nothing_else(tmp_path, sql):
    path = jobs.write(tmp_path / "job.gpkg")
    with closing(sqlite3.connect(path)) as base, base:
        base.execute(f"CREATE TRIGGER t AFTER INSERT ON readings BEGIN {sql}; END")
    with pytest.raises(OutputError, match="A trigger of the file does more"):
        append_rows(path, {"readings": readings(1)})
    assert len(read_job(path).readings) == 4


def test_a_trigger_that_logs_rows_is_left_alone(tmp_path):
    path = jobs.write(tmp_path / "job.gpkg")
    with closing(sqlite3.connect(path)) as base, base:
        base.execute("CREATE TABLE log (name TEXT, time TEXT)")
        base.execute("CREATE TRIGGER t AFTER INSERT ON readings BEGIN "
                     "UPDATE readings SET sound_unit = 'db' WHERE rowid = NEW.rowid; "
                     "INSERT INTO log VALUES (NEW.reading_id, datetime('now')); END")  # fmt: skip
    append_rows(path, {"readings": readings(1)})
    with closing(sqlite3.connect(path)) as base:
        assert base.execute("SELECT name FROM log").fetchall() == [("N0",)]


def test_a_read_only_file_says_what_to_do(tmp_path):
    path = jobs.write(tmp_path / "job.gpkg")
    with pytest.raises(OutputError, match="read-only"):
        _read_only(path)


def _read_only(path):
    """Append to a file that SQLite opens read-only, as another user's; root may write any file."""
    from leakgeo.job.geopackage import transaction

    with transaction(path) as base:
        base.execute("PRAGMA query_only = ON")
        base.execute("DELETE FROM readings")


@contextmanager
def other_program(path):
    """Open a file in another process, as a GIS does, and give a function that runs SQL there."""
    code = ("import sqlite3, sys; base = sqlite3.connect(sys.argv[1], isolation_level=None)\n"
            "for line in sys.stdin: print(base.execute(line).fetchall(), flush=True)")  # fmt: skip
    pipe = subprocess.PIPE
    with subprocess.Popen([sys.executable, "-c", code, path], stdin=pipe, stdout=pipe, text=True) \
            as process:  # fmt: skip

        def ask(sql):
            process.stdin.write(f"{sql}\n")
            process.stdin.flush()
            return process.stdout.readline().strip()

        yield ask
        process.stdin.close()
        assert process.wait() == 0


def readings(size=2, **columns):
    """Give rows of `readings` without geometry, placed by chainage."""
    data = {"reading_id": [f"N{k}" for k in range(size)], "line_id": ["L1"] * size,
            "sound_level": [40.0] * size, "sound_unit": ["db"] * size,
            "chainage_m": [2.0 + k for k in range(size)]}  # fmt: skip
    return pd.DataFrame({**data, **columns})


def meter_still():
    """Give one meter test in which the register stands still."""
    return pd.DataFrame({"line_id": ["L1"], "start_reading": [101.5], "end_reading": [101.5],
                         "volume_unit": ["m3"], "start_time": [START], "end_time": [END],
                         "water_used": [False]})  # fmt: skip
