"""The status of a line, held beside its probabilities."""

from __future__ import annotations

import json
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakgeo.find.locate.finding import Finding, Weighed
from leakgeo.find.locate.layers import evidence_table
from leakgeo.find.locate.status import leak_heard, message_of, rejected_message, status_of
from leakgeo.find.locate.zones import Mark, Piece
from leakgeo.find.posterior.posterior import Posterior
from leakgeo.job.schema import load_schema
from leakgeo.reason import Reason, columns_of
from leakgeo.wording import with_texts, wording

SHARE = st.floats(0.0, 1.0)


def finding(leak, *, within=0.5, elsewhere=0.0, second=0.3, leak_log_bf=3.0, sound_log_bf=5.0):
    """Give a finding with two stretches, the second of which holds `second`, given a leak."""
    x = np.arange(0.025, 10.0, 0.05)
    found = Posterior(
        x, np.full(x.size, 1 / x.size), leak_probability=leak,
        on_nearby_lines=((1, elsewhere, 4.0),) if elsewhere else (),
        other_source_probability=0.0,
        leak_log_bf=leak_log_bf, sound_log_bf=sound_log_bf, log_evidence=0.0,
    )  # fmt: skip
    pieces = (Piece(2.0, 4.0, 0.9 - second), Piece(6.0, 7.0, second))
    return Finding(
        0, found, Mark(3.0, within, 0.5, 1.0), pieces, "sound", 1.0, leak_log_bf, 0.89,
        (("3 m; {x}", elsewhere, 4.0),) if elsewhere else (),
    )  # fmt: skip


PLACE = Reason("at_fitting", fitting=Reason("fitting", kind="meter", contact="M-1"))


@given(SHARE, SHARE, SHARE, st.floats(0.0, 0.45), st.floats(-9, 9), st.floats(-9, 9))
def test_no_status_is_at_odds_with_its_number(
    leak, within, other, second, leak_log_bf, sound_log_bf
):
    one = finding(leak, within=within, elsewhere=other * (1 - leak), second=second,
                  leak_log_bf=leak_log_bf, sound_log_bf=sound_log_bf)  # fmt: skip
    status = status_of(one)
    if leak >= 0.5:
        assert status != "no_leak_heard"
    if status == "located":
        assert leak >= one.within_foot >= 0.7
        assert leak_heard(one)
    if status == "ambiguous":
        assert max(second * leak, other * (1 - leak)) >= 0.15
    if status == "no_leak_heard":
        assert not leak_heard(one)


def test_a_quiet_line_where_a_leak_is_likely_wants_more_and_has_no_mark():
    one = finding(0.84, leak_log_bf=-1.2, sound_log_bf=0.2)
    assert not leak_heard(one)
    assert status_of(one) == "keep_listening"
    said = wording().text(message_of(one, [PLACE], {}, None))
    assert said.startswith("These readings do not show whether there is a leak. 84 %")
    assert "Before listening, the probability was 89 %." in said
    assert "Mark" not in said
    assert "Likeliest" not in said
    quiet = finding(0.49, leak_log_bf=-0.4, sound_log_bf=0.2)
    assert status_of(quiet) == "no_leak_heard"
    assert "49 %" in wording().text(message_of(quiet, [PLACE], {}, None))


@pytest.mark.parametrize(("leak", "percent"), [(1.0, "30 %"), (0.7, "21 %")])
def test_other_stretches_are_told_with_the_probability_of_a_leak_in_them(leak, percent):
    said = wording().text(message_of(finding(leak), [PLACE], {}, None))
    assert f"Also possible: 6.00 to 7.00 m ({percent})." in said


def test_a_mark_is_placed_from_a_fitting_with_one_number():
    said = wording("us").text(message_of(finding(0.9, within=0.8), [PLACE], {}, None))
    assert said.startswith("Mark at meter M-1; 7 in 10 that the leak is within one foot of it.")


def test_a_stretch_that_no_leak_may_be_in_makes_no_line_ambiguous():
    assert status_of(finding(0.6, second=0.3)) == "ambiguous"
    assert status_of(finding(0.45, second=0.3, elsewhere=0.1)) == "keep_listening"


def test_evidence_adds_up_to_the_probability_of_a_leak():
    lines = SimpleNamespace(table=pd.DataFrame(index=["A"]))
    prior, air = 0.25, 0.8
    nats = 3.0 + air
    odds = prior / (1 - prior) * np.exp(nats)
    further = (Weighed("air", nats - 3.0),)
    one = replace(finding(odds / (1 + odds), leak_log_bf=nats), levels_log_bf=3.0, further=further)
    table = evidence_table(lines, [one], prior, {})
    assert table["kind"].tolist() == ["prior", "sound", "air"]
    assert 10 ** table["log10_bayes_factor"].sum() == pytest.approx(odds)
    assert json.loads(table["values"][1])["times"] == pytest.approx(np.exp(3.0), rel=0.005)
    said = with_texts(table, wording())
    assert table["code"].tolist() == ["evidence_prior", "evidence_sound", "evidence_air"]
    assert "20.1 times likelier with a leak" in said["message"][1]
    assert "3 times less likely than no leak" in said["message"][0]
    assert set(said) <= set(load_schema("evidence").columns)


def test_a_fitting_on_a_line_that_joins_makes_another_hypothesis():
    lines = SimpleNamespace(table=pd.DataFrame(index=["A"]))
    table = evidence_table(lines, [finding(0.5, elsewhere=0.3)], 0.5, {})
    assert set(table["hypothesis"]) == {"leak_here_or_on_nearby_line"}


@pytest.mark.parametrize(
    ("changed", "status"),
    [
        ({"within": 0.7}, "located"),
        ({"within": 0.69, "second": 0.1}, "keep_listening"),
        ({"second": 0.15}, "ambiguous"),
        ({"second": 0.149}, "keep_listening"),
        ({"second": 0.0, "elsewhere": 0.15}, "ambiguous"),
        ({"second": 0.0, "elsewhere": 0.149}, "keep_listening"),
    ],
)
def test_limits_of_a_status(changed, status):
    assert status_of(finding(1.0, **changed)) == status


@pytest.mark.parametrize(
    ("leak", "changed", "heard"),
    [
        (0.51, {}, True),
        (0.5, {}, True),  # as likely as not
        (0.49, {}, False),
        (0.16, {"elsewhere": 0.5}, True),
        (0.14, {"elsewhere": 0.5}, False),
        (0.9, {"leak_log_bf": -1.15, "sound_log_bf": 0.9}, False),
        (0.9, {"leak_log_bf": -1.15, "sound_log_bf": 1.1}, True),
        (0.9, {"leak_log_bf": -1.05, "sound_log_bf": 0.9}, True),
        (0.9, {"leak_log_bf": -0.05, "sound_log_bf": 0.9, "within": 0.05}, False),
        (0.9, {"leak_log_bf": -0.05, "sound_log_bf": 0.9, "within": 0.06}, True),
        (0.9, {"leak_log_bf": 0.05, "sound_log_bf": 0.9, "within": 0.05}, True),
    ],
)
def test_limits_of_a_leak_that_is_heard(leak, changed, heard):
    assert leak_heard(finding(leak, **changed)) is heard


def test_a_leak_on_a_line_that_joins_is_named_where_it_is_likely_enough():
    likely, unlikely = (
        wording().text(message_of(finding(0.6, second=0.0, elsewhere=p), [PLACE], {}, None))
        for p in (0.15, 0.149)
    )
    assert "Also possible" in likely
    assert "Also possible" not in unlikely


def test_a_line_at_the_least_probability_of_a_rival_has_a_mark():
    assert leak_heard(finding(0.15, elsewhere=0.6))
    assert not leak_heard(finding(0.149, elsewhere=0.6))


@pytest.mark.parametrize(("probability", "said"), [(0.5, False), (0.51, True)])
def test_another_source_is_named_where_it_is_likelier_than_not(probability, said):
    one = finding(0.9)
    one = replace(one, posterior=replace(one.posterior, other_source_probability=probability))
    assert (Reason("other_source") in message_of(one, [PLACE], {}, None).then) is said


def test_a_line_that_joins_is_named_where_the_leak_is_as_likely_there_as_not():
    likelier, likely = (
        message_of(finding(0.1, elsewhere=p), [PLACE], {}, None) for p in (0.5, 0.49)
    )
    assert likelier.code == "likelier_on_other_line"
    assert likely.code == "no_leak_heard"


def test_a_line_without_a_usable_reading_says_why_the_first_of_its_own_is_not_used():
    why = [Reason("set_aside"), Reason("level_negative"), Reason("set_aside")]
    readings = pd.DataFrame({"line_id": ["A", "B", "B"], **columns_of("reason", why)})
    assert rejected_message("C", readings).code == "no_reading_on_line"
    values = dict(rejected_message("B", readings).values)
    assert (values["readings"], values["first"]) == (2, Reason("level_negative"))
