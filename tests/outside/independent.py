"""The model of one line written again in plain numpy, sampled by emcee: nothing of ours in it.

The formula is that of ``sound/spreading.py``, the priors are read from ``sound/constants.toml``;
the code that fits is not used. One walk in one band, taped, under one surface: the constants are
cover, smear, share of the pipe, how unlike it decays to the two sides, trend of the floor, decay of
pipe and soil, floor, and level. The level above the leak is that of the pipe's cover and material,
or that of a hump of any width: the prior is a mixture of two. Noise is a coupling with Matern's
covariance of smoothness 3/2, and each reading's own, which has a larger variance for outliers.
The likelihood is a sum over all nodes of the noise law and over all cases of at most so many
outliers, each with a dense covariance.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, replace
from importlib.resources import files
from itertools import chain, combinations
from typing import TYPE_CHECKING

import emcee
import numpy as np
from scipy.sparse import csr_array

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

TOML = tomllib.loads(files("leakgeo.sound").joinpath("constants.toml").read_text("utf-8"))
SPREAD, NOISE, OTHER = TOML["spread"], TOML["noise"], TOML["other"]
COVER, SMEAR, SHARE, SIDE, TREND, DECAY, FLOOR, SOIL, LEVEL, PLACE = range(10)
CONSTANTS, ALL = 9, 10
# Coupling in dB, its length in metres, noise of a reading in dB, weight.
ONE_NODE = ((1.5, 0.6, 1.3, 1.0),)


def level_db(x: Floats, theta: Floats, smear_m: float) -> Floats:
    """Level at places (n,) for constants (..., 10) in logarithms: shape (..., n)."""
    t = np.moveaxis(np.asarray(theta), -1, 0)[..., None]
    height2 = np.exp(2 * t[COVER]) + (smear_m * np.exp(t[SMEAR])) ** 2
    height, slant = np.sqrt(height2), np.sqrt(height2 + (x - t[PLACE]) ** 2)
    share = 1 / (1 + np.exp(-t[SHARE]))
    straight = (height / slant) ** 2 * 10 ** (-np.exp(t[SOIL]) * (slant - height) / 10)
    decay = np.exp(t[DECAY] + np.sign(x - t[PLACE]) * t[SIDE])
    piped = 10 ** (-decay * (slant - height) / 10)
    # From -1 at the first reading to 1 at the last.
    along = (2 * x - x[0] - x[-1]) / (x[-1] - x[0])
    floor = 10 ** ((t[FLOOR] + t[TREND] * along) / 10)
    return t[LEVEL] + 10 * np.log10((1 - share) * straight + share * piped + floor)


@dataclass(frozen=True)
class Line:
    """One taped walk, and what is believed of it before listening.

    Parameters
    ----------
    x_m, heard_db : ndarray of float, shape (n,)
        Places ascend.
    length_m, cover_m, smear_m : float
    material : str
        ``metal``, ``plastic`` or ``other``.
    law : tuple of four floats each
        Nodes of the noise law.
    hump_share : float
        Probability that the level above the leak is a hump of any width.
    """

    x_m: Floats
    heard_db: Floats
    length_m: float
    cover_m: float
    smear_m: float
    material: str
    law: tuple[tuple[float, ...], ...] = ONE_NODE
    hump_share: float = OTHER["hump_share"]

    def prior(self) -> tuple[Floats, Floats]:
        """Middles and deviations of the constants, in logarithms where they are scales."""
        pipe = TOML["materials"][self.material]
        share = pipe["pipe_share"]
        rows = [
            (np.log(self.cover_m), SPREAD["known_depth_ln"]),
            (0.0, SPREAD["smear_ln"]),
            (np.log(share / (1 - share)), SPREAD["pipe_share_logit"]),
            (0.0, SPREAD["pipe_side_ln"]),
            (0.0, SPREAD["trend_db"]),
            (np.log(pipe["pipe_decay_db_per_m"]), SPREAD["pipe_decay_ln"]),
            (-SPREAD["floor_below_db"], SPREAD["floor_db"]),
            (np.log(SPREAD["soil_decay_db_per_m"]), SPREAD["soil_decay_ln"]),
            (float(np.median(self.heard_db)), SPREAD["level_db"]),
        ]
        middle, sd = np.array(rows).T
        return middle, sd

    def hump(self) -> tuple[Floats, Floats]:
        """The same for a hump of any width, with hardly any sound along the pipe."""
        middle, sd = self.prior()
        middle[COVER], sd[COVER] = np.log(OTHER["away_m"]), OTHER["away_ln"]
        middle[SHARE] = -6.0
        return middle, sd

    def coupling(self, node: tuple[float, ...]) -> Floats:
        """Covariance (n, n) of what stops close together share."""
        apart = 3**0.5 * np.abs(self.x_m[:, None] - self.x_m) / node[1]
        return node[0] ** 2 * (1 + apart) * np.exp(-apart)


def draw(rng: np.random.Generator, blank: Line, level: float = 50.0) -> tuple[Line, Floats]:
    """Draw constants and place from the prior, and readings from the model: line and truth.

    The level stays as given: its own prior is so wide that it says nothing.
    """
    middle, sd = blank.hump() if rng.random() < blank.hump_share else blank.prior()
    true = np.append(middle + sd * rng.standard_normal(CONSTANTS), rng.uniform(0.0, blank.length_m))
    true[LEVEL] = level
    return heard(rng, blank, true), true


def heard(rng: np.random.Generator, blank: Line, true: Floats) -> Line:
    """Draw readings of a line whose constants and place are known."""
    n, law = blank.x_m.size, np.array(blank.law)
    node = blank.law[rng.choice(len(law), p=law[:, 3] / law[:, 3].sum())]
    shared = np.linalg.cholesky(blank.coupling(node) + 1e-9 * np.eye(n)) @ rng.standard_normal(n)
    out = rng.random(n) < NOISE["outlier_share"]
    own = node[2] * np.where(out, NOISE["outlier_times"], 1.0) ** 0.5 * rng.standard_normal(n)
    return replace(blank, heard_db=level_db(blank.x_m, true, blank.smear_m) + shared + own)


class Target:
    """Log posterior of constants and place, (walkers, 10), for at most so many outliers."""

    def __init__(self, line: Line, outliers: int) -> None:
        self.line = line
        self.shapes = (
            (np.log1p(-line.hump_share), *line.prior()), (np.log(line.hump_share), *line.hump())
        )  # fmt: skip
        weight = np.array([node[3] for node in line.law])
        self.nodes = [
            (np.log(w), *_cases(line.coupling(node), node[2] ** 2, outliers))
            for w, node in zip(weight / weight.sum(), line.law, strict=True)
        ]
        self.pairs = np.triu_indices(line.x_m.size)

    def __call__(self, theta: Floats) -> Floats:
        """Give the logarithm, up to a constant, of each row."""
        place = theta[:, PLACE]
        inside = (place > 0) & (place < self.line.length_m)
        told = np.full(len(theta), -np.inf)
        told[inside] = self.prior(theta[inside]) + self.likelihood(theta[inside])
        return told

    def prior(self, theta: Floats) -> Floats:
        """Of the constants; the place is as likely anywhere."""
        terms = [
            share - np.sum(0.5 * ((theta[:, :CONSTANTS] - middle) / sd) ** 2 + np.log(sd), axis=1)
            for share, middle, sd in self.shapes
        ]
        return np.logaddexp(*terms)

    def likelihood(self, theta: Floats) -> Floats:
        """Of the readings."""
        left = self.line.heard_db - level_db(self.line.x_m, theta, self.line.smear_m)
        terms = []
        for log_weight, inverse, constant, gain in self.nodes:
            solved = left @ inverse
            products = solved[:, self.pairs[0]] * solved[:, self.pairs[1]]
            cases = _log_sum(constant[:, None] + gain @ products.T)
            terms.append(log_weight + cases - 0.5 * np.einsum("wn,wn->w", left, solved))
        return _log_sum(np.array(terms))


def _log_sum(terms: Floats) -> Floats:
    """Logarithm of the sum of exponentials over the first axis."""
    top = terms.max(axis=0)
    return np.asarray(top + np.log(np.exp(terms - top).sum(axis=0)))


def _cases(coupling: Floats, variance: float, most: int) -> tuple[Floats, Floats, csr_array]:
    """Inverse covariance without outliers, and for each case of outliers what it adds.

    An outlier has a further variance. By Woodbury's identity its case adds a constant to the log
    likelihood, and a quadratic form in what the inverse makes of the residuals; the form is laid
    out over the pairs of readings, shape (cases, n (n + 1) / 2).
    """
    n, share = len(coupling), NOISE["outlier_share"]
    more = variance * (NOISE["outlier_times"] - 1.0)
    covariance = coupling + variance * np.eye(n)
    inverse, (_, log_det) = np.linalg.inv(covariance), np.linalg.slogdet(covariance)
    pair = np.zeros((n, n), dtype=int)
    pair[np.triu_indices(n)] = np.arange(n * (n + 1) // 2)
    constant, value, row, column = [], [], [], []
    cases = chain.from_iterable(combinations(range(n), k) for k in range(most + 1))
    for c, case in enumerate(map(list, cases)):
        own = np.eye(len(case)) / more + inverse[np.ix_(case, case)]
        inner = np.linalg.inv(own)
        more_det = np.linalg.slogdet(more * own)[1]
        log_prior = len(case) * np.log(share) + (n - len(case)) * np.log1p(-share)
        constant.append(log_prior - 0.5 * (log_det + more_det))
        for a, i in enumerate(case):
            for b, j in enumerate(case[a:], a):
                value.append(inner[a, b] * (0.5 if a == b else 1.0))
                row.append(pair[i, j])
                column.append(c)
    shape = (len(constant), n * (n + 1) // 2)
    return inverse, np.array(constant), csr_array((value, (column, row)), shape=shape)


def places(target: Target, walkers: int, steps: int, seed: int) -> tuple[Floats, float]:
    """Places that emcee visits, and how many independent ones they are worth."""
    rng = np.random.default_rng(seed)
    moves = [(emcee.moves.StretchMove(), 0.3), (emcee.moves.DEMove(), 0.6),
             (emcee.moves.DESnookerMove(), 0.1)]  # fmt: skip
    sampler = emcee.EnsembleSampler(walkers, ALL, target, vectorize=True, moves=moves)
    sampler._random = np.random.RandomState(seed)
    begin = 0.3 * rng.standard_normal((walkers, ALL))
    # Some walkers begin as humps of any width.
    for k, (_, middle, sd) in enumerate(target.shapes):
        rows = slice(None) if k == 0 else slice(0, walkers // 3)
        some = rng.standard_normal((walkers, CONSTANTS))[rows]
        begin[rows, :CONSTANTS] = middle + 0.3 * some * sd
    begin[:, LEVEL] = np.max(target.line.heard_db) + rng.standard_normal(walkers)
    loud = target.line.x_m[np.argsort(target.line.heard_db)[-6:]]
    begin[:, PLACE] = np.clip(rng.choice(loud, walkers) + 0.3 * rng.standard_normal(walkers),
                              0.01, target.line.length_m - 0.01)  # fmt: skip
    state = sampler.run_mcmc(begin, steps // 4)
    # A walker that is still where hardly any probability is, begins again beside another one.
    far = state.log_prob < state.log_prob.max() - 25.0
    others = state.coords[rng.choice(np.flatnonzero(~far), far.sum())]
    state.coords[far] = others + 1e-3 * rng.standard_normal(others.shape)
    sampler.reset()
    sampler.run_mcmc(state.coords, steps - steps // 4)
    visited = sampler.get_chain()[..., PLACE]
    tau = float(emcee.autocorr.integrated_time(visited, quiet=True, tol=0)[0])
    return visited.ravel(), visited.size / tau
