"""Routes drawn in parts."""

from __future__ import annotations

from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from leakgeo.route.lines import join_parts, lines_of


def joined(wkt: str) -> tuple[shapely.LineString | None, float]:
    lines, gap = join_parts(np.array([shapely.from_wkt(wkt)]))
    return lines[0], gap[0]


@pytest.mark.parametrize(
    ("wkt", "expected"),
    [
        ("LINESTRING Z (0 0 5, 1 0 9)", "LINESTRING (0 0, 1 0)"),
        ("MULTILINESTRING ((0 0, 1 0))", "LINESTRING (0 0, 1 0)"),
        ("MULTILINESTRING ((0 0, 1 0), (1 0, 2 0))", "LINESTRING (0 0, 1 0, 2 0)"),
        ("MULTILINESTRING ((0 0, 1 0), (2 0, 1 0))", "LINESTRING (0 0, 1 0, 2 0)"),
        ("MULTILINESTRING ((0 0, 1 0), (2 0, 3 0), (1 0.01, 2 0))",
         "LINESTRING (0 0, 1 0, 2 0, 3 0)"),
    ],
)  # fmt: skip
def test_parts_that_meet_are_joined(wkt, expected):
    assert joined(wkt)[0].equals_exact(shapely.from_wkt(expected), 0.02)


def test_a_gap_is_reported_not_bridged():
    line, gap = joined("MULTILINESTRING ((0 0, 1 0), (1.5 0, 2 0))")
    assert line is None
    assert gap == pytest.approx(0.5)


@given(st.lists(st.booleans(), min_size=2, max_size=6), st.randoms())
def test_order_and_direction_of_the_other_parts_do_not_matter(flips, random):
    xy = [(float(i), float(i % 3)) for i in range(len(flips) + 1)]
    parts = [[xy[i], xy[i + 1]][:: -1 if flip and i else 1] for i, flip in enumerate(flips)]
    rest = parts[1:]
    random.shuffle(rest)
    lines, _ = join_parts(np.array([shapely.MultiLineString([parts[0], *rest])]))
    assert shapely.get_coordinates(lines[0]).tolist() == [list(p) for p in xy]


def lines_with(wkt):
    shapes = [shapely.from_wkt(wkt), shapely.LineString([(0, 50), (9, 50)])]
    routes = gpd.GeoDataFrame({"line_id": ["A", "B"]}, geometry=shapes, crs=32616)
    return lines_of(SimpleNamespace(
        routes=routes.assign(reason=None, position_sd_m=None), crs=routes.crs), 0.3)  # fmt: skip


@pytest.mark.parametrize(
    ("wkt", "problem"),
    [
        ("MULTILINESTRING ((0 0, 9 0), (4 0, 4 7))", "Its parts meet, but not end to end"),
        ("MULTILINESTRING ((0 0, 4 0), (7 0, 9 0))", "Its parts are 3.00 m apart"),
    ],
)
def test_a_branch_is_distinguished_from_a_gap(wkt, problem):
    lines = lines_with(wkt)
    assert lines.faults[0].problem.startswith(problem)
    assert lines.rejected.index.tolist() == ["A"]
