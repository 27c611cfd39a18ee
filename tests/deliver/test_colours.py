"""Categories are told apart without some or all colours."""

from __future__ import annotations

import re
from itertools import combinations, pairwise

import pytest

from leakgeo.deliver.map.page import asset
from leakgeo.deliver.views.colours import INK, LEVELS, UTILITY, ZONES
from leakgeo.job.schema import load_schema
from tests.deliver.colour_vision import VISION, apart, contrast, lab

CLEAR = 20.0  # CIE 1976 colour difference from which two thin lines are told apart: our own choice


def test_patterns_and_letters_tell_all_kinds_apart_without_colour():
    looks = list(UTILITY.values())
    assert set(UTILITY) == set(load_schema("utilities").field("kind").codes)
    assert len({look.dash for look in looks}) == len(looks)
    assert len({look.letter for look in looks}) == len(looks)
    # One colour a class: gas, oil and steam share the yellow of the uniform colour code.
    yellow = {UTILITY[kind].colour for kind in ("gas", "oil", "steam", "gas_oil_steam")}
    assert len(yellow) == 1
    assert len({look.colour for look in looks}) == len(looks) - 3


def unlike(one: tuple[int, ...], other: tuple[int, ...]) -> bool:
    """Whether two patterns differ by number of dashes, length or share of the line."""
    if len(one) != len(other):
        return True
    lengths, shares = (
        [f(dash) for dash in (one, other)] for f in (sum, lambda d: sum(d[::2]) / max(sum(d), 1))
    )
    return max(lengths) >= 1.3 * min(lengths) > 0 or abs(shares[0] - shares[1]) >= 0.2


@pytest.mark.parametrize("vision", VISION)
def test_what_looks_alike_has_another_pattern(vision):
    alike = [
        (one.name, other.name)
        for one, other in combinations(UTILITY.values(), 2)
        if apart(one.colour, other.colour, vision) < CLEAR and not unlike(one.dash, other.dash)
    ]
    assert alike == []


@pytest.mark.parametrize("vision", VISION)
@pytest.mark.parametrize(("ramp", "step"), [(ZONES, 11.0), (LEVELS, 6.0)])
def test_order_is_seen_as_lightness(vision, ramp, step):
    light = [float(lab(colour, vision)[0]) for colour in ramp]
    assert min(b - a for a, b in pairwise(light)) >= step


def test_a_hold_is_white_on_dark():
    held = re.search(r"\.card \.held { background: (#\w{6})", asset("map.css"))
    assert min(contrast("#ffffff", ground) for ground in (held[1], INK)) >= 7.0  # WCAG 2.2, 1.4.6


def test_vision_agrees_with_what_is_known():
    """White and grey look alike to everybody; red and green of one lightness don't."""
    assert all(apart("#ffffff", "#808080", v) == pytest.approx(46.4, abs=0.3) for v in VISION)
    differ = {v: apart("#c8102e", "#00843d", v) for v in VISION}
    assert {v for v, far in differ.items() if far > 100} == {"all cones", "tritanopia"}
    assert differ["deuteranopia"] < CLEAR
    assert lab("#ff0000") == pytest.approx([53.24, 80.09, 67.20], abs=0.1)
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
