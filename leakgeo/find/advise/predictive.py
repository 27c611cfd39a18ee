"""Predictive distribution of new readings at candidate stops, for each place of the leak."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.linalg import solve_triangular

from leakgeo.find.advise.outlier_information import informative_variance
from leakgeo.find.posterior import kernel
from leakgeo.find.posterior.grid import fit, scan
from leakgeo.find.posterior.noise import line_noise

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Ints
    from leakgeo.find.posterior.problem import Problem
    from leakgeo.sound.constants import Constants


Linearised = tuple["Floats", "Floats", "Floats", "Floats"]


@dataclass(frozen=True)
class Expected:
    """Expected levels of new readings by hypothesis, and their covariance.

    Parameters
    ----------
    stop_m : ndarray of float, shape (c,)
        Chainages of the stops, ascending.
    weight : ndarray of float, shape (k,)
        Probability of each hypothesis; sums to one.
    level_db : ndarray of float, shape (k, c)
        Expected level at each stop under each hypothesis.
    covariance : ndarray of float, shape (c, c)
        Covariance of the levels about their expectation, in square decibels.
    """

    stop_m: Floats
    weight: Floats
    level_db: Floats
    covariance: Floats


@dataclass(frozen=True)
class Hypotheses:
    """Possible places of the leak with their probabilities, and the probability of silence.

    Parameters
    ----------
    place_m : ndarray of float, shape (k,)
    weight : ndarray of float, shape (k,)
        Probability of each place; sums to one with `silent`.
    silent : float
        Probability that nothing sounds.
    """

    place_m: Floats
    weight: Floats
    silent: float = 0.0

    def weights(self) -> Floats:
        """Return the probabilities of all places, and of silence last if it is above zero."""
        return np.append(self.weight, self.silent) if self.silent > 0.0 else self.weight


def expected_levels(
    problem: Problem, hypotheses: Hypotheses, stop_m: Floats, constants: Constants
) -> Expected:
    """Predict new readings from the existing ones.

    The constants of the sound are fitted for each hypothesis, and the model is linear about the
    fit; coupling noise is correlated with that of neighbouring readings. That is Gaussian process
    regression with explicit basis functions (Rasmussen and Williams, Gaussian Processes for
    Machine Learning, 2006, section 2.7). The noise is that in the middle of what the readings leave
    of the noise law.

    Parameters
    ----------
    problem : Problem
        Readings of the line; a new one has the walk, band, surface and position error of the
        nearest of them.
    hypotheses : Hypotheses
    stop_m : ndarray of float, shape (c,)
    constants : Constants

    Returns
    -------
    Expected
    """
    middle = int(np.searchsorted(np.cumsum(hypotheses.weight), 0.5 * hypotheses.weight.sum()))
    place = float(hypotheses.place_m[middle])
    _, start, _ = fit(kernel.ONE, place, problem, problem.mean)
    noise = line_noise(problem, place, start, constants.noise_law).centre
    joint = _JointReadings.of(replace(problem, noise=noise), stop_m)
    linear = joint.linear(kernel.ONE, hypotheses.place_m, start, middle)
    if hypotheses.silent > 0.0:
        silent = joint.linear(kernel.SILENT, np.zeros(1), start, 0)
        slopes, residual, own, robust = map(np.concatenate, zip(linear, silent, strict=True))
        linear = slopes, residual, own, robust
    return _predicted(joint, hypotheses.weights(), linear, middle)


def _predicted(
    joint: _JointReadings, weight: Floats, linear: Linearised, likeliest: int
) -> Expected:
    """Return levels and covariance at the stops, given the readings."""
    slopes, residual, own, robust = linear
    n, noise = joint.readings, joint.problem.noise
    among = joint.coupling()
    heard = among[:n, :n] + np.diag(robust[likeliest])
    old = slopes[:, :, :n]
    # One factorisation serves all hypotheses, and the stops.
    right = np.vstack([old.reshape(-1, n), residual[:, :n], among[n:, :n]]).T
    white = solve_triangular(
        np.linalg.cholesky(heard), right, lower=True, overwrite_b=True, check_finite=False
    )
    k, p = slopes.shape[:2]
    white = white.T
    whitened, left, across = white[: k * p], white[k * p : k * p + k], white[k * p + k :]
    new = slopes[:, :, n:] - (whitened @ across.T).reshape(k, p, -1)
    whitened = whitened.reshape(old.shape)
    precision = np.diag(joint.problem.precision) + whitened @ whitened.swapaxes(1, 2)
    root = np.linalg.cholesky(precision)
    unsure = np.linalg.solve(root, new) * np.sqrt(weight)[:, None, None]
    unsure = unsure.reshape(-1, unsure.shape[2])
    times = informative_variance(float(noise[kernel.OUTLIERS]), float(noise[kernel.OUTLIER_TIMES]))
    alone = np.diag(weight @ own[:, n:]) * times
    covariance = unsure.T @ unsure + among[n:, n:] - across @ across.T + alone
    return Expected(joint.stop_m, weight, left @ across.T - residual[:, n:], covariance)


@dataclass(frozen=True)
class _JointReadings:
    """Readings and new stops in one table for the kernel, without contrasts between bands."""

    problem: Problem
    stop_m: Floats
    rows: Floats
    codes: Ints
    sums: Ints

    @classmethod
    def of(cls, problem: Problem, stop_m: Floats) -> _JointReadings:
        x, first = problem.readings[:, kernel.X], np.flatnonzero(problem.codes[:, kernel.STOP] > 0)
        like = first[np.argmin(np.abs(x[first] - stop_m[:, None]), axis=1)]
        rows, codes = problem.readings[like].copy(), problem.codes[like].copy()
        rows[:, kernel.X] = rows[:, kernel.ALONG] = stop_m
        rows[:, kernel.Y] = 0.0
        rows[:, kernel.LOAD] = rows[:, kernel.READING] = 1.0
        codes[:, kernel.STOP] = 1
        return cls(
            problem,
            stop_m,
            np.vstack([problem.readings, rows]),
            np.vstack([problem.codes, codes]),
            np.append(first, len(x) + np.arange(len(stop_m))),
        )

    @property
    def readings(self) -> int:
        """Number of rows that are existing readings."""
        return len(self.sums) - len(self.stop_m)

    def linear(self, model: int, place_m: Floats, start: Floats, first: int) -> Linearised:
        """Fit a source at each of k places, and linearise the model about the fit.

        Returns slopes by the constants, shape (k, p, n + c), residuals and own variances,
        shape (k, n + c), and variances that give outliers among the readings little weight,
        shape (k, n).
        """
        shape = len(place_m), len(self.rows), len(start) + 1
        starts = np.tile(start, (1 if self.problem.reference < 0 else len(place_m), 1))
        found = scan(model, place_m, self.problem, starts, first)
        table, variance = np.empty(shape), np.empty(shape[:2])
        kernel.linearise_all(
            model, place_m, found.fitted, self.rows, self.codes, table, variance, self.problem.noise
        )
        own, heard = table[:, self.sums], self.sums[: self.readings]
        robust = variance[:, heard] / found.weights[:, heard]
        return own[..., :-1].swapaxes(1, 2), own[..., -1], variance[:, self.sums], robust

    def coupling(self) -> Floats:
        """Return the covariance of the coupling noise, shape (n + c, n + c)."""
        x, load = (self.rows[self.sums, k] for k in (kernel.X, kernel.LOAD))
        noise = self.problem.noise
        apart = 3.0**0.5 * np.abs(x[:, None] - x) / noise[kernel.COUPLING_LENGTH]
        sill = noise[kernel.COUPLING_VARIANCE] * load[:, None] * load
        return np.asarray(sill * (1.0 + apart) * np.exp(-apart))
