"""run.json: every reading accounted for, and nothing in it that JSON or a stranger can't read."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from pyproj import CRS

from leakgeo.deliver.folder.record import run_record, write_record
from leakgeo.errors import LeakgeoError
from leakgeo.job.model import LAYERS
from leakgeo.result import Result
from tests.deliver.small import FEET, METRES, job, layers, small


@pytest.fixture(name="record")
def _record(tmp_path):
    write_record(run_record(small()), tmp_path / "run.json")
    return json.loads((tmp_path / "run.json").read_text("utf-8"))


def test_readings_in_are_used_and_rejected_by_reason(record):
    assert record["counts"]["readings"] == {
        "in": 3, "used": 1, "rejected": 2,
        "rejected_by_reason": {"set_aside": 1, "no_geometry": 1},
    }  # fmt: skip


@pytest.mark.parametrize(("column", "values"), [("reason_code", [None, None, "late"]),
                                                ("reason_code", [None, "", "late"]),
                                                ("used", [True, True, None])])  # fmt: skip
def test_an_unexplained_reading_is_an_internal_error(column, values):
    made = layers()
    changed = made["readings_on_route"].assign(**{column: pd.Series(values, dtype=object)})
    if column == "used":
        changed["reason_code"] = None
    with pytest.raises(LeakgeoError, match=r"Internal error: 3 readings came in"):
        run_record(Result(job(), {**made, "readings_on_route": changed}))


def test_a_lost_reading_is_an_internal_error():
    made = layers()
    short = made["readings_on_route"].iloc[:2]
    with pytest.raises(LeakgeoError, match="Internal error"):
        run_record(Result(job(), {**made, "readings_on_route": short}))


def test_before_the_profile_every_reading_is_rejected_for_that():
    account = run_record(Result(job()))["counts"]["readings"]
    assert account["used"] == 0
    assert account["rejected_by_reason"] == {
        "profile_not_run": 2, "no_geometry": 1,
    }  # fmt: skip


def test_names_both_crs_so_that_pyproj_can_rebuild_them(record):
    assert CRS(record["crs"]["computed_in"]["wkt"]) == METRES
    assert record["crs"]["written_in"]["code"] == "EPSG:2227"
    assert CRS(record["crs"]["written_in"]["wkt"]) == FEET


def test_a_crs_without_code_is_recorded_by_its_wkt():
    own = CRS("+proj=tmerc +lat_0=37.7 +lon_0=-122.4 +datum=WGS84")
    crs = run_record(small(crs=METRES, output_crs=own))["crs"]["written_in"]
    assert crs["code"] is None
    assert CRS(crs["wkt"]) == own


def test_time_has_a_zone(record):
    assert datetime.fromisoformat(record["written"]).tzinfo is not None


def test_the_input_is_named_without_its_folders(record):
    assert record["input"] == {"name": "street.gpkg", "sha256": "ab" * 32}
    assert "someone" not in json.dumps(record)


def test_counts_parameters_timings_versions_and_absent_layers(record):
    assert record["counts"]["lines_by_status"] == {"located": 1, "no_leak_heard": 1}
    assert record["counts"]["faults_by_effect"] == {"rejected": 1}
    assert record["parameters"] == {"clearance": {"rule": "generic", "x": 0.5}}
    assert record["seconds"] == {"clearance": 0.25}
    assert record["absent"] == list(LAYERS[2:])
    for name in ("leakgeo", "python", "gdal", "proj", "geos", "numpy", "geopandas"):
        assert record["versions"][name][0].isdigit()


def test_odd_parameters_are_written_as_json_can(tmp_path):
    odd = {"map": {"out": Path("OUT"), "n": np.int64(3), "x": float("nan"), "a": np.arange(2),
                   "t": ("a", None, True)}}  # fmt: skip
    write_record(run_record(replace(small(), parameters=odd)), tmp_path / "r.json")
    back = json.loads((tmp_path / "r.json").read_text("utf-8"))["parameters"]["map"]
    assert back == {"out": "OUT", "n": 3, "x": None, "a": [0, 1], "t": ["a", None, True]}
