"""Tapes that begin at a fitting: their chainage along the route, and those that can't be placed."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import shapely

import leakgeo
from leakgeo.job.read import read_job
from tests.job import jobs

HERE = shapely.Point(jobs.EAST + 12.0, jobs.NORTH + 0.3)
AHEAD = shapely.Point(jobs.EAST + 25.0, jobs.NORTH)
AWAY = shapely.Point(jobs.EAST + 12.0, jobs.NORTH + 40.0)


def contacts():
    """Give two fittings on the first line and one away from it; one was not listened to."""
    return jobs.layer(
        [HERE, AHEAD, AWAY], contact_id=["C-1", "C-2", "C-9"], line_id=["L1", "L1", None],
        sound_level=[30.0, np.nan, 30.0], sound_unit=["db", "db", "db"],
    )  # fmt: skip


def read(**columns):
    readings = jobs.readings(**columns)
    return read_job({"routes": jobs.routes(), "readings": readings, "contacts": contacts()})


def told(job, column):
    return [
        f
        for f in jobs.about(job.faults, "readings", column)
        if "taped distance is not used" in f.problem
    ]


def test_a_tape_is_counted_from_its_fitting_and_toward_the_other():
    job = read(
        chainage_m=[3.0, 3.0, 3.0, 3.0], chainage_from=[None, "C-1", "C-1", "C-2"],
        chainage_toward=[None, None, "C-2", "C-1"],
    )  # fmt: skip
    assert job.readings["chainage_m"].tolist() == [3.0] * 4  # what was taped stays as it is
    scale = job.readings["tape_m"].to_numpy() - [3.0, 15.0, 15.0, 22.0]
    assert np.abs(scale).max() < 0.02  # of the local grid against the ground
    assert not told(job, "chainage_from")


def test_toward_alone_says_which_way_a_tape_ran():
    job = read(chainage_m=[1.0] * 4, chainage_from=["C-2"] * 4, chainage_toward=["C-1"] * 4)
    assert job.readings["tape_m"].to_numpy() == pytest.approx(24.0, abs=0.02)


def test_a_tape_toward_a_fitting_begins_at_the_start_of_the_route():
    job = read(chainage_m=[3.0] * 4, chainage_toward=["C-1"] * 4)
    assert job.readings["tape_m"].tolist() == [3.0] * 4


@pytest.mark.parametrize(("apart_m", "used"), [(0.07, True), (0.03, False)])
def test_a_direction_takes_two_fittings_five_centimetres_apart(apart_m, used):
    two = [HERE, shapely.Point(HERE.x + apart_m, HERE.y)]
    fittings = jobs.layer(two, contact_id=["C-1", "C-2"], line_id=["L1", "L1"],
                          sound_level=[30.0, 30.0], sound_unit=["db", "db"])  # fmt: skip
    readings = jobs.readings(chainage_m=[3.0] * 4, chainage_from=["C-1"] * 4,
                             chainage_toward=["C-2"] * 4)  # fmt: skip
    job = read_job({"routes": jobs.routes(), "readings": readings, "contacts": fittings})
    assert (job.readings["tape_m"].notna() == used).all()


@pytest.mark.parametrize(
    ("start", "toward", "column", "said"),
    [
        ("C-7", None, "chainage_from", "names no fitting that has a position: C-7"),
        ("C-9", None, "chainage_from", "C-9, is not on its line"),
        ("C-1", "C-8", "chainage_toward", "names no fitting that has a position: C-8"),
        ("C-1", "C-1", "chainage_toward", "is where its tape began"),
    ],
)
def test_a_tape_that_cannot_be_placed_is_left_out_with_a_fault(start, toward, column, said):
    job = read(chainage_m=[3.0] * 4, chainage_from=[start, None, None, None],
               chainage_toward=[toward, None, None, None])  # fmt: skip
    [fault] = told(job, column)
    assert said in fault.problem
    assert (fault.feature, fault.effect) == ("R0", "noted")  # its position is still there
    assert job.readings["tape_m"].isna().tolist() == [True, False, False, False]
    assert job.readings["reason"].isna().all()


def test_without_a_position_it_is_rejected():
    readings = jobs.readings(chainage_m=[3.0] * 4, chainage_from=["C-7", "C-1", None, None])
    bare = pd.DataFrame(readings.drop(columns="geometry"))
    job = read_job({"routes": jobs.routes(), "readings": bare, "contacts": contacts()})
    assert job.readings["reason"].notna().tolist() == [True, False, False, False]
    assert [f.effect for f in told(job, "chainage_from")] == ["rejected"]


def test_readings_stand_where_their_tapes_from_a_fitting_say():
    readings = jobs.readings(
        chainage_m=[1.0, 4.0, 7.0, 10.0], chainage_from=["C-1"] * 4, offset_m=[0, 0.5, 0, -0.5]
    )
    bare = pd.DataFrame(readings.drop(columns="geometry"))
    job = read_job({"routes": jobs.routes(), "readings": bare, "contacts": contacts()})
    placed = leakgeo.profile(job)["readings_on_route"]
    assert placed["chainage_m"].to_numpy() == pytest.approx([13.0, 16.0, 19.0, 22.0], abs=0.02)
    assert placed["offset_m"].to_numpy() == pytest.approx([0.0, 0.5, 0.0, -0.5], abs=0.01)
    there = placed.geometry.iloc[1]
    assert shapely.distance(there, job.routes.geometry.iloc[0]) == pytest.approx(0.5, abs=0.01)
