"""Which line a reading is on, and where along it, by error."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from leakgeo.route.assign import AMBIGUOUS, OFF_ROUTE, assign_lines
from leakgeo.route.place import inverse_variance_mean

LINES = shapely.linestrings([[(0, 0), (50, 0)], [(0, 6), (50, 6)]])
POSITIVE = st.floats(0.01, 5.0)


def assigned(y: float, sd: float) -> int:
    point = shapely.points([[20.0, y]])
    return int(assign_lines(point, np.array([sd]), LINES, np.full(2, 0.1))[0])


@pytest.mark.parametrize(
    ("y", "sd", "line"),
    [
        (0.3, 0.5, 0),
        (5.8, 0.5, 1),
        (3.0, 1.5, AMBIGUOUS),
        (2.5, 3.0, AMBIGUOUS),
        (40, 2.0, OFF_ROUTE),
    ],
)
def test_assignment_by_position_and_error(y, sd, line):
    assert assigned(y, sd) == line


@given(st.floats(-30, 30), POSITIVE, st.floats(1.0, 4.0))
def test_more_error_never_decides_what_less_left_open(y, sd, factor):
    if assigned(y, sd) == AMBIGUOUS:
        assert assigned(y, sd * factor) == AMBIGUOUS


@given(st.floats(0, 99), POSITIVE, st.floats(0, 99), POSITIVE)
def test_fusing_is_between_and_better_than_either(satellite, satellite_sd, tape, tape_sd):
    place, sd, weight = (
        float(v[0])
        for v in inverse_variance_mean(
            *(np.array([v]) for v in (satellite, satellite_sd, tape, tape_sd))
        )
    )
    assert min(satellite, tape) - 1e-9 <= place <= max(satellite, tape) + 1e-9
    assert sd <= min(satellite_sd, tape_sd)
    assert 0 < weight < 1


def test_without_tape_the_satellite_stands():
    place, sd, weight = inverse_variance_mean(
        np.array([7.0]), np.array([1.5]), np.array([np.nan]), np.array([np.nan])
    )
    assert (place[0], sd[0], weight[0]) == (7.0, 1.5, 0.0)
