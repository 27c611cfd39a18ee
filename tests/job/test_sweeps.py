"""Recognition of sweeps across a line, and no sweep where an ordinary walk scatters."""

import numpy as np
import pytest
import shapely

from leakgeo.job.checks import offsets_across, sweep_places
from leakgeo.job.checks.sweeps import LENGTH_M, SPAN_M

ACROSS = np.arange(-2.0, 2.1, 0.5)


def places(chainage_m, offset_m, sd_m=0.1, taped=True, line=0):
    n = len(offset_m)
    full = [np.broadcast_to(np.asarray(each), n).copy() for each in (line, chainage_m, sd_m, taped)]
    return sweep_places(full[0], full[1].astype(float), np.asarray(offset_m), *full[2:])


def test_a_taped_sweep_is_one_and_the_walk_along_the_line_is_not():
    chainage, offset = np.r_[np.arange(0.0, 30.0), np.full(9, 17.2)], np.r_[np.zeros(30), ACROSS]
    at = places(chainage, offset)
    assert (at[30:] == 17.2).all()
    # The reading of the walk near it is over the trace, and part of it.
    assert np.flatnonzero(np.isfinite(at[:30])).tolist() == [17]


def test_two_sweeps_and_two_lines_are_apart():
    chainage, offset = np.repeat([7.0, 9.0], 9), np.tile(ACROSS, 2)
    assert np.unique(places(chainage, offset)).tolist() == [7.0, 9.0]
    on_two = places(7.0, np.tile(ACROSS, 2), line=np.repeat([0, 1], 9))
    assert (on_two == 7.0).all()
    assert np.isnan(places(7.0, ACROSS, line=-1)).all()


@pytest.mark.parametrize(
    ("chainage", "offset"),
    [
        (7.0, [0.0, 2.0]),  # two readings
        (7.0, [0.0, 2.0, 2.1, 2.0]),  # two places
        (7.0, [0.0, 0.6, SPAN_M - 0.1]),  # too narrow
        (7.0 + 8.0 * LENGTH_M * np.linspace(0, 1, 9), ACROSS),  # along the line, slowly across it
        (np.arange(9.0), np.full(9, 2.5)),  # beside the trace
        (7.0, np.full(9, np.nan)),  # not known
    ],
)
def test_no_sweep(chainage, offset):
    assert np.isnan(places(chainage, np.asarray(offset, float))).all()


@pytest.mark.parametrize(("sd", "found"), [(0.05, True), (0.4, True), (0.51, False), (2.0, False)])
def test_positions_make_a_sweep_if_their_error_is_small(sd, found):
    assert np.isfinite(places(7.0, 2.0 * ACROSS, sd, taped=False)).all() == found


@pytest.mark.parametrize("sd", [0.05, 0.3, 0.5, 1.5, 3.0])
def test_walks_with_satellite_positions_are_no_sweeps(sd):
    rng = np.random.default_rng(5)
    for step in (0.25, 0.5, 1.0):
        for _ in range(40):
            n = int(40 / step)
            along, across = step * np.arange(n) + rng.normal(0, sd, n), rng.normal(0, sd, n)
            assert np.isnan(places(along, across, sd, taped=False)).all()


def test_positions_that_scatter_more_than_they_state_make_no_sweep():
    rng = np.random.default_rng(6)
    found = 0
    for _ in range(40):
        along, across = 0.5 * np.arange(80) + rng.normal(0, 3, 80), rng.normal(0, 3, 80)
        found += np.isfinite(places(along, across, 0.05, taped=False)).any()
    assert found == 0


def test_order_and_side_do_not_matter():
    rng = np.random.default_rng(7)
    chainage, offset = 17.0 + rng.uniform(-0.3, 0.3, 20), rng.uniform(-3, 3, 20)
    at = places(chainage, offset)
    assert np.isfinite(at).all()
    order = rng.permutation(20)
    np.testing.assert_array_equal(places(chainage[order], offset[order]), at[order])
    np.testing.assert_array_equal(places(chainage, -offset), at)


def test_offsets_are_signed_and_not_given_beyond_ends_or_outside_bends():
    line = shapely.LineString([(0, 0), (10, 0), (10, 10)])
    points = shapely.points([[4, 2], [4, -2], [4, 0], [-3, 0.1], [13, -3], [13, 4], [10, 14]])
    found = offsets_across(np.full(7, line), points)
    assert found[:3].tolist() == [2.0, -2.0, 0.0]
    assert np.isnan(found[[3, 4, 6]]).all()
    assert found[5] == -3.0
