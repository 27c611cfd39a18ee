"""Tapes as people write them, in the column ``tape``."""

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

import leakgeo
from leakgeo.job.checks.tape_text import tape_m
from tests.battery.good import TAPED, layers


def with_tapes(write, **more):
    """Return a job whose taped readings say in ``tape`` what ``chainage_m`` said."""
    readings = pd.DataFrame(layers()["readings"].drop(columns="geometry"))
    readings = readings[readings["line_id"] == TAPED].copy()
    readings["tape"] = [write(metres) for metres in readings["chainage_m"]]
    readings = readings.drop(columns="chainage_m").assign(**more)
    return leakgeo.read_job({**layers(), "readings": readings})


@pytest.mark.parametrize(("write", "unit"), [
    (lambda metres: f"{metres / 0.3048:.4f}", "ft"),
    (lambda metres: f"{metres / 0.3048:.4f} ft", None),
    (lambda metres: f"{metres:.4f}".replace(".", ","), "m"),
])  # fmt: skip
def test_a_tape_places_a_stop_as_its_chainage_does(write, unit):
    job = with_tapes(write, tape_unit=unit)
    before = leakgeo.read_job(layers()).readings.query("line_id == @TAPED")
    assert job.readings["reason"].isna().all()
    assert job.readings["tape_m"].to_numpy() == pytest.approx(before["tape_m"].to_numpy(), abs=1e-3)


@pytest.mark.parametrize(("written", "code"), [
    ("12", "tape_without_unit"), ("by the tree", "tape_not_a_length"),
])  # fmt: skip
def test_a_tape_that_cant_be_read_rejects_its_stop(written, code):
    job = with_tapes(lambda _: written)
    assert {reason.code for reason in job.readings["reason"]} == {code}
    assert code in {fault.code for fault in job.faults}


def test_a_tape_that_contradicts_its_chainage_rejects_the_stop():
    job = with_tapes(lambda metres: f"{metres:.3f} m", chainage_m=0.0)
    codes = {str(reason.code) for reason in job.readings["reason"].dropna()}
    assert codes == {"tape_contradicts_chainage"}


@given(st.integers(0, 300), st.integers(0, 11))
def test_feet_and_inches_are_read_as_written(feet, inches):
    expected = pytest.approx((12 * feet + inches) * 0.0254)
    assert tape_m(f"{feet}' {inches}\"", None) == expected
    assert tape_m(f"{feet} ft {inches} in", "m") == expected
