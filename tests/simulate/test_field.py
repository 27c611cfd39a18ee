"""Simulated fields: seeds, shares, practice, errors of position, bands."""

from dataclasses import fields as fields_of

import numpy as np
import pytest
from scipy.stats import binom

from leakgeo.simulate import Conditions, World, simulate_field
from leakgeo.simulate.constants import METALS, SENSOR_WEIGHT_DB
from leakgeo.simulate.noise import coupling_correlation, draw_outliers
from leakgeo.simulate.positions import draw_fix_errors

N = 400


@pytest.fixture(scope="module")
def drawn():
    return [simulate_field(np.random.default_rng([5, i])) for i in range(N)]


def same(a, b):
    for f in fields_of(a):
        left, right = getattr(a, f.name), getattr(b, f.name)
        if isinstance(left, np.ndarray):
            np.testing.assert_array_equal(left, right)
    return a.leak_chainage_m == b.leak_chainage_m


def test_the_same_seed_gives_the_same_field():
    a, b, other = (simulate_field(np.random.default_rng(s)) for s in (8, 8, 9))
    assert same(a, b)
    assert a.level.size != other.level.size or (a.level != other.level).any()


@pytest.mark.parametrize(
    ("share", "is_so"),
    [
        (0.92, lambda f: f.leaks),
        (0.5, lambda f: f.truth.ground.material in METALS),
        (0.25, lambda f: f.truth.other is not None),
        (0.4, lambda f: len(f.truth.ground.surfaces) > 1),
        (0.2, lambda f: bool(np.isnan(f.gain_db).all())),
        (0.1, lambda f: f.unit == "scale"),
        (0.5, lambda f: f.taped),
        (0.35, lambda f: bool(np.isnan(f.depth_m))),
        (0.1, lambda f: f.material == "unknown"),
    ],
)
def test_shares_of_conditions_are_as_stated(drawn, share, is_so):
    low, high = binom.interval(0.9999, N, share)
    assert low <= sum(map(is_so, drawn)) <= high


def test_the_crew_walks_coarsely_and_then_finely_around_the_loudest(drawn):
    for f in drawn:
        coarse, fine = f.true_chainage_m[f.walk == 0], f.true_chainage_m[f.walk == 1]
        assert np.median(np.diff(coarse)) == pytest.approx(1.2, abs=0.1)
        assert np.median(np.diff(fine)) == pytest.approx(0.3, abs=0.1)
        loudest = coarse[np.flatnonzero(f.level[f.walk == 0] == f.level[f.walk == 0].max())]
        assert np.abs(loudest - fine.mean()).min() < 2.6
        assert (f.true_chainage_m >= 0).all()
        assert (f.true_chainage_m <= f.length_m).all()
    assert min(f.level.size for f in drawn) >= 19
    assert max(f.level.size for f in drawn) <= 68


def test_levels_are_as_a_display_shows_them(drawn):
    for f in drawn:
        assert (f.level == np.rint(f.level)).all()
        assert f.level.min() >= 0
        assert f.level.max() <= (100 if f.unit == "scale" else 99)


def test_readings_are_the_levels_of_the_truth_but_for_noise():
    quiet = World()
    for name in ("coupling_sd_db", "reading_sd_db", "burst_share", "bad_contact_share"):
        quiet = quiet.scaled(name, 0.0)
    f = simulate_field(np.random.default_rng(4), Conditions(constants=quiet, scale_share=0.0))
    expected = f.truth.level_db(0, f.true_chainage_m, f.truth.leak_chainage_m)
    offset = f.survey.sensor_offset_db + np.asarray(f.survey.gain_db)[f.walk]
    np.testing.assert_allclose(f.level, np.clip(expected + offset, 0, 99), atol=0.5 + 1e-9)


def test_a_leak_is_loudest_right_above_it_on_a_line_with_nothing_else():
    conditions = Conditions(material="pvc", surface="soil", other_source_share=0.0, leak_share=1.0)
    for seed in range(20):
        truth = simulate_field(np.random.default_rng(seed), conditions).truth
        along = np.linspace(0, truth.ground.length_m, 2001)
        level = truth.level_db(0, along, truth.leak_chainage_m)
        assert abs(along[np.argmax(level)] - truth.leak_chainage_m) < 0.06


def test_taped_and_satellite_errors_have_their_stated_size(drawn):
    taped = [f for f in drawn if f.taped]
    error = np.concatenate(
        [(f.chainage_m - f.true_chainage_m) / f.survey.position_sd_m for f in taped]
    )
    inner = np.concatenate([f.true_chainage_m for f in taped]) > 0.5
    assert np.std(error[inner]) == pytest.approx(1.0, abs=0.03)
    assert {f.survey.position_sd_m for f in drawn if not f.taped} == {0.02, 0.5, 1.5, 3.0}


@pytest.mark.parametrize("share", [0.0, 0.6])
def test_fix_errors_share_a_drift_within_a_walk_and_none_between(share):
    rng, walk = np.random.default_rng(1), np.repeat([0, 1], 20)
    many = np.array([draw_fix_errors(rng, walk, 1.5, share, 40.0) for _ in range(4000)])[..., 0]
    corr = np.corrcoef(many.T)
    assert many.std() == pytest.approx(1.5, rel=0.03)
    assert corr[3, 4] == pytest.approx(share * np.exp(-1 / 40), abs=0.06)
    assert corr[19, 20] == pytest.approx(0.0, abs=0.06)


def test_bursts_come_and_last_as_stated():
    rng = np.random.default_rng(2)
    noise = simulate_field(rng).truth.noise
    kinds = np.array([draw_outliers(rng, 60, noise, 1)[1] for _ in range(3000)])
    assert (kinds == 1).mean() == pytest.approx(noise.burst_share, rel=0.15)
    starts = (np.diff((kinds == 1).astype(int), axis=1) == 1).sum()
    ends = (np.diff((kinds == 1).astype(int), axis=1) == -1).sum()
    inner = (kinds[:, 1:-1] == 1).sum()
    assert 2 * inner / (starts + ends) == pytest.approx(noise.burst_readings, rel=0.15)


def test_coupling_is_correlated_over_its_length():
    # Matern 3/2 at its length: (1 + sqrt 3) exp(-sqrt 3) = 0.4834 (textbook form).
    assert coupling_correlation(np.array(0.7), 0.7) == pytest.approx(0.48335, abs=1e-5)


def test_bands_share_stops_and_are_spoilt_alike():
    conditions = Conditions(bands=("wide", "low", "high"), leak_share=1.0)
    f = simulate_field(np.random.default_rng(6), conditions)
    assert f.level.size == 3 * (f.stop.max() + 1)
    for k in range(3):
        np.testing.assert_array_equal(f.true_chainage_m[k::3], f.true_chainage_m[::3])
        assert set(f.band[k::3]) == {("wide", "low", "high")[k]}
    wide, low = f.level[0::3], f.level[1::3]
    assert np.corrcoef(wide, low)[0, 1] > 0.3


def test_high_frequencies_die_sooner_with_distance():
    conditions = Conditions(bands=("low", "high"), material="pvc", surface="soil", leak_share=1.0,
                            other_source_share=0.0)  # fmt: skip
    truth = simulate_field(np.random.default_rng(3), conditions).truth
    where = np.array([0.0, 2.0]) + truth.leak_chainage_m
    quiet = [truth.level_db(k, where, None) for k in (0, 1)]
    rise = [
        10 * np.log10(10 ** (truth.level_db(k, where, truth.leak_chainage_m) / 10)
                      - 10 ** (quiet[k] / 10))
        for k in (0, 1)
    ]  # fmt: skip
    assert rise[1][0] - rise[1][1] > rise[0][0] - rise[0][1]


def test_a_constant_can_be_scaled_and_a_wrong_name_is_told():
    assert World().scaled("depth_m", 0.5).depth_m == (0.2, 0.9)
    with pytest.raises(ValueError, match="no constant 'dept_m'"):
        World().scaled("dept_m", 2.0)


@pytest.mark.parametrize("sensor", list(SENSOR_WEIGHT_DB))
def test_every_sensor_has_a_weight_for_every_band(sensor):
    assert len(SENSOR_WEIGHT_DB[sensor]) == 6
