"""The same readings under other names count once."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest

import leakgeo
from tests.town import TOWN

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
    assert readings["reason"].str.contains("copy of a reading of walk", na=False).sum() >= own
    assert int(readings["used"].sum()) == int(plain["readings_on_route"]["used"].sum())
    told = [f for f in result.job.faults if "copies, and are not used" in f.problem]
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
    assert not job.readings["reason"].str.contains("copy", na=False).any()


def test_good_jobs_have_no_copies(layers):
    assert not leakgeo.read_job(layers).readings["reason"].str.contains("copy", na=False).any()
