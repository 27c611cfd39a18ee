"""Water: what is lost through a hole, how it goes with pressure, and what can't be avoided."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakgeo.find.loss.meter_tests import losses
from leakgeo.find.loss.orifice import (
    equivalent_hole,
    loss_at_pressure,
)
from tests.find.test_meter import GALLON_L, INCH_MM, PSI_KPA, metered
from tests.outside.table import outside


@outside(
    "the hole that a loss at 60 psi takes",
    against="1/32 to 1/4 in: 6,300, 25,000, 100,000, 225,000, 400,000 gallons a month",
    source="a US city's public utility page; months of 30.4 days",
    close="{within:.0%} of the hole",
    within=0.01,
)
@pytest.mark.parametrize(
    ("inches", "gallons_a_month"),
    [(1 / 32, 6_300), (1 / 16, 25_000), (1 / 8, 100_000), (3 / 16, 225_000), (1 / 4, 400_000)],
)
def test_losses_at_60_psi_are_those_of_the_published_table(inches, gallons_a_month, within):
    back = equivalent_hole(gallons_a_month / 30.4 * GALLON_L, 60 * PSI_KPA)
    assert back == pytest.approx(inches * INCH_MM, rel=within)


PRESSURE = outside(
    "loss at another pressure: (P1 / P0) to the N1, 0.5 in theory, 0.36 to 2.95 in the field",
    against="the orifice's own law for 0.5; doubling the pressure, for the range",
    source="Water Loss Control, 2008, p. 141",
    close="1e-6",
)


@PRESSURE
@given(st.floats(50, 1500), st.floats(50, 1500), st.floats(0.36, 2.95))
def test_pressure_and_back_gives_the_same_loss(here, there, n1):
    away = loss_at_pressure(100.0, here, there, n1)
    assert loss_at_pressure(away, there, here, n1) == pytest.approx(100.0)
    assert away == pytest.approx(100.0 * (there / here) ** n1)


@PRESSURE
def test_the_exponent_of_theory_is_that_of_the_orifice():
    doubled = (equivalent_hole(1.0, 400.0) / equivalent_hole(1.0, 800.0)) ** 2
    assert doubled == pytest.approx(2**0.5)
    assert loss_at_pressure(1.0, 400.0, 800.0) == pytest.approx(doubled)
    assert loss_at_pressure(1.0, 400.0, 800.0, n1=0.36) == pytest.approx(1.2834, abs=5e-5)
    assert loss_at_pressure(1.0, 400.0, 800.0, n1=2.95) == pytest.approx(7.7275, abs=5e-5)


@outside(
    "a meter that moves over two hours of no use shows a probable leak; one that stands, none",
    against="any change is a probable leak",
    source="US EPA news release",
    close="the smallest step of the meter",
)
def test_any_change_over_two_hours_is_a_loss():
    changed, same = (losses(metered((100, end, 2, False)))["L1"] for end in (101, 100))
    assert (changed.verdict, same.verdict) == ("loss_shown", "none_within_resolution")
