"""Utilities are told apart without any colour."""

from __future__ import annotations

from leakgeo.deliver.views.colours import UTILITY
from leakgeo.job.schema import load_schema


def test_patterns_and_letters_tell_all_kinds_apart_without_colour():
    looks = list(UTILITY.values())
    assert set(UTILITY) == set(load_schema("utilities").field("kind").codes)
    assert len({look.dash for look in looks}) == len(looks)
    assert len({look.letter for look in looks}) == len(looks)
    # One colour a class: gas, oil and steam share the yellow of the uniform colour code.
    yellow = {UTILITY[kind].colour for kind in ("gas", "oil", "steam", "gas_oil_steam")}
    assert len(yellow) == 1
    assert len({look.colour for look in looks}) == len(looks) - 3
