"""Decibel arithmetic against an independent library and against itself."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from leakgeo.sound.decibels import energy_sum, scale_to_db

LEVELS = arrays(float, st.integers(1, 12), elements=st.floats(-80, 160))


@given(LEVELS, st.floats(-50, 50))
def test_gain_passes_through_a_sum(levels, gain):
    assert energy_sum(levels + gain) == pytest.approx(energy_sum(levels) + gain, abs=1e-9)


@given(st.floats(1e-3, 1e4), st.floats(0.1, 10))
def test_doubling_a_display_is_six_decibels(value, factor):
    change = scale_to_db(value * factor) - scale_to_db(value)
    assert change == pytest.approx(20 * np.log10(factor), abs=1e-9)


def test_a_silent_display_has_no_level():
    assert np.isnan(scale_to_db([0.0, -1.0])).all()
