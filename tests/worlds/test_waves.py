"""The world of waves: that it repeats, that its physics is right, and that its jobs are read."""

from __future__ import annotations

import numpy as np
import pytest
from pandas.testing import assert_frame_equal

from leakgeo.job.read import read_job
from leakgeo.simulate.write import write_job
from tests.worlds.wave_pipe import (
    Ends,
    Pipe,
    buried_wavenumber,
    decay_db_m,
    free_wavenumber,
    pressure,
    radiated,
    soil_stiffness,
    wall_compliance,
)
from tests.worlds.wave_soil import Soil, Strengths, point_source, surface_stiffness
from tests.worlds.wave_surface import Cover, Slab, through
from tests.worlds.waves import draw

MDPE = Pipe(radius_m=0.0845, wall_m=0.011, modulus_pa=2e9, loss=0.06, density_kg_m3=950)
SOIL = Soil(p_m_s=500, s_m_s=200, loss=0.1)
LOSSLESS = Soil(p_m_s=500, s_m_s=200, loss=0)


@pytest.fixture(scope="module")
def world():
    return draw(8, seed=5)


def test_a_seed_gives_the_same_world_and_more_lines_leave_the_first(world):
    more = draw(9, seed=5)
    few = more.layers["readings"]
    few = few[few["line_id"].isin(world.truth.index)].reset_index(drop=True)
    assert_frame_equal(few, world.layers["readings"])
    assert_frame_equal(more.layers["routes"].head(8), world.layers["routes"])
    assert_frame_equal(more.truth.head(8), world.truth)
    other = draw(1, seed=6).layers["readings"]
    assert not other["sound_level"].equals(few["sound_level"].head(len(other)))


def test_the_leak_is_on_its_line_and_every_line_is_walked_twice(world):
    routes = world.layers["routes"].set_index("line_id")
    truth = world.truth
    assert list(routes.index) == list(truth.index)
    leaks = truth["leak_chainage_m"].notna()
    assert 0 < leaks.sum() < 8
    assert truth.loc[leaks, "leak_chainage_m"].between(0, routes.length[leaks]).all()
    assert (truth["over_floor_db"].notna() == leaks).all()
    assert truth.loc[leaks, "over_floor_db"].between(-8, 35).all()
    walks = world.layers["readings"].groupby("line_id")["walk_id"].nunique()
    assert (walks[truth.index] == 2).all()


def test_every_reading_passes_the_checks_of_a_job(world, tmp_path):
    write_job(world.layers, tmp_path / "job.gpkg")
    job = read_job(tmp_path / "job.gpkg")
    assert job.routes["reason"].isna().all()
    assert job.readings["reason"].isna().all()
    assert len(job.readings) == len(world.layers["readings"])
    # Nothing is said about the data but which layers are missing.
    assert {fault.layer for fault in job.faults}.isdisjoint({"routes", "readings"})


def test_a_plastic_pipe_decays_as_worked_by_hand():
    # After Muggleton, Brennan and Pinnington (2002): about 2.6 dB/m, worked by hand.
    assert decay_db_m(free_wavenumber(MDPE, np.array([600.0])))[0] == pytest.approx(2.6, abs=0.1)


def test_a_copper_wall_alone_takes_nearly_nothing():
    copper = Pipe(radius_m=0.0105, wall_m=0.001, modulus_pa=1.2e11, loss=0.002, density_kg_m3=8900)
    assert 0 < decay_db_m(free_wavenumber(copper, np.array([600.0])))[0] < 0.01


def test_soil_makes_a_pipe_decay_faster_and_none_makes_it_free():
    hz = np.array([200.0, 600.0, 2000.0])
    none = Soil(p_m_s=500, s_m_s=200, loss=0.1, density_kg_m3=1e-6)
    light = Pipe(**{**vars(MDPE), "density_kg_m3": 0})
    friction = decay_db_m(buried_wavenumber(light, none, hz) - free_wavenumber(light, hz))
    assert np.all((friction > 0) & (friction < 0.02))
    assert np.all(decay_db_m(buried_wavenumber(MDPE, SOIL, hz) - free_wavenumber(MDPE, hz)) > 0.1)


def test_slow_motion_of_a_pipe_meets_the_static_stiffness_of_soil():
    # A hole in an elastic plane: pressure 2 G / a for unit displacement (Lame).
    stiff = soil_stiffness(LOSSLESS, np.array([0.05]), np.array([1e-5]), MDPE.radius_m)[0]
    assert stiff.real == pytest.approx(2 * 1800 * 200**2 / MDPE.radius_m, rel=1e-3)


def test_a_slow_wave_on_the_ground_meets_its_static_stiffness():
    # A half-space: pressure G k / (1 - nu) for unit displacement exp(i k x).
    k, nu = 3.0, (500**2 - 2 * 200**2) / (500**2 - 200**2) / 2
    stiff = surface_stiffness(LOSSLESS, np.array([0.5]), np.array([[k]]))[0, 0]
    assert stiff.real == pytest.approx(1800 * 200**2 * k / (1 - nu), rel=1e-3)


@pytest.mark.parametrize("part", ["volume", "upward", "along"])
def test_far_from_a_point_source_each_doubling_takes_6_db(part):
    strengths = Strengths(**{"volume": 0, part: 1})
    hz = np.linspace(200, 2000, 4001)
    near, far = (
        10 * np.log10(np.mean(np.abs(point_source(LOSSLESS, hz, np.array([r]), r, strengths)) ** 2))
        for r in (40.0, 80.0)
    )
    assert near - far == pytest.approx(20 * np.log10(2), abs=0.05)


def test_a_short_piece_of_pipe_sends_p_waves_as_a_volume_does():
    # The piece is much shorter than its waves, and S waves this slow are lost on the way up.
    hz, step, deep = np.array([300.0]), 0.02, 6.0
    at = np.arange(-4, 4, step)
    soft = Soil(p_m_s=500, s_m_s=20, loss=0.15)
    inside = (np.abs(at) < 0.03).astype(complex)[None, :]
    piece = np.abs(radiated(MDPE, soft, hz, inside, step, deep)[0])
    volume = np.abs(point_source(soft, hz, at, deep, Strengths())[0])
    middle = np.abs(at) < 2
    level = 20 * np.log10(piece / volume)[middle]
    assert np.ptp(level) < 1


def test_the_wall_right_at_the_pipe_moves_as_its_pressure_does():
    hz, step = np.array([500.0]), 0.02
    at = np.arange(0, 20, step)
    inside = pressure(free_wavenumber(MDPE, hz), Ends(0, 20, 0, 0), 10.0, at)
    wall = radiated(MDPE, SOIL, hz, inside, step, MDPE.radius_m)
    compliance = wall_compliance(MDPE, SOIL, hz, free_wavenumber(MDPE, hz).real)
    middle = np.abs(at - 5) < 3
    assert np.allclose(wall[0, middle], (inside * compliance[:, None])[0, middle], rtol=0.03)


def test_a_shut_end_doubles_the_pressure_and_an_open_one_takes_it_away():
    k, at = np.array([5.0 - 0.02j]), np.array([0.0, 10.0])
    shut = pressure(k, Ends(0, 10, 0, 1), 4.0, at)[0]
    bare = pressure(k, Ends(0, 10, 0, 0), 4.0, at)[0]
    assert shut[1] == pytest.approx(2 * bare[1])
    assert abs(pressure(k, Ends(0, 10, -1, 0), 4.0, at)[0, 0]) < 1e-12


def test_a_slab_passes_long_waves_and_levels_short_ones():
    slab = Cover("concrete", 0, 1, Slab(0.1, 28e9, 0.03, 2400, SOIL), 1500, 0.2, 0)
    long, short = np.abs(through(slab, np.array([50.0]), np.array([[0.01, 30.0]])))[0]
    assert long == pytest.approx(1, abs=0.05)
    assert short < 0.05
