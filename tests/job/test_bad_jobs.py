"""Jobs that can't be run at all: one error, with every fault that was found."""

from pathlib import Path

import numpy as np
import pandas as pd
import pyogrio
import pytest

from leakgeo.errors import JobError
from leakgeo.job.read import read_job
from leakgeo.reason import Reason
from tests.job import jobs


def refused(source):
    with pytest.raises(JobError) as caught:
        read_job(source)
    assert caught.value.faults
    for fault in caught.value.faults:
        assert fault.layer
        assert fault.problem.endswith(".")
        assert fault.what_to_do.endswith(".")
    assert any(f.effect == "stops" for f in caught.value.faults)
    return caught.value


def codes(error):
    return [f.code for f in error.faults]


@pytest.mark.parametrize(
    "source",
    [
        "https://example.org/job.gpkg",
        "/vsicurl/https://example.org/job.gpkg",
        "/VSIZIP/job.zip",
        "mysql://host/base",
        Path("postgresql://host/base"),
    ],
)
def test_what_is_not_a_local_file_is_refused_before_it_is_opened(source):
    assert "not a local file" in str(refused(source))


def test_a_missing_file(tmp_path):
    assert "no such file" in str(refused(tmp_path / "job.gpkg"))


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("job.gpkg", b"this is a letter"),
        ("job.gpkg", b""),
        ("job.gpkg", b"SQLite format 3\0" + bytes(200)),
        ("job.zip", b"PK"),
        ("job.vrt", b"<OGRVRTDataSource/>"),
        ("job.xml", b"<OGRWFSDataSource><URL>http://example.org</URL></OGRWFSDataSource>"),
    ],
)
def test_a_file_that_is_no_vector_data(tmp_path, name, content):
    path = tmp_path / name
    path.write_bytes(content)
    refused(path)


def test_an_empty_folder(tmp_path):
    error = refused(tmp_path)
    assert {"routes", "readings"} <= {f.layer for f in error.faults if f.effect == "stops"}


def test_a_file_cut_short(tmp_path):
    path = jobs.write(tmp_path / "job.gpkg")
    path.write_bytes(path.read_bytes()[:30_000])
    refused(path)


def test_all_faults_come_at_once(tmp_path):
    """Routes missing, readings with troubles, a utility layer without CRS: told together."""
    path = tmp_path / "job.gpkg"
    pyogrio.write_dataframe(
        jobs.readings(sound_unit=["db", "x", "db", "db"]), path, layer="readings"
    )
    with pytest.warns(UserWarning, match="crs"):
        pyogrio.write_dataframe(
            jobs.routes().set_crs(None, allow_override=True), path, layer="utilities"
        )
    error = refused(path)
    (missing,) = [f.reason for f in error.faults if f.code == "layer_missing"]
    assert missing == Reason("layer_missing", layer="routes", layers=["readings", "utilities"])
    assert {"routes", "readings", "utilities", "contacts"} <= {f.layer for f in error.faults}


@pytest.mark.parametrize("name", ["routes", "readings"])
def test_a_required_layer_without_crs(tmp_path, name):
    table = getattr(jobs, name)().set_crs(None, allow_override=True)
    path = tmp_path / "job.gpkg"
    with pytest.warns(UserWarning, match="crs"):
        jobs.write(path, **{name: table})
    assert (name, "layer_without_crs") in [(f.layer, f.code) for f in refused(path).faults]


@pytest.mark.parametrize("srs", [0, -1])
def test_the_crs_that_stands_for_none_is_none(tmp_path, srs):
    """GeoPackage (OGC 12-128) gives -1 and 0 for undefined Cartesian and geographic."""
    import sqlite3

    path = jobs.write(tmp_path / "job.gpkg")
    with sqlite3.connect(path) as base:
        base.execute("UPDATE gpkg_geometry_columns SET srs_id = ?", (srs,))
        base.execute("UPDATE gpkg_contents SET srs_id = ?", (srs,))
    base.close()
    assert "layer_without_crs" in codes(refused(path))


def test_a_required_layer_without_geometry(tmp_path):
    path = tmp_path / "job.gpkg"
    jobs.write(path, routes=pd.DataFrame(jobs.routes().drop(columns="geometry")))
    assert "layer_without_geometry" in codes(refused(path))


def test_no_usable_route(tmp_path):
    path = jobs.write(tmp_path / "job.gpkg", routes=jobs.routes(line_id=[None, None]))
    assert "no_good_route" in codes(refused(path))


def test_routes_off_the_earth(tmp_path):
    table = jobs.routes().set_crs(4326, allow_override=True)
    path = jobs.write(tmp_path / "job.gpkg", routes=table)
    assert "no_route_on_earth" in codes(refused(path))


def test_an_optional_layer_without_crs_is_left_out_and_counted(tmp_path):
    path = tmp_path / "job.gpkg"
    table = jobs.routes().set_crs(None, allow_override=True)
    with pytest.warns(UserWarning, match="crs"):
        jobs.write(path, utilities=table)
    job = read_job(path)
    assert job.utilities is None
    assert job.counts["utilities"] == 2
    (fault,) = jobs.about(job.faults, "utilities")
    assert fault.reason == Reason("layer_without_crs", rows=2)
    assert fault.effect == "rejected"


def test_a_readings_layer_without_its_columns(tmp_path):
    table = jobs.readings().rename(columns={"sound_level": "db_value"})
    job = jobs.read(tmp_path, readings=table)
    missing = Reason("value_missing", column="sound_level")
    assert job.readings["reason"].eq(missing).all()
    assert np.isnan(job.readings["sound_level"]).all()


def test_a_job_that_cannot_be_run_leads_with_the_cause(tmp_path):
    columns = {"line_id": "FACILITYID", "material": "MATL"}
    readings = jobs.readings().rename(columns={"sound_level": "LOUDNESS"})
    path = jobs.write(tmp_path / "job.gpkg", routes=jobs.routes().rename(columns=columns),
                      readings=readings)  # fmt: skip
    with pytest.raises(JobError) as stopped:
        read_job(path)
    said = str(stopped.value).partition("the job can't be run. ")[2]
    assert said.startswith("routes: line_id is missing: the layer has no such column; FACILITYID "
                           "looks like it. No row is used. Write a mapping with line_id = "
                           "'FACILITYID'")  # fmt: skip
    assert said.endswith("No route can be used. Correct the routes first.")
    faults = stopped.value.faults
    assert [f.effect for f in faults[:2]] == ["rejected", "stops"]
    assert faults[0].value == "FACILITYID"
    (level,) = [f for f in faults if f.column == "sound_level"]
    assert level.reason == Reason("column_missing_like", column="sound_level", like="LOUDNESS")


def test_the_causes_in_the_message_are_grouped_and_few(tmp_path):
    routes = jobs.routes()
    routes["line_id"] = None
    routes["geometry"] = None
    with pytest.raises(JobError) as stopped:
        read_job(jobs.write(tmp_path / "job.gpkg", routes=routes))
    said = str(stopped.value)
    assert said.count("line_id is missing") == 1
    assert len(said) < 1500
