"""Columns of true and false in older files: true is a code now, false is no answer."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

import leakgeo
from leakgeo.errors import JobError
from leakgeo.job.mapping.draft import draft_mapping
from leakgeo.job.read import read_job
from leakgeo.reason import Reason
from tests.job import jobs

WAY = shapely.LineString([(jobs.EAST, jobs.NORTH + 2), (jobs.EAST + 20, jobs.NORTH + 2)])
SPOT = shapely.Point(jobs.EAST + 9, jobs.NORTH)
TICKED = {
    "booleans": [True, False],
    "booleans and a null": [True, False, None],
    "numbers": [1, 0],
    "numbers with a null": [1.0, 0.0, np.nan],
    "texts": ["true", "FALSE", None],
    "letters": ["T", "f"],
}


def layers(private, found) -> dict[str, gpd.GeoDataFrame]:
    """Give utilities and outcomes of digs with these values."""
    count = range(len(private))
    return {
        "utilities": jobs.layer([WAY] * len(private), utility_id=[f"U{i}" for i in count],
                                kind=["electric"] * len(private), private=private),
        "dig_outcomes": jobs.layer([SPOT] * len(found), line_id=["L1"] * len(found), found=found),
    }  # fmt: skip


def told(job, layer, column) -> list[str]:
    return [f.what_to_do for f in jobs.about(job.faults, layer, column)
            if f.code == "box_not_ticked" and f.effect == "noted"]  # fmt: skip


@pytest.mark.filterwarnings("ignore:.*geometry type:RuntimeWarning")
@pytest.mark.parametrize("kind", TICKED)
@pytest.mark.parametrize("of_file", [True, False])
def test_true_is_a_code_and_false_is_unknown(tmp_path, kind, of_file):
    made = layers(TICKED[kind], TICKED[kind])
    job = jobs.read(tmp_path, **made) if of_file else read_job(
        {"routes": jobs.routes(), "readings": jobs.readings(), **made})  # fmt: skip
    nulls = [None] * (len(TICKED[kind]) - 1)
    assert job.utilities["private"].tolist() == ["yes", *nulls]
    assert job.dig_outcomes["found"].tolist() == ["leak", *nulls]
    assert job.utilities["reason"].isna().all()
    assert job.dig_outcomes["reason"].isna().all()
    assert len(told(job, "utilities", "private")) == 1
    [remedy] = told(job, "dig_outcomes", "found")
    assert remedy == ("Enter dry where the pipe was seen and did not leak, pipe_not_reached where "
                      "the hole did not get to it.")  # fmt: skip


def test_many_unticked_boxes_are_counted_in_one_fault():
    made = layers([False] * 30, ["dry"])
    job = read_job({"routes": jobs.routes(), "readings": jobs.readings(), **made})
    [fault] = jobs.about(job.faults, "utilities", "private")
    assert (fault.code, fault.features) == ("box_not_ticked", 30)


def test_codes_are_taken_as_they_are_and_typed_answers_too():
    made = layers(["no", "Yes", "unknown", "perhaps"],
                  ["dry", "Pipe not reached", "leak", "nothing seen"])  # fmt: skip
    job = read_job({"routes": jobs.routes(), "readings": jobs.readings(), **made})
    assert job.utilities["private"].tolist() == ["no", "yes", "unknown", "unknown"]
    assert job.dig_outcomes["found"].tolist() == ["dry", "pipe_not_reached", "leak", None]
    assert not told(job, "utilities", "private")


def test_an_unticked_box_lifts_no_hold_and_is_no_dry_hole(tmp_path):
    job = jobs.read(tmp_path, **layers([False], [False]))
    cases = leakgeo.learn(job)["learned_cases"]
    assert not cases["counted"].any()
    assert cases["found"].isna().all()


OLD_MAPPING = """
[utilities]
layer = "utilities"
[utilities.columns]
utility_id = "utility_id"
kind = "kind"
[utilities.columns.private]
column = "PRIV"
[utilities.columns.private.values]
"P" = true
"U" = false
"""


def test_a_mapping_onto_true_and_false_is_still_read(tmp_path):
    table = layers(["P", "U"], ["dry"])["utilities"].rename(columns={"private": "PRIV"})
    path = jobs.write(tmp_path / "job.gpkg", utilities=table)
    (tmp_path / "map.toml").write_text(OLD_MAPPING)
    job = read_job(path, mapping=tmp_path / "map.toml")
    assert job.utilities["private"].tolist() == ["yes", None]


def test_a_draft_makes_no_answer_of_a_box_that_is_not_ticked(tmp_path):
    table = layers([True, False], ["dry"])["utilities"].rename(columns={"private": "PRIVATE"})
    draft = draft_mapping(jobs.write(tmp_path / "job.gpkg", utilities=table))
    assert '"True" = "yes"' in draft
    assert '# "False" = ""' in draft


def test_a_former_column_is_read_with_its_answers_turned(tmp_path):
    readings = jobs.readings(USABLE=[True, False, None, "yes"])
    tests = jobs.meter_tests().rename(columns={"water_used": "all_outlets_closed"})
    tests = pd.concat([tests.assign(all_outlets_closed=said) for said in (True, False)])
    job = read_job({"routes": jobs.routes(), "readings": readings, "meter_tests": tests})
    assert job.readings["set_aside"].tolist() == [False, True, False, False]
    assert job.readings["reason"].notna().tolist() == [False, True, False, False]
    assert job.meter_tests["water_used"].tolist() == [False, pd.NA]
    for layer, column in (("readings", "usable"), ("meter_tests", "all_outlets_closed")):
        [fault] = jobs.about(job.faults, layer, column)
        assert fault.effect == "noted"
        assert fault.code == "column_of_older_files"


def test_beside_a_present_column_a_former_one_is_only_a_column_not_used():
    readings = jobs.readings(usable=[False] * 4, set_aside=[False] * 4)
    job = read_job({"routes": jobs.routes(), "readings": readings})
    assert job.readings["reason"].isna().all()
    reason = Reason("columns_not_used", columns=1, names=["usable"], more=0)
    assert reason in [f.reason for f in job.faults]


def test_a_mapping_onto_a_former_column_says_what_it_is_now(tmp_path):
    path = jobs.write(tmp_path / "job.gpkg")
    (tmp_path / "map.toml").write_text('[readings.columns]\nusable = "OK"\n')
    with pytest.raises(JobError) as error:
        read_job(path, mapping=tmp_path / "map.toml")
    assert "Its name is now set_aside, which is true where usable was false." in str(
        error.value.faults[0]
    )
