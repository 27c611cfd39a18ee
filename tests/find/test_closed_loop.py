"""Actions of the advice, followed in closed loop on a few sites of both worlds."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from tests.benchmarks.closed_loop import WORLDS, advised, worked_by
from tests.benchmarks.closed_loop_gain import Belief, beliefs
from tests.benchmarks.closed_loop_sites import LINE, METER, Action, Truth, joined

LINES, TURNS, STOPS = 3, 8, 8


@pytest.fixture(scope="module", params=list(WORLDS))
def loop(request):
    return worked_by("actions", WORLDS[request.param](LINES, 4), TURNS, patience=1, how_many=STOPS)


def test_a_crew_that_follows_the_actions_ends(loop):
    ended = Counter(w.why for w in loop.worked)
    assert ended["turns"] <= 1
    assert len(loop.worked) == LINES


def test_words_do_not_contradict_one_another_on_the_way(loop):
    assert loop.said == []


def test_actions_tell_no_less_of_what_is_true_than_chance_explains(loop):
    gains = [g for _, g in loop.gains if np.isfinite(g.realised) and np.isfinite(g.expected)]
    assert len(gains) > LINES
    # A few lines are few: one on which an unlikely thing is true loses several bits.
    more = np.array([g.realised - g.expected for g in gains])
    assert more.mean() > -2.0 * more.std(ddof=1) / more.size**0.5
    assert max(g.realised for g in gains) > 0.5


def test_no_line_is_rejected_for_what_an_action_recorded(loop):
    assert "rejected" not in {w.status for w in loop.worked}


@pytest.mark.parametrize("world", WORLDS)
def test_every_action_with_a_record_is_in_the_job(world):
    sites = WORLDS[world](1, 4)
    [site] = sites.values()
    kinds = ("sweep", "air", "night", "probe", "read_meter")
    for kind in ("listen", *kinds):
        site.do(Action(kind, 6.0, stops_m=(3.0, 6.0)))
    site.do(Action("close_valve", valve="CS-1,HV-1"))
    made = joined(sites)
    own = made["readings"][made["readings"]["line_id"] == f"0000{LINE}"]
    assert site.spent.readings == len(own)
    assert set(own["air"].dropna()) == {"on", "off"}
    assert own["offset_m"].notna().sum() == 7
    assert own["walk_id"].nunique() >= 5
    assert len(made["isolation_tests"]) == 1
    assert len(made["closed_valves"]) == 2
    assert "shut" in set(made["meter_tests"]["house_valve"])


@pytest.mark.parametrize("world", WORLDS)
def test_more_sites_leave_the_first_as_they_were(world):
    few, many = WORLDS[world](1, 4), WORLDS[world](2, 4)
    stops = np.arange(1.0, 8.0)
    assert (few["0000"].walk(stops) == many["0000"].walk(stops)).all()
    assert few["0000"].truth == many["0000"].truth


def test_what_is_said_of_the_truth_counts_its_place():
    place = np.linspace(0.0, 10.0, 101)
    belief = Belief({("leak", ""): 0.5, ("silence", ""): 0.5}, place, np.full(101, 0.1))
    assert belief.log2_of(Truth("leak", 5.0)) == pytest.approx(np.log2(0.05))
    assert belief.log2_of(Truth("none")) == -1.0
    # One bit of the kinds, and the places of ten metres half of the time.
    assert belief.entropy == pytest.approx(1.0 + 0.5 * np.log2(10.0), abs=1e-3)


@pytest.mark.parametrize("world", WORLDS)
def test_what_an_action_finds_is_in_the_job_and_changes_what_is_said(world):
    sites = WORLDS[world](1, 4)
    [site] = sites.values()
    site.walk(np.arange(0.5, site.length_m, 1.0))
    before = beliefs(advised(sites))[f"0000{LINE}"]
    kinds = {"look_inside": ("beyond_end", ""), "find_source": ("unknown", "")}
    for kind in kinds:
        site.do(Action(kind))
    site.do(Action("shut_fitting", contact=METER))
    made = joined(sites)["action_results"]
    assert made["action"].tolist() == [*kinds, "shut_fitting"]
    assert made["contact_id"].tolist()[-1] == f"0000{METER}"
    after = beliefs(advised(sites))[f"0000{LINE}"]
    for (_, key), result in zip(kinds.items(), made["result"], strict=False):
        odds = [each.share[key] / each.share["leak", ""] for each in (before, after)]
        assert (odds[1] > odds[0]) == (result == "found")
    assert site.done == set()
