"""Profile: kriging against a handbook, and four codes side by side on one profile."""

from __future__ import annotations

import celerite2
import numpy as np
import pytest
from celerite2 import terms

import leakgeo
from leakgeo.find.levels.kriging import krige
from leakgeo.find.levels.step import LENGTHS_M
from tests.find.dense import dense_solver
from tests.job import jobs
from tests.outside.table import outside

# Isaaks and Srivastava, Applied Geostatistics (1989), chapter 12: seven samples and a target.
XY = np.array([(61, 139), (63, 140), (64, 129), (68, 128), (71, 140), (73, 141), (75, 128)], float)
V = np.array([477, 696, 227, 646, 606, 791, 783], float)
TARGET = np.array([[65.0, 137.0]])


def exponential(sill, rate, nugget=0.0):
    return lambda h: sill * np.exp(-rate * h) + nugget * (h == 0)


def gaussian(h):
    return 10 * np.exp(-3 * (h / 10) ** 2)


@outside(
    "estimate and variance of kriging, five covariances, with and without a nugget",
    against="592.73 and 8.956, 17.912; 559.37 and 4.781; 596.78 and 10.306; 572.39 and 5.758",
    source="Isaaks and Srivastava, Applied Geostatistics, chapter 12",
    close="{within:g} and 0.0005, what the figures are printed to",
    within=0.005,
)
@pytest.mark.parametrize(
    ("covariance", "estimate", "variance"),
    [
        (exponential(10, 0.3), 592.73, 8.956),
        (exponential(20, 0.3), 592.73, 17.912),
        (gaussian, 559.37, 4.781),
        (exponential(5, 0.3, nugget=5), 596.78, 10.306),
        (exponential(10, 0.15), 572.39, 5.758),
    ],
)
def test_handbook_rows(covariance, estimate, variance, within):
    among = np.linalg.norm(XY[:, None] - XY, axis=2)
    across = np.linalg.norm(XY[:, None] - TARGET, axis=2)
    kriged = krige(
        dense_solver(covariance(among)), V, covariance(across), float(covariance(np.zeros(1))[0])
    )
    assert kriged.estimate[0] == pytest.approx(estimate, abs=within)
    assert kriged.variance[0] == pytest.approx(variance, abs=0.0005)


X = np.arange(0.5, 29.5, 0.9)
LEVEL = (50 + 15 * np.exp(-np.abs(X - 11.3) / 3) + np.random.default_rng(6).normal(0, 1.2, X.size)
         ).round(1)  # fmt: skip
NOISE_DB = 1.5  # of a reading, as assumed in constants.toml


@pytest.fixture(name="walked", scope="module")
def _walked():
    """Profile of one line, by the step itself: taped stops of one walk, every 0.25 m."""
    routes = jobs.routes()
    ends = routes.geometry.iloc[0].interpolate(X)
    readings = jobs.readings(X.size, sound_level=LEVEL, chainage_m=X).set_geometry(ends)
    result = leakgeo.profile(leakgeo.read_job({"routes": routes, "readings": readings}))
    own = result["readings_on_route"].sort_values("chainage_m")
    line = result["profile"].query("line_id == 'L1'")
    noise = NOISE_DB**2 + own["rounding_sd_db"].to_numpy() ** 2
    at = line["chainage_m"].to_numpy()
    return own["chainage_m"].to_numpy(), noise, at, line


def matern(length_m):
    """Matern's covariance of 3/2, with the sill that the profile takes."""
    sill = max(np.var(LEVEL), 4.0)
    return lambda h: (
        sill * (1 + 3**0.5 * np.abs(h) / length_m) * np.exp(-(3**0.5) * np.abs(h) / length_m)
    )


def process(sill, length, nu, noise):
    """scikit-learn's Gaussian process with constants that are given."""
    # Imported here: every process of the tests collects this file, and one runs it.
    from sklearn.gaussian_process import GaussianProcessRegressor
    from sklearn.gaussian_process.kernels import ConstantKernel, Matern

    kernel = ConstantKernel(sill, "fixed") * Matern(length, "fixed", nu=nu)
    return GaussianProcessRegressor(kernel, alpha=noise, optimizer=None)


def chosen(x, noise):
    """Length whose likelihood is the highest, by scikit-learn's Gaussian process."""

    def score(length):
        fitted = process(matern(length)(0.0), length, 1.5, noise)
        fitted.fit(x[:, None], LEVEL - LEVEL.mean())
        return fitted.log_marginal_likelihood_value_

    return max(LENGTHS_M, key=score)


PROFILE = outside(
    "one profile by four codes: levels and their deviations",
    against="PyKrige (ordinary), scikit-learn (simple, with the mean put in), celerite2, by hand",
    source="worked out with PyKrige 1.7.3, scikit-learn 1.9.1, celerite2 0.3.3",
    close="{within:g} dB (celerite2's Matern is itself an approximation), 1e-6 to celerite2",
    within=1e-3,
)


@PROFILE
def test_the_profile_is_that_of_dense_algebra_and_of_celerite2(walked, within):
    x, noise, at, line = walked
    sill, length = matern(1.0)(0.0), chosen(x, noise)
    kernel = terms.Matern32Term(sigma=sill**0.5, rho=length)
    among = kernel.get_value(x[:, None] - x) + np.diag(noise)
    kriged = krige(dense_solver(among), LEVEL, kernel.get_value(x[:, None] - at), sill)
    assert line["level_comparable_db"].to_numpy() == pytest.approx(kriged.estimate, abs=1e-6)
    assert line["level_comparable_sd_db"].to_numpy() == pytest.approx(
        kriged.variance**0.5, abs=1e-6
    )
    process = celerite2.GaussianProcess(kernel, mean=kriged.drift[0])
    process.compute(x, diag=noise)
    mean, variance = process.predict(LEVEL, at, return_var=True)
    assert line["level_comparable_db"].to_numpy() == pytest.approx(mean, abs=1e-6)
    # Its variance takes the mean as known: ours is larger by what the mean's own error adds.
    assert np.all(line["level_comparable_sd_db"].to_numpy() >= variance**0.5 - 1e-6)
    # The fast covariance is Matern's to a hundredth of its shape, which costs next to nothing.
    exact = matern(length)
    among, cross = exact(x[:, None] - x) + np.diag(noise), exact(x[:, None] - at)
    dense = krige(dense_solver(among), LEVEL, cross, sill)
    assert line["level_comparable_db"].to_numpy() == pytest.approx(dense.estimate, abs=within)


@PROFILE
def test_the_profile_is_that_of_scikit_learn_once_it_has_the_mean(walked, within):
    x, noise, at, line = walked
    length = chosen(x, noise)
    covariance = matern(length)
    weight = np.linalg.solve(covariance(x[:, None] - x) + np.diag(noise), np.ones(x.size))
    mean = weight @ LEVEL / weight.sum()
    fitted = process(covariance(0.0), length, 1.5, noise)
    fitted.fit(x[:, None], LEVEL - mean)
    simple, sd = fitted.predict(at[:, None], return_std=True)
    assert line["level_comparable_db"].to_numpy() == pytest.approx(mean + simple, abs=within)
    share = 1 - covariance(at[:, None] - x) @ weight
    ordinary = np.sqrt(sd**2 + share**2 / weight.sum())
    assert line["level_comparable_sd_db"].to_numpy() == pytest.approx(ordinary, abs=within)


@PROFILE
def test_the_profile_is_that_of_pykrige(walked, within):
    """PyKrige knows one nugget for all readings; of one display they have one rounding."""
    x, noise, at, line = walked
    assert np.ptp(noise) < 1e-12
    covariance = matern(chosen(x, noise))
    nugget = float(noise[0])

    from pykrige.ok import OrdinaryKriging

    def variogram(_, h):
        return covariance(0.0) - covariance(h) + nugget

    other = OrdinaryKriging(
        x, np.zeros(x.size), LEVEL, variogram_model="custom", variogram_function=variogram,
        variogram_parameters=[0.0], exact_values=False,
    )  # fmt: skip
    level, variance = other.execute("points", at, np.zeros(at.size))
    away = np.abs(at[:, None] - x).min(axis=1) > 1e-6
    assert away.sum() > 50
    assert line["level_comparable_db"][away].to_numpy() == pytest.approx(
        level.data[away], abs=within
    )
    # Its variance is of a new reading, noise and all; ours of the level itself.
    expected = np.sqrt(variance.data[away] - nugget)
    assert line["level_comparable_sd_db"][away].to_numpy() == pytest.approx(expected, abs=within)


@outside(
    "scikit-learn's Gaussian process is simple, not ordinary, kriging",
    against="592.17 and 8.579 for the handbook's first row: not the same figures",
    source="worked out with scikit-learn 1.9.1",
    close="{within:g} and 0.0005",
    within=0.005,
)
def test_simple_kriging_is_another_thing(within):
    fitted = process(10.0, 1 / 0.3, 0.5, 1e-10)
    fitted.fit(XY, V - V.mean())
    estimate, sd = fitted.predict(TARGET, return_std=True)
    assert estimate[0] + V.mean() == pytest.approx(592.17, abs=within)
    assert sd[0] ** 2 == pytest.approx(8.579, abs=0.0005)


@outside(
    "the fast solver and the dense one: mean and variance",
    against="celerite2's semiseparable algebra on 40 scattered stops",
    source="worked out with celerite2 0.3.3",
    close="{within:g} dB",
    within=1e-9,
)
def test_the_fast_solver_is_the_dense_one(within):
    rng = np.random.default_rng(3)
    x, y = np.sort(rng.uniform(0, 30, 40)), rng.normal(size=40)
    at = np.linspace(0, 30, 61)
    kernel = terms.Matern32Term(sigma=2.0, rho=1.3)
    process = celerite2.GaussianProcess(kernel)
    process.compute(x, diag=np.full(40, 0.7))
    among, across = kernel.get_value(x[:, None] - x), kernel.get_value(x[:, None] - at)
    fast = krige(process.apply_inverse, y, across, 4.0)
    dense = krige(dense_solver(among + 0.7 * np.eye(40)), y, across, 4.0)
    assert fast.estimate == pytest.approx(dense.estimate, abs=within)
    assert fast.variance == pytest.approx(dense.variance, abs=within)
