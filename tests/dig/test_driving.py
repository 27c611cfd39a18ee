"""Ways along streets, and the order of places: compared with exact answers on small cases."""

from __future__ import annotations

from itertools import pairwise, permutations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from leakgeo.dig.driving import driving_order, length_of, ways

CORNERS = st.lists(st.tuples(st.integers(0, 5), st.integers(0, 5)), min_size=1, max_size=7)


def streets(*lines):
    return np.array([shapely.LineString(line) for line in lines], dtype=object)


def grid():
    """Streets every 100 m both ways, each drawn as one line with a vertex at each crossing."""
    at = [100.0 * k for k in range(6)]
    return streets(*([(x, y) for y in at] for x in at), *([(x, y) for x in at] for y in at))


@settings(max_examples=15)
@given(CORNERS)
def test_ways_on_a_grid_are_as_long_as_the_blocks(corners):
    places = 100.0 * np.array(corners, dtype=float)
    found = ways(places, grid())
    blocks = np.abs(places[:, None] - places[None]).sum(axis=2)
    assert found.along_streets.all()
    assert np.allclose(found.length_m, blocks)
    assert np.isclose(found.line(0, len(corners) - 1).length, blocks[0, -1])


@settings(max_examples=15)
@given(CORNERS)
def test_the_order_is_nearly_the_shortest_and_begins_at_the_first_place(corners):
    places = np.array(corners, dtype=float)
    length = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
    order = driving_order(length)
    assert order[0] == 0
    assert sorted(order) == list(range(len(places)))
    others = permutations(range(1, len(places)))
    shortest = min(length_of((0, *rest), length) for rest in others)
    assert length_of(order, length) <= 1.25 * shortest + 1e-9


def test_the_order_is_shorter_than_by_the_nearest_next_place():
    at = np.array([0.0, 1.0, -1.5, 3.0, -5.0, 9.0])
    length = np.abs(at[:, None] - at)
    nearest = [0, 1, 2, 3, 4, 5]
    assert length_of(nearest, length) == 1.0 + 2.5 + 4.5 + 8.0 + 14.0
    assert length_of(driving_order(length), length) == 5.0 + 14.0


def test_a_way_goes_round_where_the_straight_line_is_blocked():
    around = streets([(0, 0), (0, 100), (50, 100), (50, 0)])
    found = ways(np.array([[-10.0, 0.0], [60.0, 0.0]]), around)
    assert found.length_m[0, 1] == pytest.approx(250.0 + 10.0 + 10.0)
    assert found.off_street_m.tolist() == [10.0, 10.0]
    line = found.line(0, 1)
    assert line.length == pytest.approx(found.length_m[0, 1])
    assert [line.coords[0], line.coords[-1]] == [(-10.0, 0.0), (60.0, 0.0)]


@pytest.mark.parametrize(("gap", "meets"), [(0.0, True), (0.9, True), (1.2, False)])
def test_a_street_that_ends_beside_another_meets_it(gap, meets):
    """The other street has no vertex there."""
    found = ways(np.array([[0.0, 0.0], [50.0, 40.0]]),
                 streets([(0, 0), (100, 0)], [(50, gap), (50, 40)]))  # fmt: skip
    assert found.along_streets[0, 1] == meets
    straight = float(np.hypot(50.0, 40.0))
    assert found.length_m[0, 1] == pytest.approx(90.0 if meets else straight)


def test_streets_that_cross_without_a_vertex_do_not_meet():
    """One of them may be a bridge."""
    over = streets([(-50, 0), (50, 0)], [(0, -50), (0, 50)])
    found = ways(np.array([[-50.0, 0.0], [0.0, 50.0]]), over)
    assert not found.along_streets[0, 1]
    assert found.line(0, 1).coords[:] == [(-50.0, 0.0), (0.0, 50.0)]


def test_a_place_far_from_streets_is_reached_in_a_straight_line():
    found = ways(np.array([[0.0, 0.0], [90.0, 0.0], [50.0, 201.0]]), streets([(0, 0), (100, 0)]))
    assert found.along_streets[0].tolist() == [True, True, False]
    assert found.length_m[0, 2] == pytest.approx(np.hypot(50.0, 201.0))


@pytest.mark.parametrize("lines", [None, [], [shapely.LineString()], [None]])
def test_ways_without_streets_are_straight(lines):
    given_lines = None if lines is None else np.array(lines, dtype=object)
    found = ways(np.array([[0.0, 0.0], [3.0, 4.0]]), given_lines)
    assert found.length_m.tolist() == [[0.0, 5.0], [5.0, 0.0]]
    assert np.isnan(found.off_street_m).all()


def test_several_places_on_one_stretch_part_it():
    found = ways(np.array([[30.0, 1.0], [10.0, 0.0], [80.0, 0.0], [30.0, -1.0]]),
                 streets([(0, 0), (100, 0)]))  # fmt: skip
    assert found.length_m[1].tolist() == pytest.approx([21.0, 0.0, 70.0, 21.0])
    assert all(a <= b for a, b in pairwise(sorted(found.length_m[1])))
