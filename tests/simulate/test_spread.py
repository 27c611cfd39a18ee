"""Spreading of sound against textbook limits and direct integration."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from leakgeo.simulate.constants import Conditions
from leakgeo.simulate.draw_truth import draw_truth
from leakgeo.simulate.spread import SpreadTable, along_pipe, smear, through_soil

STEP = 0.05


def table(depth=1.0, soil=0.0, pipe=1.0, reach=1200):
    x = STEP * np.arange(-reach, reach + 1)
    straight = through_soil(x, depth, np.array([soil]))
    return x, straight, along_pipe(STEP, straight, np.array([pipe]))


def decibels(power):
    return 10 * np.log10(power)


@given(depth=st.floats(0.3, 2.0), far=st.floats(200.0, 2000.0))
def test_far_direct_sound_loses_6_02_db_a_doubling(depth, far):
    # 20 lg 2 = 6.02 dB (spherical spreading, acoustics textbooks; from memory).
    near, twice = through_soil(np.array([far, 2 * far]), depth, np.zeros(1))[0]
    assert decibels(near / twice) == pytest.approx(6.0206, abs=1e-3)


@given(soil=st.floats(0.1, 20.0), depth=st.floats(0.4, 1.8))
def test_soil_takes_its_decibels_a_metre_of_slant_path(soil, depth):
    x = np.array([0.0, 3.0])
    lossless, lossy = through_soil(x, depth, np.array([0.0, soil]))
    np.testing.assert_allclose(decibels(lossless / lossy), soil * np.hypot(x, depth), rtol=1e-9)


@pytest.mark.parametrize("decay", [0.3, 1.0, 3.0])
def test_far_along_the_pipe_the_level_falls_by_the_decay_of_the_pipe(decay):
    # Soil attenuates strongly here, so that each point hears only the pipe right below it.
    _, _, pipe = table(depth=0.5, soil=30.0, pipe=decay)
    middle = pipe.shape[1] // 2
    slope = decibels(pipe[0, middle + 200] / pipe[0, middle + 300]) / (100 * STEP)
    assert slope == pytest.approx(decay, rel=2e-3)


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


def test_metal_carries_about_five_times_as_far_as_plastic():
    rng = np.random.default_rng(0)
    decay = {
        material: np.mean(
            [
                draw_truth(rng, Conditions(material=material), "ground_plate", 30.0)
                .ground.pipe_db_per_m[3]
                for _ in range(300)
            ]
        )
        for material in ("pvc", "copper")
    }  # fmt: skip
    assert 4.4 < decay["pvc"] / decay["copper"] < 5.6
