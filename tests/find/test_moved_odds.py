"""What an air test and a calibration do to the odds of a run."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import leakgeo
from leakgeo.find.locate import step as locate
from tests.town import TOWN

# Lines of all kinds of evidence; with a selection a line has the result that it has in the town.
SOME = ["H-101", "H-102", "H-109", "H-117", "S-109", "M-1", "A-201", "A-205"]


@pytest.fixture(scope="module")
def plain(town):
    return town[0]


def test_a_calibration_widens_zones_and_is_told(plain, tmp_path):
    path = tmp_path / "calibration.toml"
    path.write_text("[calibration]\nexponent = 0.5\nexponent_sd = 0.1\ncases = 40\n")
    wide = leakgeo.locate(leakgeo.read_job(TOWN, lines=SOME), calibration=path)
    longer = [r.layers["search_zones"].groupby("line_id")["length_m"].sum() for r in (wide, plain)]
    assert len(longer[0]) > 4
    assert (longer[0] > longer[1].reindex(longer[0].index)).all()
    assert (wide.layers["lines"]["calibration_exponent"] == 0.5).all()
    assert plain.layers["lines"]["calibration_exponent"].isna().all()
    told = [f for f in wide.faults if f.layer == "calibration"]
    assert len(told) == 1
    assert "40 digs" in told[0].problem


def test_an_air_test_moves_the_odds_of_its_line_alone(plain, monkeypatch):
    monkeypatch.setattr(locate, "air_places", lambda *_: ({}, []))
    job = leakgeo.read_job(TOWN, lines=SOME)
    without = leakgeo.locate(job).layers["lines"].set_index("line_id")
    tested = set(leakgeo.confirm(plain).layers["air_tests"]["line_id"])
    assert tested < set(SOME)
    lines = plain.layers["lines"].set_index("line_id").loc[without.index]
    same = lines["leak_probability"].fillna(-1) == without["leak_probability"].fillna(-1)
    assert tested
    assert len(lines) == len(SOME)
    assert set(lines.index[~same]) == tested


def test_air_that_changes_nothing_at_the_mark_speaks_against_it(plain):
    before = plain.layers["lines"].set_index("line_id")
    tests = leakgeo.confirm(plain).layers["air_tests"]
    name = tests.loc[tests["verdict"] == "confirmed", "line_id"].iloc[0]
    job = leakgeo.read_job(TOWN, lines=[name])
    readings = job.readings.copy()
    own = readings["line_id"] == name
    # With the air on, the same is heard as with it off.
    off = readings[own & (readings["air"] == "off")].set_index("chainage_m")["sound_level"]
    on = own & (readings["air"] == "on")
    nearest = [off.iloc[np.abs(off.index - x).argmin()] for x in readings.loc[on, "chainage_m"]]
    readings.loc[on, "sound_level"] = nearest
    still = leakgeo.locate(replace(job, readings=readings)).layers["lines"].set_index("line_id")
    assert still.loc[name, "leak_probability"] < before.loc[name, "leak_probability"]
