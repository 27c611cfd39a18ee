"""Reasons go to columns and back as they are, whatever text is in them; and are said whole."""

from __future__ import annotations

import math
import re

import numpy as np
import pandas as pd
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakgeo.reason import Reason, columns_of, reasons_in
from leakgeo.wording import with_texts, wording

HOSTILE = ["3 ft; 2 m {x}", "{{9 litres}}", "{ $mark }", "=1+1", "שעון 3 m", "a\nb",
           "\u2068x\u2069", '"; then"', "null", "{ LENGTH(3) }", "\\u0041", "", " "]  # fmt: skip
TEXTS = st.one_of(st.sampled_from(HOSTILE), st.text(st.characters(exclude_categories=["Cs"])))
PLAIN = st.one_of(
    TEXTS, st.none(), st.booleans(), st.integers(-(2**53), 2**53),
    st.floats(allow_nan=False, allow_infinity=False),
)  # fmt: skip
NAMES = st.sampled_from(["utility", "from", "to", "at_m", "values", "message", "self"])
REASONS = st.recursive(
    st.builds(lambda code, values: Reason(code, **values), TEXTS, st.dictionaries(NAMES, PLAIN)),
    lambda inner: st.builds(
        lambda code, then, values: Reason(code, *then, **values),
        TEXTS, st.lists(inner, max_size=2),
        st.dictionaries(NAMES, st.one_of(inner, st.lists(st.one_of(inner, PLAIN), max_size=3))),
    ),
    max_leaves=6,
)  # fmt: skip
REGISTRY = pint.UnitRegistry()


@given(st.lists(st.one_of(st.none(), REASONS), max_size=4))
def test_columns_give_back_the_same_reasons(reasons):
    frame = pd.DataFrame(columns_of("message", reasons))
    back = reasons_in(frame, "message")
    assert back == reasons
    assert [*map(hash, back)] == [*map(hash, reasons)]


@given(REASONS)
def test_any_reason_is_said(reason):
    said = wording().text(reason)
    assert isinstance(said, str)
    assert with_texts(pd.DataFrame(columns_of("why", [reason])), wording())["why"].item() == said


@given(TEXTS, TEXTS, st.sampled_from(["si", "us"]), st.sampled_from(["en", "es"]))
def test_names_are_said_as_they_are(name, owner, units, language):
    utility = Reason("utility_name", kind="gas", utility=name, owner=owner)
    held = wording(units, language).text(Reason("no_answer", utility=utility))
    assert held.startswith(f"GAS {name} ({owner}): ")
    there = Reason("also_on_other_line", line=name, chainage_m=3.0, probability=0.5)
    assert f" {name}, " in wording(units, language).text(Reason("also_possible", places=[there]))
    assert wording(units, language).text(Reason("as_given", text=name)) == name


@pytest.mark.parametrize("length", [2_501, 100_000])
def test_a_text_of_any_length_is_said(length):
    long = "n" * length
    assert wording().text(Reason("as_given", text=long)) == long
    assert long in wording().text(Reason("needs_help", because=[Reason("as_given", text=long)]))


@pytest.mark.parametrize(
    "unknown",
    [None, math.nan, math.inf, np.nan, np.float64("nan"), pd.NA, pd.NaT, np.float32("inf")],
)
def test_what_is_not_known_is_said_so(unknown):
    reason = Reason("improvement_pressure", from_kpa=unknown, to_kpa=690.0, effect="x")
    assert dict(reason.values)["from_kpa"] is None
    assert "from unknown towards its rating of 690 kPa" in wording().text(reason)
    assert "de desconocido hacia su presión nominal de 100 psi" in wording("us", "es").text(reason)


def test_values_of_numpy_and_pandas_are_plain():
    reason = Reason("x", a=np.int64(3), b=np.float32(0.5), c=np.bool_(True), d=pd.Timestamp("2026"))
    assert reason.values == (  # noqa: PD011
        ("a", 3), ("b", 0.5), ("c", True), ("d", "2026-01-01 00:00:00"))  # fmt: skip


@given(st.floats(0.0, 5000.0), st.floats(0.0, 0.99))
def test_a_length_is_that_of_pint_to_half_an_inch(metres, share):
    place = Reason("taped_place", by_m=metres, fitting="C-1", toward="C-2")
    said = wording("us").text(Reason("mark", place=place, within_foot=share))
    at = re.match(r"Mark (?:([\d,]+) ft ?)?(?:(\d+) in)? ?from C-1 toward C-2;", said)
    inches = 12 * int((at[1] or "0").replace(",", "")) + int(at[2] or 0)
    assert abs(inches - REGISTRY.Quantity(metres, "metre").m_as("inch")) <= 0.5 + 1e-6
    si = wording("si").text(Reason("mark", place=place, within_foot=share))
    assert abs(float(re.match(r"Mark ([\d.]+) m", si)[1]) - metres) <= 0.005 + 1e-9


@given(st.floats(1.0, 2000.0), st.floats(10.0, 1e6))
def test_pressure_and_loss_are_those_of_pint(kpa, litres):
    lost = Reason("loss_and_hole", loss_l=litres, low_l=litres, high_l=litres, hole_mm=25.4,
                  pressure_kpa=kpa)  # fmt: skip
    gallons, psi = re.match(
        r"Loses ([\d,.]+) gallons a day, like a hole of 1 in at (\d+) psi\.",
        wording("us").text(lost),
    ).groups()
    assert abs(int(psi) - REGISTRY.Quantity(kpa, "kilopascal").m_as("psi")) <= 0.5 + 1e-6
    exact = REGISTRY.Quantity(litres, "litre").m_as("gallon")
    assert float(gallons.replace(",", "")) == pytest.approx(exact, rel=0.051)
