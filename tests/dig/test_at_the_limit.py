"""What holds or warns exactly at a limit, and just beyond it."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from leakgeo.dig.alternative_sites import _grid_azimuth_deg
from leakgeo.dig.cautions import _depths
from leakgeo.dig.conflicts import _action, _severity
from leakgeo.dig.facilities import prepare_facilities
from leakgeo.dig.headline import _next_action
from leakgeo.dig.rules import Rule, assumptions, load_rules
from leakgeo.reason import Reason
from tests.dig.conftest import METRES, X0, Y0


def test_a_hole_of_five_feet_is_deep():
    # 29 CFR 1926.652(a)(1)(ii): less than 5 feet (1.52 m).
    depths = [1.52, np.nextafter(1.52, 0.0), np.nan]
    codes = [reason.code for _, reason in _depths(depths)]
    assert codes == ["dig_deep", "dig_shallow", "dig_depth_unknown"]


def test_a_hole_that_touches_a_tolerance_zone_is_inside():
    margin = [0.0, -1.0, np.nextafter(0.0, 1.0), 0.5]
    pairs = pd.DataFrame({"level": "B", "reason": None, "margin_m": margin})
    assert _severity(pairs).tolist() == ["inside_tolerance"] * 2 + ["near"] * 2


def test_a_utility_at_the_bottom_of_the_hole_is_within_it():
    codes = [_action("near", 1.0, gap).then[0].code for gap in (0.0, 1e-9, -0.1, np.nan)]
    assert codes == ["utility_within_hole", "utility_below_hole", "utility_within_hole",
                     "utility_depth"]  # fmt: skip


def test_only_lines_and_points_without_a_width_are_single_marks():
    square = shapely.box(X0, Y0, X0 + 1, Y0 + 1)
    shapes = [square, shapely.LineString([(X0, Y0), (X0, Y0 + 9)]), shapely.Point(X0, Y0)]
    utilities = gpd.GeoDataFrame({"utility_id": ["A", "B", "C"]}, geometry=shapes, crs=METRES)
    rule = Rule("marks", "", 0.5, "", "", "", unknown_width="mark")
    found = prepare_facilities(utilities, rule, assumptions())
    assert found.width_unknown.tolist() == [False, True, True]
    assert found.rule_case.tolist()[1:] == ["single mark"] * 2
    assert found.rule_case[0] != "single mark"


def test_an_own_tolerance_that_is_less_is_pointed_out(dig, gas_main):
    least = load_rules()["generic"].tolerance_m
    for own, warned in ((least / 2, True), (least, False), (least * 2, False), (np.nan, False)):
        sheet, _, _ = dig([gas_main(0, tolerance_m=own)])
        assert ("own_tolerance_less" in sheet["caution_codes"]) is warned, own


def test_only_a_hole_without_a_direction_is_warned_of(dig, gas_main, mark):
    for azimuth, warned in ((np.nan, True), (0.0, False)):
        sheet, _, _ = dig([gas_main()], marks=[mark(azimuth_deg=azimuth)])
        assert ("direction_unknown" in sheet["caution_codes"]) is warned


def test_the_drawn_zone_of_a_utility_ends_near_the_hole(dig, gas_main):
    _, conflicts, done = dig([gas_main()])
    hole, given = shapely.total_bounds(done["dig_zones"].geometry.to_numpy()), assumptions()
    # It is drawn as far as a utility is searched for, and half a metre more.
    reach = given.reach_m + given.widest_m / 2 + 0.5
    drawn = shapely.total_bounds(conflicts.geometry.to_numpy())
    assert drawn[1::2] == pytest.approx([hole[1] - reach, hole[3] + reach], abs=1e-6)


def test_the_next_action_is_the_first_in_the_order_of_work():
    holds = [("L", Reason(code)) for code in ("cover_not_known", "no_answer", "not_located")]
    assert _next_action(holds).code == "do_listen_on"
    assert _next_action(holds[:2]).code == "do_get_answer"
    assert _next_action(holds[:1]).code == "do_probe_depth"
    assert _next_action([("L", Reason("of_another_package"))]).code == "do_correct_mark"


def test_the_direction_at_a_bend_is_that_between_the_neighbours():
    bend = pd.DataFrame({"dig": 0, "x": [0.0, 0.0, 0.0, 1.0, 2.0], "y": [0.0, 1.0, 2.0, 2.0, 2.0]})
    assert _grid_azimuth_deg(bend).tolist() == pytest.approx([0.0, 0.0, 45.0, 90.0, 90.0])
