"""Predictive distribution of new readings at candidate stops, for each place of the leak."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.posterior import kernel
from leakgeo.find.posterior.grid import fit, scan
from leakgeo.find.posterior.noise import with_noise_scale

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Ints
    from leakgeo.find.posterior.problem import Problem
    from leakgeo.sound.constants import Constants


Linearised = tuple["Floats", "Floats", "Floats"]


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
    Machine Learning, 2006, section 2.7).

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
    _, start = fit(kernel.ONE, place, problem, problem.mean)
    problem = with_noise_scale(kernel.ONE, place, problem, constants, start)
    joint = _JointReadings.of(problem, stop_m, constants)
    linear = joint.linear(kernel.ONE, hypotheses.place_m, start, middle)
    if hypotheses.silent > 0.0:
        silent = joint.linear(kernel.SILENT, np.zeros(1), start, 0)
        slopes, residual, own = map(np.concatenate, zip(linear, silent, strict=True))
        linear = slopes, residual, own
    return _predicted(joint, hypotheses.weights(), linear, middle)


def _predicted(
    joint: _JointReadings, weight: Floats, linear: Linearised, likeliest: int
) -> Expected:
    """Return levels and covariance at the stops, given the readings."""
    slopes, residual, own = linear
    n, noise = joint.readings, joint.problem.noise
    among = joint.coupling()
    heard = among[:n, :n] + np.diag(
        joint.robust_variance(own[likeliest, :n], residual[likeliest, :n], among)
    )
    back = np.linalg.solve(heard, among[:n, n:])
    old, new = slopes[:, :, :n], slopes[:, :, n:] - slopes[:, :, :n] @ back
    # One factorisation serves all hypotheses.
    whitened = np.linalg.solve(np.linalg.cholesky(heard), old.reshape(-1, n).T).T.reshape(old.shape)
    precision = np.diag(joint.problem.precision) + whitened @ whitened.swapaxes(1, 2)
    root = np.linalg.cholesky(precision)
    unsure = np.linalg.solve(root, new) * np.sqrt(weight)[:, None, None]
    unsure = unsure.reshape(-1, unsure.shape[2])
    # A normal distribution with this variance has the information of Student's t.
    tail = noise[kernel.TAIL]
    alone = np.diag(weight @ own[:, n:]) * (tail + 3.0) / (tail + 1.0)
    covariance = unsure.T @ unsure + among[n:, n:] - among[n:, :n] @ back + alone
    return Expected(joint.stop_m, weight, residual[:, :n] @ back - residual[:, n:], covariance)


@dataclass(frozen=True)
class _JointReadings:
    """Readings and new stops in one table for the kernel, without contrasts between bands."""

    problem: Problem
    stop_m: Floats
    rows: Floats
    codes: Ints
    sums: Ints

    @classmethod
    def of(cls, problem: Problem, stop_m: Floats, constants: Constants) -> _JointReadings:
        x, first = problem.readings[:, kernel.X], np.flatnonzero(problem.codes[:, kernel.STOP] > 0)
        like = first[np.argmin(np.abs(x[first] - stop_m[:, None]), axis=1)]
        rows, codes = problem.readings[like].copy(), problem.codes[like].copy()
        rows[:, kernel.X] = rows[:, kernel.ALONG] = stop_m
        rows[:, kernel.Y] = 0.0
        rows[:, kernel.LOAD], codes[:, kernel.STOP] = 1.0, 1
        rows[:, kernel.VARIANCE] = constants.noise["reading_db"] ** 2
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
        shape (k, n + c).
        """
        shape = len(place_m), len(self.rows), len(start) + 1
        starts = np.tile(start, (1 if self.problem.reference < 0 else len(place_m), 1))
        fitted = scan(model, place_m, self.problem, starts, first).fitted
        table, variance = np.empty(shape), np.empty(shape[:2])
        kernel.linearise_all(
            model, place_m, fitted, self.rows, self.codes, table, variance, self.problem.noise
        )
        own = table[:, self.sums]
        return own[..., :-1].swapaxes(1, 2), own[..., -1], variance[:, self.sums]

    def coupling(self) -> Floats:
        """Return the covariance of the coupling noise, shape (n + c, n + c)."""
        x, load = (self.rows[self.sums, k] for k in (kernel.X, kernel.LOAD))
        noise = self.problem.noise
        sill = noise[kernel.COUPLING_VARIANCE] * noise[kernel.SCALE]
        apart = np.abs(x[:, None] - x) / noise[kernel.COUPLING_LENGTH]
        return np.asarray(sill * load[:, None] * load * np.exp(-apart))

    def robust_variance(self, own: Floats, residual: Floats, among: Floats) -> Floats:
        """Return variances of the readings that give outliers little weight."""
        n, tail = self.readings, self.problem.noise[kernel.TAIL]
        inverse = np.linalg.inv(among[:n, :n] + np.diag(own))
        left = own * (inverse @ residual)
        square = left**2 + own * (1.0 - own * np.diag(inverse))
        return np.asarray(own * (tail + square / own) / (tail + 1.0))
