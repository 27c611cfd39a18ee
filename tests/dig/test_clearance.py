"""What holds a dig: never ready with anything missing, never fewer holds for a poorer record."""

from __future__ import annotations

import json
import math
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely import LineString, MultiLineString, Point, Polygon

from leakgeo.dig.clearance import HOLD, NO_HOLD
from leakgeo.dig.rules import load_rules
from leakgeo.job.schema import load_schema

X0, Y0 = 500_000.0, 4_200_000.0
IDENTITY = {"run_id"}
quick = settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])


def test_with_everything_known_answered_and_outside_it_has_no_hold_recorded(dig, gas_main):
    zone, conflicts, done = dig([gas_main(3.0)])
    assert zone["holds"] == ""
    assert zone["dig_status"] == NO_HOLD
    assert conflicts["severity"].tolist() == ["near"]
    lines = done.layers["lines"].set_index("line_id")
    assert lines["dig_status"].to_dict() == {"L-1": NO_HOLD, "L-2": HOLD}
    assert lines["conflicts"].to_dict() == {"L-1": 1, "L-2": 0}


# -- every field that a ready dig rests on: blank it, and it holds

MUST_BE_KNOWN = ["utility_id", "kind", "owner", "width_m", "quality_level", "notified", "response",
                 "response_time", "ticket", "notified_time", "geometry"]  # fmt: skip
# Not needed to be ready: a depth lifts nothing, a missing own tolerance means the rule's, a missing
# position_sd_m means that of the quality level, `reason` is null in a good row, and a mark of level
# A or B was found, which lifts the hold of a line that may be private too.
MAY_BE_BLANK = ["depth_m", "tolerance_m", "position_sd_m", "reason", "private", "mark_seen",
                "ticket_kind"]  # fmt: skip


def test_the_walk_goes_over_every_field(gas_main):
    assert sorted(MUST_BE_KNOWN + MAY_BE_BLANK) == sorted(gas_main())


@pytest.mark.parametrize("field", MUST_BE_KNOWN)
def test_a_blank_utility_field_holds(digs, gas_main, field):
    is_text = field not in ("geometry", "response_time", "notified_time")
    blanks = [None, np.nan, pd.NA, "", "  "] if is_text else [None]
    full = [] if field == "geometry" else [[gas_main(3.0)]]  # one without holds every dig
    found, _ = digs([*([gas_main(3.0, **{field: blank})] for blank in blanks), *full])
    for zone, _ in found[: len(blanks)]:
        assert zone["dig_status"] == HOLD
        assert zone["holds"]
    assert [zone["dig_status"] for zone, _ in found[len(blanks) :]] == [NO_HOLD] * len(full)


@pytest.mark.parametrize("field", MUST_BE_KNOWN[:-1])
def test_a_missing_utility_column_holds(clear, gas_main, small_result, field):
    result = small_result([gas_main(3.0)])
    job = result.job
    job = type(job)(job.routes, job.readings, job.crs, job.output_crs,
                    utilities=job.utilities.drop(columns=field))  # fmt: skip
    done = clear(type(result)(job, result.layers))
    assert done.layers["dig_zones"]["dig_status"].item() == HOLD


MARK_MUST = ["chainage_m", "along_sd_m", "along_95_m", "across_95_m", "probability_within_1ft",
             "limited_by", "status", "geometry"]  # fmt: skip


@pytest.mark.parametrize("field", MARK_MUST)
def test_a_blank_field_of_the_mark_holds(dig, gas_main, mark, field):
    zone, _, _ = dig([gas_main(3.0)], marks=[mark(**{field: None})])
    assert zone["dig_status"] == HOLD


@pytest.mark.parametrize(
    "route",
    [{"depth_m": None}, {"depth_m": -1.0}, {"reason": "self-crossing"}, {"line_id": "L-9"}],
)
def test_an_unknown_cover_holds(dig, gas_main, route):
    zone, _, _ = dig([gas_main(3.0)], route=route)
    assert "cover over the pipe" in zone["holds"]


@pytest.mark.parametrize("status", ["keep_listening", "ambiguous", "rejected", None])
def test_a_leak_not_located_holds(dig, gas_main, status):
    assert "not located" in dig([gas_main(3.0)], status=status)[0]["holds"]


def test_no_utilities_hold(dig, gas_main):
    assert "no utilities layer" in dig(None)[0]["holds"]
    assert "no rows" in dig([])[0]["holds"]
    assert "no utility is on record near" in dig([gas_main(40.0)])[0]["holds"]


def test_a_utility_without_position_holds_every_dig(dig, gas_main):
    rows = [gas_main(3.0), gas_main(0, utility_id="E-9", geometry=None)]
    zone, conflicts, done = dig(rows)
    assert "could be anywhere" in zone["holds"]
    assert len(conflicts) == 1
    assert [f.feature for f in done.faults] == ["E-9"]


@pytest.mark.parametrize("shape", [Point(), Point(np.inf, 0), LineString(), Polygon()])
def test_empty_and_infinite_shapes_count_as_no_position(dig, gas_main, shape):
    assert "could be anywhere" in dig([gas_main(0, geometry=shape)])[0]["holds"]


def test_an_invalid_polygon_is_measured_and_held(dig, gas_main):
    x = X0 + 2.5
    bow_tie = Polygon([(x, Y0), (x + 2, Y0 + 2), (x + 2, Y0), (x, Y0 + 2)])
    zone, conflicts, done = dig([gas_main(0, geometry=bow_tie)])
    assert "shape was invalid" in zone["holds"]
    expected = shapely.distance(
        done.layers["dig_zones"].geometry.iloc[0], shapely.make_valid(bow_tie)
    )
    assert conflicts["clearance_m"].item() == pytest.approx(expected)
    assert done.faults[0].effect == "noted"


def test_a_rejected_record_holds(dig, gas_main):
    zone, conflicts, _ = dig([gas_main(3.0, reason="width_m is negative.")])
    assert "record was rejected" in zone["holds"]
    assert conflicts["severity"].item() == "unknown_position"


@pytest.mark.parametrize(
    ("changed", "code", "said"),
    [
        ({"notified": False}, "owner_not_notified", "not notified"),
        ({"notified": "yes please"}, "owner_not_notified", "not notified"),
        ({"response": "none"}, "no_answer", "has not answered"),
        ({"response": "perhaps"}, "answer_not_understood", "answer is not understood"),
        ({"kind": "unknown"}, "kind_not_known", "kind is not known"),
        ({"quality_level": "D"}, "position_not_known", "position is not known"),
        ({"quality_level": "Z"}, "quality_level_not_known", "quality level is not known"),
    ],
)
def test_each_hold_says_which_utility_and_why(dig, gas_main, changed, code, said):
    zone, _, done = dig([gas_main(3.0, **changed)])
    assert code in zone["hold_codes"]
    assert zone["worst_hold_code"] == zone["hold_codes"][0]
    assert (done.layers["holds"]["utility_id"] == "G-1").all()
    assert said in zone["holds"]
    assert "G-1" in zone["holds"]
    assert "Fernhill Gas" in zone["holds"]


@pytest.mark.parametrize(("answer", "said"), [("marked", "hand dig or vacuum only"),
                                              ("clear", "ask its owner again"),
                                              ("not_present", "ask its owner again")])  # fmt: skip
def test_inside_the_tolerance_zone_holds_whatever_the_answer(dig, gas_main, answer, said):
    zone, conflicts, _ = dig([gas_main(1.0, response=answer)])
    assert conflicts["severity"].item() == "inside_tolerance"
    assert "by hand or vacuum" in conflicts["action"].item()
    assert said in zone["holds"]


def test_level_d_is_of_unknown_position_however_fine_its_coordinate(dig, gas_main):
    _, conflicts, _ = dig([gas_main(3.0, quality_level="D", position_sd_m=0.01)])
    assert conflicts["severity"].item() == "unknown_position"


@pytest.mark.parametrize("depth", [None, 0.1, 40.0])
def test_a_gap_in_depth_removes_nothing(dig, gas_main, depth):
    zone, conflicts, _ = dig([gas_main(0.5, depth_m=depth)])
    assert conflicts["severity"].item() == "inside_tolerance"
    assert conflicts["clearance_m"].item() == 0.0
    assert zone["dig_status"] == HOLD


def test_unknown_pressure_counts_as_pressure(dig, gas_main):
    assert (
        "take it as under pressure"
        in dig([gas_main()], route={"pressure_kpa": None})[0]["cautions"]
    )
    assert "pressure" not in dig([gas_main()], route={"pressure_kpa": 0.0})[0]["cautions"]


def test_nothing_says_safe(dig, gas_main):
    for rows in ([gas_main(3.0)], [gas_main(0.5)], None):
        zone, conflicts, done = dig(rows)
        words = " ".join([zone["holds"], zone["cautions"], *conflicts["action"],
                          *done.layers["lines"]["message"]])  # fmt: skip
        assert "safe" not in words.lower()


def test_no_marks_give_empty_layers_with_their_columns_and_every_line_on_hold(small_result, clear):
    done = clear(small_result(None, marks=[]))
    assert done.layers["dig_zones"].empty
    for layer in ("dig_zones", "holds", "cautions", "conflicts"):
        assert set(load_schema(layer).columns) - IDENTITY <= {*done.worded().layers[layer]}
    assert done.layers["holds"].empty
    assert "clearance_m" in done.layers["conflicts"]
    assert done.layers["conflicts"].crs == done.job.crs
    assert (done.layers["lines"]["dig_status"] == HOLD).all()


def holds_of(done, line=None):
    """Give the holds, of one line or of all: one pair of (utility, code) each."""
    holds = done.layers["holds"]
    if line is not None:
        holds = holds[holds["line_id"].eq(line) | holds["line_id"].isna()]
    return set(zip(holds["utility_id"], holds["code"], strict=True))


def test_a_hold_names_its_utility_by_values_and_names_stay_as_they_are(dig, gas_main):
    rows = [gas_main(3.0, owner="A; B", notified=False, response=None), gas_main(-4.0)]
    zone, _, done = dig(rows)
    holds = done.layers["holds"]
    assert holds["code"].tolist() == ["owner_not_notified", "no_answer"]
    assert holds["order"].tolist() == [1, 2]
    assert [json.loads(values)["utility"]["values"] for values in holds["values"]] == [
        {"kind": "gas_oil_steam", "owner": "A; B", "utility": "G-1"}
    ] * 2
    assert zone["worst_hold"] == ("GAS, OIL or STEAM G-1 (A; B): its owner was not notified")


def test_a_hold_of_a_utility_that_can_kill_comes_first(dig, gas_main):
    near = gas_main(1.0, utility_id="W-1", kind="water")
    far = gas_main(3.0, utility_id="E-1", kind="electric", response="none")
    _, _, done = dig([near, far], isolated=())
    holds = done.layers["holds"]
    assert holds["utility_id"].tolist()[:2] == ["E-1", "W-1"]
    assert holds["code"].tolist() == ["no_answer", "inside_tolerance_zone", "line_under_pressure"]


# -- properties

distance = st.floats(-12.0, 12.0)
width = st.one_of(st.none(), st.floats(0.02, 3.0))
sd = st.one_of(st.none(), st.floats(0.01, 4.0))
level = st.sampled_from(["A", "B", "C", "D", None])
answer = st.sampled_from(["marked", "clear", "not_present", "none", None])
tolerance = st.one_of(st.none(), st.floats(0.1, 3.0))
shape = st.sampled_from(["line", "point", "polygon", "pieces"])
utility = st.fixed_dictionaries({
    "distance": distance, "width_m": width, "position_sd_m": sd, "quality_level": level,
    "response": answer, "tolerance_m": tolerance, "notified": st.booleans(), "shape": shape,
})  # fmt: skip


# Of one example, in places of their own: one run of many digs takes hardly longer than one of one.
several = st.lists(utility, min_size=5, max_size=5)


# Said only where no utility is near: a grown one that is near has holds of its own.
NO_NEIGHBOUR = {(None, "no_utility_on_record")}


def built(gas_main, drawn, i=0):
    """Give a utility of the drawn kind at the drawn distance."""
    fields = {k: v for k, v in drawn.items() if k not in ("distance", "shape")}
    x = X0 + drawn["distance"]
    line = LineString([(x, Y0 - 40), (x + 0.5, Y0), (x, Y0 + 40)])
    shapes = {
        "line": line, "point": Point(x, Y0 + 1), "polygon": line.buffer(0.4),
        "pieces": MultiLineString([line, LineString([(x + 2, Y0 - 3), (x + 5, Y0 + 3)])]),
    }  # fmt: skip
    return gas_main(0, utility_id=f"U-{i}", geometry=shapes[drawn["shape"]], **fields)


@settings(quick, max_examples=6)
@given(several, st.tuples(*[st.floats(0, 2)] * 4), st.sampled_from([*load_rules()]))
def test_growing_width_error_tolerance_or_room_removes_no_conflict_and_no_hold(
    digs, gas_main, drawn, more, rule
):
    wider, poorer, further, roomier = more
    by = {"width_m": wider, "position_sd_m": poorer, "tolerance_m": further}
    grown = [{k: v + by.get(k, 0.0) if k in by and v is not None else v for k, v in each.items()}
             for each in drawn]  # fmt: skip
    first, before = digs([[built(gas_main, each), gas_main(4.0)] for each in drawn], rule=rule)
    second, after = digs(
        [[built(gas_main, each), gas_main(4.0)] for each in grown],
        rule=rule,
        working_width_m=0.6 + roomier,
        marked={"along_95_m": 0.4 + wider, "across_95_m": 0.3 + poorer},
    )
    for (zone, had), (_, has) in zip(first, second, strict=True):
        assert set(had["utility_id"]) <= set(has["utility_id"])
        assert holds_of(before, zone.name) - NO_NEIGHBOUR <= holds_of(after, zone.name)
        both = had.merge(has, on="utility_id")
        assert (both["clearance_m_y"] <= both["clearance_m_x"] + 1e-9).all()


@settings(quick, max_examples=5)
@given(utility, st.sampled_from([*load_rules()]))
def test_gas_oil_and_steam_hold_as_much_alone_as_together(dig, gas_main, drawn, rule):
    row = built(gas_main, drawn)
    codes = {"gas_oil_steam": "GAS, OIL or STEAM", "gas": "GAS", "oil": "OIL", "steam": "STEAM"}
    (first, had, _), *others = [dig([{**row, "kind": kind}], rule=rule) for kind in codes]
    for name, (zone, has, _) in zip([*codes.values()][1:], others, strict=True):
        assert zone["holds"] == first["holds"].replace(codes["gas_oil_steam"], name)
        assert zone["dig_status"] == first["dig_status"]
        pd.testing.assert_frame_equal(has.drop(columns="kind"), had.drop(columns="kind"))


@settings(quick, max_examples=8)
@given(utility, st.sampled_from([*load_rules()]))
def test_a_worse_quality_level_removes_no_conflict_and_no_hold(digs, gas_main, drawn, rule):
    found, done = digs([[built(gas_main, {**drawn, "quality_level": level})] for level in "ABCD"],
                       rule=rule)  # fmt: skip
    for (better, has), (worse, more) in pairwise(found):
        assert len(has) <= len(more)
        assert holds_of(done, better.name) - NO_NEIGHBOUR <= holds_of(done, worse.name)


@settings(quick, max_examples=6)
@given(several, st.sampled_from([*MUST_BE_KNOWN]))
def test_blanking_any_field_never_turns_a_hold_into_ready(digs, gas_main, drawn, field):
    rows, other = [built(gas_main, each) for each in drawn], gas_main(4.0, utility_id="G-2")
    before, _ = digs([[row, other] for row in rows])
    after, _ = digs([[{**row, field: None}, other] for row in rows])
    for (had, _), (has, _) in zip(before, after, strict=True):
        assert has["dig_status"] == HOLD or had["dig_status"] == NO_HOLD


@settings(quick, max_examples=6)
@given(several)
def test_ready_means_that_every_near_utility_is_known_and_answered(digs, gas_main, drawn):
    found, _ = digs([[built(gas_main, each)] for each in drawn])
    for each, (zone, conflicts) in zip(drawn, found, strict=True):
        if zone["dig_status"] == NO_HOLD:
            assert each["notified"]
            assert each["response"] in ("marked", "clear", "not_present")
            assert each["quality_level"] in ("A", "B", "C")
            assert (conflicts["severity"] == "near").all()
            assert len(conflicts) == 1


@quick
@given(st.lists(utility, min_size=1, max_size=12))
def test_clearances_agree_with_shapely_one_by_one(dig, gas_main, drawn):
    rows = [built(gas_main, d, i) for i, d in enumerate(drawn)]
    _, conflicts, done = dig(rows)
    hole = done.layers["dig_zones"].geometry.iloc[0]
    found = conflicts.set_index("utility_id")
    for row, d in zip(rows, drawn, strict=True):
        half = 0.0 if d["shape"] == "polygon" else (d["width_m"] or 0.6) / 2
        gap = max(0.0, hole.distance(row["geometry"]) - half)
        if row["utility_id"] in found.index:
            assert math.isclose(found.loc[row["utility_id"], "clearance_m"], gap, abs_tol=1e-9)
        else:
            assert gap > 3.0  # reach_m of the rules file
    assert conflicts.geometry.geom_type.isin(["Polygon", "MultiPolygon"]).all()
    assert conflicts.geometry.is_valid.all()


def test_many_digs_pair_as_each_one_alone(small_result, gas_main, mark, clear):
    """One pass over all is the same as a pass for each, and rows keep to their own dig."""
    random = np.random.default_rng(3)
    marks = [mark(line_id=f"M-{i}", geometry=Point(X0 + 20 * (i % 6), Y0 + 20 * (i // 6)),
                  azimuth_deg=float(random.uniform(0, 360))) for i in range(24)]  # fmt: skip
    rows = [gas_main(0, utility_id=f"U-{i}", response=str(random.choice(["none", "marked"])),
                     geometry=Point(X0 + random.uniform(0, 110), Y0 + random.uniform(0, 70)))
            for i in range(150)]  # fmt: skip
    together = clear(small_result(rows, marks))
    both = together.layers["conflicts"]
    assert len(both) > 24
    for i in range(0, 24, 5):
        alone = clear(small_result(rows, [marks[i]]))
        own = both[both["line_id"] == f"M-{i}"]
        assert own["utility_id"].tolist() == alone.layers["conflicts"]["utility_id"].tolist()
        holds = together.layers["holds"]
        of_dig = holds[holds["line_id"] == f"M-{i}"].reset_index(drop=True)
        pd.testing.assert_frame_equal(of_dig, alone.layers["holds"])
