"""Actions compared: their gain against sums by hand and drawn outcomes, costs, and the words."""

from __future__ import annotations

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import entropy

import leakgeo
from leakgeo.find.advise.action_costs import action_costs
from leakgeo.find.advise.candidates import Candidate
from leakgeo.find.advise.explanations import Explanations
from leakgeo.find.advise.information import expected_gain_bits, outcomes_of, yes_or_no
from leakgeo.find.advise.outcomes import air_on_and_off, looked_for, meter_read, swept
from leakgeo.find.advise.ranking import ranked
from leakgeo.find.advise.unfinished_walk import unfinished_walk
from leakgeo.find.evidence.meter import MeterPlace, load_meter_weights, turning
from leakgeo.find.posterior.rivals import Rival
from leakgeo.find.survey.line_fittings import NO_FITTINGS
from leakgeo.reason import Reason
from leakgeo.sound.constants import load_constants
from leakgeo.sound.spreading import Spreading

SHARES = st.lists(st.floats(0.01, 1.0), min_size=3, max_size=3)
TABLES = st.lists(SHARES, min_size=3, max_size=3)
STOP = ("short_enough", "enough_readings", "nothing_else", "not_this_pipe")


def shares(values):
    values = np.array(values)
    return values / values.sum(axis=-1, keepdims=True)


@given(SHARES, TABLES)
def test_the_gain_is_the_mutual_information_of_scipy(weight, table):
    weight, likelihood = shares(weight), shares(table)
    before = entropy(weight, base=2)
    of = weight @ likelihood
    after = [entropy(weight * likelihood[:, o] / of[o], base=2) for o in range(3)]
    gain = expected_gain_bits(weight, outcomes_of(likelihood))
    assert gain == pytest.approx(before - of @ after, abs=1e-6)


@given(SHARES, TABLES, TABLES)
def test_two_actions_gain_at_least_what_one_does_and_at_most_both(weight, first, then):
    weight = shares(weight)
    one, other = (outcomes_of(shares(each)) for each in (first, then))
    alone = [expected_gain_bits(weight, each) for each in (one, other)]
    both = expected_gain_bits(weight, one.then(other))
    assert max(alone) - 1e-9 <= both <= sum(alone) + 1e-9


@given(SHARES, TABLES, st.floats(1.0, 50.0))
def test_odds_that_are_not_believed_gain_less(weight, table, most):
    weight, likelihood = shares(weight), shares(table)
    bounded = expected_gain_bits(weight, outcomes_of(likelihood, most, most))
    assert bounded <= expected_gain_bits(weight, outcomes_of(likelihood)) + 1e-9


def line(leak=0.6, unknown=0.2, beyond=0.1, silent=0.1):
    places = np.linspace(3.0, 9.0, 24)
    rivals = Rival("unknown", unknown), Rival("beyond_end", beyond, 20.0)
    return Explanations(places, np.full(24, leak / 24), rivals, (), silent)


def test_drawn_outcomes_gain_what_was_expected():
    explained, rng = line(), np.random.default_rng(5)
    weight = explained.weights()
    shown = swept(explained, 6.0)
    truth = rng.choice(len(weight), 20_000, p=weight)
    seen = np.array([rng.choice(3, p=shown.likelihood[h]) for h in truth])
    after = weight[:, None] * shown.odds / (weight @ shown.odds)
    realised = np.log2(after[truth, seen] / weight[truth])
    error = realised.std() / len(truth) ** 0.5
    expected = expected_gain_bits(weight, shown)
    assert abs(realised.mean() - expected) < 4 * error
    assert expected > 0.1


def test_an_action_about_a_rival_gains_the_most_where_it_is_even():
    gains = []
    for p in (0.01, 0.5, 0.98):
        explained = line(leak=1.0 - p - 0.01, unknown=p, beyond=0.005, silent=0.005)
        gains.append(
            expected_gain_bits(
                explained.weights(), looked_for(explained, "find_source", "", NO_FITTINGS, None)
            )
        )
    assert gains[1] > 3 * max(gains[0], gains[2])


def test_two_readings_of_a_meter_share_the_flow_and_a_stuck_register():
    """The four outcomes against draws of flow, use, a valve that lets by, and a stuck meter."""
    rng, n, least = np.random.default_rng(3), 400_000, 96.0
    weight = load_meter_weights()
    flow = weight["leak"]["median_l_per_day"] * weight["leak"]["factor"] ** rng.standard_normal(n)
    stuck = rng.random(n) < weight["meter"]["stuck"]
    turns = {}
    for valve in ("open", "shut"):
        use = rng.random(n) < weight["use"][f"house_valve_{valve}"]
        by_leak = rng.random(n) < np.clip(flow / least, 0.0, 1.0)
        passes = (valve == "open") | (rng.random(n) < weight["meter"]["lets_by"])
        turns[valve] = (use | (by_leak & passes)) & ~stuck
    drawn = [np.mean((turns["open"] == a) & (turns["shut"] == b))
             for a in (True, False) for b in (True, False)]  # fmt: skip
    assert turning({}, ("open", "shut"), least).beyond == pytest.approx(drawn, abs=0.003)


def test_a_meter_read_twice_tells_pipe_from_house():
    explained = line(leak=0.5, unknown=0.02, beyond=0.46, silent=0.02)
    place = MeterPlace(0.0, 1, "whole", assumed=False)
    gain = expected_gain_bits(explained.weights(), meter_read(explained, place, {}, 96.0))
    assert 0.5 < gain < entropy(explained.weights(), base=2)


def test_air_tells_a_leak_from_another_source_and_less_the_farther_it_is():
    explained = line(leak=0.5, unknown=0.5, beyond=0.0, silent=0.0)
    spreading, constants = Spreading(0.9, 4.0, 0.15, 1.5, 0.01), load_constants()
    near, far = (
        expected_gain_bits(
            explained.weights(), air_on_and_off(explained, at, spreading, 15.0, 4, 3.0, constants)
        )
        for at in (6.0, 40.0)
    )
    assert near > 0.5
    assert far < 0.2 * near


def candidate(action, gain, minutes, **more):
    return Candidate(action, minutes, Reason("look_inside"), gain, **more)


def test_the_best_gain_in_an_hour_goes_first_and_what_must_be_done_before_all():
    worth = action_costs().worth
    found = [
        candidate("air", 0.9, 60.0), candidate("tape", 0.3, 6.0), candidate("night", 0.01, 90.0),
        candidate("trace_again", np.nan, 20.0, first=True),
        candidate("find_source", 0.001, 15.0, kept=True),
    ]  # fmt: skip
    order = [one.candidate.action for one in ranked(np.array([0.5, 0.5]), found, worth)]
    assert order == ["trace_again", "tape", "air", "find_source"]


def test_two_actions_that_tell_only_together_are_seen_two_steps_ahead():
    # Three hypotheses: the first action splits off one, the second another of those that are left.
    weight = np.array([1 / 3, 1 / 3, 1 / 3])
    first = yes_or_no(np.array([1.0, 0.0, 0.0]))
    then = yes_or_no(np.array([0.5, 1.0, 0.0]))
    found = [
        candidate(name, expected_gain_bits(weight, of), 10.0, outcomes=of)
        for name, of in (("sweep", first), ("close_valve", then))
    ]
    order = ranked(weight, found, action_costs().worth)
    assert {one.candidate.action for one in order} == {"sweep", "close_valve"}
    together = expected_gain_bits(weight, first.then(then)) / 20.0 * 60.0
    assert order[1].bits_per_hour == pytest.approx(max(together, found[1].gain_bits * 6.0))
    assert all(one.then is not None for one in order)


def test_a_walk_that_ends_before_the_leak_is_not_finished():
    explained = line(leak=0.9, unknown=0.02, beyond=0.05, silent=0.03)
    walked = np.array([0.5, 1.5, 2.5])
    found = unfinished_walk(explained, walked, np.array([10.0, 14.0, 19.0]), 20.0, 4.0)
    assert (found.from_m, found.to_m, found.rises) == (2.5, 20.0, True)
    assert found.probability == pytest.approx(0.95)
    whole = unfinished_walk(explained, np.arange(1.0, 20.0), np.arange(19.0), 20.0, 4.0)
    assert whole.probability == 0.0


def test_costs_of_a_crew_change_the_order(town, tmp_path):
    job, plain = town[0], town[0]["next_actions"]
    led = plain[(plain["order"] == 1) & (plain["basis"] == "assumed")]
    first = led[led["line_id"].isin(plain.loc[plain["order"] == 2, "line_id"])].iloc[0]
    dear = tmp_path / "costs.toml"
    dear.write_text(f"[{first['action']}]\nminutes = 6000.0\n", "utf-8")
    own = leakgeo.advise(job, costs=dear)["next_actions"]
    best = own[(own["line_id"] == first["line_id"]) & (own["order"] == 1)]["action"].tolist()
    assert best != [first["action"]]


def test_what_a_crew_has_not_is_never_proposed(town):
    found = leakgeo.advise(town[0], without="air, sweep, probe")
    assert not found["next_actions"]["action"].isin(["air", "probe"]).any()
    said = " ".join(found["lines"]["advice"].dropna())
    assert "injected air" not in said
    assert {"air", "sweep"} <= set(town[0]["next_actions"]["action"])


@pytest.mark.parametrize(
    ("text", "cause"),
    [
        ("[sweep]\nminutes = 0.0", "must be above 0"),
        ("[sweep]\nminuts = 3.0", "unknown"),
        ("[worth]\nrising = 1.5", "above 0 and below 1"),
        ("[air]\npairs = 0.0", "must be above 0"),
        ("[sweep]\nminutes = nan", "must be above 0"),
        ("[night]\nfrom_hour = 25.0", "below 24"),
        ("[listen_beyond]\nright = 0.5", "unknown"),
        ("[sweep]\nminutes = 'x'", "not a number"),
        ("nonsense", "can't be read"),
    ],
)
def test_costs_that_can_not_be_used_are_refused(town, tmp_path, text, cause):
    path = tmp_path / "costs.toml"
    path.write_text(text, "utf-8")
    with pytest.raises(leakgeo.ParameterError, match=cause):
        leakgeo.advise(town[0], costs=path)


def test_an_action_that_nobody_knows_is_refused(town):
    with pytest.raises(leakgeo.ParameterError, match="listen"):
        leakgeo.advise(town[0], without="listen")


def test_the_words_never_contradict_the_actions(town):
    result = town[0]
    lines, actions = result["lines"].set_index("line_id"), result["next_actions"]
    first = actions[actions["order"] == 1].set_index("line_id")
    for name, row in lines[lines["advice"].notna()].iterrows():
        codes = {row["advice_code"], *_codes(json.loads(row["advice_values"]))}
        if name in first.index:
            assert not codes & {"short_enough", "nothing_else"}
            assert first.loc[name, "code"] in codes | {"walk_first"}
        else:
            # Who stops is told why.
            assert codes & {*STOP, "no_evidence_yet", "answer_question", "more_stops_no_shorter",
                            "nothing_since_repair"}  # fmt: skip
    assert (
        actions.groupby("line_id")["order"]
        .apply(list)
        .map(lambda order: order == list(range(1, len(order) + 1)))
        .all()
    )
    assert not set(actions["line_id"]) & set(lines.index[lines["status"] == "rejected"])


def _codes(values):
    for value in values.values() if isinstance(values, dict) else values:
        if isinstance(value, dict):
            if "code" in value:
                yield value["code"]
            yield from _codes(value)
        elif isinstance(value, list):
            yield from _codes(value)
