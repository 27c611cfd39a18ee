"""Private lines, marks that were not found, pressure and air, stretches that are no hole."""

from __future__ import annotations

import pandas as pd
import pytest
import shapely
from shapely import LineString

from leakgeo.dig.clearance import CARD_COLUMNS, HOLD, NO_HOLD
from leakgeo.dig.depth import excavation_depth_m
from leakgeo.dig.headline import _next_action
from leakgeo.dig.holds import utility_names
from leakgeo.job.schema import load_schema
from leakgeo.reason import Reason
from tests.dig.conftest import DEFAULTS


def test_with_the_defaults_a_dig_is_on_hold_for_what_was_not_given(dig, gas_main):
    zone, _, _ = dig([gas_main(3.0)], **DEFAULTS)
    assert zone["dig_status"] == HOLD
    assert zone["hold_codes"] == ["ticket_not_checked", "line_under_pressure"]
    assert "not checked: notice and validity" in zone["holds"]
    assert "under pressure" in zone["holds"]


@pytest.mark.parametrize(
    ("route", "air", "said"),
    [
        ({}, None, "the line is under pressure"),
        ({"pressure_kpa": None}, None, "pressure in the line is not known"),
        ({"pressure_kpa": -3.0}, None, "pressure in the line is not known"),
        ({"pressure_kpa": 0.0}, "on", "air was injected"),
    ],
)
def test_pressure_and_air_hold_until_the_line_is_shut_off(dig, gas_main, route, air, said):
    live, _, _ = dig([gas_main(3.0)], route=route, air=air, isolated=())
    assert said in live["holds"]
    shut, _, _ = dig([gas_main(3.0)], route=route, air=air, isolated=("L-1",))
    assert shut["dig_status"] == NO_HOLD


def test_a_line_at_rest_without_air_is_not_held_for_it(dig, gas_main):
    zone, _, _ = dig([gas_main(3.0)], route={"pressure_kpa": 0.0}, air="off", isolated=())
    assert zone["dig_status"] == NO_HOLD


@pytest.mark.parametrize(
    ("changed", "holds"),
    [
        ({"mark_seen": False}, True),
        ({"mark_seen": None}, False),  # a mark of level B was surveyed, and so was found
        ({"mark_seen": None, "quality_level": "C"}, True),
        ({"mark_seen": True, "quality_level": "C"}, False),
        ({"mark_seen": None, "quality_level": "D"}, True),
        ({"mark_seen": False, "response": "clear"}, False),
    ],
)
def test_marked_but_no_mark_in_the_expected_area_holds(dig, gas_main, changed, holds):
    zone, _, _ = dig([gas_main(3.8, **changed)])
    assert ("no mark inside the expected area" in zone["holds"]) is holds


def test_a_private_line_is_held_until_it_is_marked(digs, gas_main):
    answers = ["clear", "not_present", "none", None]
    found, _ = digs([[gas_main(3.0, private="yes", response=answer)] for answer in answers])
    for zone, conflicts in found:
        assert "it is private and no one-call centre marks it" in zone["holds"]
        assert conflicts["private"].item() == "yes"


def test_a_private_line_that_was_marked_needs_no_ticket(dig, gas_main):
    zone, _, _ = dig([gas_main(3.0, private="yes", ticket=None)])
    assert zone["dig_status"] == NO_HOLD


@pytest.mark.parametrize("private", [None, "unknown", "", "perhaps", True, False])
def test_a_line_that_may_be_private_is_held_until_it_is_marked(digs, gas_main, private):
    answers = ["clear", "not_present", "none", None, "marked"]
    (*held, (marked, _)), _ = digs(
        [[gas_main(3.0, private=private, response=answer)] for answer in answers]
    )
    for zone, conflicts in held:
        assert "it is not known whether it is private" in zone["holds"]
        assert conflicts["private"].item() == "unknown"
    assert marked["dig_status"] == NO_HOLD


@pytest.mark.parametrize("private", [None, "unknown", "no"])
def test_only_a_line_known_to_be_private_needs_no_ticket(dig, gas_main, private):
    zone, _, _ = dig([gas_main(3.0, private=private, ticket=None)])
    assert "its ticket has no number" in zone["holds"]


def test_every_sheet_warns_of_lines_that_nobody_marks(dig, gas_main):
    for rows in ([gas_main(3.0)], [], None):
        assert "often get no marks" in dig(rows)[0]["cautions"]


# Every field of a route: what a ready dig rests on, and what may be missing and why.
ROUTE_MUST = {"line_id": "cover", "depth_m": "cover", "pressure_kpa": "pressure"}
# A wide pipe is taken where the diameter is not known; the trace's error is in the mark's; the
# rest says nothing of the dig.
ROUTE_MAY = {"material", "diameter_mm", "position_sd_m", "installed_year", "wall_mm", "address",
             "work_order", "reason", "geometry"}  # fmt: skip


def test_the_walk_goes_over_every_field_of_a_route(small_result):
    fields = set(small_result(None).job.routes.columns)
    assert fields == set(ROUTE_MUST) | ROUTE_MAY
    assert set(load_schema("routes").columns) <= fields


@pytest.mark.parametrize("blank", [None, float("nan")])
@pytest.mark.parametrize("field", ROUTE_MUST)
def test_a_blank_field_of_the_route_holds(dig, gas_main, field, blank):
    at_rest = {"pressure_kpa": 0.0}
    assert dig([gas_main(3.0)], route=at_rest, isolated=())[0]["dig_status"] == NO_HOLD
    zone, _, _ = dig([gas_main(3.0)], route={**at_rest, field: blank}, isolated=())
    assert zone["dig_status"] == HOLD
    assert ROUTE_MUST[field] in zone["holds"]


def test_the_fixture_has_every_column_of_the_utilities_and_marks(gas_main, mark):
    assert set(load_schema("utilities").columns) <= set(gas_main())
    assert set(load_schema("marks").columns) - set(CARD_COLUMNS) <= {
        *mark(),
        "message",
        "held_by",
        "next_action",
        "evidence",
        "from_fitting",
        "toward_fitting",
    }


@pytest.mark.parametrize("status", ["keep_listening", "ambiguous", "rejected", None])
def test_a_stretch_to_search_is_not_a_hole(dig, gas_main, mark, status):
    zone, conflicts, done = dig(
        [gas_main(0.5)], status=status, marks=[mark(along_95_m=60.0)]
    )  # fmt: skip
    assert zone["geometry"] is None
    assert zone["dig_status"] == HOLD
    assert "stretch to search, not a place to dig" in zone["holds"]
    assert "could be drawn" not in zone["holds"]
    assert conflicts.empty
    for layer in ("locate_requests", "ties", "dig_alternatives"):
        assert done.layers[layer].empty


def test_a_long_error_is_cut_to_the_longest_hole_and_holds(dig, gas_main, mark):
    zone, _, _ = dig([gas_main(3.0)], marks=[mark(along_95_m=9.0)], longest_hole_m=4.0)
    assert zone["length_m"] == pytest.approx(4.0)
    assert "longer than the longest hole" in zone["holds"]
    x0, y0, x1, y1 = zone["geometry"].bounds
    assert (y1 - y0, x1 - x0) == (pytest.approx(4.0), pytest.approx(1.8))
    assert zone["width_m"] == pytest.approx(1.8)


def test_the_caution_zone_holds_where_the_rule_wants_exposure(dig, gas_main):
    # MCL 460.723: 48 in caution zone; 460.725: soft excavation in it. 18 in tolerance, level B.
    at = 0.9 + 0.5 + 0.1 + 1.0  # hole's edge, error, half width, and a metre more
    row = gas_main(0, geometry=LineString([(500_000 + at, 4_199_990), (500_000 + at, 4_200_010)]))
    michigan, conflicts, _ = dig([row], rule="michigan_460_723")
    assert conflicts["severity"].item() == "near"
    assert conflicts["in_caution_zone"].item()
    assert "inside its caution zone (hand dig or vacuum" in michigan["holds"]
    generic, conflicts, _ = dig([row], rule="generic")
    assert generic["dig_status"] == NO_HOLD
    assert not conflicts["in_caution_zone"].item()


@pytest.mark.parametrize(
    ("depth", "said"),
    [(0.2, "within the hole's depth"), (5.0, "below the hole"), (None, "not known")],
)
def test_a_depth_gap_is_reported_and_lifts_nothing(dig, gas_main, depth, said):
    zone, conflicts, _ = dig([gas_main(0.5, depth_m=depth)])
    assert said in conflicts["action"].item()
    assert conflicts["severity"].item() == "inside_tolerance"
    if depth:
        assert conflicts["depth_gap_m"].item() == pytest.approx(depth - zone["depth_m"])


def test_every_conflict_says_which_rule_and_case_made_it(dig, gas_main):
    rows = [
        gas_main(3.0), gas_main(-3.0, width_m=None), gas_main(2.8, tolerance_m=0.2),
        gas_main(0, geometry=shapely.box(500_003, 4_199_990, 500_004, 4_200_010)),
    ]  # fmt: skip
    zone, conflicts, _ = dig(rows, rule="california_4216")
    assert conflicts["rule"].tolist() == [
        "california_4216", "california_4216", "tolerance_m on record", "california_4216",
    ]  # fmt: skip
    assert conflicts["rule_case"].tolist() == [
        "size marked", "single mark", "size marked", "outside marks",
    ]  # fmt: skip
    assert "tolerance of their own that is less" in zone["cautions"]


@pytest.mark.parametrize("kind", ["line", "point", "polygon"])
def test_error_by_quality_level_counts_for_every_shape(digs, gas_main, kind):
    # 95 % errors of the rules file; a stated sd adds only where it is larger.
    line = LineString([(500_003, 4_199_990), (500_003, 4_200_010)])
    shape = {"line": line, "point": line.centroid, "polygon": line.buffer(0.3)}[kind]
    errors = {"A": 0.10, "B": 0.50, "C": 1.50, "D": 5.0}
    found, _ = digs(
        [[gas_main(0, geometry=shape, quality_level=q, position_sd_m=0.01)] for q in errors]
    )
    for (level, error), (_, conflicts) in zip(errors.items(), found, strict=True):
        assert conflicts["error_95_m"].item() == pytest.approx(error)
        unknown = conflicts["severity"].item() == "unknown_position"
        assert unknown is (level == "D")


def test_the_drawn_tolerance_zone_ends_5_m_from_the_hole_on_each_side(dig, gas_main):
    # Search distance of 3 m, half of the widest utility, and half a metre.
    across = LineString([(499_950, 4_200_003), (500_050, 4_200_003)])
    zone, conflicts, _ = dig([gas_main(3.0), gas_main(0, utility_id="G-2", geometry=across)])
    west, south, east, north = zone["geometry"].bounds
    along, crossing = (shape.bounds for shape in conflicts.geometry)
    assert (along[1], along[3]) == (pytest.approx(south - 5.0), pytest.approx(north + 5.0))
    assert (crossing[0], crossing[2]) == (pytest.approx(west - 5.0), pytest.approx(east + 5.0))


def test_a_utility_that_enters_the_hole_is_in_it_and_a_nearer_one_comes_first(dig, gas_main):
    rows = [gas_main(1.3, utility_id="G-1"), gas_main(0.5, utility_id="G-2")]
    _, conflicts, done = dig(rows)
    assert (conflicts["clearance_m"] > 0).tolist() == [True, False]
    assert done.layers["holds"]["utility_id"].tolist() == ["G-2", "G-1"]
    said = done.layers["lines"]["held_by_values"].iloc[0]
    assert 0 < said.index("in_the_hole") < said.index("at_the_hole")
    assert done.layers["lines"]["next_action_values"].iloc[0].count("G-2") == 1


# What a crew does about a dig, from the first to the last: (hold, next action).
IN_ORDER = [
    ("not_located", "listen_on"), ("owner_not_notified", "notify_owner"),
    ("no_utilities_layer", "ask_owners"), ("no_answer", "get_answer"),
    ("ticket_expired", "renew_ticket"), ("notice_short", "wait_for_notice"),
    ("private_not_marked", "private_locator"), ("mark_not_seen", "find_mark"),
    ("position_not_known", "have_located"), ("record_rejected", "correct_record"),
    ("utilities_without_position", "correct_records"), ("ticket_not_checked", "check_ticket"),
    ("cover_not_known", "probe_depth"), ("line_under_pressure", "shut_line"),
    ("air_in_line", "vent_line"), ("inside_tolerance_zone", "expose"),
]  # fmt: skip


def test_the_next_action_is_the_first_in_order_wherever_its_hold_stands():
    for k, (code, action) in enumerate(IN_ORDER):
        later = [Reason(c) for c, _ in reversed(IN_ORDER[k:])]
        assert _next_action(later).code == f"do_{action}", code


@pytest.mark.parametrize(
    ("changed", "hold"),
    [({"owner": None}, "owner_missing"), ({"width_m": None}, "width_not_known"),
     ({"utility_id": None}, "no_utility_id")],
)  # fmt: skip
def test_a_record_that_lacks_something_is_to_be_corrected_not_the_mark(
    dig, gas_main, changed, hold
):
    zone, _, done = dig([gas_main(**changed)])
    assert hold in zone["hold_codes"]
    assert done.layers["lines"]["next_action_code"].iloc[0] == "do_for_correct_record"


def test_a_utility_without_a_name_is_named_by_its_row_and_what_is_not_known_is_said():
    pairs = pd.DataFrame({"kind": ["gas", None], "utility_id": ["G-1", None],
                          "owner": ["City", None], "utility": [4, 0]}, dtype=object)  # fmt: skip
    nameless = {"utility": Reason("utility_in_row", row=1), "owner": Reason("owner_not_known")}
    assert utility_names(pairs) == [
        Reason("utility_name", kind="gas", utility="G-1", owner="City"),
        Reason("utility_name", kind="utility", **nameless),
    ]


def test_of_two_holds_with_one_action_the_first_utility_is_named():
    name = [Reason("utility_name", kind="gas", utility=u, owner="o") for u in ("G-1", "G-2")]
    codes = ("on_site_without_answer", "no_answer")
    holds = [Reason(c, utility=n) for c, n in zip(codes, name, strict=True)]
    first = _next_action(holds)
    assert first == Reason("do_for_get_answer", kind="gas", utility="G-1")


def wall(x):
    return shapely.box(500_000 + x, 4_199_990, 500_001 + x, 4_200_010)


def test_a_mark_without_a_direction_has_a_caution_and_one_that_lacks_a_figure_is_completed(varied):
    marks = [{"azimuth_deg": None}, {"azimuth_deg": 0.0}, {"limited_by": None}]
    zones, done = varied([{"mark": changed} for changed in marks])
    shown = ["direction_unknown" in codes for codes in zones["caution_codes"]]
    assert shown == [True, False, False]
    assert zones["hold_codes"].tolist() == [[], [], ["mark_lacks"]]
    line = done.layers["lines"].iloc[2]
    assert (line["held_by_code"], line["next_action_code"]) == ("held_by", "do_correct_mark")


def test_a_utility_at_the_very_bottom_is_within_the_hole(varied):
    bottom = float(excavation_depth_m(0.9, 25.0))
    _, done = varied([{"utility": {"depth_m": bottom + below}} for below in (0.0, 0.01)])
    within, under = done.layers["conflicts"]["action_values"]
    assert "utility_within_hole" in within
    assert "utility_below_hole" in under


def test_an_outline_needs_no_width_and_every_other_shape_does(varied):
    shapes = [wall(3), wall(3).exterior, shapely.Point(500_003, 4_200_000)]
    zones, done = varied([{"utility": {"geometry": s, "width_m": None}} for s in shapes])
    assert ["width_not_known" in codes for codes in zones["hold_codes"]] == [False, True, True]
    assert done.layers["conflicts"]["rule_case"].tolist() == [
        "outside marks", "size assumed", "size assumed",
    ]  # fmt: skip


def test_every_utility_within_3_m_of_tolerance_and_error_must_have_answered(varied):
    edge = 0.9 + 0.4572 + 0.5  # of the hole, its tolerance and the error
    gaps = (2.99, 3.01)
    zones, _ = varied(
        [{"utility": {"geometry": wall(edge + gap), "response": "none"}} for gap in gaps]
    )
    assert zones["hold_codes"].tolist() == [["no_answer"], ["no_utility_on_record"]]


def test_the_caution_zone_of_48_inches_counts_from_the_outline_and_its_error(varied):
    walls = [wall(0.9 + 0.5 + gap) for gap in (1.21, 1.23)]
    zones, _ = varied([{"utility": {"geometry": w}} for w in walls], rule="michigan_460_723")
    assert zones["hold_codes"].tolist() == [["inside_caution_zone"], []]


def test_a_stated_standard_deviation_counts_at_95_percent(varied):
    # Of a normal error across a line, and of a circular one around a point.
    shapes = [wall(3).exterior, shapely.Point(500_003, 4_200_000)]
    _, done = varied([{"utility": {"geometry": s, "position_sd_m": 1.0}} for s in shapes])
    errors = done.layers["conflicts"]["error_95_m"].tolist()
    assert errors == pytest.approx([1.959964, 2.447747], abs=1e-5)


def test_every_utility_that_can_kill_comes_before_a_nearer_one(varied):
    kinds = ["electric", "gas", "oil", "steam", "gas_oil_steam"]
    # All digs are at one place: each has every utility.
    water = {"utility": {"distance_m": 1.0, "kind": "water", "utility_id": "W-1"}}
    others = [{"utility": {"kind": kind, "response": "none"}} for kind in kinds]
    _, done = varied([water, *others], 0.0)
    holds = done.layers["holds"]
    order = holds.loc[holds["line_id"] == "M-0", "utility_id"].tolist()
    assert order == ["U-1", "U-2", "U-3", "U-4", "U-5", "W-1"]


@pytest.mark.parametrize(
    ("response", "said"),
    [("none", "(ask its owner)"), (None, "(ask its owner)"), ("clear", "(ask its owner again)")],
)
def test_an_owner_is_asked_again_only_after_an_answer(dig, gas_main, response, said):
    zone, _, _ = dig([gas_main(distance_m=0.3, response=response)])
    assert f"its tolerance zone by the records {said}" in zone["holds"]
