"""What is to be observed before air goes into a line, by the material of its pipe."""

from __future__ import annotations

import pytest

from leakgeo.find.evidence.air_cautions import before_air, during_air
from leakgeo.reason import Reason
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
    place = Reason("start_of_route")
    advice = Reason("air_on_and_off", before_air(material), place=place)
    for said in map(wording().text, (advice, during_air(material))):
        assert "oil-free" in said
        assert "bleed the air off slowly before anything is opened" in said
        assert ("shatter" in said) is (pipe is not None)
        assert (pipe or "") in said


def test_only_advice_with_air_has_its_cautions(town):
    actions = town[0]["next_actions"]
    cautioned = actions["message"].str.contains("oil-free")
    assert ((actions["action"] == "air") == cautioned).all()
    assert cautioned.any()
