"""The spreading laws as limits of the model."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakgeo.sound.spreading import Spreading, relative_level


# Spherical spreading: 20 lg r, 6.02 dB a doubling (acoustics textbooks, from memory).
@given(st.floats(0.1, 3.0))
def test_far_through_soil_falls_six_decibels_a_doubling(depth):
    near, far = relative_level([200 * depth, 400 * depth], Spreading(depth))
    assert near - far == pytest.approx(6.02, abs=0.005)


@given(st.floats(0.3, 2.0), st.floats(0.1, 6.0))
def test_far_through_soil_the_stated_decay_comes_on_top(depth, decay):
    plain = relative_level([60.0, 61.0], Spreading(depth))
    level = relative_level([60.0, 61.0], Spreading(depth, soil_decay_db_per_m=decay))
    assert (level - plain)[0] - (level - plain)[1] == pytest.approx(decay, rel=0.002)


@given(st.floats(0.3, 2.0), st.floats(0.1, 6.0))
def test_far_along_the_pipe_falls_by_the_stated_decay(depth, decay):
    level = relative_level([60.0, 61.0], Spreading(depth, decay, pipe_share=1.0))
    assert level[0] - level[1] == pytest.approx(decay, rel=0.002)


@given(st.floats(0.3, 2.0), st.floats(0.0, 1.0), st.floats(0.0, 2.0))
def test_loudest_above_the_leak_and_alike_on_both_sides(depth, share, smear):
    x = np.linspace(-20, 20, 81)
    level = relative_level(x, Spreading(depth, 2.0, share), smear)
    assert level.argmax() == 40
    assert level == pytest.approx(level[::-1])
    assert level.max() == pytest.approx(0.0, abs=1e-9)


def test_the_floor_is_what_is_left_far_away():
    assert relative_level(1e6, Spreading(0.5, floor=0.01)) == pytest.approx(-20.0, abs=1e-3)
