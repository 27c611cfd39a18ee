"""What a new reading at each of some stops would show, for each place where the leak may be."""

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


Linear = tuple["Floats", "Floats", "Floats"]


@dataclass(frozen=True)
class Expected:
    """Levels that new readings would show, by hypothesis, and what spoils them.

    Parameters
    ----------
    stop_m : ndarray of float, shape (c,)
        Chainages of the stops, rising.
    weight : ndarray of float, shape (k,)
        Probability of each hypothesis; sums to one.
    level_db : ndarray of float, shape (k, c)
        Expected level at each stop under each hypothesis.
    covariance : ndarray of float, shape (c, c)
        Of the levels about what is expected, in square decibels.
    """

    stop_m: Floats
    weight: Floats
    level_db: Floats
    covariance: Floats


@dataclass(frozen=True)
class Hypotheses:
    """Where the leak may be, each place with its probability, and that of silence.

    Parameters
    ----------
    place_m : ndarray of float, shape (k,)
    weight : ndarray of float, shape (k,)
        Sums with `silent` to one.
    silent : float
        That nothing sounds.
    """

    place_m: Floats
    weight: Floats
    silent: float = 0.0

    def weights(self) -> Floats:
        """Of all places, and of silence last where it is in question."""
        return np.append(self.weight, self.silent) if self.silent > 0.0 else self.weight


def expected_levels(
    problem: Problem, hypotheses: Hypotheses, stop_m: Floats, constants: Constants
) -> Expected:
    """Predict new readings from those there are.

    The constants of the sound are fitted for each hypothesis, and straight about the fit; the
    coupling that the readings show is carried on to the stops beside them. That is regression by a
    Gaussian process with explicit basis functions (Rasmussen and Williams, Gaussian Processes for
    Machine Learning, 2006, section 2.7).

    Parameters
    ----------
    problem : Problem
        Readings of the line; a new one is taken to be like the nearest of them in walk, band,
        surface and error of position.
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
    seen = _Seen.of(problem, stop_m, constants)
    linear = seen.linear(kernel.ONE, hypotheses.place_m, start, middle)
    if hypotheses.silent > 0.0:
        silent = seen.linear(kernel.SILENT, np.zeros(1), start, 0)
        slopes, residual, own = map(np.concatenate, zip(linear, silent, strict=True))
        linear = slopes, residual, own
    return _predicted(seen, hypotheses.weights(), linear, middle)


def _predicted(seen: _Seen, weight: Floats, linear: Linear, likeliest: int) -> Expected:
    """Levels and covariance at the stops, given the readings."""
    slopes, residual, own = linear
    n, noise = seen.readings, seen.problem.noise
    among = seen.coupling()
    heard = among[:n, :n] + np.diag(seen.robust(own[likeliest, :n], residual[likeliest, :n], among))
    back = np.linalg.solve(heard, among[:n, n:])
    old, new = slopes[:, :, :n], slopes[:, :, n:] - slopes[:, :, :n] @ back
    # One factoring serves all hypotheses.
    whitened = np.linalg.solve(np.linalg.cholesky(heard), old.reshape(-1, n).T).T.reshape(old.shape)
    precision = np.diag(seen.problem.precision) + whitened @ whitened.swapaxes(1, 2)
    root = np.linalg.cholesky(precision)
    unsure = np.linalg.solve(root, new) * np.sqrt(weight)[:, None, None]
    unsure = unsure.reshape(-1, unsure.shape[2])
    # What is left of the noise of a heavy tail counts as normal with so much more variance: its
    # information is that of Student's t.
    tail = noise[kernel.TAIL]
    alone = np.diag(weight @ own[:, n:]) * (tail + 3.0) / (tail + 1.0)
    covariance = unsure.T @ unsure + among[n:, n:] - among[n:, :n] @ back + alone
    return Expected(seen.stop_m, weight, residual[:, :n] @ back - residual[:, n:], covariance)


@dataclass(frozen=True)
class _Seen:
    """Readings and new stops as one table for the kernel; contrasts between bands left out."""

    problem: Problem
    stop_m: Floats
    rows: Floats
    codes: Ints
    sums: Ints

    @classmethod
    def of(cls, problem: Problem, stop_m: Floats, constants: Constants) -> _Seen:
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
        """How many of the rows were heard."""
        return len(self.sums) - len(self.stop_m)

    def linear(self, model: int, place_m: Floats, start: Floats, first: int) -> Linear:
        """Fit a source at each of k places, and give it straight about the fit.

        Slopes by the constants, shape (k, p, n + c), residuals and own variances, (k, n + c).
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
        """Covariance that the ground's coupling lends to all, shape (n + c, n + c)."""
        x, load = (self.rows[self.sums, k] for k in (kernel.X, kernel.LOAD))
        noise = self.problem.noise
        sill = noise[kernel.COUPLING_VARIANCE] * noise[kernel.SCALE]
        apart = np.abs(x[:, None] - x) / noise[kernel.COUPLING_LENGTH]
        return np.asarray(sill * load[:, None] * load * np.exp(-apart))

    def robust(self, own: Floats, residual: Floats, among: Floats) -> Floats:
        """Variances of the readings with bursts and bad contacts given little weight."""
        n, tail = self.readings, self.problem.noise[kernel.TAIL]
        inverse = np.linalg.inv(among[:n, :n] + np.diag(own))
        left = own * (inverse @ residual)
        square = left**2 + own * (1.0 - own * np.diag(inverse))
        return np.asarray(own * (tail + square / own) / (tail + 1.0))
