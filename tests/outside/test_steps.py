"""Step tests on networks with loops, with flows as wntr's own simulator finds them."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pytest

from tests.outside.hydraulics import first_valve, leaking_nodes, search, with_valves
from tests.outside.table import outside

SIMULATED = outside(
    "tests until a leak's segment is likelier than all others together: valves shut by expected "
    "information",
    against="bisection by length of pipe with the same closures, Net2 and Net3 (with loops)",
    source="networks bundled with wntr, leaks and flows by its WNTRSimulator",
    close="no more tests in all with valves known to be tight; every leak found; with a valve that "
    "passes water the segment is among those named",
)


@SIMULATED
@pytest.mark.parametrize(("name", "valves", "leaks"), [("Net2", 20, 4), ("Net3", 60, 2)])
def test_a_leak_is_found_in_no_more_tests_than_by_length(name, valves, leaks):
    case = with_valves(name, valves, 1, known_tight=True)
    done = [search(case, node) for node in leaking_nodes(case, leaks, 1)]
    assert all(one.found and one.named == 1 for one in done)
    assert sum(one.likeliest for one in done) <= sum(one.by_length for one in done)


@SIMULATED
def test_a_valve_that_passes_water_does_not_mislead():
    case = with_valves("Net2", 20, 1)
    for node in leaking_nodes(case, 2, 1):
        one = search(case, node, passing=[first_valve(case, node)])
        assert one.found
        assert one.named <= 2


@SIMULATED
def test_what_is_cut_off_is_what_wntr_has_no_way_to():
    case = with_valves("Net3", 60, 1)
    made = case.district.closures
    shut = {n for n, link in case.model.links() if str(link.initial_status) == "Closed"}
    for closure in range(0, len(made.of), 29):
        names = {case.district.valves[gate] for gate in made.gates(closure)}
        open_ = [link for n, link in case.model.links() if n not in names | shut]
        ways = nx.Graph([(link.start_node_name, link.end_node_name) for link in open_])
        fed = set(case.sources).union(
            *(nx.node_connected_component(ways, n) for n in case.sources if n in ways)
        )
        cut = case.district.cut_off(sorted(names))
        nodes = [n for n in case.model.node_name_list if case.end_at(n) is not None]
        assert np.array_equal(
            [cut[case.segment_of(n)] for n in nodes], [n not in fed for n in nodes]
        )
