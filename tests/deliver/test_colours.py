"""Utilities in the published colours, and told apart without any colour."""

from __future__ import annotations

import colorsys

import pytest

from leakgeo.deliver.colours import EXCAVATION, SURVEY, UTILITY
from leakgeo.job.schema import load_schema

# Michigan MCL 460.727: white proposed excavation, pink survey, red electric, yellow gas oil steam,
# orange communications, blue potable water, purple reclaimed, green sewer and drain. Hues in
# degrees that go by those names.
HUES = {
    "electric": (340, 370), "gas_oil_steam": (44, 60), "communications": (20, 40),
    "potable_water": (200, 240), "reclaimed_water": (265, 300), "sewer_drain": (130, 170),
}  # fmt: skip


def hue(colour):
    red, green, blue = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    h, light, saturation = colorsys.rgb_to_hls(red, green, blue)
    assert saturation > 0.4
    assert 0.2 < light < 0.7
    return h * 360


@pytest.mark.parametrize("kind", HUES)
def test_each_kind_has_its_published_colour(kind):
    low, high = HUES[kind]
    assert (hue(UTILITY[kind].colour) - low) % 360 <= high - low


def test_excavation_is_white_and_survey_pink():
    assert EXCAVATION == "#ffffff"
    assert 315 <= hue(SURVEY) <= 345


def test_patterns_and_letters_tell_all_kinds_apart_without_colour():
    looks = list(UTILITY.values())
    assert set(UTILITY) == set(load_schema("utilities").field("kind").codes)
    assert len({look.dash for look in looks}) == len(looks)
    assert len({look.letter for look in looks}) == len(looks)
    assert len({look.colour for look in looks}) == len(looks)
