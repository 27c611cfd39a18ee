"""Noise of the field: steps of the ground, contact of the sensor, drift, cars that pass."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Steps:
    """What stays as it is over a stretch of a line, and changes at its end.

    Parameters
    ----------
    edges_m : ndarray, shape (n - 1,)
        Chainages where it changes.
    stretches : ndarray, shape (n,)
        What each stretch has.
    """

    edges_m: np.ndarray
    stretches: np.ndarray

    def at(self, chainage_m: np.ndarray) -> np.ndarray:
        """Give the values at some chainages."""
        return self.stretches[np.searchsorted(self.edges_m, chainage_m, side="right")]


def edges(length_m: float, median_m: float, spread: float, rng: np.random.Generator) -> np.ndarray:
    """Cut a line into stretches of lognormal lengths.

    Parameters
    ----------
    length_m : float
        Of the line.
    median_m, spread : float
        Median length of a stretch, and standard deviation of its logarithm.
    rng : Generator

    Returns
    -------
    ndarray
        Chainages of the cuts.
    """
    count = int(np.ceil(8 * length_m / median_m))
    cuts = np.cumsum(rng.lognormal(np.log(median_m), spread, count)) - rng.uniform(0, median_m)
    return cuts[(cuts > 0) & (cuts < length_m)]


def patches(length_m: float, sd_db: float, rng: np.random.Generator) -> Steps:
    """Draw ground that is of one piece for some metres, then another; few are far off.

    Parameters
    ----------
    length_m : float
        Of the line.
    sd_db : float
        Standard deviation of the patches' levels.
    rng : Generator

    Returns
    -------
    Steps
        Level of each patch in decibels.
    """
    cuts = edges(length_m, rng.uniform(0.8, 3.5), 0.7, rng)
    return Steps(cuts, rng.laplace(0, sd_db / np.sqrt(2), cuts.size + 1))


def contact(count: int, sd_db: float, skew: float, rng: np.random.Generator) -> np.ndarray:
    """Draw what the set of the sensor does to each reading.

    A good set can't be much better than usual, a poor one can be much worse: the errors are of
    a gamma law with the long tail below.

    Parameters
    ----------
    count : int
    sd_db : float
    skew : float
        Skewness without its sign.
    rng : Generator

    Returns
    -------
    ndarray, shape (count,)
        Decibels, with mean 0.
    """
    shape = 4 / skew**2
    error: np.ndarray = sd_db * (shape - rng.gamma(shape, 1, count)) / np.sqrt(shape)
    return error


def dropouts(count: int, chance: float, rng: np.random.Generator) -> np.ndarray:
    """Draw losses by bad contact, on one to three stops running.

    Parameters
    ----------
    count : int
    chance : float
        That one begins at a stop.
    rng : Generator

    Returns
    -------
    ndarray, shape (count,)
        Decibels, 0 where the contact is good, else -20 to -6.
    """
    loss = np.zeros(count)
    for first in np.flatnonzero(rng.random(count) < chance):
        run = slice(first, first + int(rng.choice([1, 2, 3], p=[0.65, 0.25, 0.1])))
        # The cause stays for the run, the set differs.
        deep = rng.uniform(6, 20) + rng.normal(0, 1, loss[run].size)
        loss[run] = -np.clip(deep, 6, 20)
    return loss


@dataclass(frozen=True)
class Drift:
    """A slow change with time.

    Parameters
    ----------
    db_per_hour : float
    swing_db : float
        Amplitude of a slow wave on top.
    period_s, phase : float
        Of the wave.
    """

    db_per_hour: float
    swing_db: float
    period_s: float
    phase: float

    def at(self, time_s: np.ndarray) -> np.ndarray:
        """Give the change at some times after the first reading."""
        wave = np.sin(2 * np.pi * time_s / self.period_s + self.phase) - np.sin(self.phase)
        change: np.ndarray = self.db_per_hour * time_s / 3600 + self.swing_db * wave
        return change


def drift(sd_db: float, rng: np.random.Generator) -> Drift:
    """Draw a drift of about a size over half an hour."""
    return Drift(
        rng.normal(0, 2 * sd_db),
        abs(rng.normal(0, 0.7 * sd_db)),
        rng.uniform(300, 1500),
        rng.uniform(0, 2 * np.pi),
    )


@dataclass(frozen=True)
class Cars:
    """Cars that pass, or stand for a while with the engine running.

    Parameters
    ----------
    time_s, half_s, over_db : ndarray, shape (n,)
        When each is loudest, half of the time it lasts, and its level at the street above the
        background.
    """

    time_s: np.ndarray
    half_s: np.ndarray
    over_db: np.ndarray

    def rise_db(self, time_s: np.ndarray, street_m: np.ndarray) -> np.ndarray:
        """Rise of the background.

        Parameters
        ----------
        time_s, street_m : ndarray, shape (n,)
            Times of readings, and their distances from the street.

        Returns
        -------
        ndarray, shape (n,)
            Decibels.
        """
        shape = np.exp(-(((time_s[:, None] - self.time_s) / self.half_s) ** 4))
        power = 10 ** ((self.over_db - 0.25 * street_m[:, None]) / 10)
        rise: np.ndarray = 10 * np.log10(1 + (power * shape).sum(axis=1))
        return rise


def cars(per_hour: float, rng: np.random.Generator) -> Cars:
    """Draw the cars of two hours; the crew waits while the loudest pass, so they are not here."""
    count = rng.poisson(2 * per_hour)
    return Cars(
        rng.uniform(0, 7200, count),
        rng.lognormal(np.log(16), 0.5, count),
        rng.uniform(5, 16, count),
    )
