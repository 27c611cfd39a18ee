"""Digging: tolerance zones as the texts have them, uniform colours, depth and spoil of a trench."""

from __future__ import annotations

import colorsys

import numpy as np
import pytest
from shapely import LineString, box

from leakgeo.deliver.views.colours import EXCAVATION, SURVEY, UTILITY
from leakgeo.dig.depth import excavation_depth_m
from tests.outside.table import outside

INCH, FOOT = 0.0254, 0.3048
X0, Y0 = 500_000.0, 4_200_000.0
EDGE_M = 0.3 + 0.6  # the hole's half width across the pipe: error ellipse and working room
ERROR_B_M = 0.5  # of quality level B, from the rules file


def severity_at(dig, gas_main, rule, gap_in, geometry, **utility):
    """Severity of a utility whose mark lies `gap_in` inches, less its error, from the hole."""
    x = X0 + EDGE_M + gap_in * INCH + ERROR_B_M
    row = gas_main(0, geometry=geometry(x), position_sd_m=0.05, **utility)
    return dig([row], rule=rule)[1]["severity"].tolist()


def line_at(x):
    return LineString([(x, Y0 - 9), (x, Y0 + 9)])


def outside_marks_from(x):
    return box(x, Y0 - 9, x + 2, Y0 + 9)


# Each case: rule, utility, what it is drawn as, inches from the mark to the zone's edge.
CASES = [
    # CGA Best Practices 5.19: width plus 18 in either side; a 12 in main: 6 + 18
    ("generic", {"width_m": 12 * INCH}, line_at, 24.0),
    ("generic", {}, outside_marks_from, 18.0),
    # California Government Code 4216(u): single mark 24 in; 10 in main 24 + 5; outside marks 24
    ("california_4216", {"width_m": None}, line_at, 24.0),
    ("california_4216", {"width_m": 10 * INCH}, line_at, 29.0),
    ("california_4216", {}, outside_marks_from, 24.0),
    # Michigan MCL 460.723: width plus 18 in
    ("michigan_460_723", {"width_m": 4 * INCH}, line_at, 20.0),
]

TOLERANCE = outside(
    "tolerance zone of a line, of a line with its size marked, of outside marks",
    against="width plus 18 in; 24 in, 24 in and half the size, 24 in; width plus 18 in",
    source="CGA Best Practices 5.19; California Gov. Code 4216(u), quoted; Michigan MCL 460.723",
    close="half an inch inside it holds the dig, half an inch outside it is near; 2 mm as drawn",
    within=0.002,
)


@TOLERANCE
@pytest.mark.parametrize("case", CASES)
def test_zone_ends_where_the_text_says(dig, gas_main, case):
    rule, utility, geometry, reach_in = case
    inside = severity_at(dig, gas_main, rule, reach_in - 0.5, geometry, **utility)
    beyond = severity_at(dig, gas_main, rule, reach_in + 0.5, geometry, **utility)
    assert (inside, beyond) == (["inside_tolerance"], ["near"])


@TOLERANCE
@pytest.mark.parametrize("case", CASES)
def test_drawn_zone_is_as_wide_as_the_text_and_the_error(dig, gas_main, case, within):
    rule, utility, geometry, reach_in = case
    x = X0 + 3.0
    row = gas_main(0, geometry=geometry(x), position_sd_m=0.05, **utility)
    drawn = dig([row], rule=rule)[1].geometry.iloc[0]
    assert drawn.bounds[0] == pytest.approx(x - reach_in * INCH - ERROR_B_M, abs=within)


@outside(
    "the caution zone is told",
    against="48 in from the facility",
    source="Michigan MCL 460.723",
    close="an inch",
)
def test_michigan_caution_zone_is_told(dig, gas_main):
    # The main is 0.2 m wide: its edge is 0.1 m from its middle.
    for gap_in, told in ((47, True), (49, False)):
        row = gas_main(0, geometry=line_at(X0 + EDGE_M + 0.1 + gap_in * INCH + ERROR_B_M))
        zone, _, _ = dig([row], rule="michigan_460_723")
        assert ("caution zone" in zone["cautions"]) is told


# Hues in degrees that go by the names of the uniform colours.
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


COLOURS = outside(
    "colours of utilities, of the proposed excavation and of survey",
    against="red electric, yellow gas, orange communications, blue water, purple reclaimed, "
    "green sewer; white excavation, pink survey",
    source="Michigan MCL 460.727; that it is APWA's code, ANSI Z535.1, from memory",
    close="by hue: 16° to 40° wide a name",
)


@COLOURS
@pytest.mark.parametrize("kind", HUES)
def test_each_kind_has_its_published_colour(kind):
    low, high = HUES[kind]
    assert (hue(UTILITY[kind].colour) - low) % 360 <= high - low


@COLOURS
def test_excavation_is_white_and_survey_pink():
    assert EXCAVATION == "#ffffff"
    assert 315 <= hue(SURVEY) <= 345


TRENCH = outside(
    "depth of the hole, and what is said of it at five feet and of the spoil",
    against="protection unless stable rock, or under 5 ft (1.52 m) and a competent person sees no "
    "sign of a cave-in; spoil 2 ft (0.61 m) from the edge",
    source="29 CFR 1926.652(a)(1), 1926.651(j)(2); room under the pipe: common practice, no source",
    close="1 mm",
)


@TRENCH
def test_shallow_and_deep_holes_are_told_apart_at_five_feet(dig, gas_main):
    # Cover, 25 mm of pipe, and 0.15 m of room under it.
    assert pytest.approx(1.52, abs=0.005) == 5 * FOOT
    shallow, _, _ = dig([gas_main(3.0)], route={"depth_m": 1.52 - 0.175 - 0.001})
    deep, _, _ = dig([gas_main(3.0)], route={"depth_m": 1.52 - 0.175 + 0.001})
    assert "competent person" in shallow["cautions"]
    assert "unless the hole is all in stable rock" in deep["cautions"]
    for zone in (shallow, deep):
        assert "keep spoil 0.61 m or more from the edge" in zone["cautions"]
        assert "1926.651(j)(2)" in zone["cautions"]
        assert "under pressure" in zone["cautions"]
        assert "local law" in zone["cautions"]


@TRENCH
def test_depth_goes_under_the_pipe_and_takes_a_wide_one_where_not_known():
    # 1.2 m cover, 100 mm pipe, 0.15 m room under it.
    assert excavation_depth_m([1.2], [100.0])[0] == pytest.approx(1.45, abs=1e-3)
    assert excavation_depth_m([1.2], [np.nan])[0] >= excavation_depth_m([1.2], [100.0])[0]
    assert np.isnan(excavation_depth_m([-1.0], [100.0])[0])


@outside(
    "without a positive response of every owner the dig is held",
    against="no digging before every owner has answered",
    source="Michigan MCL 460.727(3)",
    close="every owner",
)
@pytest.mark.parametrize("response", [None, "none"])
def test_an_owner_who_has_not_answered_holds_the_dig(dig, gas_main, response):
    answered, _, _ = dig([gas_main(3.0)])
    # All else is in order, the time of an answer too: silence alone holds it.
    held, _, _ = dig([gas_main(3.0), gas_main(3.0, response=response, utility_id="G-2")])
    assert answered["dig_status"] == "no_hold_recorded"
    assert held["dig_status"] == "hold"
    assert "G-2" in held["holds"]
    assert "its owner has not answered" in held["holds"]
