"""What is to be observed before air goes into a line, by the material of its pipe."""

from __future__ import annotations

import pytest

from leakgeo.find.advise.next_stops import no_more_stops
from leakgeo.find.evidence.air_cautions import during_air
from leakgeo.wording import wording


@pytest.mark.parametrize(
    ("material", "pipe"),
    [
        ("pvc", "This pipe is plastic"),
        ("pe", "This pipe is plastic"),
        ("unknown", "The material of this pipe is not known"),
        ("copper", None),
        ("asbestos_cement", None),
    ],
)
def test_air_comes_with_its_cautions_before_and_after_a_test(material, pipe):
    advice = no_more_stops(3.0, None, material, wants_more=True)
    for said in map(wording().text, (advice, during_air(material))):
        assert "oil-free" in said
        assert "bleed the air off slowly before anything is opened" in said
        assert ("shatter" in said) is (pipe is not None)
        assert (pipe or "") in said


def test_advice_without_air_has_no_cautions_of_air():
    for advice in (no_more_stops(3.0, "night", "pvc", wants_more=True),
                   no_more_stops(3.0, None, "pvc", wants_more=False)):  # fmt: skip
        assert "oil-free" not in wording().text(advice)
