"""The least error there can be, and what improvements do to it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, optimize
from scipy.stats import norm

import leakgeo
from leakgeo.find.advise.cramer_rao import Listening, cramer_rao_sd
from leakgeo.find.advise.outlier_information import informative_variance
from leakgeo.sound.constants import load_constants
from leakgeo.sound.noise_law import NoiseLaw
from leakgeo.sound.spreading import Spreading, relative_level
from tests.job import jobs

CONSTANTS = load_constants()
COUPLING_DB, COUPLING_M, READING_DB = CONSTANTS.noise_law.centre()
PLASTIC = Spreading(0.9, 4.0, 0.15, 1.5, 10**-1.4)


def _level(now, theta):
    """Level by place, level, and depth, share, side, trend, decay, soil, floor in logarithms."""
    place, level, depth, share, side, trend, decay, soil, floor = theta
    away = now.chainage_m - place
    ambient = np.exp(floor + trend * (now.chainage_m / (0.5 * now.length_m) - 1))
    before, beyond = (
        relative_level(away, Spreading(np.exp(depth), np.exp(decay + s), 1 / (1 + np.exp(-share)),
                                       np.exp(soil), ambient), now.smear_m)
        for s in (-side, side)
    )  # fmt: skip
    return level + np.where(away < 0, before, beyond)


def walked(step_m, spreading=PLASTIC, length_m=20.0):
    x = np.arange(0.0, length_m, step_m)
    return Listening(x, np.full(x.size, 0.05), np.full(x.size, 0.05), spreading, length_m, True)


def plain_noise(**spread):
    """Give the constants with independent normal noise, and no coupling."""
    law = NoiseLaw.of([[1e-6, COUPLING_M, READING_DB, 1.0]])
    noise = {**CONSTANTS.noise, "outlier_share": 1e-12}
    return replace(CONSTANTS, spread={**CONSTANTS.spread, **spread}, noise=noise, noise_law=law)


def test_with_all_else_known_it_is_the_root_of_one_over_the_information():
    sure = plain_noise(**dict.fromkeys(CONSTANTS.spread, 1e-7))
    now = replace(walked(0.5), position_sd_m=np.zeros(40))

    def level(leak_m):
        return relative_level(now.chainage_m - leak_m, PLASTIC, now.smear_m)

    slope = (level(10.2 + 1e-5) - level(10.2 - 1e-5)) / 2e-5
    information = np.sum(slope**2) / READING_DB**2 + 12 / now.length_m**2
    assert cramer_rao_sd(now, 10.2, sure) == pytest.approx(information**-0.5, rel=1e-3)


def test_a_fit_by_scipy_comes_near_it_and_no_further():
    # Fits of drawn levels, with the constants' prior as further residuals; normal noise.
    plain = plain_noise()
    now, rng = replace(walked(0.4), position_sd_m=np.zeros(50)), np.random.default_rng(2)
    share = np.log(0.15 / 0.85)
    middle = np.array([10.1, 0.0, np.log(0.9), share, 0.0, 0.0, np.log(4.0),
                       np.log(1.5), np.log(10**-1.4)])  # fmt: skip
    spread, decibels = CONSTANTS.spread, 10 / np.log(10)
    sd = np.array([20 / 12**0.5, spread["level_db"], spread["known_depth_ln"],
                   spread["pipe_share_logit"], spread["pipe_side_ln"],
                   spread["trend_db"] / decibels, spread["pipe_decay_ln"],
                   spread["soil_decay_ln"], spread["floor_db"] / decibels])  # fmt: skip
    errors = []
    for _ in range(150):
        about = middle + sd * np.append([0.0, 0.0], rng.standard_normal(7))
        heard = _level(now, middle) + READING_DB * rng.standard_normal(50)

        def away(theta, heard=heard, about=about):
            fits = (_level(now, theta) - heard) / READING_DB
            return np.append(fits, (theta - about)[2:] / sd[2:])

        errors.append(optimize.least_squares(away, middle).x[0] - 10.1)
    assert np.std(errors) == pytest.approx(cramer_rao_sd(now, 10.1, plain), rel=0.2)


def test_the_information_of_noise_with_outliers_is_that_of_its_density():
    share, times = 0.1, 16.0

    def density(x):
        return (1 - share) * norm.pdf(x) + share * norm.pdf(x, scale=times**0.5)

    def score(x):
        return (density(x + 1e-4) - density(x - 1e-4)) / 2e-4 / density(x)

    information = integrate.quad(lambda x: score(x) ** 2 * density(x), -30, 30, limit=500)[0]
    assert informative_variance(share, times) == pytest.approx(1 / information, rel=1e-5)


def test_rougher_ground_and_outliers_raise_it():
    now = walked(0.5)
    rough = replace(
        CONSTANTS, noise_law=NoiseLaw.of([[2 * COUPLING_DB, COUPLING_M, READING_DB, 1]])
    )
    outliers = replace(CONSTANTS, noise={**CONSTANTS.noise, "outlier_share": 0.2})
    least = cramer_rao_sd(now, 10.1, CONSTANTS)
    assert cramer_rao_sd(now, 10.1, outliers) > least
    twice = cramer_rao_sd(replace(now, coupling_factor=2.0), 10.1, CONSTANTS)
    assert twice == pytest.approx(cramer_rao_sd(now, 10.1, rough), rel=1e-9)
    assert twice > least


@given(st.floats(0.3, 3.0), st.floats(2.0, 18.0))
def test_listening_more_or_quieter_never_hurts(step, leak_m):
    now = walked(step)
    added = {"chainage_m": leak_m + 0.5, "position_sd_m": 0.05, "smear_m": 0.05}
    more = replace(now, **{k: np.append(getattr(now, k), v) for k, v in added.items()})
    before = cramer_rao_sd(now, leak_m, CONSTANTS)
    assert cramer_rao_sd(more, leak_m, CONSTANTS) <= before * (1 + 1e-9)
    assert before <= 20 / 12**0.5 + 1e-9


def test_a_deeper_line_is_harder():
    errors = [cramer_rao_sd(walked(0.5, replace(PLASTIC, depth_m=d)), 10.1, CONSTANTS)
              for d in (0.6, 1.2, 2.5)]  # fmt: skip
    assert errors == sorted(errors)


def test_without_a_reading_the_place_is_anywhere():
    none = replace(walked(0.5), chainage_m=np.empty(0), position_sd_m=np.empty(0),
                   smear_m=np.empty(0))  # fmt: skip
    assert cramer_rao_sd(none, 10.0, CONSTANTS) == pytest.approx(20 / 12**0.5)


def job(folder, depth_m=3.0, pressure_kpa=400.0, loud_db=8.0, surface="grass", **layers):
    x = np.arange(0.5, 29.0, 1.5)
    spreading = Spreading(depth_m, 4.0, 0.15, 1.5, 10 ** (-loud_db / 10))
    rng = np.random.default_rng(4)
    level = 50 + relative_level(x - 12.3, spreading) + rng.normal(0, 1.0, x.size)
    readings = jobs.readings(x.size, sound_level=level.round(), chainage_m=x, surface=surface,
                             sensor="ground_plate")  # fmt: skip
    routes = jobs.routes(material=["pvc", "pvc"], depth_m=[depth_m, 1.0],
                         pressure_kpa=[pressure_kpa, 400.0])  # fmt: skip
    points = shapely.points(jobs.EAST + x, np.full(x.size, jobs.NORTH))
    return jobs.read(folder, routes=routes, readings=readings.set_geometry(points, crs=jobs.CRS),
                     **layers)  # fmt: skip


def test_a_deep_line_on_grass_gets_its_improvements_in_order(tmp_path):
    found = leakgeo.improvements(job(tmp_path), rated_kpa=800.0)["improvements"]
    assert set(found["improvement"]) == {"night", "probe", "spacing", "pressure"}
    assert found["order"].tolist() == [1, 2, 3, 4]
    assert found["expected_sd_after_m"].is_monotonic_increasing
    assert (found["expected_sd_after_m"] <= found["expected_sd_before_m"] + 1e-9).all()
    assert "a deep line" in found["why"].iloc[0]
    assert "plastic" in found["why"].iloc[0]
    assert "grass" in found["why"].iloc[0]


@pytest.mark.parametrize(("rated", "pressure"), [(None, 400.0), (800.0, np.nan)])
def test_pressure_without_a_rating_is_named_last_and_without_a_figure(tmp_path, rated, pressure):
    found = leakgeo.improvements(job(tmp_path, pressure_kpa=pressure), rated_kpa=rated)[
        "improvements"
    ]
    last = found.iloc[-1]
    assert last["improvement"] == "pressure"
    assert np.isnan(last["expected_sd_after_m"])
    assert "is not known without" in last["message"]


def test_no_line_is_raised_beyond_its_rating(tmp_path):
    found = leakgeo.improvements(job(tmp_path), rated_kpa=390.0)["improvements"]
    assert "pressure" not in set(found["improvement"])


def test_a_probe_is_no_improvement_on_a_hard_surface(tmp_path):
    assert "probe" not in set(
        leakgeo.improvements(job(tmp_path, surface="asphalt"))["improvements"]["improvement"]
    )


def test_a_quiet_line_whose_meter_shows_nothing_needs_no_improvement(tmp_path):
    quiet = {"depth_m": 1.0, "loud_db": -30.0}
    (tmp_path / "a").mkdir()
    untested = leakgeo.improvements(job(tmp_path / "a", **quiet))
    assert untested["marks"].empty
    assert "no leak heard" in untested["improvements"]["why"].iloc[0]
    assert len(untested["improvements"])
    (tmp_path / "b").mkdir()
    tight = jobs.meter_tests(end_reading=[100.0])
    assert leakgeo.improvements(job(tmp_path / "b", **quiet, meter_tests=tight))[
        "improvements"
    ].empty


def test_a_located_line_needs_no_lever(town):
    result, _ = town
    status = result["lines"].set_index("line_id")["status"]
    depth = result.job.routes.set_index("line_id")["depth_m"]
    named = pd.unique(result["improvements"]["line_id"])
    assert len(named)
    assert all(status[i] != "located" or depth[i] > 2.4384 for i in named)
    assert set(status[named]) <= {
        "located", "keep_listening", "ambiguous", "no_leak_heard", "other_source"
    }  # fmt: skip
