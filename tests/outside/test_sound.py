"""Sound: decibel arithmetic, background, spreading laws as limits of the model, percentiles."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from leakgeo.find.advise.improvements import excess_db
from leakgeo.simulate.spread import along_pipe, through_soil
from leakgeo.sound.decibels import energy_sum
from leakgeo.sound.spreading import Spreading, relative_level
from tests.outside.table import outside

LEVELS = arrays(float, st.integers(1, 12), elements=st.floats(-80, 160))
STEP = 0.05

SUMS = outside(
    "sum of levels",
    against="acoustic-toolbox; 60 and 60 dB make 63.0103",
    source="worked out with acoustic-toolbox 0.2.2",
    close="1e-9 dB of any levels",
)


@SUMS
def test_figures_of_sums():
    assert energy_sum([60, 60]) == pytest.approx(63.0103, abs=5e-5)


@SUMS
@given(LEVELS)
def test_sums_agree_with_a_peer(levels):
    # It takes a second, in every process that collects this file.
    import acoustic_toolbox.decibel as peer

    assert energy_sum(levels) == pytest.approx(peer.dbsum(levels), abs=1e-9)


SPHERE = outside(
    "far through soil alone: 20 lg r, 6.02 dB a doubling",
    against="spherical spreading, in the fitted model and in the simulator",
    source="acoustics textbooks (from memory)",
    close="0.005 dB",
)


@SPHERE
@given(st.floats(0.1, 3.0))
def test_far_through_soil_falls_six_decibels_a_doubling(depth):
    near, far = relative_level([200 * depth, 400 * depth], Spreading(depth))
    assert near - far == pytest.approx(6.02, abs=0.005)


@SPHERE
@given(depth=st.floats(0.3, 2.0), far=st.floats(200.0, 2000.0))
def test_far_direct_sound_of_the_simulator_loses_as_much(depth, far):
    near, twice = through_soil(np.array([far, 2 * far]), depth, np.zeros(1))[0]
    assert 10 * np.log10(near / twice) == pytest.approx(6.0206, abs=1e-3)


CYLINDER = outside(
    "above a pipe that loses nothing: 10 lg r, 3.01 dB a doubling of the cover",
    against="cylindrical spreading of a line source: the limit in which no pipe decays",
    source="acoustics textbooks (from memory)",
    close="0.02 dB",
)


@CYLINDER
@pytest.mark.parametrize("depth", [0.5, 0.8, 1.3])
def test_a_pipe_without_decay_is_a_line_source(depth):
    """The simulator's pipe radiates all along; without decay it is a line without end."""
    x = STEP * np.arange(-20_000, 20_001)
    lossless = np.zeros(1)
    above = [along_pipe(STEP, through_soil(x, h, lossless), lossless)[0, 20_000]
             for h in (depth, 2 * depth)]  # fmt: skip
    assert 10 * np.log10(above[0] / above[1]) == pytest.approx(3.0103, abs=0.02)


@CYLINDER
@pytest.mark.parametrize("depth", [0.5, 0.8, 1.3])
def test_leaks_all_along_a_pipe_are_a_line_source(depth):
    """The fitted model has no line source; its leaks side by side make one."""
    x = STEP * np.arange(-20_000, 20_001)
    above = [energy_sum(relative_level(x, Spreading(h))) - 20 * np.log10(h)
             for h in (depth, 2 * depth)]  # fmt: skip
    assert above[0] - above[1] == pytest.approx(3.0103, abs=0.02)


DECAY_WITHIN = 2e-3
DECAY = outside(
    "far along the pipe, and far through soil: the stated dB a metre",
    against="the constant that was put in, in the fitted model and in the simulator",
    source="by definition of the constant; no published dB/m of a service pipe was found",
    close="{within:g} of the decay",
    within=DECAY_WITHIN,
)


@DECAY
@given(st.floats(0.3, 2.0), st.floats(0.1, 6.0))
def test_far_along_the_pipe_falls_by_the_stated_decay(depth, decay):
    level = relative_level([60.0, 61.0], Spreading(depth, decay, pipe_share=1.0))
    assert level[0] - level[1] == pytest.approx(decay, rel=DECAY_WITHIN)


@DECAY
@given(st.floats(0.3, 2.0), st.floats(0.1, 6.0))
def test_far_through_soil_the_stated_decay_comes_on_top(depth, decay):
    plain = relative_level([60.0, 61.0], Spreading(depth))
    level = relative_level([60.0, 61.0], Spreading(depth, soil_decay_db_per_m=decay))
    assert (level - plain)[0] - (level - plain)[1] == pytest.approx(decay, rel=DECAY_WITHIN)


@DECAY
@pytest.mark.parametrize("decay", [0.3, 1.0, 3.0])
def test_far_along_the_simulated_pipe_falls_by_its_decay(decay, within):
    # Soil attenuates strongly here, so that each point hears only the pipe right below it.
    x = STEP * np.arange(-1200, 1201)
    pipe = along_pipe(STEP, through_soil(x, 0.5, np.array([30.0])), np.array([decay]))[0]
    slope = 10 * np.log10(pipe[1400] / pipe[1500]) / (100 * STEP)
    assert slope == pytest.approx(decay, rel=within)


@outside(
    "the floor of a line is L90: the level exceeded 90 % of the way, its 10th percentile",
    against="the definition, counted: nine readings in ten lie above it",
    source="acoustics textbooks",
    close="one reading in a thousand",
)
def test_the_floor_is_what_nine_tenths_exceed():
    rng = np.random.default_rng(8)
    level = np.append(rng.normal(40, 1, 999), 58.0)
    table = pd.DataFrame({"line_id": "L", "level_comparable_db": level})
    floor = 58.0 - excess_db(table)["L"]
    assert np.mean(level > floor) == pytest.approx(0.9, abs=1e-3)
    # Taken the other way round, as L10, it would stand 2.5 dB higher.
    assert floor < np.quantile(level, 0.9) - 2.0
