"""The hole, against shapely's own buffer and against its own growth."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import affinity

from leakgeo.dig.zone import hole_polygons

size = st.floats(0.05, 15.0)
turn = st.floats(-360.0, 720.0)


def one(along, across, azimuth, room):
    centre = np.array([shapely.Point(550_000.0, 4_180_000.0)])
    return hole_polygons(centre, [along], [across], [azimuth], room)[0]


@given(size, size, turn, st.floats(0.1, 3.0))
def test_hole_is_the_ellipse_buffered(along, across, azimuth, room):
    """Shapely buffers a fine ellipse; the hole holds that and is hardly larger."""
    circle = shapely.Point(0, 0).buffer(1.0, quad_segs=64)
    ellipse = affinity.rotate(affinity.scale(circle, across, along), -azimuth, origin=(0, 0))
    ellipse = affinity.translate(ellipse, 550_000.0, 4_180_000.0)
    expected = ellipse.buffer(room, quad_segs=64)
    hole = one(along, across, azimuth, room)
    assert hole.buffer(1e-6).contains(expected)
    if max(along, across) < 8 * min(along, across):  # needles are drawn more roughly, never smaller
        assert hole.area < 1.05 * expected.area
    reach = max(along, across) + room
    assert (
        max(hole.bounds[2] - 550_000.0, hole.bounds[3] - 4_180_000.0) < 1.0013 * reach
    )  # 1 / cos(180 deg / 64)


@given(st.tuples(size, size), turn, st.floats(0.1, 3.0), st.tuples(*[st.floats(0, 2)] * 3))
def test_larger_error_or_room_holds_the_smaller_hole(axes, azimuth, room, more):
    larger = one(axes[0] + more[0], axes[1] + more[1], azimuth, room + more[2])
    assert larger.buffer(1e-6).contains(one(*axes, azimuth, room))


@pytest.mark.parametrize("bad", [(np.nan, 1, 1), (1, np.inf, 1), (-1, 1, 1), (1, 1, np.nan)])
def test_no_hole_is_drawn_where_a_size_is_not_known(bad):
    assert one(bad[0], bad[1], 0.0, bad[2]) is None


def test_without_a_direction_the_hole_holds_every_direction():
    round_hole = one(2.0, 0.5, np.nan, 0.6)
    for azimuth in (0.0, 33.0, 90.0, 151.0):
        assert round_hole.buffer(0.004).contains(one(2.0, 0.5, azimuth, 0.6))


@pytest.mark.parametrize("azimuth", [0.0, 90.0, np.nan])
def test_a_hole_reaches_as_far_as_its_axes_and_room_and_is_valid(azimuth):
    hole = one(2.0, 2.0, azimuth, 0.6)
    x, y = 550_000.0, 4_180_000.0
    assert hole.bounds == pytest.approx((x - 2.6, y - 2.6, x + 2.6, y + 2.6), abs=1e-6, rel=0)
    assert hole.is_valid
