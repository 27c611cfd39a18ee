"""The benchmark of the balance: it draws at the rates of the tables, and reports what is out."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from leakgeo.find.evidence.meter import load_meter_weights
from leakgeo.find.posterior.rivals import OpenEnd, SoundingFitting, load_rival_weights
from leakgeo.sound.constants import load_constants
from tests.benchmarks.balance import Row, Setting, balance, binned, unbounded
from tests.benchmarks.balance_draws import Hypothesis, drawn_line, meter_tests, prior

LINES = 150


@pytest.fixture(scope="module")
def told():
    """Lines that nobody listened to, with meter and isolation tests and holes."""
    setting = Setting(0.5, 0.5, 0.7, levels=False, only=("meter", "isolation", "dig"))
    return balance(LINES, 3, setting, bounded=False)


def test_the_hypotheses_have_the_weights_of_the_tables():
    valve, ends = SoundingFitting("F", 5.0, 0.4), (OpenEnd("beyond_end", 24.0),)
    weight = prior([valve], ends, 2, 0.8)
    assert sum(weight.values()) == pytest.approx(1.0)
    leak = sum(p for h, p in weight.items() if h.kind == "leak")
    beyond = load_rival_weights()["beyond_end"]["probability"]
    assert weight[Hypothesis("beyond_end")] == pytest.approx(beyond * leak)
    assert weight[Hypothesis("leak", "fitting")] == pytest.approx(0.4 * leak)
    assert weight[Hypothesis("fitting")] == pytest.approx(0.4 * leak * 0.2 / 0.8)


def test_lines_are_drawn_at_these_rates():
    rng = np.random.default_rng(1)
    lines = [drawn_line(rng, 0.5, 0.0, levels=False) for _ in range(LINES)]
    kinds = Counter(line.truth.kind for line in lines)
    expected = Counter()
    for line in lines:
        for h, p in prior([f for _, f in line.fittings], line.ends, 1, 0.5).items():
            expected[h.kind] += p
    for kind, number in expected.items():
        assert abs(kinds[kind] - number) < 4.0 * number**0.5


def test_meters_stick_and_show_other_use_as_often_as_the_table_has_it():
    rng, weight = np.random.default_rng(2), load_meter_weights()
    shown = [meter_tests(rng, Hypothesis("silence")) for _ in range(3000)]
    turned = np.array([each["open"].verdict == "loss_shown" for each in shown if "open" in each])
    rate = weight["use"]["house_valve_open"] * (1.0 - weight["meter"]["stuck"])
    assert turned.mean() == pytest.approx(rate, abs=4.0 * (rate / turned.size) ** 0.5)


def test_what_is_said_without_levels_comes_true(told):
    rows = [row for row in binned([t.leak for t in told]) if row.number > 10]
    assert len(rows) > 3
    assert max(abs(row.off) for row in rows) < 3.5
    assert not rows[0].out


def test_a_balance_with_a_wrong_rate_is_reported_as_out():
    setting = Setting(0.5, 0.9, 0.7, levels=False, only=("meter", "isolation", "dig"))
    whole = binned([t.leak for t in balance(LINES, 3, setting, bounded=False)])[0]
    assert whole.out
    assert "**out**" in str(whole)
    assert not Row.of("as said", np.full(100, 0.5), np.arange(100) % 2).out


def test_bounds_are_lifted_and_put_back():
    before = dict(load_meter_weights()["most_odds"])
    with unbounded(load_constants()) as constants:
        assert min(load_meter_weights()["most_odds"].values()) > 1e6
        assert constants.air["most_odds"] > 1e6
    assert load_meter_weights()["most_odds"] == before
