"""Chainage against shapely and against geodesics."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from pyproj import CRS

from leakgeo.route.chainage import RouteSet

UTM = CRS(32614)
COORDINATE = st.floats(-200, 200).map(lambda v: round(v, 3))
LINE = (
    st.lists(st.tuples(COORDINATE, COORDINATE), min_size=2, max_size=8, unique=True)
    .map(shapely.LineString)
    .filter(lambda line: line.length > 0.1)
)


def moved(line: shapely.LineString) -> shapely.LineString:
    return shapely.transform(line, lambda xy: xy + [500_000.0, 4_000_000.0])


def routes(lines: list[shapely.LineString], crs: CRS = UTM) -> RouteSet:
    return RouteSet.of(np.array([moved(line) for line in lines], dtype=object), crs)


@given(st.lists(LINE, min_size=1, max_size=5), st.data())
def test_a_place_on_the_line_comes_back(lines, data):
    measured = routes(lines)
    which = np.arange(len(lines))
    share = data.draw(st.floats(0, 1))
    chainage = share * measured.length_m
    points = measured.points(which, chainage)
    again, offset = measured.locate(points, which)
    # Where a line crosses itself a point has two chainages; either is right.
    back = measured.points(which, again)
    assert shapely.distance(points, back).max() < 1e-6
    assert np.abs(offset).max() < 1e-6


@given(st.lists(LINE, min_size=1, max_size=4))
def test_lines_are_measured_the_same_alone_and_together(lines):
    together = routes(lines).length_m
    alone = [routes([line]).length_m[0] for line in lines]
    assert together.tolist() == alone


@given(LINE)
def test_offset_is_the_distance_with_a_side(line):
    measured = routes([line])
    point = shapely.Point(moved(line).centroid.x + 3.0, moved(line).centroid.y - 2.0)
    _, offset = measured.locate(np.array([point]), np.array([0]))
    assert abs(offset[0]) == pytest.approx(moved(line).distance(point), abs=1e-9)


def test_left_of_the_line_is_positive():
    measured = routes([shapely.LineString([(0, 0), (0, 100)])])
    points = shapely.points([[500_005.0, 4_000_050.0], [499_995.0, 4_000_050.0]])
    _, offset = measured.locate(points, np.array([0, 0]))
    assert offset.tolist() == pytest.approx([-5.0, 5.0])


def test_direction_turns_with_the_line():
    measured = routes([shapely.LineString([(0, 0), (100, 0), (100, 100)])])
    along = measured.grid_azimuth_deg(np.array([0, 0]), np.array([50.0, 150.0]))
    assert along.tolist() == pytest.approx([90.0, 0.0], abs=1e-6)
