"""Odds of a section from levels at fittings: against a plain reckoning, and against drawn leaks."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from leakgeo.find.survey.loud_stretches import MIN_PROMINENCE_DB, loud_areas
from leakgeo.find.survey.odds import (
    MIN_SOURCE_DB,
    SOURCE_DB,
    SOURCE_SD_DB,
    FittingLevels,
    section_odds,
)
from leakgeo.route.network import Network
from leakgeo.sound.constants import load_constants
from tests.route.distances import distances
from tests.route.test_network import lines_from, network

MATERIALS = load_constants().materials
METAL, PLASTIC = MATERIALS["copper"].pipe_decay_db_per_m, MATERIALS["pvc"].pipe_decay_db_per_m
DECAY_LN, SD_DB = 0.8, 3.5
TEE = [[(0, 0), (90, 0)], [(40, 0), (40, 25)]]
LOOP = [[(0, 0), (60, 0)], [(60, 0), (60, 40)], [(60, 40), (0, 40)], [(0, 40), (0, 0)]]


def odds_of(net: Network, levels, decay=METAL):
    level = np.asarray(levels, dtype=float)
    areas = loud_areas(net, level)
    heard = FittingLevels(
        net.stop[areas.stop], areas.stop_area, level[areas.stop], np.full(len(areas.stop), SD_DB)
    )
    return section_odds(net, areas, heard, np.broadcast_to(decay, len(net.line)), DECAY_LN)


def plainly(net: Network, levels, decay: float, sections: np.ndarray) -> np.ndarray:
    """Probability of each section, place by place, with distances of networkx and scipy's t."""
    graph = nx.Graph()
    for i, j, metres in zip(net.tail.tolist(), net.head.tolist(), net.length_m, strict=True):
        if metres < graph.get_edge_data(i, j, {"weight": np.inf})["weight"]:
            graph.add_edge(i, j, weight=float(metres))
    away = [nx.single_source_dijkstra_path_length(graph, int(n)) for n in net.stop]
    k = np.exp(DECAY_LN * np.linspace(-2, 2, 17))
    k_weight = stats.norm.pdf(np.linspace(-2, 2, 17))
    above = np.arange(MIN_SOURCE_DB, 54, 2.0)
    weight = k_weight[:, None] * stats.norm.pdf(above, SOURCE_DB, SOURCE_SD_DB)[None, :]
    floor = np.arange(min(levels) - 25, max(levels) + 4, 1.0)
    found = []
    for s in sections.tolist():
        places = (np.arange(12) + 0.5) / 12 * net.length_m[s]
        total = 0.0
        for x in places:
            ends = (int(net.tail[s]), x), (int(net.head[s]), net.length_m[s] - x)
            metres = np.array([min(d[n] + out for n, out in ends) for d in away])
            over = above[None, :, None] - decay * k[:, None, None] * metres
            lifted = 10 * np.log10(1 + 10 ** (over / 10))
            z = (np.asarray(levels) - lifted)[..., None] - floor
            total += (stats.t.pdf(z / SD_DB, 4).prod(axis=2).sum(axis=2) * weight).sum()
        found.append(total / 12 * net.length_m[s])
    return np.array(found) / sum(found)


@pytest.mark.parametrize(
    ("shapes", "stops", "levels"),
    [
        (TEE, [(0, 5.0), (0, 85.0), (1, 24.0)], [38, 33, 31]),
        (TEE, [(0, 40.0), (0, 85.0), (1, 24.0)], [30, 28, 24]),
        (LOOP, [(0, 10.0), (1, 20.0), (2, 30.0), (3, 20.0)], [30, 24, 21, 25]),
    ],
)
def test_the_odds_are_those_of_a_plain_reckoning(shapes, stops, levels):
    net = network(lines_from(shapes), *stops)
    odds = odds_of(net, levels)
    assert set(odds.area.tolist()) == {0}
    plain = plainly(net, levels, METAL, odds.section)
    assert odds.probability == pytest.approx(plain, abs=0.02)


@settings(max_examples=25)
@given(st.lists(st.floats(-20, 60), min_size=4, max_size=4), st.floats(-30, 30))
def test_the_odds_of_each_area_sum_to_one_whatever_the_gain(levels, gain):
    net = network(lines_from(LOOP), (0, 10.0), (1, 20.0), (2, 30.0), (3, 20.0))
    odds = odds_of(net, levels)
    assert np.bincount(odds.area, odds.probability) == pytest.approx(1.0)
    turned = odds_of(net, np.asarray(levels) + gain)
    assert turned.probability == pytest.approx(odds.probability, abs=1e-6)


def test_both_sides_alike_are_as_likely():
    net = network(lines_from([[(0, 0), (80, 0)]]), (0, 0.0), (0, 40.0), (0, 80.0))
    assert odds_of(net, [24, 30, 24]).probability == pytest.approx([0.5, 0.5], abs=1e-6)


def test_silence_far_along_plastic_says_little_and_along_metal_much():
    net = network(lines_from([[(0, 0), (140, 0)]]), (0, 0.0), (0, 30.0), (0, 140.0))
    quiet = {d: odds_of(net, [10, 10, 10], d).support_nats[0] for d in (METAL, PLASTIC)}
    assert quiet[METAL] < -1.0
    assert -0.6 < quiet[PLASTIC] < 0.0


def test_a_drop_along_plastic_is_a_short_way_and_along_metal_a_long_one():
    # 12 dB between two fittings 30 m apart, and pipe beyond the louder one.
    lines = lines_from([[(0, 0), (60, 0)]])
    net = network(lines, (0, 30.0), (0, 60.0))
    beyond = {d: odds_of(net, [32, 20], d).probability[0] for d in (METAL, PLASTIC)}
    assert beyond[METAL] > beyond[PLASTIC]


def test_quiet_fittings_between_two_loud_ones_part_them():
    net = network(lines_from([[(0, 0), (90, 0)]]), (0, 0.0), (0, 45.0), (0, 90.0))
    apart = loud_areas(net, np.array([30.0, 30.0 - MIN_PROMINENCE_DB, 31.0]))
    assert apart.stop_area.tolist() == [0, 0, 1, 1]
    assert apart.stop.tolist() == [1, 2, 0, 1]
    one = loud_areas(net, np.array([30.0, 30.1 - MIN_PROMINENCE_DB, 31.0]))
    assert one.stop_area.tolist() == [0, 0, 0]


def test_odds_are_kept_by_leaks_drawn_from_the_model():
    rng = np.random.default_rng(8)
    net = network(lines_from(TEE), (0, 0.0), (0, 30.0), (0, 60.0), (0, 90.0), (1, 25.0))
    share = net.length_m / net.length_m.sum()
    away = distances(net, net.stop)
    held, given_odds = [], []
    for _ in range(300):
        s = rng.choice(len(share), p=share)
        x = rng.random() * net.length_m[s]
        metres = np.minimum(away[:, net.tail[s]] + x, away[:, net.head[s]] + net.length_m[s] - x)
        k = np.exp(DECAY_LN * stats.truncnorm.rvs(-2, 2, random_state=rng))
        a = (MIN_SOURCE_DB - SOURCE_DB) / SOURCE_SD_DB
        above = stats.truncnorm.rvs(a, 2.4, SOURCE_DB, SOURCE_SD_DB, random_state=rng)
        lifted = 10 * np.log10(1 + 10 ** ((above - METAL * k * metres) / 10))
        odds = odds_of(net, lifted + SD_DB * rng.standard_t(4, len(lifted)))
        # Of several areas the first is the loudest's; the leak is asked of it.
        held.append(odds.probability[(odds.area == 0) & (odds.section == s)].sum())
        given_odds.append((odds.probability[odds.area == 0] ** 2).sum())
    # Of odds that are kept, the mean share of the leak's own section is the mean of all shares
    # weighted by themselves.
    assert np.mean(held) == pytest.approx(np.mean(given_odds), abs=0.06)
    assert np.mean(held) > 1.4 * (share**2).sum()
