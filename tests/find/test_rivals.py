"""Explanations of a sound other than a leak on the line: fittings, ends, and other sources."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakgeo.find.evidence.likelihood import Likelihood, updated
from leakgeo.find.locate.status import explanation, leak_heard, message_of, status_of
from leakgeo.find.locate.zones import best_mark
from leakgeo.find.posterior.posterior import Posterior, _with_quiet
from leakgeo.find.posterior.rivals import (
    OpenEnd,
    Rival,
    SoundingFitting,
    load_rival_weights,
    sounding_fittings,
)
from leakgeo.reason import Reason
from leakgeo.wording import wording
from tests.find.shapes import LEAK_M, LENGTH_M, PRIOR, STOPS_M, found, hump, noise
from tests.find.test_status import PLACE, finding

ENDS = (OpenEnd("beyond_start", 0.0), OpenEnd("beyond_end", LENGTH_M))
NATS = st.floats(-8.0, 8.0)


def beyond(result):
    return {rival.kind: rival.probability for rival in result.rivals}


def over(leak_m, height_db, width_m=1.5):
    """Level over a leak anywhere, above a floor of 40 dB."""
    return 40.0 + hump(height_db, width_m, STOPS_M - leak_m + LEAK_M)


@pytest.mark.parametrize(("leak_m", "kind"), [(-4.0, "beyond_start"), (34.0, "beyond_end")])
def test_a_level_that_still_rises_at_an_end_may_come_from_beyond_it(leak_m, kind):
    outside = []
    for seed in range(4):
        result = found(over(leak_m, 30.0) + noise(seed), open_ends=ENDS)
        outside.append(beyond(result)[kind])
        mark = best_mark(result.chainage_m, result.probability)
        assert mark.within_foot_given_leak * result.leak_probability < 0.6
    assert np.mean(outside) > 0.35


@pytest.mark.parametrize(("side", "kind"), [(1.0, "beyond_end"), (-1.0, "beyond_start")])
def test_a_level_that_rises_steadily_over_the_line_comes_from_beyond_its_end(side, kind):
    rise = side * 0.6 * (STOPS_M - LENGTH_M / 2)
    result = found(50.0 + rise + noise(3), open_ends=ENDS)
    chance = beyond(result)
    assert chance[kind] > max(result.leak_probability, 0.5)
    # As steep, but the crew turned around before the end.
    short = STOPS_M < LENGTH_M - 4.0 if side > 0 else STOPS_M > 4.0
    far = found((50.0 + rise + noise(3))[short], STOPS_M[short], open_ends=ENDS)
    assert beyond(far)[kind] < 0.6 * chance[kind]


def test_a_level_that_hardly_rises_is_no_sign_of_a_source_beyond():
    result = found(50.0 + 0.1 * STOPS_M + noise(3), open_ends=ENDS)
    assert max(beyond(result).values()) < 0.2


def test_a_leak_on_the_line_is_not_beyond_its_ends():
    result = found(over(LEAK_M, 20.0) + noise(1), open_ends=ENDS)
    assert result.leak_probability > 0.95
    assert beyond(result)["beyond_start"] + beyond(result)["beyond_end"] < 0.001


def test_a_closed_end_has_nothing_beyond_it():
    result = found(over(-4.0, 30.0) + noise(1), open_ends=ENDS[1:])
    assert "beyond_start" not in beyond(result)


def test_a_loud_pressure_reducing_valve_does_not_hide_the_leak():
    valve = SoundingFitting("PRV-1", 25.0, 0.4)
    both = 10 * np.log10(10 ** (over(25.0, 22.0) / 10) + 10 ** (over(LEAK_M, 12.0) / 10))
    for seed in range(3):
        result = found(both + noise(seed), fittings=[valve])
        mark = best_mark(result.chainage_m, result.probability)
        assert abs(mark.chainage_m - LEAK_M) < 0.61
        assert mark.within_foot_given_leak > 0.5


@pytest.mark.parametrize("pumps", [2, 3, 4])
def test_a_line_with_many_pumps_that_may_sound_is_located(pumps):
    some = [SoundingFitting(f"P{k}", 4.0 + 7.0 * k, 0.3) for k in range(pumps)]
    result = found(over(LEAK_M, 20.0) + noise(1), fittings=some)
    assert np.isfinite(result.probability).all()
    assert result.leak_probability + sum(beyond(result).values()) <= 1.0
    assert result.leak_probability > 0.5


def test_a_quiet_line_is_as_quiet_with_many_fittings_as_its_prior_has_it():
    # Nothing is heard of three pumps: their probabilities without a leak sum to less than one.
    weight = _with_quiet(np.array([0.2, 0.3, 0.3, 0.3]))
    assert weight.sum() == pytest.approx(1.0)
    assert weight[0] == pytest.approx(0.2)
    assert weight[1:] == pytest.approx(0.8 / 1.1 * np.array([0.2, 0.3, 0.3, 0.3]))
    assert _with_quiet(np.array([0.2, 0.1])) == pytest.approx([0.7, 0.2, 0.1])


def test_a_still_meter_turns_the_balance_to_the_valve_that_may_hiss():
    valve = SoundingFitting("V-1", LEAK_M, 0.03)
    heard = found(over(LEAK_M, 20.0) + noise(2), fittings=[valve])
    assert heard.leak_probability > 0.8
    after = updated(heard, Likelihood("meter", np.full(heard.chainage_m.size, -4.0), 0.0))
    assert after.leak_probability < 0.5
    assert max(after.rivals, key=lambda r: r.probability).name == "V-1"


@given(
    st.lists(st.floats(0.0, 1.0), min_size=4, max_size=4), st.lists(NATS, min_size=8, max_size=8)
)
def test_probabilities_stay_a_whole_and_the_order_of_evidence_does_not_matter(parts, nats):
    shares = (np.array(parts) + 1e-3) / (np.sum(parts) + 5e-3)
    before = Posterior(
        np.array([0.5, 1.5]), np.array([0.4, 0.6]), float(shares[0]), ((1, float(shares[1]), 3.0),),
        0.0, 0.0, 0.0, 0.0,
        rivals=(Rival("fitting", float(shares[2])), Rival("unknown", float(shares[3]))),
    )  # fmt: skip
    first = Likelihood("a", np.array(nats[:2]), nats[2], np.array(nats[3:5]), nats[5])
    second = Likelihood("b", np.array(nats[6:8]), 0.0)
    one, other = updated(updated(before, first), second), updated(updated(before, second), first)
    assert one.leak_probability == pytest.approx(other.leak_probability, abs=1e-9)
    assert one.probability == pytest.approx(other.probability, abs=1e-9)
    whole = one.leak_probability + sum(r.probability for r in one.rivals)
    assert whole + one.on_nearby_lines[0][1] <= 1.0 + 1e-9


def test_evidence_that_favours_nothing_changes_nothing():
    before = found(over(LEAK_M, 12.0) + noise(1), open_ends=ENDS)
    after = updated(before, Likelihood("meter", np.full(before.chainage_m.size, -7.0), -7.0))
    assert after.leak_probability == pytest.approx(before.leak_probability, abs=1e-12)
    assert after.leak_log_bf == pytest.approx(before.leak_log_bf, abs=1e-9)


def with_rivals(leak, *rivals, **more):
    one = finding(leak, **more)
    return replace(one, posterior=replace(one.posterior, rivals=rivals))


@pytest.mark.parametrize(
    ("rival", "status", "text"),
    [
        (Rival("fitting", 0.6, 3.0, "V-1"), "other_source", "main valve V-1 sounds by itself"),
        (Rival("unknown", 0.6), "other_source", "likelier another source"),
        (Rival("beyond_start", 0.6, 0.0), "beyond_end", "beyond meter M-1"),
        (Rival("beyond_end", 0.6, 10.0), "beyond_end", "beyond meter M-1"),
    ],
)
def test_the_status_is_that_of_the_likeliest_explanation(rival, status, text):
    one = with_rivals(0.1, rival, within=0.5)
    assert not leak_heard(one)
    assert status_of(one) == status
    contact = ("V-1", "main_valve") if rival.kind == "fitting" else ("M-1", "meter")
    place = Reason("fitting", kind=contact[1], contact=contact[0])
    places = {} if rival.kind == "unknown" else {rival.key: place}
    message = message_of(one, [PLACE], places, None)
    assert text in wording("en").text(message)


@pytest.mark.parametrize(
    ("leak", "chances", "explains"),
    [
        (0.4, (0.41, 0.05), True),
        (0.42, (0.41, 0.05), False),
        (0.1, (0.3, 0.15), True),
        # Silence is likelier.
        (0.1, (0.3, 0.05), False),
    ],
)
def test_a_rival_explains_if_it_is_likelier_than_a_leak_and_something_is_heard(
    leak, chances, explains
):
    rivals = Rival("fitting", chances[0], 3.0, "V-1"), Rival("unknown", chances[1])
    assert explanation(with_rivals(leak, *rivals)) == (rivals[0] if explains else None)


def test_a_leak_here_or_just_beyond_an_end_is_no_silence():
    one = with_rivals(0.35, Rival("beyond_end", 0.2, 10.0), leak_log_bf=-3.0, sound_log_bf=0.0)
    assert not leak_heard(one)
    assert status_of(one) == "keep_listening"
    assert status_of(with_rivals(0.35, Rival("beyond_end", 0.1, 10.0))) == "no_leak_heard"
    # If something is heard, the likelier of the two places is marked.
    heard = with_rivals(0.35, Rival("beyond_end", 0.2, 10.0))
    assert leak_heard(heard)
    assert status_of(heard) == "ambiguous"


def test_only_what_sounds_in_the_hole_is_likelier_for_a_dry_hole():
    fittings = pd.DataFrame({
        "contact_id": ["SV-1", "SV-2", "PRV-1"], "line_id": "A",
        "kind": ["stop_valve", "stop_valve", "pressure_reducing_valve"],
        "chainage_m": [5.0, 9.0, 5.2],
    })  # fmt: skip
    lines = SimpleNamespace(index_of=lambda names: np.zeros(len(names), dtype=int))
    weights = load_rival_weights()
    plain = {f.contact_id: f.probability for f in sounding_fittings(fittings, lines)[0]}
    dug = sounding_fittings(fittings, lines, {0: [(4.5, 5.5)], 1: [(8.5, 9.5)]})[0]
    likelier = {f.contact_id: f.probability for f in dug}
    assert likelier["SV-1"] == weights["with_leak"]["in_dry_hole"] > plain["SV-1"]
    assert likelier["SV-2"] == plain["SV-2"]
    # What sounds often anyway is not made less likely.
    assert likelier["PRV-1"] == plain["PRV-1"] > weights["with_leak"]["in_dry_hole"]


def test_a_leak_may_be_unheard_beside_another_source(monkeypatch):
    def odds():
        result = found(over(LEAK_M, 20.0) + noise(1))
        return beyond(result)["unknown"] / result.leak_probability

    weights = load_rival_weights()
    with_leak, unheard = odds(), weights["unknown"]["leak_unheard"]
    always = {**weights, "unknown": {"leak_unheard": 0.0}}
    monkeypatch.setattr("leakgeo.find.posterior.posterior.load_rival_weights", lambda: always)
    assert with_leak / odds() == pytest.approx(1.0 + unheard * PRIOR / (1.0 - PRIOR))


@pytest.mark.parametrize(
    ("within", "leak_log_bf", "status"),
    [(0.1, -1.5, "other_source"), (0.6, -1.5, "ambiguous"), (0.1, 1.5, "ambiguous")],
)
def test_a_leak_nowhere_beside_a_source_that_explains_the_sound_is_not_heard(
    within, leak_log_bf, status
):
    one = with_rivals(0.6, Rival("unknown", 0.35), within=within, leak_log_bf=leak_log_bf)
    one = replace(one, posterior=replace(one.posterior, other_source_probability=0.95))
    assert status_of(one) == status
    assert leak_heard(one) == (status == "ambiguous")


def test_a_likely_rival_leaves_a_mark_ambiguous():
    rival = Rival("beyond_start", 0.3, 0.0)
    one = with_rivals(0.65, rival, within=0.9, second=0.0)
    assert status_of(one) == "ambiguous"
    place = Reason("fitting", kind="meter", contact="M-1")
    message = wording("en").text(message_of(one, [PLACE], {rival.key: place}, None))
    assert "beyond meter M-1 (30 %)" in message
