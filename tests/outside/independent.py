"""The model of one line written again in plain numpy, sampled by emcee: nothing of ours in it.

The formula is that of ``sound/spreading.py``, the priors are read from ``sound/constants.toml``;
the code that fits is not used. One walk in one band, taped, under one surface: the constants are
cover, smear, share of the pipe, how unlike it decays to the two sides, decay of pipe and soil,
floor, and level. Noise is an exponentially
correlated coupling, and each reading's own: normal, or Student's t, which is a normal whose
precision is drawn; so the precisions are sampled with the rest and the coupling is integrated out,
densely and exactly.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from importlib.resources import files
from typing import TYPE_CHECKING

import emcee
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

TOML = tomllib.loads(files("leakgeo.sound").joinpath("constants.toml").read_text("utf-8"))
SPREAD, NOISE = TOML["spread"], TOML["noise"]
COVER, SMEAR, SHARE, SIDE, DECAY, FLOOR, SOIL, LEVEL, PLACE = range(9)
CONSTANTS, ALL = 8, 9


def level_db(x: Floats, theta: Floats, smear_m: float) -> Floats:
    """Level at places (n,) for constants (..., 9) in logarithms: shape (..., n)."""
    t = np.moveaxis(np.asarray(theta), -1, 0)[..., None]
    height2 = np.exp(2 * t[COVER]) + (smear_m * np.exp(t[SMEAR])) ** 2
    height, slant = np.sqrt(height2), np.sqrt(height2 + (x - t[PLACE]) ** 2)
    share = 1 / (1 + np.exp(-t[SHARE]))
    straight = (height / slant) ** 2 * 10 ** (-np.exp(t[SOIL]) * (slant - height) / 10)
    decay = np.exp(t[DECAY] + np.sign(x - t[PLACE]) * t[SIDE])
    piped = 10 ** (-decay * (slant - height) / 10)
    power = (1 - share) * straight + share * piped + 10 ** (t[FLOOR] / 10)
    return t[LEVEL] + 10 * np.log10(power)


@dataclass(frozen=True)
class Line:
    """One taped walk, and what is believed of it before listening.

    Parameters
    ----------
    x_m, heard_db : ndarray of float, shape (n,)
    length_m, cover_m, smear_m : float
    material : str
        ``metal``, ``plastic`` or ``other``.
    noise_times : float
        Factor on both variances of the noise.
    """

    x_m: Floats
    heard_db: Floats
    length_m: float
    cover_m: float
    smear_m: float
    material: str
    noise_times: float = 1.0

    def prior(self) -> tuple[Floats, Floats]:
        """Middles and deviations of the eight constants, in logarithms where they are scales."""
        pipe = TOML["materials"][self.material]
        share = pipe["pipe_share"]
        rows = [
            (np.log(self.cover_m), SPREAD["known_depth_ln"]),
            (0.0, SPREAD["smear_ln"]),
            (np.log(share / (1 - share)), SPREAD["pipe_share_logit"]),
            (0.0, SPREAD["pipe_side_ln"]),
            (np.log(pipe["pipe_decay_db_per_m"]), SPREAD["pipe_decay_ln"]),
            (-SPREAD["floor_below_db"], SPREAD["floor_db"]),
            (np.log(SPREAD["soil_decay_db_per_m"]), SPREAD["soil_decay_ln"]),
            (float(np.median(self.heard_db)), SPREAD["level_db"]),
        ]
        middle, sd = np.array(rows).T
        return middle, sd

    def coupling(self) -> Floats:
        """Covariance (n, n) of what stops close together share."""
        apart = np.abs(self.x_m[:, None] - self.x_m) / NOISE["coupling_length_m"]
        return self.noise_times * NOISE["coupling_db"] ** 2 * np.exp(-apart)


def draw(rng: np.random.Generator, blank: Line, level: float = 50.0) -> tuple[Line, Floats]:
    """Draw constants and place from the prior, and readings from the model: line and truth.

    The level stays as given: its own prior is so wide that it says nothing.
    """
    middle, sd = blank.prior()
    true = np.append(middle + sd * rng.standard_normal(CONSTANTS), rng.uniform(0.0, blank.length_m))
    true[LEVEL] = level
    return heard(rng, blank, true), true


def heard(rng: np.random.Generator, blank: Line, true: Floats) -> Line:
    """Draw readings of a line whose constants and place are known."""
    n = blank.x_m.size
    shared = np.linalg.cholesky(blank.coupling() + 1e-9 * np.eye(n)) @ rng.standard_normal(n)
    own = NOISE["reading_db"] * blank.noise_times**0.5 * rng.standard_t(NOISE["tail_degrees"], n)
    level = level_db(blank.x_m, true, blank.smear_m) + shared + own
    return Line(blank.x_m, level, blank.length_m, blank.cover_m, blank.smear_m, blank.material,
                blank.noise_times)  # fmt: skip


class Normal:
    """Log posterior of constants and place, (walkers, 9), for readings with normal noise."""

    def __init__(self, line: Line) -> None:
        self.line, self.size = line, ALL
        self.middle, self.sd = line.prior()
        own = line.noise_times * NOISE["reading_db"] ** 2 * np.eye(line.x_m.size)
        self.white = np.linalg.inv(np.linalg.cholesky(line.coupling() + own))

    def __call__(self, theta: Floats) -> Floats:
        """Give the logarithm, up to a constant, of each row."""
        place = theta[:, PLACE]
        inside = (place > 0) & (place < self.line.length_m)
        told = np.full(len(theta), -np.inf)
        told[inside] = self.prior(theta[inside]) + self.likelihood(theta[inside])
        return told

    def prior(self, theta: Floats) -> Floats:
        """Of the constants; the place is as likely anywhere."""
        return -0.5 * np.sum(((theta[:, :CONSTANTS] - self.middle) / self.sd) ** 2, axis=1)

    def left(self, theta: Floats) -> Floats:
        """What constants and place leave unexplained."""
        return self.line.heard_db - level_db(self.line.x_m, theta[:, :ALL], self.line.smear_m)

    def likelihood(self, theta: Floats) -> Floats:
        """Of the readings."""
        return -0.5 * np.sum((self.left(theta) @ self.white.T) ** 2, axis=1)


class Student(Normal):
    """The same for Student's t, with a precision in logarithms for each reading: (w, 9 + n)."""

    def __init__(self, line: Line) -> None:
        super().__init__(line)
        self.size = ALL + line.x_m.size
        self.coupled = line.coupling()

    def prior(self, theta: Floats) -> Floats:
        """Of the constants, and of precisions by a gamma of shape and rate half the degrees."""
        half, log_precision = NOISE["tail_degrees"] / 2, np.clip(theta[:, ALL:], -30, 30)
        own = half * np.sum(log_precision - np.exp(log_precision), axis=1)
        return super().prior(theta) + own

    def likelihood(self, theta: Floats) -> Floats:
        """Normal with the coupling's covariance and each reading's drawn variance."""
        covariance = np.tile(self.coupled, (len(theta), 1, 1))
        spot = np.arange(self.line.x_m.size)
        own = self.line.noise_times * NOISE["reading_db"] ** 2
        covariance[:, spot, spot] += own * np.exp(-np.clip(theta[:, ALL:], -30, 30))
        factor = np.linalg.cholesky(covariance)
        white = np.linalg.solve(factor, self.left(theta)[..., None])[..., 0]
        return -0.5 * np.sum(white**2, axis=1) - np.sum(np.log(factor[:, spot, spot]), axis=1)


def places(target: Normal, walkers: int, steps: int, seed: int) -> tuple[Floats, float]:
    """Places that emcee visits, and how many independent ones they are worth."""
    rng = np.random.default_rng(seed)
    moves = [(emcee.moves.StretchMove(), 0.3), (emcee.moves.DEMove(), 0.6),
             (emcee.moves.DESnookerMove(), 0.1)]  # fmt: skip
    sampler = emcee.EnsembleSampler(walkers, target.size, target, vectorize=True, moves=moves)
    sampler._random = np.random.RandomState(seed)
    begin = 0.3 * rng.standard_normal((walkers, target.size))
    begin[:, :CONSTANTS] = target.middle + begin[:, :CONSTANTS] * target.sd
    begin[:, LEVEL] = np.max(target.line.heard_db) + rng.standard_normal(walkers)
    loud = target.line.x_m[np.argsort(target.line.heard_db)[-6:]]
    begin[:, PLACE] = np.clip(rng.choice(loud, walkers) + 0.3 * rng.standard_normal(walkers),
                              0.01, target.line.length_m - 0.01)  # fmt: skip
    sampler.run_mcmc(begin, steps)
    chain = sampler.get_chain(discard=steps // 4)[..., PLACE]
    tau = float(emcee.autocorr.integrated_time(chain, quiet=True, tol=0)[0])
    return chain.ravel(), chain.size / tau
