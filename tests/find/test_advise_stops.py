"""What stops are worth: against integrals and simulation; what coupling and distance do to it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import norm

from leakgeo.find.advise.greedy_design import DesignRules, _mutual_information, greedy_design
from leakgeo.find.advise.predictive import Expected, Hypotheses, _JointReadings, expected_levels
from leakgeo.find.advise.step import first_walk
from leakgeo.find.posterior import kernel
from leakgeo.find.posterior.grid import fit
from leakgeo.find.posterior.noise import line_noise
from leakgeo.find.posterior.problem import build_problem
from leakgeo.sound.constants import load_constants
from leakgeo.sound.noise_law import NoiseLaw
from tests.benchmarks.efficiency import (
    Cell,
    coupling,
    draw,
    information_share,
    one_walk,
)


def exact_information(level: np.ndarray, weight: np.ndarray) -> float:
    """Mutual information of a mixture's component and a level of unit noise, by quadrature."""

    def density(y: float) -> float:
        return float(weight @ norm.pdf(y - level))

    ends = level.min() - 9.0, level.max() + 9.0
    entropy = quad(lambda y: -density(y) * np.log2(density(y)), *ends, limit=500)[0]
    return entropy - 0.5 * np.log2(2 * np.pi * np.e)


@pytest.mark.parametrize("size", [0.1, 0.5, 1.0, 3.0, 10.0])
@pytest.mark.parametrize("seed", range(3))
def test_mutual_information_is_near_the_integral(size, seed):
    rng = np.random.default_rng(seed)
    level, weight = size * rng.standard_normal(8), rng.dirichlet(np.full(8, 3.0))
    near = float(_mutual_information((level[:, None] - level) ** 2, weight))
    exact = exact_information(level, weight)
    # An approximation: within a fifth, or a tenth of a bit.
    assert near == pytest.approx(exact, rel=0.2, abs=0.1 if size > 0.5 else 0.02)


@pytest.mark.parametrize("variance", [0.01, 0.1, 1.0, 10.0])
def test_information_on_a_normal_place_is_the_channel_s_capacity(variance):
    # Half the binary logarithm of one plus signal over noise (Cover and Thomas, Elements of
    # Information Theory, 2006, chapter 9).
    level = variance**0.5 * norm.ppf((np.arange(300) + 0.5) / 300)
    bits = float(_mutual_information((level[:, None] - level) ** 2, np.full(300, 1 / 300)))
    assert bits == pytest.approx(0.5 * np.log2(1 + variance), rel=0.1)


@given(
    st.lists(st.floats(-50, 50), min_size=2, max_size=12),
    st.integers(0, 2**16),
)
def test_levels_tell_no_less_than_nothing_and_no_more_than_there_is(level, seed):
    weight = np.random.default_rng(seed).dirichlet(np.ones(len(level)))
    level = np.array(level)
    bits = float(_mutual_information((level[:, None] - level) ** 2, weight))
    some = weight[weight > 0]
    assert -1e-9 <= bits <= -np.sum(some * np.log2(some)) + 1e-9


def bell(shared: float, length_m: float = 2.0) -> Expected:
    """A leak about 10 m that sounds as a bell, with shared noise besides each reading's own."""
    stop = np.arange(5.0, 15.01, 0.25)
    place = np.linspace(9.0, 11.0, 21)
    level = 10.0 * np.exp(-((stop - place[:, None]) ** 2) / 4.0)
    apart = np.abs(stop[:, None] - stop)
    covariance = shared * np.exp(-apart / length_m) + np.eye(len(stop))
    return Expected(stop, np.full(21, 1 / 21), level, covariance)


FREE = DesignRules(6, 0.0, 1e9, 0.25)


def test_the_flanks_are_listened_to_before_the_top():
    stops = bell(2.0).stop_m[greedy_design(bell(2.0), DesignRules(2, 0.0, 1e9, 0.25))[0]]
    assert np.abs(stops - 10.0).min() > 0.7
    assert (stops < 10.0).sum() == 1


@pytest.mark.parametrize("shared", [0.0, 1.0, 4.0])
def test_bits_add_up_to_what_all_stops_tell_together(shared):
    expected = bell(shared)
    stops, bits = greedy_design(expected, FREE)
    some = expected.level_db[:, stops]
    inverse = np.linalg.inv(expected.covariance[np.ix_(stops, stops)])
    away = some[:, None] - some
    square = np.einsum("ijk,kl,ijl->ij", away, inverse, away)
    assert sum(bits) == pytest.approx(float(_mutual_information(square, expected.weight)), rel=1e-6)


def test_crowded_stops_tell_less_where_they_share_noise():
    # Ten readings within a metre aren't ten readings.
    crowd = bell(4.0)
    near = np.flatnonzero((crowd.stop_m >= 8.0) & (crowd.stop_m <= 10.25))
    part = Expected(
        crowd.stop_m[near], crowd.weight, crowd.level_db[:, near],
        crowd.covariance[np.ix_(near, near)],
    )  # fmt: skip
    within = sum(greedy_design(part, DesignRules(10, 0.0, 1e9, 0.25))[1])
    assert within < sum(greedy_design(crowd, DesignRules(4, 0.0, 1e9, 0.25))[1])


def test_stops_keep_apart_and_stop_where_the_gain_is_small():
    expected = bell(1.0)
    stops, bits = greedy_design(expected, DesignRules(30, 0.05, 1e9, 0.7))
    gap = np.diff(np.sort(expected.stop_m[stops]))
    assert gap.min() >= 0.7 - 1e-9
    assert min(bits) >= 0.05
    assert len(stops) < 15
    assert greedy_design(expected, DesignRules(30, 5.0, 1e9, 0.7)) == ([], [])


def test_a_dear_walk_keeps_the_stops_together():
    expected = bell(1.0)
    far, near = (
        np.abs(
            np.diff(expected.stop_m[greedy_design(expected, DesignRules(6, 0.0, m, 0.25))[0]])
        ).sum()
        for m in (1e9, 5.0)
    )
    assert near < 0.8 * far


@pytest.fixture(scope="module")
def heard():
    """A line with readings at every 1.2 m and closer about the leak."""
    return draw(np.random.default_rng(3), Cell(0.9, "pvc", 1.0))


STOPS = np.array([4.03, 9.57, 12.11, 13.93, 20.7])


def test_the_covariance_is_that_of_a_joint_normal_given_the_readings(heard):
    problem, leak, _ = heard
    one = Hypotheses(np.array([leak]), np.ones(1))
    expected = expected_levels(problem, one, STOPS, load_constants())
    _, start, _ = fit(kernel.ONE, leak, problem, problem.mean)
    noise = line_noise(problem, leak, start, load_constants().noise_law).centre
    fitted = replace(problem, noise=noise)
    seen = _JointReadings.of(fitted, STOPS)
    slopes, _, own, robust = (p[0] for p in seen.linear(kernel.ONE, np.array([leak]), start, 0))
    n, x = seen.readings, np.append(problem.readings[:, kernel.X], STOPS)
    among = coupling(x, noise)
    own[:n] = robust
    own[n:] /= information_share(noise)
    # Nothing but the definition: constants from their prior, coupling, own noise.
    joint = slopes.T @ np.diag(1 / fitted.precision) @ slopes + among + np.diag(own)
    schur = joint[n:, n:] - joint[n:, :n] @ np.linalg.solve(joint[:n, :n], joint[:n, n:])
    assert expected.covariance == pytest.approx(schur, rel=1e-6, abs=1e-8)


def test_an_outlier_among_the_readings_hardly_counts(heard):
    # Coupling as rough as this carries normal noise over: a burst of 20 dB would move the level
    # expected beside it by 10.
    problem, leak, _ = heard
    constants = replace(load_constants(), noise_law=NoiseLaw.of([[2.0, 0.8, 0.8, 1.0]]))
    x, one = problem.readings[:, kernel.X], Hypotheses(np.array([leak]), np.ones(1))
    at = int(np.argmin(np.abs(x - leak))) + 2
    burst, rows = problem.readings.copy(), np.delete(np.arange(len(x)), at)
    burst[at, kernel.Y] += 20.0
    without = replace(problem, readings=problem.readings[rows], codes=problem.codes[rows])
    beside = x[at] + np.array([-0.15, 0.0, 0.15])
    moved, level = (
        expected_levels(p, one, beside, constants).level_db
        for p in (replace(problem, readings=burst), without)
    )
    assert moved == pytest.approx(level, abs=1.5)


def test_a_stop_is_louder_the_nearer_the_leak(heard):
    # Readings closer than the coupling's length would tell the level there themselves.
    problem, leak, _ = heard
    coarse = np.flatnonzero(np.abs(problem.readings[:, kernel.X] % 1.2 - 0.6) > 0.6 - 1e-6)
    problem = replace(problem, readings=problem.readings[coarse], codes=problem.codes[coarse])
    place = Hypotheses(leak + np.array([-0.4, 0.0, 0.4]), np.full(3, 1 / 3))
    expected = expected_levels(problem, place, leak + np.array([-1.5, 1.5]), load_constants())
    before, beyond = expected.level_db.T
    assert (np.diff(before) < 0).all()
    assert (np.diff(beyond) > 0).all()


def test_silence_is_level(heard):
    problem, leak, _ = heard
    hypotheses = Hypotheses(np.array([leak]), np.array([0.4]), silent=0.6)
    far = np.array([1.0, leak, 23.0])
    expected = expected_levels(problem, hypotheses, far, load_constants())
    assert expected.weight.tolist() == [0.4, 0.6]
    assert np.ptp(expected.level_db[1]) < np.ptp(expected.level_db[0])


def test_a_single_reading_is_enough_to_go_by():
    material = load_constants().materials["copper"]
    problem = build_problem(
        one_walk(np.array([5.0]), np.array([40.0])), material, np.nan, load_constants()
    )
    place = np.linspace(1.0, 19.0, 12)
    expected = expected_levels(
        problem, Hypotheses(place, np.full(12, 1 / 12)), np.arange(0.5, 20.0), load_constants()
    )
    assert np.isfinite(expected.level_db).all()
    assert greedy_design(expected, DesignRules(3, 0.01, 200.0, 0.3))[0]


@given(
    st.lists(st.tuples(st.floats(0, 300), st.floats(0, 300)), min_size=1, max_size=8),
    st.floats(0.3, 10.0),
    st.integers(10, 60),
)
def test_a_first_walk_stays_in_its_stretches(stretches, step_m, most):
    reach = np.array(stretches)
    stops, step = first_walk(reach, step_m, most)
    low, high = reach.min(axis=1), reach.max(axis=1)
    inside = (stops[:, None] >= low - 0.01) & (stops[:, None] <= high + 0.01)
    assert 1 <= len(stops) <= most
    assert inside.any(axis=1).all()
    length = (high - low).sum()
    assert step <= max(step_m, length / (most - len(reach))) + 1e-9
