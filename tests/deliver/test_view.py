"""A line gathered from the layers: nothing lost, and held whenever that isn't plainly denied."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point

from leakgeo.answer.plot import _next
from leakgeo.cli.console import Console
from leakgeo.cli.summary import print_result
from leakgeo.deliver.views import sentences
from leakgeo.deliver.views.line_view import line_views
from leakgeo.deliver.views.places import error_ellipse, mark_places
from leakgeo.deliver.views.profiles import profiles_by_line
from leakgeo.reason import Reason, columns_of
from leakgeo.wording import wording
from tests.deliver.fixture import FEET, HOLDS, METRE, STREET, as_given, holds_of, street, utility

NO_HOLDS = holds_of("", ())
SAID = wording()


def with_layer(result, name, **columns):
    layers = dict(result.layers)
    layers[name] = layers[name].assign(**columns)
    return replace(result, layers=layers)


def without(result, *names):
    return replace(result, layers={k: v for k, v in result.layers.items() if k not in names})


def test_lines_come_by_priority_and_none_is_lost():
    result = street()
    shuffled = with_layer(result, "lines", priority=[3, 1, 2, 6, 5, 4])
    names = list(STREET)
    order = [names[k] for k in (1, 2, 0, 5, 4, 3)]
    assert [v.line_id for v in line_views(shuffled)] == order
    assert {v.line_id for v in line_views(without(result, "lines"))} == set(STREET)


@pytest.mark.parametrize(
    "broken",
    [
        lambda r: without(r, "dig_zones"),
        lambda r: with_layer(r, "dig_zones", dig_status=None, holds=0).adding(
            {"lines": r.layers["lines"].assign(dig_status=None), "holds": NO_HOLDS}
        ),
        lambda r: with_layer(r, "dig_zones", dig_status="nonsense"),
        lambda r: with_layer(r, "dig_zones", dig_status="hold"),
        lambda r: with_layer(r, "lines", dig_status="hold"),
        lambda r: with_layer(r, "dig_zones", dig_status="no_hold_recorded").adding(
            {"holds": pd.concat([r.layers["holds"], holds_of("Alder 14", HOLDS)])}
        ),
        lambda r: replace(r, layers={**r.layers, "dig_zones": r.layers["dig_zones"].iloc[:0]}),
    ],
)
def test_a_mark_is_held_unless_every_layer_says_ready(broken):
    marked = [v for v in line_views(broken(street())) if v.mark is not None]
    assert len(marked) == 2
    assert all(v.holds and v.dig_text == SAID.term("hold", "card") for v in marked)


def test_a_likeliest_place_is_no_mark_to_dig_on():
    result = street()
    lines = result.layers["lines"].assign(status="keep_listening", dig_status="no_hold_recorded")
    dig = result.layers["dig_zones"].assign(holds=0, dig_status="no_hold_recorded")
    told = {"lines": lines, "dig_zones": dig, "holds": NO_HOLDS}
    views = line_views(result.adding(told))[:2]
    assert [v.dig_text for v in views] == [SAID.term("hold", "card")] * 2
    assert views[0].holds == (SAID.term("not_located", "dig_text"),)
    assert sentences.position(views[0]).startswith("Keep listening; likeliest at")


def test_ready_is_said_only_where_both_layers_say_it():
    says = {v.line_id: (v.dig_text, v.holds) for v in line_views(street())}
    assert says["Alder 14"] == (SAID.term("no_hold", "dig_text"), ())
    assert says["Alder 12"][0] == SAID.term("hold", "card")
    assert len(says["Alder 12"][1]) == 2
    assert says["Οδός Ερμού 7"] == (SAID.term("no_dig", "dig_text"), ())


def held_by(*holds: Reason) -> tuple[str, ...]:
    return line_views(street().adding({"holds": holds_of("Alder 12", holds)}))[0].holds


def test_formal_holds_of_utilities_are_summed_up_in_the_last_line():
    electric, gas = utility("electric", "U-02", "Light"), utility("gas", "U-09", "Gas")
    said = held_by(
        Reason("no_ticket_number", utility=electric), Reason("no_answer", utility=gas),
        Reason("notice_time_not_known", utility=electric), Reason("width_not_known", utility=gas),
        Reason("no_ticket_number", utility=gas), Reason("line_under_pressure"),
    )  # fmt: skip
    assert said[0] == "GAS U-09 (Gas): its owner has not answered"
    assert said[1].startswith("the line is under pressure")
    assert said[2:] == (
        ("Tickets incomplete for: ELECTRIC U-02 (number of the ticket, time of the notice); "
         "GAS U-09 (number of the ticket)"), "Records incomplete for: GAS U-09",
    )  # fmt: skip


def test_a_line_held_as_every_dig_alone_or_by_paperwork_alone_stays_held():
    every = Reason("ticket_not_checked", lacks=["dig_date"])
    assert len(held_by(every)) == 1
    assert held_by(every)[0].startswith("not checked")
    own = Reason("line_under_pressure")
    assert [hold.startswith("the line") for hold in held_by(every, own)] == [True]
    formal = Reason("no_ticket_number", utility=utility("gas", "U-09", "Gas"))
    assert held_by(every, formal) == ("Tickets incomplete for: GAS U-09 (number of the ticket)",)


def test_the_card_of_a_mark_names_its_holds_even_where_the_table_does_not():
    view = line_views(street())[0]
    assert view.card.held == "HOLD: electric U-E1 (Northlight Power); GAS U-G1 (Northlight Gas)"
    assert line_views(street())[1].card.held == ""
    lines = street().layers["lines"].assign(held_by_code="in_the_hole", held_by_values="{}")
    assert line_views(street().adding({"lines": lines}))[0].card.held == "HOLD: in the hole"


def test_the_terminal_names_the_holds_that_the_map_names(capsys, tmp_path):
    print_result(Console(), street(), tmp_path, "si")
    printed = " ".join(capsys.readouterr().out.split())
    held = [view.card.held for view in line_views(street()) if view.card.held]
    assert held
    assert all(each in printed for each in held)


def test_sentences_of_a_mark():
    feet, view = line_views(street(), "us")[0], line_views(street(), "si")[0]
    assert sentences.position(feet) == "Mark at 46 ft 7 in from the start"
    assert sentences.odds(view) == [
        "87 % that there is a leak within these 0.72 m (from 13.80 m to 14.52 m)",
        "81 % that there is a leak within 0.30 m (one foot) of the mark",
        "97 % that there is a leak on this line",
    ]
    said = "92 % that there is a leak within 0.35 m of the mark along the pipe"
    assert sentences.error(view).startswith(said)


def test_what_gains_little_does_not_help_and_enough_needs_no_help():
    improvements = pd.DataFrame({
        "line_id": "Alder 12", "order": [1, 2, 3, 4],
        "improvement": ["spacing", "night", "probe", "pressure"],
        **columns_of("message", map(as_given, ["Closer.", "At night.", "By probe.", "Pressure."])),
        "expected_sd_before_m": 0.5, "expected_sd_after_m": [0.2, 0.3, 0.49, np.nan],
    })  # fmt: skip
    result = street().adding({"improvements": improvements})
    lines = result.layers["lines"]
    nothing = Reason("nothing_else")
    told, enough, no_more = (
        lines.assign(**columns_of("advice", [Reason(code, *then, wanted_m=0.6)] * len(lines)))
        for code, then in (("more_stops_no_shorter", ()), ("short_enough", ()),
                           ("more_stops_no_shorter", (nothing,)))
    )  # fmt: skip
    views = [line_views(result.adding({"lines": each}))[0]
             for each in (lines, told, enough, no_more)]  # fmt: skip
    found = [sentences.improvements(view) for view in views]
    assert found == [["Closer.", "At night."], ["At night."], [], []]
    compared = result.adding({"next_actions": pd.DataFrame({"line_id": ["Alder 12"]})})
    assert sentences.improvements(line_views(compared)[0]) == []


@given(st.floats(0.01, 5), st.floats(0.01, 5), st.floats(0, 360))
def test_without_a_bearing_the_ellipse_is_no_smaller(along, across, azimuth):
    known = error_ellipse(0, 0, along, across, azimuth)
    assert (
        error_ellipse(0, 0, along, across, None).buffer(max(along, across) * 0.01).contains(known)
    )


def test_coordinates_of_a_mark_name_the_unit_of_the_job():
    marks = street().layers["marks"]
    label, said = mark_places(marks, FEET, wording())["Alder 12", 1][1]
    east = marks.to_crs(FEET).geometry.x.iloc[0]
    assert label == "East, north (EPSG:6461, US survey foot)"
    assert said.startswith(f"{east:,.1f}, ")
    assert (
        mark_places(marks, METRE, wording())["Alder 12", 1][1][0]
        == "East, north (EPSG:32616, metre)"
    )
    assert len(mark_places(marks, METRE.geodetic_crs, wording())["Alder 12", 1]) == 1
    assert (
        mark_places(None, FEET, wording())
        == mark_places(marks.assign(geometry=Point()), FEET, wording())
        == {}
    )


@given(st.integers(1, 3000), st.integers(1, 300))
def test_thinning_keeps_the_peak_and_the_order(count, most):
    rng = np.random.default_rng(count)
    frame = pd.DataFrame(
        {
            "line_id": "a",
            "chainage_m": rng.permutation(count).astype(float),
            "leak_density_per_m": rng.random(count),
        }
    )
    thin = profiles_by_line(frame, most)["a"]
    assert thin.chainage_m.size == min(count, most)
    assert thin.leak_density_per_m.max() == frame["leak_density_per_m"].max()
    assert np.all(np.diff(thin.chainage_m) > 0)
    assert np.isnan(thin.level_comparable_db).all()


def test_profiles_are_split_as_pandas_groups_them():
    profile = street().layers["profile"].sample(frac=1, random_state=3)
    profile.loc[profile["line_id"] == "Alder 14", "line_id"] = None
    split = profiles_by_line(profile)
    groups = profile.sort_values("chainage_m").groupby("line_id")
    assert set(split) == set(groups.groups)
    for name, part in groups:
        assert np.array_equal(split[name].level_comparable_db, part["level_comparable_db"])
        assert np.array_equal(split[name].x_m, part.geometry.x)


def test_facts_have_the_address_the_work_order_and_the_way_from_a_fitting():
    result = street()
    routes = result.job.routes.assign(address="14 Alder Street", work_order="WO-7", wall_mm=3.0)
    there = {"from_fitting": "meter C-1", "from_fitting_m": 2.5, "toward_fitting": "hydrant C-2"}
    marks = result.layers["marks"].assign(**there)
    shown = replace(result, job=replace(result.job, routes=routes)).adding({"marks": marks})
    [view] = [v for v in line_views(shown, "si") if v.line_id == "Alder 14"]
    facts = dict(sentences.facts(view, "si"))
    assert facts["Address"] == "14 Alder Street"
    assert facts["Work order"] == "WO-7"
    assert facts["Wall"] == "3 mm"
    assert facts["Taped"] == "2.50 m from meter C-1 toward hydrant C-2"


def test_the_strongest_evidence_is_shown_where_more_than_the_levels_speak():
    result = street()
    first, second = list(STREET)[:2]
    kinds = ["prior", "sound", "meter", "dig", "sweep"]
    factors = [0.9, 0.5, -1.6, 0.1, 1.2]
    table = pd.DataFrame({
        "line_id": [first] * 5 + [second] * 2, "kind": kinds + kinds[:2],
        "log10_bayes_factor": factors + factors[:2], "message": kinds + kinds[:2],
    })  # fmt: skip
    views = {v.line_id: v for v in line_views(result.adding({"evidence": table}))}
    assert sentences.evidence(views[first]) == ["meter", "sweep", "sound"]
    assert sentences.evidence(views[second]) == []


def test_lines_and_marks_have_the_evidence_that_map_and_report_show(town):
    worded = town[0].worded("us", "en")
    marks = worded["marks"].set_index("line_id")["evidence"]
    texts = worded["lines"].set_index("line_id")["evidence"]
    for view in line_views(worded):
        shown = " ".join(sentences.evidence(view)) or None
        assert texts[view.line_id] == shown
        assert marks.get(view.line_id, shown) == shown
    assert texts.isna().any()
    assert texts.notna().any()


def test_a_line_with_many_zones_has_the_sum_of_the_least():
    result = street()
    name = str(result.layers["marks"]["line_id"].iloc[0])
    zones = result.layers["search_zones"]
    one = zones[zones["line_id"] == name].iloc[[0]]
    many = pd.concat([one.assign(rank=k, probability_leak_here=0.03) for k in range(1, 12)])
    view = {v.line_id: v for v in line_views(result.adding({"search_zones": many}))}[name]
    assert "9 % that there is a leak within 3 other stretches" in sentences.odds(view)[8]


def test_where_to_listen_next_has_the_tape_first_and_the_other_length_in_brackets():
    view = line_views(street(), "us")[0]
    row = {"order": 1, "chainage_m": 13.64, "from_fitting": "M-414", "from_fitting_m": 3.124,
           "reason": "the loudest"}  # fmt: skip
    assert _next(row, view)["says"] == [
        "Listen next, stop 1: 10 ft 3 in from M-414 (44 ft 9 in along the pipe)", "the loudest",
    ]  # fmt: skip
    bare = _next({"order": 2, "chainage_m": 13.64}, view)
    assert bare["says"] == ["Listen next, stop 2: 44 ft 9 in along the pipe"]
