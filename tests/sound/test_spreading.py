"""The spreading laws as limits of the model."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakgeo.sound.spreading import Spreading, relative_level


@given(st.floats(0.3, 2.0), st.floats(0.0, 1.0), st.floats(0.0, 2.0))
def test_loudest_above_the_leak_and_alike_on_both_sides(depth, share, smear):
    x = np.linspace(-20, 20, 81)
    level = relative_level(x, Spreading(depth, 2.0, share), smear)
    assert level.argmax() == 40
    assert level == pytest.approx(level[::-1])
    assert level.max() == pytest.approx(0.0, abs=1e-9)


def test_the_floor_is_what_is_left_far_away():
    assert relative_level(1e6, Spreading(0.5, floor=0.01)) == pytest.approx(-20.0, abs=1e-3)
