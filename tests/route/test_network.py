"""The pipe network: what is joined, and distances along it against networkx."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS

from leakgeo.reason import Reason
from leakgeo.route.chainage import RouteSet
from leakgeo.route.lines import Lines
from leakgeo.route.network import Network, junctions_of, network_of
from tests.real_routes import METRE_CRS, real_pipes
from tests.route.distances import distances

# Scale is one along these meridians, so that figures are those of the drawing.
PLANE = CRS.from_proj4("+proj=tmerc +lat_0=0 +lon_0=0 +k=1 +x_0=0 +datum=WGS84")
TRACE_SD_M = 0.3
# Two traces of 0.3 m: twice the root of squares, and the floor of 0.3 m.
REACH_M = 2 * 2**0.5 * TRACE_SD_M + 0.3


def lines_from(shapes: list, crs: CRS = PLANE, sd: float = TRACE_SD_M, names=None) -> Lines:
    drawn = [shapely.LineString(s) for s in shapes]
    names = names or [f"L{i}" for i in range(len(drawn))]
    table = pd.DataFrame({"reason": None, "material": None}, index=pd.Index(names, name="line_id"))
    routes = RouteSet.of(np.array(drawn, dtype=object), crs)
    return Lines(table, routes, pd.Series(dtype=object), np.full(len(drawn), sd), ())


def path(net: Network, start: int, goal: int) -> np.ndarray:
    return net.shortest_paths(np.array([start]), np.array([goal]))[1]


def joined(lines: Lines) -> list[tuple[int, float, int, float]]:
    found = junctions_of(lines)
    rows = zip(found.line_a, found.chainage_a_m, found.line_b, found.chainage_b_m, strict=True)
    return sorted((int(a), round(float(x), 2), int(b), round(float(y), 2)) for a, x, b, y in rows)


def network(lines: Lines, *stops: tuple[int, float]) -> Network:
    line = np.array([s[0] for s in stops], dtype=np.int64)
    at = np.array([s[1] for s in stops], dtype=float)
    return network_of(lines, junctions_of(lines), line, at)


@pytest.mark.parametrize(
    ("shapes", "expected"),
    [
        ([[(0, 0), (50, 0)], [(50, 0.4), (90, 0)]], [(0, 50, 1, 0)]),
        ([[(0, 0), (50, 0)], [(90, 0), (50, 0)]], [(0, 50, 1, 40)]),
        ([[(0, 0), (50, 0)], [(20, 1), (20, 30)]], [(0, 20, 1, 0)]),
        ([[(0, 0), (50, 0)], [(49.7, 1), (49.7, 30)]], [(0, 50, 1, 0)]),  # a tee at the very end
        ([[(0, 0), (50, 0)], [(20, -0.5), (20, 30)]], [(0, 20, 1, 0)]),  # drawn across it
        ([[(0, 0), (50, 0)], [(20, -9), (20, 9)]], []),  # crosses
        ([[(0, 0), (50, 0)], [(20, 3), (20, 30)]], []),
        ([[(0, 0), (30, 0), (30, 30), (0, 30), (0, 0.2)]], [(0, 0, 0, 119.8)]),  # a ring
        ([[(0, 0), (50, 0)], [(50, 0), (50.5, 0)], [(50.5, 0), (90, 0)]],
         [(0, 50, 1, 0), (1, 0.5, 2, 0)]),  # a short piece between
        ([[(0, 0), (50, 0)], [(0, 0), (25, 20), (50, 0)]], [(0, 0, 1, 0), (0, 50, 1, 64.03)]),
        # An end that stands on one route does not join another within reach.
        ([[(0, 0), (50, 0)], [(0, 1), (50, 1)], [(20, 1), (20, 30)]], [(1, 20, 2, 0)]),
    ],
)  # fmt: skip
def test_what_meets_within_the_error_is_joined(shapes, expected):
    lines = lines_from(shapes)
    if len(shapes) == 3 and shapes[1][0] == (0, 1):
        # Their own ends lie side by side too; only what is asked of the third is looked at.
        assert [j for j in joined(lines) if j[2] == 2] == expected
    else:
        assert joined(lines) == expected


@settings(max_examples=30)
@given(st.floats(0.0, 4.0), st.floats(0.0, 2.0))
def test_the_reach_is_that_of_both_traces(gap, sd):
    lines = lines_from([[(0, 0), (50, 0)], [(20, gap), (20, 90)]], sd=sd)
    reach = min(2 * 2**0.5 * sd + 0.3, 3.0)
    assert len(joined(lines)) == (gap <= reach + 1e-9)


def test_what_comes_close_is_reported_and_so_is_what_crosses():
    lines = lines_from([[(0, 0), (50, 0)], [(20, REACH_M + 0.3), (20, 30)], [(30, -9), (30, 9)]])
    close, crossing = junctions_of(lines).faults
    assert (close.feature, close.effect, close.code) == ("L1", "noted", "end_near_route")
    values = dict(close.reason.values)
    assert (values["gap_m"], values["other"]) == (pytest.approx(REACH_M + 0.3), "L0")
    assert (crossing.value, crossing.reason) == ("L0 and L2", Reason("routes_cross", times=1))


def test_nothing_is_reported_of_what_is_joined_or_far():
    shapes = [[(0, 0), (50, 0)], [(20, 0), (20, 30)], [(50, 0), (90, 5)], [(25, 9), (90, 60)]]
    assert junctions_of(lines_from(shapes)).faults == ()


def test_turning_and_reordering_lines_joins_the_same():
    shapes = [[(0, 0), (50, 0)], [(20, 0.8), (20, 30)], [(50, 0.6), (90, 5)], [(90, 5.5), (20, 30)]]
    places = network(lines_from(shapes)).nodes
    for order in ((3, 1, 0, 2), (2, 3, 1, 0)):
        turned = [shapes[i][::-1] for i in order]
        assert network(lines_from(turned)).nodes == places


def test_a_loop_has_two_ways_and_the_shorter_counts():
    square = [[(0, 0), (40, 0)], [(40, 0), (40, 40)], [(40, 40), (0, 40)], [(0, 40), (0, 0)]]
    net = network(lines_from(square))
    one = np.array([10.0, 10.0, 10.0])
    to_line, to = np.array([2, 3, 0]), np.array([30.0, 10.0, 30.0])
    away = net.distance_m(np.zeros(3, dtype=int), one, to_line, to)
    # 10 back to the corner, 40 up, 10 along; 10 back and 30 up; along the line.
    assert away.tolist() == pytest.approx([60.0, 40.0, 20.0])


def test_sections_side_by_side_count_by_the_shorter():
    net = network(lines_from([[(0, 0), (50, 0)], [(0, 0), (25, 40), (50, 0)]]))
    assert net.graph().max() == pytest.approx(50.0)
    start, goal = int(net.tail[0]), int(net.head[0])
    assert net.line[path(net, start, goal)].tolist() == [0]
    assert np.ptp(net.part) == 0


def test_a_ring_is_measured_the_short_way_round():
    net = network(lines_from([[(0, 0), (30, 0), (30, 30), (0, 30), (0, 0)]]), (0, 5.0), (0, 115.0))
    zero = np.zeros(1, dtype=int)
    assert net.distance_m(zero, np.array([5.0]), zero, np.array([115.0])) == pytest.approx(10.0)
    way = path(net, int(net.stop[0]), int(net.stop[1]))
    assert net.length_m[way].sum() == pytest.approx(10.0)


def test_nothing_leads_to_another_part():
    net = network(lines_from([[(0, 0), (50, 0)], [(0, 90), (50, 90)]]), (0, 5.0), (1, 5.0))
    away = net.distance_m(np.array([0]), np.array([5.0]), np.array([1]), np.array([5.0]))
    assert np.isinf(away).all()
    assert len(path(net, int(net.stop[0]), int(net.stop[1]))) == 0
    assert len(set(net.part[net.stop].tolist())) == 2


def test_many_ways_are_found_at_once():
    street = [[(0, 0), (50, 0)], [(50, 0), (90, 0)], [(20, 0), (20, 30)]]
    shapes = [[(x, y + 200 * k) for x, y in line] for k in range(3) for line in street]
    lines = lines_from(shapes)
    net = network(
        lines, *((3 * k + 2, 10.0) for k in range(3)), *((3 * k + 1, 5.0 * k) for k in range(3))
    )
    pair, section = net.shortest_paths(net.stop[:3], net.stop[3:])
    assert pair.tolist() == [0, 0, 1, 1, 1, 2, 2, 2]
    assert net.line[section].tolist() == [2, 0, 5, 3, 4, 8, 6, 7]
    assert net.length_m[section].sum() == pytest.approx(3 * 40 + 15, abs=1e-6)


CORNERS = [(i, j) for i in range(4) for j in range(4)]
# Uneven blocks, so that no two paths are of one length.
XY = {(i, j): (97.0 * i + 9 * j * j, 89.0 * j + 7 * i * i) for i, j in CORNERS}
BLOCKS = [
    (a, b) for a in CORNERS for b in CORNERS if a < b and abs(a[0] - b[0]) + abs(a[1] - b[1]) == 1
]


@settings(max_examples=40)
@given(st.sets(st.sampled_from(BLOCKS), min_size=1, max_size=14), st.data())
def test_distances_are_those_of_networkx(streets, data):
    edges = sorted(streets)
    lines = lines_from([[XY[a], XY[b]] for a, b in edges])
    place = [(data.draw(st.integers(0, len(edges) - 1)), data.draw(st.floats(0, 1)))
             for _ in range(2)]  # fmt: skip
    line = np.array([p[0] for p in place])
    at = np.array([p[1] for p in place]) * lines.length_m[line]
    peer = nx.Graph()
    for (a, b), length in zip(edges, lines.length_m, strict=True):
        peer.add_edge(a, b, weight=float(length))
    if line[0] == line[1]:
        peer.add_edge("p", "q", weight=float(abs(at[0] - at[1])))
    for name, i, x in zip("pq", line.tolist(), at.tolist(), strict=True):
        peer.add_edge(name, edges[i][0], weight=x)
        peer.add_edge(name, edges[i][1], weight=float(lines.length_m[i]) - x)
    away = float(network(lines).distance_m(line[:1], at[:1], line[1:], at[1:])[0])
    if not nx.has_path(peer, "p", "q"):
        assert np.isinf(away)
        return
    assert away == pytest.approx(nx.dijkstra_path_length(peer, "p", "q"), abs=1e-6)
    # Cut at the two places, the way between them is as long, and unbroken.
    cut = network(lines, *zip(line.tolist(), at.tolist(), strict=True))
    way = path(cut, int(cut.stop[0]), int(cut.stop[1]))
    assert cut.length_m[way].sum() == pytest.approx(away, abs=1e-6)
    assert distances(cut, cut.stop[:1])[0, cut.stop[1]] == pytest.approx(away, abs=1e-6)


@settings(max_examples=20)
@given(st.integers(0, 2**32 - 1))
def test_section_at_gives_the_section_that_holds_the_place(seed):
    rng = np.random.default_rng(seed)
    lines = lines_from([[(0, 0), (50, 0)], [(20, 0), (20, 30)], [(35, 0), (35, 8)]])
    net = network(lines)
    line = rng.integers(0, 3, 20)
    at = rng.random(20) * lines.length_m[line]
    section = net.section_at(line, at)
    assert (net.line[section] == line).all()
    assert (net.begin_m[section] <= at).all()
    assert (at <= net.end_m[section]).all()


def test_a_real_network_is_joined_as_its_model_is():
    pipes = real_pipes()  # of ky4, whose nodes the pipes' ends name by their coordinates
    lines = lines_from(
        list(pipes.to_crs(METRE_CRS).geometry), METRE_CRS, 0.01, pipes["line_id"].tolist()
    )
    net = network(lines)
    ends = [tuple(g.coords[k]) for g in pipes.geometry for k in (0, -1)]
    peer = nx.MultiGraph()
    for i, length in enumerate(lines.length_m.tolist()):
        peer.add_edge(ends[2 * i], ends[2 * i + 1], weight=length)
    assert len(set(net.part.tolist())) == nx.number_connected_components(peer)
    start = ends[0]
    expected = nx.single_source_dijkstra_path_length(peer, start)
    away = distances(net, net.tail[net.first[:1]])[0]
    seen = away[net.tail[net.first[:-1]]]
    off = np.abs(seen - [expected.get(ends[2 * i], np.inf) for i in range(len(pipes))])
    # Pipes' ends that lie within centimetres of another pipe join it: paths are hardly changed.
    assert np.quantile(off, 0.95) < 1.0
