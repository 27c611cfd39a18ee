"""Segments between valves and the step test: loops, bridges, a valve that passes water."""

from __future__ import annotations

from itertools import combinations

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leakgeo.find.advise.district_closures import closures_of
from leakgeo.find.advise.step_test import District, StepResult
from leakgeo.find.advise.valve_segments import Segments

EDGES = st.lists(st.tuples(st.integers(0, 7), st.integers(0, 7)), min_size=1, max_size=14)


def graph_of(sides, without=()):
    graph = nx.MultiGraph()
    graph.add_nodes_from(np.unique(sides).tolist())
    graph.add_edges_from((a, b, k) for k, (a, b) in enumerate(sides) if k not in without)
    return graph


def parts(graph):
    return nx.number_connected_components(graph)


@settings(deadline=None)
@given(EDGES)
def test_bridges_and_pairs_that_cut_are_those_of_networkx(sides):
    segments, graph = Segments(np.arange(8), np.array(sides)), graph_of(sides)
    whole = parts(graph)
    bridges = {k for k in range(len(sides)) if parts(graph_of(sides, {k})) > whole}
    assert {k for k in range(len(sides)) if segments.cuts([k])} == bridges
    for pair in combinations(range(len(sides)), 2):
        cuts = parts(graph_of(sides, pair)) > whole and not bridges & set(pair)
        assert segments.cuts(pair) == (cuts or set(pair) <= bridges)


@settings(deadline=None)
@given(EDGES)
def test_each_closure_cuts_off_what_networkx_says(sides):
    # Water enters at segment 0, from the supply.
    segments = Segments(np.arange(8), np.array([*sides, (8, 0)]))
    prior = np.full(8, 0.125)
    found = closures_of(segments, len(sides), prior)
    for region in found.regions:
        fed = nx.node_connected_component(graph_of([*sides, (8, 0)], region.gates), 8)
        whole = nx.node_connected_component(graph_of([*sides, (8, 0)]), 8)
        assert region.segments == whole - fed
        for gate in region.gates:
            fewer = set(region.gates) - {gate}
            assert nx.node_connected_component(graph_of([*sides, (8, 0)], fewer), 8) == whole


def chain(count, passes=0.15):
    """Give segments of one length, one after the other, with a valve between each two."""
    sides = [(k, k + 1) for k in range(count - 1)]
    names = tuple(f"V{k}" for k in range(count - 1))
    segments = Segments(np.arange(count), np.array([*sides, (count, 0)]))
    return District(segments, names, np.full(count - 1, passes), np.full(count, 1.0 / count))


def searched(district, segment, passing=(), most=30):
    results = []
    for _ in range(most):
        step = district.next_step(results)
        if not step.valves:
            return step, results
        shut = sorted(set(step.valves) - set(passing))
        shows = 0.0 if district.cut_off(shut)[segment] else 1.0
        results.append(StepResult(frozenset(step.valves), shows))
    raise AssertionError("the search does not end")


def test_the_first_closure_halves_and_its_information_is_as_by_hand():
    district = chain(8)
    step = district.next_step([])
    assert step.valves == ("V3",)
    # 15 valves in a hundred pass water, and then nine times in ten.
    cut = 1.0 - 0.15 * 0.9
    goes_on = np.array([0.97] * 4 + [0.97 - 0.94 * cut] * 4)

    def entropy(p):
        return -p * np.log2(p) - (1 - p) * np.log2(1 - p)

    assert step.bits == pytest.approx(entropy(goes_on.mean()) - entropy(goes_on).mean())


@pytest.mark.parametrize("segment", range(8))
def test_tight_valves_find_a_segment_of_a_chain(segment):
    step, results = searched(chain(8, passes=0.02), segment)
    assert step.segments == (segment,)
    assert len(results) <= 5


@pytest.mark.parametrize("segment", [5, 6, 7])
def test_a_valve_that_passes_water_is_seen_through(segment):
    # The first test is made in vain: what it cuts off goes on being fed.
    step, results = searched(chain(8), segment, passing=["V3"])
    assert results[0].valves == {"V3"}
    assert results[0].shows == 1.0
    assert segment in step.segments
    assert len(step.segments) <= 2
    assert np.argmax(step.probability) == segment


def test_a_loop_takes_two_valves():
    # 0 - 1 - 2 - 3 - 0, fed at 0.
    sides = [(0, 1), (1, 2), (2, 3), (3, 0), (4, 0)]
    segments = Segments(np.arange(4), np.array(sides))
    district = District(segments, tuple("ABCD"), np.full(4, 0.02), np.full(4, 0.25))
    assert not district.cut_off(["A"]).any()
    assert len(district.next_step([]).valves) == 2
    for segment in range(4):
        assert searched(district, segment)[0].segments == (segment,)


def test_what_no_closure_parts_is_found_together():
    sides = [(0, 1), (4, 0), (4, 2)]
    segments = Segments(np.arange(4), np.array(sides))
    district = District(segments, ("A",), np.array([0.02]), np.array([0.3, 0.4, 0.3, 0.0]))
    assert searched(district, 2)[0].segments == (0, 2)


def test_a_test_without_a_value_counts_as_none_and_is_not_made_again():
    district = chain(4)
    first = district.next_step([])
    again = district.next_step([StepResult(frozenset(first.valves), np.nan)])
    assert again.probability.tolist() == first.probability.tolist()
    assert again.valves != first.valves
