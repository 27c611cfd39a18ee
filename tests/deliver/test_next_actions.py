"""What to do next on a line, and what else may be true of it, as the map and the report say it."""

from __future__ import annotations

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakgeo.deliver.views.explanations import what_else
from leakgeo.deliver.views.line_view import line_views
from leakgeo.deliver.views.next_actions import less_doubt, next_actions
from leakgeo.reason import Reason, columns_of, reasons_in
from tests.deliver.fixture import advised_street
from tests.deliver.shown import map_data
from tests.deliver.test_report import pdf, said

ROWS = [
    ("1", "Sweep across the line: at 29 ft 6 in", "7", "50 % (assumed)"),
    ("2", "Listen at the stops listed below", "4", "29 %"),
    ("3", "Have shut or bypassed by its owner: meter C2", "25", "under 1 % (assumed)"),
    ("4", "Open a tap to a trickle, and listen: C2", "8", "common practice"),
]
ELSE = (
    "What else it may be: a leak on Alder 12, about 46 ft 7 in (22 %); meter C2 may sound by "
    "itself (18 %); nothing that sounds (6 %)"
)


def view_of(result, **how):
    """Give the view of the line with actions."""
    return line_views(result, **how)[2]


def with_message(result, reason):
    """Give a result whose line with actions has another message."""
    lines = result.layers["lines"]
    messages = reasons_in(lines, "message")
    messages[2] = reason
    return result.adding({"lines": lines.assign(**columns_of("message", messages))})


def test_the_table_has_the_best_four_in_order_with_place_and_gain():
    assert next_actions(view_of(advised_street(), units="us")) == ROWS


def test_the_table_is_in_the_language_of_the_reader():
    rows = next_actions(view_of(advised_street(), units="si", language="es"))
    assert rows[0] == ("1", "Barra la línea en transversal: a 9,00 m", "7", "50 % (supuesto)")
    assert [row[3] for row in rows] == ["50 % (supuesto)", "29 %", "menos de 1 % (supuesto)",
                                        "práctica común"]  # fmt: skip


def test_one_action_is_said_by_the_advice_alone_and_a_mark_is_dug_first():
    result = advised_street()
    actions = result["next_actions"]
    one = result.adding({"next_actions": actions[actions["order"] == 1]})
    assert next_actions(view_of(one)) == []
    marked = result.adding({"next_actions": actions.assign(line_id="Alder 12")})
    assert [next_actions(view) for view in line_views(marked)[:3]] == [[], [], []]


def test_what_else_is_likely_and_not_said_by_the_message():
    result = advised_street()
    assert what_else(view_of(result, units="us")) == ELSE
    places = [
        Reason("also_on_other_line", line="Alder 12", chainage_m=14.2, probability=0.22),
        Reason("also_fitting", place="C2", probability=0.5),
    ]
    told = with_message(result, Reason("likeliest", Reason("also_possible", places=places)))
    assert what_else(view_of(told)) == (
        "What else it may be: meter C2 may sound by itself (18 %); nothing that sounds (6 %)"
    )
    # Beside a leak another source may sound as well: its probability in the message is higher.
    may_be = result["explanations"].assign(probability=[0.5, 0.01, 0.01, 0.01, 0.47])
    other = result.adding({"explanations": may_be})
    assert what_else(view_of(other)) == "What else it may be: another source (47 %)"
    told = with_message(other, Reason("sounds_elsewhere", probability=0.9))
    assert what_else(view_of(told)) == ""


def test_a_mark_has_no_other_explanation():
    result = advised_street()
    marked = result.adding({"explanations": result["explanations"].assign(line_id="Alder 12")})
    assert what_else(line_views(marked)[0]) == ""


@pytest.mark.parametrize("units", ["us", "si"])
def test_map_and_report_show_the_same_rows(tmp_path, units):
    result = advised_street()
    line = map_data(result, units)["lines"][2]
    (page,) = [page for page in said(pdf(tmp_path, result, units)) if "What to do next" in page]
    assert len(line["actions"]) == len(ROWS)
    for row in line["actions"]:
        assert " ".join(row) in page
    assert line["else"] in page
    assert ("29 ft 6 in" in page) == (units == "us")


@given(st.floats(0, 30), st.floats(0, 30))
def test_doubt_shrinks_by_what_both_gains_leave(one, more):
    assert 1 - less_doubt(one + more) == pytest.approx(
        (1 - less_doubt(one)) * (1 - less_doubt(more))
    )
    assert 0 <= less_doubt(one) < 1


def test_a_line_with_a_score_of_marks_has_its_pages_and_its_table(tmp_path):
    result = advised_street()
    marks = result["marks"]
    line = result["next_actions"]["line_id"].iloc[0]
    score = marks.iloc[[0] * 20].assign(
        line_id=line, rank=range(1, 21), status="ambiguous",
        chainage_m=[1.0 + 0.2 * k for k in range(20)],
    )  # fmt: skip
    several = result.adding({"marks": pd.concat([marks, score], ignore_index=True)})
    text = " ".join(said(pdf(tmp_path, several)))
    assert "Mark 20, latitude, longitude" in text
    assert " ".join(ROWS[3]) in text
