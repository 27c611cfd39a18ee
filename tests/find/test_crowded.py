"""Lines with very many readings: which of them are used, and what is reported."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import leakgeo
from leakgeo.find.levels import crowded
from leakgeo.job.read import read_job
from tests.job import jobs


def walked(size, walks=1, length_m=20.0):
    """Give readings of walks over the same stretch, as `beyond_the_most` takes them."""
    each = np.linspace(0.0, length_m, size // walks)
    return pd.DataFrame(
        {"reading_id": [f"{k:05d}" for k in range(len(each) * walks)], "line": 0,
         "walk": np.repeat(np.arange(walks), len(each)), "chainage_m": np.tile(each, walks)}
    )  # fmt: skip


def kept(readings, good=None):
    """Give the rows that are used."""
    good = np.ones(len(readings), dtype=bool) if good is None else good
    return np.flatnonzero(pd.isna(crowded.beyond_the_most(readings, good)) & good)


def taped():
    """Give 1,500 taped readings on the first line, its leak at 15 m."""
    return jobs.heard(1500, chainage_m=np.linspace(1, 29, 1500).round(3))


@pytest.fixture(scope="module")
def dense():
    """Give the profile of a line with 1,500 readings beside one with twelve."""
    other = jobs.heard(reading_id=[f"X{k}" for k in range(12)], line_id=["L2"] * 12)
    other = other.set_geometry(other.translate(105.0))
    readings = pd.concat([taped(), other], ignore_index=True)
    return leakgeo.profile(read_job({"routes": jobs.routes(), "readings": readings}))


def test_a_line_of_as_many_readings_as_are_used_keeps_all_of_them():
    readings = walked(crowded.FROM_READINGS, length_m=1.0)
    assert len(kept(readings)) == crowded.FROM_READINGS
    more = walked(crowded.FROM_READINGS + 2, length_m=1.0)
    assert len(kept(more)) < crowded.FROM_READINGS / 10
    unused = np.arange(len(more)) >= 2
    assert len(kept(more, unused)) == crowded.FROM_READINGS


def test_readings_that_are_far_apart_are_all_used():
    assert len(kept(walked(1200, length_m=600.0))) == 1200


def test_of_a_place_a_few_stops_of_each_walk_are_kept_evenly():
    x = walked(3000, walks=2)["chainage_m"].to_numpy()[kept(walked(3000, walks=2))]
    cell = np.bincount(np.floor(x / crowded.CELL_M).astype(int))
    assert set(cell[:-1]) == {2 * crowded.MOST_STOPS}
    assert np.diff(np.unique(x)).max() < 1.5 * crowded.CELL_M / crowded.MOST_STOPS


def test_a_very_long_line_has_longer_cells(monkeypatch):
    readings = walked(2000, length_m=400.0)
    assert len(kept(readings)) > 1500
    monkeypatch.setattr(crowded, "MOST_ON_LINE", 500)
    rows = kept(readings)
    assert 250 < len(rows) <= 500
    assert np.diff(readings["chainage_m"].to_numpy()[rows]).max() < 1.5
    [why] = set(crowded.beyond_the_most(readings, np.ones(2000, dtype=bool))) - {None}
    assert dict(why.values) == {
        "within_m": 4.0, "stops": 4, "most": 12, "readings": 2000, "kept": len(rows)}  # fmt: skip


def test_the_walks_with_the_most_readings_count():
    # Half a metre of 30 walks, of which the last ten have more readings than the others.
    many = walked(3000, walks=30, length_m=0.49)
    some = many[(many["walk"] >= 20) | (many["reading_id"].str[-1] != "0")].reset_index(drop=True)
    assert set(some["walk"].to_numpy()[kept(some)]) <= set(range(20, 30))
    why = crowded.beyond_the_most(some, np.ones(len(some), dtype=bool))
    codes = pd.Series([r and r.code for r in why])
    assert (codes[some["walk"].between(15, 19)] == "more_walks_than_used").all()
    assert (codes[some["walk"] < 15].dropna() == "more_readings_than_used").all()


def test_the_order_of_the_rows_does_not_matter():
    readings = walked(2500, walks=5)
    turned = readings.sample(frac=1.0, random_state=1).reset_index(drop=True)
    names = set(readings["reading_id"].to_numpy()[kept(readings)])
    assert set(turned["reading_id"].to_numpy()[kept(turned)]) == names


def test_what_is_not_used_is_counted_in_one_fault_of_the_line(dense):
    table = dense["readings_on_route"]
    used, code = table["used"].to_numpy(), table["reason_code"]
    assert used[-12:].all()
    assert (code[~table["used"]] == "more_readings_than_used").all()
    fault, *others = [f for f in dense.faults if f.code == "more_readings_than_used"]
    assert not others
    assert fault.line_id == "L1"
    assert fault.features == (~used).sum() > 1000
    assert dict(fault.reason.values)["kept"] == used[:-12].sum()
    assert "225 of the 1,500 readings" in fault.problem


def test_a_line_is_thinned_alike_alone_and_among_others(dense):
    table = dense["readings_on_route"]
    job = read_job({"routes": jobs.routes(), "readings": taped()})
    alone = leakgeo.profile(job)["readings_on_route"]
    assert alone["used"].tolist() == table["used"].tolist()[:1500]


def test_the_leak_of_a_crowded_line_is_found(dense):
    located = leakgeo.locate(dense)
    place = located["profile"].query("line_id == 'L1'")
    at = place["chainage_m"].to_numpy()[place["leak_density_per_m"].argmax()]
    assert at == pytest.approx(15.0, abs=0.3)
