"""Lengths as read off a tape, and probabilities."""

import itertools
import math
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakgeo.conversion import UNITS_BY_KIND, conversion
from leakgeo.deliver.views import colours, sentences
from leakgeo.reason import Reason
from leakgeo.wording import quantities as units
from leakgeo.wording import wording
from leakgeo.wording.quantities import loss_text, percent, tape_text

INCH_M = 0.0254  # exact since 1959
LENGTHS = st.floats(0, 1e5, allow_nan=False)


def inches(text: str) -> int:
    """Read feet and inches back."""
    parts = text.split()
    feet = int(parts[parts.index("ft") - 1]) if "ft" in parts else 0
    return 12 * feet + (int(parts[parts.index("in") - 1]) if "in" in parts else 0)


@given(LENGTHS)
def test_feet_and_inches_read_back_to_half_an_inch_and_carry_at_twelve(metres):
    text = tape_text(metres, "us")
    assert abs(inches(text) * INCH_M - metres) <= INCH_M / 2 * (1 + 1e-9)
    assert "12 in" not in text.replace("ft 12", "12") or inches(text) % 12 == 0
    assert " 12 in" not in f" {text}"


@given(LENGTHS)
def test_a_span_rounds_up_and_a_clearance_rounds_down(metres):
    slack = 2e-6 * INCH_M  # float error that must not cost an inch
    assert inches(tape_text(metres, "us", "up")) * INCH_M >= metres - slack
    assert inches(tape_text(metres, "us", "down")) * INCH_M <= metres + slack
    assert float(tape_text(metres, "si", "up").split()[0]) >= metres - 1e-7
    assert float(tape_text(metres, "si", "down").split()[0]) <= metres + 1e-7


@pytest.mark.parametrize("value", [None, math.nan, math.inf, "x"])
def test_what_is_not_known_says_so(value):
    assert tape_text(value, "us") == loss_text(value, "si") == "unknown"


def test_gallons_are_us_gallons():
    # 400,000 gallons a month of 30.4 days, the loss a US utility publishes for a 1/4 in hole
    assert loss_text(400_000 * 3.785411784 / 30.4, "us") == "13,000 gallons a day"


@given(st.floats(0, 1))
def test_probabilities_are_never_certain_and_stay_close(p):
    said = percent(p)
    assert said not in ("0 %", "100 %")
    if not said.startswith(("over", "under")):
        assert abs(int(said.removesuffix(" %")) / 100 - p) <= 0.005 + 1e-9


def test_no_wording_calls_a_dig_free():
    said = " ".join(str(v) for v in vars(sentences).values() if isinstance(v, str))
    assert "safe" not in said.lower()


def test_kinds_of_utility_differ_in_pattern_or_letter_not_in_colour_alone():
    letters = [look.letter for look in colours.UTILITY.values()]
    assert len(set(letters)) == len(letters)
    assert set(colours.UTILITY) >= {"electric", "gas_oil_steam", "sewer_drain", "unknown"}


# Units by their names in pint.
OF_PINT = {
    "m": "metre", "mm": "millimetre", "cm": "centimetre", "km": "kilometre", "in": "inch",
    "ft": "foot", "us_survey_ft": "survey_foot", "yd": "yard", "m2": "metre ** 2",
    "ft2": "foot ** 2", "kpa": "kilopascal", "pa": "pascal", "mpa": "megapascal", "bar": "bar",
    "mbar": "millibar", "atm": "atmosphere", "psi": "psi",
    "m_head": "kilogram / litre * metre * standard_gravity",
    "ft_head": "kilogram / litre * foot * standard_gravity", "l": "litre", "m3": "metre ** 3",
    "gal": "gallon", "kgal": "kilogallon", "imperial_gal": "imperial_gallon", "ft3": "foot ** 3",
    "ccf": "100 * foot ** 3",
}  # fmt: skip


# A ratio of decibels has no size.
@pytest.mark.parametrize("kind", sorted(UNITS_BY_KIND.keys() - {"level"}))
def test_factors_are_those_of_pint(kind):
    of = pint.UnitRegistry()
    sizes = UNITS_BY_KIND[kind]
    for unit, target in itertools.product(sizes, sizes):
        exact = (of(OF_PINT[unit]) / of(OF_PINT[target])).to("dimensionless").magnitude
        assert conversion(unit, target) == pytest.approx(exact, rel=4e-15), (unit, target)
        if target == next(iter(sizes)):
            assert conversion(unit, target) == float(f"{exact:.15g}")


@pytest.mark.parametrize(("unit", "target"), [("ft", "kpa"), ("furlong", "m")])
def test_a_unit_of_another_kind_is_an_error(unit, target):
    with pytest.raises(ValueError, match=f"from {unit} to {target}"):
        conversion(unit, target)


def test_people_read_the_published_figures():
    """An orifice of 1 in, 60 psi and 1,000 gallons, by the factors of NIST SP 811."""
    assert units.diameter_text(25.4, "us") == "1 in"
    assert units.pressure_text(60 * 6.894757, "us") == "60 psi"
    assert units.loss_text(1000 * 3.785412, "us") == "1,000 gallons a day"
    assert units.axis_unit("us") == ("ft", 0.3048)


@pytest.mark.parametrize(("reason", "si", "us"), [
    # A register's steps: both ends round to one figure.
    (Reason("loss", loss_l=7272.0, low_l=7245.0, high_l=7299.0),
     "Loses 7,300 litres a day (95 %: 7,200 to 7,300 litres).",
     "Loses 1,900 gallons a day."),
    (Reason("no_loss", hours=2.0, least_l=4.5),
     "No loss in 2 hours; a loss under 4.5 litres a day would not show.",
     "No loss in 2 hours; a loss under 1.2 gallons a day would not show."),
    (Reason("part_of_line", from_m=3.001, to_m=3.002), "From about 3.00 m of the line",
     "From about 9 ft 10 in of the line"),
])  # fmt: skip
def test_figures_have_no_digit_that_means_nothing(reason, si, us):
    assert (wording("si").text(reason), wording("us").text(reason)) == (si, us)


@given(st.floats(0.1, 1e6))
def test_a_loss_reads_the_same_in_a_sentence_as_by_itself(litres):
    said = Reason("loss", loss_l=litres, low_l=litres, high_l=litres)
    for unit in ("si", "us"):
        assert wording(unit).text(said) == f"Loses {loss_text(litres, unit)}."


@given(st.floats(0.2, 3000))
def test_a_diameter_is_good_to_a_sixteenth_of_an_inch_or_two_figures(millimetres):
    said = units.diameter_text(millimetres, "us").removesuffix(" in")
    told = float(sum(Fraction(part) for part in said.split()))
    inches = millimetres / 25.4
    assert abs(told - inches) <= (1 / 16 + 1e-6 if inches >= 0.5 else 0.051 * inches)
    assert len(said.replace(".", "").lstrip("0")) <= 2 or "." not in said
