"""Spreading of sound against textbook limits and direct integration."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from leakgeo.simulate.spread import SpreadTable, along_pipe, smear, through_soil

STEP = 0.05


def table(depth=1.0, soil=0.0, pipe=1.0, reach=1200):
    x = STEP * np.arange(-reach, reach + 1)
    straight = through_soil(x, depth, np.array([soil]))
    return x, straight, along_pipe(STEP, straight, np.array([pipe]))


def decibels(power):
    return 10 * np.log10(power)


@given(soil=st.floats(0.1, 20.0), depth=st.floats(0.4, 1.8))
def test_soil_takes_its_decibels_a_metre_of_slant_path(soil, depth):
    x = np.array([0.0, 3.0])
    lossless, lossy = through_soil(x, depth, np.array([0.0, soil]))
    np.testing.assert_allclose(decibels(lossless / lossy), soil * np.hypot(x, depth), rtol=1e-9)


@pytest.mark.parametrize("along", [0.0, 0.7, 4.0])
def test_the_pipe_is_the_integral_over_its_length(along):
    depth, soil, decay = 0.8, 2.0, 1.5
    x, _, pipe = table(depth, soil, decay)

    def radiated(s):
        r = np.hypot(along - s, depth)
        return 10 ** (-(decay * abs(s) + soil * r) / 10) / r**2

    whole = quad(radiated, -50, 50, points=[0.0, along], limit=400)[0]
    assert pipe[0, np.argmin(np.abs(x - along))] == pytest.approx(whole, rel=2e-3)


@given(width=st.floats(0.2, 3.0))
def test_a_slab_keeps_the_power_and_flattens_the_peak(width):
    _, straight, _ = table(depth=0.6, reach=400)
    spread = smear(STEP, straight, width)
    middle = slice(100, -100)
    assert spread[0, middle].sum() == pytest.approx(straight[0, middle].sum(), rel=5e-3)
    assert spread.max() <= straight.max() * (1 + 1e-12)


def test_mirrors_at_the_ends_add_power_and_none_without_them():
    _, straight, pipe = table()
    middle = straight.shape[1] // 2
    one = SpreadTable(STEP, straight[:, middle:], pipe[:, middle:])
    stop, row = np.array([0.5, 10.0, 19.5]), np.zeros(3, dtype=int)
    source = np.asarray(4.0)
    plain, mirrored = (one.power(row, stop, source, 20.0, r) for r in (0.0, 0.5))
    direct = one.at(one.soil, row, stop - source) + one.at(one.pipe, row, stop - source)
    np.testing.assert_allclose(plain, direct)
    assert (mirrored > plain).all()
    # The first image of a source at 4 m, as heard at 0.5 m, lies 4.5 m away.
    first = 0.5 * one.at(one.pipe, row[:1], np.array([4.5]))
    assert mirrored[0] - plain[0] == pytest.approx(first[0], rel=0.05)
