"""The chain from the toolbox by clicks: few of them, and one group of layers after two runs."""

from __future__ import annotations

import os
import sys

import pyogrio
import pytest

from tests.desktop.test_window import need_window, played, with_plugin
from tests.town import TOWN

LINES, GONE = ["H-126", "S-109"], "S-109"


@pytest.fixture(scope="module", name="told")
def _told(tmp_path_factory):
    """Give what the scene told of two runs; the second one is without the readings of a line."""
    need_window()
    folder = tmp_path_factory.mktemp("toolbox")
    with_plugin(folder, "processing")
    job = folder / "job.gpkg"
    for name in ("routes", "readings", "contacts"):
        frame = pyogrio.read_dataframe(TOWN, layer=name)
        own = frame[frame["line_id"].isin(LINES)]
        pyogrio.write_dataframe(own, job, layer=name, append=job.exists())
    seen = played(folder, "twice", script="window_toolbox.py", job=str(job), gone=GONE,
                  record=str(folder / "out" / "run.json"),
                  pictures=os.environ.get("LEAKGEO_PICTURES", ""))  # fmt: skip
    sys.stdout.write(f"clicks to run the chain: {seen['first']['clicks']}\n")
    return seen, folder


def test_the_chain_is_a_few_clicks_from_the_job_of_the_project(told):
    seen, folder = told
    assert seen["first"]["clicks"] < 6
    assert seen["first"]["job_file"] == str(folder / "job.gpkg")
    # The folder that is proposed holds results now, so the dialog says that they are replaced.
    assert [seen[run]["overwrite"] for run in ("first", "second")] == [False, True]


def test_two_runs_into_a_folder_leave_one_group_with_the_newer_data(told):
    seen, _ = told
    ((title, names),) = seen["groups"]
    assert title == "leakgeo: out"
    assert names.count("Marks") == 1
    assert seen["marks"].keys() == set(LINES)
    # In the group, and in the layer that was opened beside it.
    (run_ids,) = seen["marks_after"].values()
    assert GONE not in seen["marks_after"]
    assert len(run_ids) == 2
    assert seen["marks_counted"] == [1, 1]
    assert len(set(run_ids)) == 1
    assert run_ids[0] != seen["marks"][LINES[0]][0]


def test_what_was_put_into_the_group_stays_there(told):
    seen, _ = told
    assert seen["kept"].count("Marks") == 2
    assert "fittings" in seen["groups"][0][1]


def test_a_result_that_was_opened_by_hand_keeps_its_view_and_has_no_group_around(told):
    seen = told[0]["by_hand"]
    assert seen["before"][:2] == ["What holds the dig", "Marks"]
    assert seen["after"] == [*seen["before"], "Faults"]
    assert seen["views"][0] == seen["views"][1]
