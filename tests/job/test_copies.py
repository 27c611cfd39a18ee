"""The same readings under other names count once."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

import leakgeo
from leakgeo.job.read import read_job
from leakgeo.sound.spreading import Spreading, relative_level
from tests.job import jobs
from tests.real_routes import real_layers
from tests.town import TOWN

LEAK_M = 12.3
COPY = {"copy_of_reading", "same_as_earlier_reading"}
N = 24
LINE = "S-110"  # its walks limit it, so that more evidence would locate it


@pytest.fixture(scope="module")
def layers():
    return {name: gpd.read_file(TOWN, layer=name) for name in gpd.list_layers(TOWN)["name"]}


@pytest.fixture(scope="module")
def plain(layers):
    return located(layers)


def located(layers):
    return leakgeo.locate(leakgeo.read_job(layers, lines=[LINE]))


def with_copies(layers, change, copies=3):
    readings = layers["readings"]
    own = readings[readings["line_id"] == LINE]
    again = []
    for k in range(1, copies + 1):
        copy = own.copy()
        copy["reading_id"] = copy["reading_id"] + f"#{k}"
        copy["walk_id"] = copy["walk_id"].astype("str") + f"#{k}"
        again.append(change(copy))
    return {**layers, "readings": pd.concat([readings, *again], ignore_index=True)}


def moved(frame):
    """By less than a GeoJSON of seven decimals keeps."""
    return frame.assign(geometry=frame.geometry.translate(0.01, -0.01))  # feet


CHANGES = {
    "other names": lambda frame: frame,
    "other names, and places written with fewer digits": moved,
    "other names, in another order": lambda frame: frame.iloc[::-1],
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_copies_under_other_names_change_nothing(layers, plain, change):
    copied = with_copies(layers, change)
    result = located(copied)
    for name in ("marks", "lines", "search_zones"):
        assert (
            result[name]
            .drop(columns="geometry", errors="ignore")
            .equals(plain[name].drop(columns="geometry", errors="ignore"))
        ), name
    readings = result["readings_on_route"]
    own = len(layers["readings"].query("line_id == @LINE"))
    assert (readings["reason_code"] == "copy_of_reading").sum() >= own
    assert int(readings["used"].sum()) == int(plain["readings_on_route"]["used"].sum())
    told = [f for f in result.job.faults if f.code == "copied_readings"]
    assert {f.layer for f in told} == {"readings"}
    assert len(told) >= 3


def test_copies_without_times_and_order_are_found_as_whole_walks(layers):
    blank = {**layers, "readings": layers["readings"].assign(time=pd.NaT, seq=pd.NA)}
    first = located(blank)
    result = located(with_copies(blank, lambda frame: frame))
    assert result["marks"]["chainage_m"].equals(first["marks"]["chainage_m"])
    assert result["lines"]["leak_probability"].equals(first["lines"]["leak_probability"])


def test_a_level_that_two_crews_read_at_one_stop_is_two_readings(layers):
    readings = layers["readings"]
    own = readings[readings["line_id"] == LINE].assign(time=pd.NaT)
    other = own.iloc[::4].assign(walk_id="second crew")
    other["reading_id"] = other["reading_id"] + "#2"
    chance = np.random.default_rng(3)
    # Every other level is the same by chance.
    other["sound_level"] += np.where(chance.random(len(other)) < 0.5, 0.0, 2.0)
    job = leakgeo.read_job({**layers, "readings": pd.concat([own, other], ignore_index=True)})
    assert not COPY & set(jobs.codes(job.readings))


def test_good_jobs_have_no_copies(layers):
    assert not COPY & set(jobs.codes(leakgeo.read_job(layers).readings))


def walk(name="A", times=True, more=0.0, seed=1, **columns):
    """Give a walk of 24 stops over a leak; `more` is added to its levels."""
    x = np.arange(1.0, 1.0 + N)
    level = 60 + relative_level(x - LEAK_M, Spreading(0.9, 0.8, 0.4, 1.5, 10**-1.4))
    shown = (level + np.random.default_rng(seed).normal(0, 1.0, N)).round() + more
    begin = pd.Timestamp("2025-03-31T08:00Z")
    time = [begin + pd.Timedelta(seconds=20 * i) if times else pd.NaT for i in range(N)]
    return jobs.layer(
        shapely.points(jobs.EAST + x, np.full(N, jobs.NORTH)),
        **{"reading_id": [f"{name}{i}" for i in range(N)], "line_id": ["L1"] * N,
           "walk_id": [name] * N, "seq": np.arange(N), "sound_level": shown,
           "sound_unit": ["db"] * N, "sensor": ["contact_probe"] * N, "gain_db": [20.0] * N,
           "time": pd.to_datetime(time, utc=True), **columns},
    )  # fmt: skip


def job_of(*walks):
    lines = jobs.routes(
        geometry=[shapely.LineString([(jobs.EAST, jobs.NORTH + 60 * k),
                                      (jobs.EAST + 30, jobs.NORTH + 60 * k)]) for k in (0, 1)]
    )  # fmt: skip
    return read_job({"routes": lines, "readings": pd.concat(walks, ignore_index=True)})


def rejected(job) -> dict[str, int]:
    """Count copies by walk."""
    table = job.readings
    copies = table[[code in COPY for code in jobs.codes(table)]]
    return copies.groupby("walk_id").size().to_dict()


def test_a_part_of_a_timed_walk_is_found_and_a_longer_walk_keeps_its_own():
    part = walk("B").iloc[:5]
    assert rejected(job_of(walk("A"), part)) == {"B": 5}
    assert rejected(job_of(part, walk("A"))) == {"A": 5}


def test_a_single_reading_of_a_walk_is_found_by_its_time():
    assert rejected(job_of(walk("A"), walk("B").iloc[1:2])) == {"B": 1}


def test_a_copy_that_names_no_line_or_lost_its_times_is_found():
    assert rejected(job_of(walk("A"), walk("B", line_id=[None] * N))) == {"B": N}
    assert rejected(job_of(walk("A"), walk("B", times=False))) == {"B": N}


def test_a_renamed_reading_of_one_walk_is_told_as_before():
    job = job_of(walk("A"), walk("A", reading_id=[f"Z{i}" for i in range(N)]))
    assert rejected(job) == {"A": N}


@pytest.mark.parametrize(
    "other",
    [
        {"more": 1.0},  # another level
        {"sensor": ["ground_plate"] * N},
        {"band": ["low"] * N},
        {"air": ["on"] * N},
        {"gain_db": [30.0] * N},
        {"time": pd.to_datetime(["2025-04-01T08:00Z"] * N)},  # another day
    ],
)
def test_what_differs_is_no_copy(other):
    assert rejected(job_of(walk("A"), walk("B", **other))) == {}


def test_a_day_instead_of_a_time_tells_no_reading_from_another():
    day = pd.to_datetime(["2025-03-31"] * N, utc=True)
    apart = walk("B", seed=9, time=day)
    assert rejected(job_of(walk("A", time=day), apart)) == {}
    assert rejected(job_of(walk("A", time=day), walk("B", time=day))) == {"B": N}


def test_walks_at_the_end_of_a_display_are_no_copies_of_each_other():
    quiet = {"times": False, "sound_level": [0.0] * N}
    assert rejected(job_of(walk("A", **quiet), walk("B", **quiet))) == {}


def test_many_readings_at_one_spot_are_soon_done():
    names = [f"R{i}" for i in range(3000)]
    pile = jobs.readings(3000, reading_id=names, walk_id=names, sound_level=[40.0] * 3000)
    pile = pile.set_geometry([shapely.Point(jobs.EAST + 5, jobs.NORTH)] * 3000)
    job = read_job({"routes": jobs.routes(), "readings": pile})
    assert job.readings["reason"].isna().all()


def test_good_simulated_lines_raise_no_false_alarm():
    """440 walks of 220 lines without times, and a second pass of each, 1 dB from the first."""
    layers = {name: real_layers()[name] for name in ("routes", "readings")}
    first = layers["readings"].drop(columns="time", errors="ignore")
    noise = np.random.default_rng(7).normal(0, 1.0, len(first))
    second = first.assign(
        reading_id=first["reading_id"].astype(str) + "/2",
        walk_id=first["walk_id"].astype(str) + "/2",
        sound_level=(first["sound_level"] + noise).round().clip(lower=0.0),
    )
    both = pd.concat([first, second], ignore_index=True)
    found = rejected(read_job({"routes": layers["routes"], "readings": both}))
    walks = both["walk_id"].nunique()
    assert walks >= 800
    assert len(found) < 0.01 * walks


@pytest.mark.parametrize(("tapes", "copies"), [((14.0, 14.0), 1), ((14.0, 15.5), 0)])
def test_stops_of_one_tap_on_a_screen_are_two_if_their_tapes_are(tapes, copies):
    time = pd.to_datetime(["2025-03-31T08:00:07Z"] * 2)
    readings = jobs.readings(2, sound_level=[40.0] * 2, chainage_m=list(tapes), time=time,
                             walk_id=["W"] * 2)  # fmt: skip
    readings = readings.set_geometry([shapely.Point(jobs.EAST + 14.6, jobs.NORTH)] * 2)
    job = read_job({"routes": jobs.routes(), "readings": readings.set_crs(jobs.CRS)})
    codes = jobs.codes(job.readings)
    assert codes.count("same_as_earlier_reading") == copies
