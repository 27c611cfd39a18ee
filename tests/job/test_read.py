"""Reading a job: what comes of a good one, from whatever it is stored in."""

import hashlib
import shutil
import sqlite3

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely

from leakgeo.errors import JobError
from leakgeo.job.model import NOT_SELECTED
from leakgeo.job.read import read_job
from leakgeo.job.schema import load_schemas
from leakgeo.reason import Reason
from tests.job import jobs

DTYPES = {
    "string": "object",
    "number": "float64",
    "integer": "float64",
    "boolean": "boolean",
    "datetime": "datetime64[us, UTC]",
    "date": "datetime64[us]",
}


def all_layers():
    here = shapely.Point(jobs.EAST, jobs.NORTH)
    area = here.buffer(5)
    return {
        "contacts": jobs.layer(
            [here], contact_id=["C"], line_id=["L1"], sound_level=[3], sound_unit=["scale"]
        ),
        "meter_tests": jobs.meter_tests(),
        "valves": jobs.layer([here], valve_id=["V1"], line_id=["L1"], kind=["isolation"]),
        "isolation_tests": jobs.isolation_tests(),
        "closed_valves": pd.DataFrame({"test_id": ["T1"], "valve_id": ["V1"]}),
        "action_results": jobs.action_results(),
        "utilities": jobs.layer([here, area], utility_id=["U", "V"], kind=["electric", None]),
        "surfaces": jobs.layer([area], surface=["grass"]),
        "history": jobs.layer([area], kind=["repair"], date=["2020-05-01"]),
        "dig_outcomes": jobs.layer([here], line_id=["L1"], found=["leak"]),
    }


def test_every_layer_has_every_contract_column_in_its_type(tmp_path):
    job = jobs.read(tmp_path, **all_layers())
    for name, schema in load_schemas("input").items():
        table = getattr(job, name)
        for field in schema.fields:
            assert str(table[field.name].dtype) == DTYPES[field.type], (name, field.name)
        assert table["reason"].isna().all(), name
        assert table["reason"].dtype == object
        assert job.counts[name] == len(table)
        if schema.geometry_types:
            assert table.crs == job.crs
            assert list(table.columns)[: len(schema.columns) + 2] == [
                *schema.columns, "geometry", "reason"]  # fmt: skip
    assert not job.faults


def test_columns_are_the_same_with_nulls_or_without(tmp_path):
    job = jobs.read(tmp_path, readings=jobs.readings(seq=[1, 2, 3, 4], set_aside=[False] * 4))
    assert job.readings["seq"].dtype == "float64"
    assert job.readings["set_aside"].dtype == "boolean"
    assert job.readings["band"].isna().all()
    assert job.readings["band"].dtype == object


def test_each_absent_layer_is_said_once_and_is_no_clearance(tmp_path):
    job = jobs.read(tmp_path)
    said = [f.layer for f in job.faults]
    not_said = {"routes", "readings", "closed_valves", "action_results"}
    assert sorted(said) == sorted(set(load_schemas("input")) - not_said)
    (utilities,) = jobs.about(job.faults, "utilities")
    assert utilities.code == "utilities_missing"
    assert "clears nothing" in utilities.problem
    assert utilities.effect == "noted"


def test_an_empty_layer_of_utilities_is_told_as_an_absent_one(tmp_path):
    job = jobs.read(tmp_path, utilities=jobs.layer([], utility_id=[], kind=[]))
    assert "utilities" in job.counts
    (told,) = jobs.about(job.faults, "utilities")
    assert (told.code, told.effect) == ("utilities_missing", "noted")


def test_the_record_of_the_source(tmp_path):
    path = jobs.write(tmp_path / "job.gpkg")
    before = path.read_bytes()
    job = read_job(path)
    assert job.digest == hashlib.sha256(before).hexdigest()
    assert job.source == str(path)
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["job.gpkg"]


def test_a_job_open_elsewhere_is_read_with_its_pending_edits_and_left_alone(tmp_path):
    path = jobs.write(tmp_path / "job.gpkg", meter_tests=jobs.meter_tests())
    base = sqlite3.connect(path)
    base.execute("PRAGMA journal_mode=WAL")
    base.execute("PRAGMA wal_autocheckpoint=0")
    base.execute("UPDATE meter_tests SET end_reading = 177")
    base.commit()
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    job = read_job(path)
    assert job.meter_tests["end_reading"].tolist() == [177.0]
    assert jobs.about(job.faults, "job")[0].effect == "noted"
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before
    base.close()


def test_a_job_in_write_ahead_mode_gets_no_side_files(tmp_path):
    path = jobs.write(tmp_path / "job.gpkg")
    base = sqlite3.connect(path)
    base.execute("PRAGMA journal_mode=WAL")
    base.close()
    read_job(path)
    assert [p.name for p in tmp_path.iterdir()] == ["job.gpkg"]


def test_a_folder_of_files(tmp_path):
    jobs.routes().to_file(tmp_path / "Routes.shp")
    jobs.readings().to_crs(4326).to_file(tmp_path / "readings.geojson")
    table = jobs.meter_tests().astype(str)
    table["start_time"] = "2025-03-31T08:00:00Z"
    table["end_time"] = "2025-03-31T10:00:00+00:00"
    table.to_csv(tmp_path / "meter_tests.csv", index=False)
    (tmp_path / "notes.txt").write_text("not a layer")
    job = read_job(tmp_path)
    assert job.digest == ""
    assert job.counts == {"routes": 2, "readings": 4, "meter_tests": 1}
    assert job.meter_tests["reason"].isna().all()
    assert job.meter_tests["end_reading"].tolist() == [101.5]
    assert job.readings.distance(job.routes.geometry.iloc[0]).max() < 0.001


def test_two_files_of_one_name_are_told(tmp_path):
    jobs.routes().to_file(tmp_path / "routes.gpkg")
    jobs.routes().to_crs(4326).to_file(tmp_path / "routes.geojson")
    jobs.readings().to_file(tmp_path / "readings.gpkg")
    (fault,) = jobs.about(read_job(tmp_path).faults, "routes")
    assert "routes.geojson and routes.gpkg" in fault.problem


def test_lines_asked_for(tmp_path):
    path = jobs.write(
        tmp_path / "job.gpkg", readings=jobs.readings(line_id=["L1", "L2", None, "L1"])
    )
    job = read_job(path, lines=["L1", "L9"])
    assert job.routes["reason"].tolist() == [None, NOT_SELECTED]
    # Without line_id it may be of the line asked for, so it stays.
    assert job.readings["reason"].tolist() == [None, NOT_SELECTED, None, None]
    (fault,) = jobs.about(job.faults, "routes")
    assert fault.reason == Reason("selected_line_missing", line="L9")


def test_no_line_asked_for_is_there(tmp_path):
    with pytest.raises(JobError) as stopped:
        read_job(jobs.write(tmp_path / "job.gpkg"), lines=["L8", "L9"])
    codes = [f.code for f in stopped.value.faults if f.layer == "routes"]
    assert sorted(codes) == ["no_selected_line", "selected_line_missing", "selected_line_missing"]


def test_layer_names_and_columns_in_any_case(tmp_path):
    path = tmp_path / "job.gpkg"
    table = jobs.routes().rename(columns={"line_id": "LINE_ID", "depth_m": " Depth_M"})
    pyogrio.write_dataframe(table, path, layer="ROUTES")
    pyogrio.write_dataframe(jobs.readings(), path, layer="Readings")
    job = read_job(path)
    assert job.routes["line_id"].tolist() == ["L1", "L2"]
    assert job.routes["depth_m"].tolist() == [0.9, 1.2]


def test_columns_of_others_are_left_aside_and_told(tmp_path):
    job = jobs.read(tmp_path, routes=jobs.routes(owner=["me", "you"], level=[1, 2]))
    assert "owner" not in job.routes
    (fault,) = jobs.about(job.faults, "routes")
    assert fault.reason == Reason("columns_not_used", columns=2, names=["owner", "level"], more=0)


def test_identifiers_that_are_numbers_match_across_layers(tmp_path):
    """A whole-number column with a null comes as floats: 1001.0 is still line 1001."""
    job = jobs.read(
        tmp_path,
        routes=jobs.routes(line_id=[1001, 1002]),
        readings=jobs.readings(line_id=[1001.0, 1002.0, np.nan, 1001.0]),
    )
    assert job.routes["line_id"].tolist() == ["1001", "1002"]
    assert job.readings["line_id"].tolist() == ["1001", "1002", None, "1001"]
    assert job.readings["reason"].isna().all()


def test_times_come_as_utc_and_naive_ones_are_told(tmp_path):
    zoned = pd.to_datetime(["2025-03-31T08:00+02:00"] * 4)
    job = jobs.read(tmp_path, readings=jobs.readings(time=zoned))
    assert job.readings["time"].iloc[0] == pd.Timestamp("2025-03-31T06:00Z")
    assert not jobs.about(job.faults, "readings")


@pytest.mark.parametrize(
    "time",
    [pd.to_datetime(["2025-03-31T08:00"] * 4), ["2025-03-31 08:00"] * 4],
    ids=["datetime", "text"],
)
def test_naive_times_are_taken_as_utc_and_told(tmp_path, time):
    job = jobs.read(tmp_path, readings=jobs.readings(time=time))
    assert job.readings["time"].iloc[0] == pd.Timestamp("2025-03-31T08:00Z")
    (fault,) = jobs.about(job.faults, "readings", "time")
    assert fault.reason == Reason("time_zone_missing", column="time")


def test_height_is_kept_and_counts_for_nothing(tmp_path):
    table = jobs.routes()
    high = gpd.GeoSeries(shapely.force_3d(table.geometry.to_numpy(), [200.0, 300.0]), crs=jobs.CRS)
    job = jobs.read(tmp_path, routes=table.set_geometry(high).to_crs(4979))
    assert shapely.get_coordinates(job.routes.geometry.iloc[1], include_z=True)[0, 2] == (
        pytest.approx(300.0)
    )
    assert job.routes.length.tolist() == pytest.approx([50.0, 40.0], abs=0.001)


def test_a_copy_read_again_is_the_same(tmp_path):
    path = jobs.write(tmp_path / "job.gpkg", **all_layers())
    again = shutil.copy(path, tmp_path / "again.gpkg")
    one, two = read_job(path), read_job(again)
    assert one.digest == two.digest
    pd.testing.assert_frame_equal(one.readings, two.readings)
