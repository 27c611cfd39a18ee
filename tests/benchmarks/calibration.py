"""Simulation-based calibration of the whole step: the noise law is learned, then lines located.

Lines are drawn from the locator's own model: constants from their priors, a leak anywhere on the
line or none, of either shape, another source or none, and the noise of each line from a mixing law
that is not the shipped one. The law is learned from these very lines. Then the rank of the true
place within its posterior is uniform, and probabilities come true (Talts and others, arXiv
1804.06788, 2018), up to the locator's approximations.

Run ``python -m tests.benchmarks.calibration --lines 400 --seed 1``. For contrast the same lines are
located under the shipped law, without learning.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import numpy as np
from scipy.stats import chisquare, kstest

from leakgeo.conversion import FOOT_M
from leakgeo.find.ground.step import learned_law
from leakgeo.find.locate.zones import best_mark, highest_density_pieces
from leakgeo.find.posterior import kernel
from leakgeo.find.posterior.noise import noise_vectors
from leakgeo.find.posterior.posterior import posterior
from leakgeo.find.posterior.problem import build_problem, hump, with_other_source
from leakgeo.sound.constants import load_constants
from leakgeo.sound.noise_law import NoiseLaw
from leakgeo.sound.spreading import DB
from tests.benchmarks.efficiency import (
    DEPTHS_M,
    LENGTH_M,
    LEVEL_DB,
    MATERIALS,
    coupling,
    level_db,
    one_walk,
    own_error,
)
from tests.benchmarks.score import reliability

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.find.levels.readings import Readings
    from leakgeo.find.posterior.posterior import Posterior
    from leakgeo.find.posterior.problem import Problem
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants

# Half of the lines leak, not nine in ten as assumed of a job: so claims of all sizes occur.
LEAK_PRIOR = 0.5
# Places that a crew may read: every fourth in the coarse walk, and all about its loudest.
PLACES_M = np.linspace(0.0, LENGTH_M, 81)
COARSE, FINE = 4, 7
ZONES = (0.5, 0.8, 0.9, 0.95)

# Coupling in dB, its length in metres, noise of a reading in dB, weight.
LAWS = {
    "smooth": NoiseLaw.of([[0.5, 0.4, 0.6, 1.0], [0.5, 1.5, 1.3, 1.0], [1.0, 0.8, 0.6, 1.0]]),
    "rough": NoiseLaw.of([[2.0, 0.8, 1.3, 1.0], [3.5, 0.8, 0.6, 1.0], [3.5, 1.5, 1.3, 1.0]]),
    "mixed": NoiseLaw.of([[0.5, 0.8, 0.6, 2.0], [2.0, 0.4, 0.6, 1.0], [3.5, 0.8, 1.3, 1.0]]),
    # No node of the shipped law: what it costs that a law has only so many.
    "between": NoiseLaw.of([[0.7, 0.6, 0.9, 1.0], [1.4, 1.1, 0.9, 1.0], [2.6, 1.1, 0.9, 1.0]]),
}  # fmt: skip


@dataclass(frozen=True)
class Drawn:
    """A line as a job has it, and the true place of its leak; NaN if it has none."""

    readings: Readings
    material: str
    depth_m: float
    leak_m: float

    def problem(self, constants: Constants) -> Problem:
        """Return the line as the locator sees it."""
        material = constants.materials[self.material]
        return build_problem(self.readings, material, self.depth_m, constants)


@dataclass(frozen=True)
class Outcome:
    """What was said of each line, and what is true; one entry a line.

    Parameters
    ----------
    leaks : ndarray of bool
    leak_probability : ndarray of float
    rank : ndarray of float
        Probability before the true place, given a leak; NaN without one.
    covered : ndarray of bool, shape (n, zones)
        Whether the zones of each probability in `ZONES` have the leak.
    claim : ndarray of float
        Probability of a leak within a foot of the mark.
    hit : ndarray of bool
        Whether there is one.
    """

    leaks: np.ndarray
    leak_probability: np.ndarray
    rank: np.ndarray
    covered: np.ndarray
    claim: np.ndarray
    hit: np.ndarray

    @property
    def ranks(self) -> np.ndarray:
        """Ranks of the lines with a leak."""
        return self.rank[self.leaks]

    @property
    def cover(self) -> np.ndarray:
        """Share of the leaks in the zones of each probability."""
        return self.covered[self.leaks].mean(axis=0)


def draw(rng: np.random.Generator, law: NoiseLaw, material: str, depth_m: float) -> Drawn:
    """Draw a line from the locator's model; the job states its material and depth.

    The prior of the level is about the median of the readings. So the level is drawn flat, which a
    constant is as good as, and the line kept as likely as that prior has it.
    """
    constants = load_constants()
    spread = constants.spread["level_db"]
    while True:
        drawn, level = _any_line(rng, law, material, depth_m, constants)
        off = level - np.median(drawn.readings.level_db)
        if rng.random() < np.exp(-0.5 * (off / spread) ** 2):
            return drawn


def _any_line(
    rng: np.random.Generator, law: NoiseLaw, material: str, depth_m: float, constants: Constants
) -> tuple[Drawn, float]:
    """Draw a line with any level; gives that too."""
    x = PLACES_M
    unheard = Drawn(one_walk(x, np.full(x.size, LEVEL_DB)), material, depth_m, np.nan)
    problem = unheard.problem(constants)
    vectors = noise_vectors(law, problem)
    problem = replace(problem, noise=vectors[rng.choice(len(vectors), p=law.weight)])
    leaks = rng.random() < LEAK_PRIOR
    source_m = rng.uniform(0.0, LENGTH_M)
    heard, level = _without_noise(rng, problem, constants, leaks, source_m)
    shared = np.linalg.cholesky(coupling(x, problem.noise) + 1e-9 * np.eye(x.size))
    heard = heard + shared @ rng.standard_normal(x.size)
    heard += own_error(rng, x.size, problem.noise)
    read = read_places(heard)
    leak_m = source_m if leaks else np.nan
    return replace(unheard, readings=one_walk(x[read], heard[read]), leak_m=leak_m), level


def _without_noise(
    rng: np.random.Generator, problem: Problem, constants: Constants, leaks: bool, source_m: float
) -> tuple[np.ndarray, float]:
    """Draw sources and their constants: level at `PLACES_M`, and that above the source."""
    chance = constants.other
    other = rng.random() < chance["probability"]
    shaped = problem
    if rng.random() < chance["hump_share"] and not (leaks and other):
        shaped = hump(problem, constants)
    true = shaped.mean + rng.standard_normal(shaped.mean.size) / shaped.precision**0.5
    true[-1] = LEVEL_DB
    if not (leaks or other):
        return LEVEL_DB + DB * true[kernel.TREND] * (2.0 * PLACES_M / LENGTH_M - 1.0), LEVEL_DB
    # Another source alone is heard as a leak is.
    heard = level_db(PLACES_M, source_m, true)
    if leaks and other:
        heard = _with_other(rng, heard, problem, constants)
    return heard, LEVEL_DB


def _with_other(
    rng: np.random.Generator, heard: np.ndarray, problem: Problem, constants: Constants
) -> np.ndarray:
    """Add the power of another source, anywhere along the line."""
    both = with_other_source(problem, 0.0, LENGTH_M, constants)
    mean, precision = both.mean[-kernel.PER_OTHER :], both.precision[-kernel.PER_OTHER :]
    level, away, _ = mean + rng.standard_normal(kernel.PER_OTHER) / precision**0.5
    away2, along = np.exp(2.0 * away), PLACES_M - rng.uniform(0.0, LENGTH_M)
    other = np.exp(level) * away2 / (away2 + along**2)
    return np.asarray(LEVEL_DB + DB * np.log(np.exp((heard - LEVEL_DB) / DB) + other))


def read_places(heard: np.ndarray) -> np.ndarray:
    """Return which places a crew reads: it sees the coarse walk before the fine one."""
    coarse = np.arange(0, heard.size, COARSE)
    loudest = coarse[np.argmax(heard[coarse])]
    read = np.abs(np.arange(heard.size) - loudest) <= FINE
    read[coarse] = True
    return read


def drawn_lines(lines: int, seed: Sequence[int], law: NoiseLaw) -> list[Drawn]:
    """Draw lines, each from a seed of its own; materials and depths in turn."""
    return [
        draw(
            np.random.default_rng([*seed, i]), law, MATERIALS[i % len(MATERIALS)],
            DEPTHS_M[i // len(MATERIALS) % len(DEPTHS_M)],
        )
        for i in range(lines)
    ]  # fmt: skip


def learned(lines: Sequence[Drawn]) -> NoiseLaw:
    """Learn the noise law from lines, as a job does."""
    table = SimpleNamespace(
        material=[line.material for line in lines],
        depth_m=np.array([line.depth_m for line in lines]),
        length_m=np.full(len(lines), LENGTH_M),
    )
    heard = [(cast("Lines", table), k, line.readings) for k, line in enumerate(lines)]
    return learned_law(heard, load_constants())


def outcome(lines: Sequence[Drawn], law: NoiseLaw) -> Outcome:
    """Locate lines under a noise law."""
    constants = load_constants().with_law(law)
    with ThreadPoolExecutor() as pool:
        rows = list(pool.map(lambda line: _located(line, constants), lines))
    return Outcome(*(np.array(column) for column in zip(*rows, strict=True)))


def _located(line: Drawn, constants: Constants) -> tuple[object, ...]:
    found = posterior(line.problem(constants), LENGTH_M, constants, LEAK_PRIOR)
    mark = best_mark(found.chainage_m, found.probability)
    hit = bool(abs(mark.chainage_m - line.leak_m) <= FOOT_M)
    claim = mark.within_foot_given_leak * found.leak_probability
    covered = [_covers(found, share, line.leak_m) for share in ZONES]
    leaks, rank = bool(np.isfinite(line.leak_m)), _rank(found, line.leak_m)
    return leaks, found.leak_probability, rank, covered, claim, hit


def _rank(found: Posterior, leak_m: float) -> float:
    ends = np.append(0.0, found.chainage_m + found.chainage_m[0])
    return float(np.interp(leak_m, ends, np.append(0.0, np.cumsum(found.probability))))


def _covers(found: Posterior, share: float, leak_m: float) -> bool:
    pieces = highest_density_pieces(2.0 * float(found.chainage_m[0]), found.probability, share)
    return any(piece.begin_m <= leak_m <= piece.end_m for piece in pieces)


HEADER = (
    "| noise | law | leaks | ranks: chi-square p | Kolmogorov-Smirnov p | "
    + " | ".join(f"{share:.0%} zones" for share in ZONES)
    + " | claim / came true | leak probability / leaks |\n"
    + "|---" * (7 + len(ZONES))
    + "|"
)


def row(name: str, law: str, result: Outcome) -> str:
    """Lay out one row of the table."""
    counts = np.histogram(result.ranks, 10, (0.0, 1.0))[0]
    error = np.sqrt(np.array(ZONES) * (1.0 - np.array(ZONES)) / result.ranks.size)
    chance = _chance(result.leak_probability)
    cells = [
        name, law, f"{result.ranks.size}", f"{chisquare(counts).pvalue:.3f}",
        f"{kstest(result.ranks, 'uniform').pvalue:.3f}",
        *(f"{c:.3f} ± {e:.3f}" for c, e in zip(result.cover, error, strict=True)),
        f"{result.claim.mean():.3f} / {result.hit.mean():.3f} ± {_chance(result.claim):.3f}",
        f"{result.leak_probability.mean():.3f} / {result.leaks.mean():.3f} ± {chance:.3f}",
    ]  # fmt: skip
    return "| " + " | ".join(cells) + " |"


def _chance(claim: np.ndarray) -> float:
    """Return the standard error of the share that comes true, were the claims right."""
    return float(np.sqrt(np.sum(claim * (1.0 - claim)))) / claim.size


def main(given: Sequence[str] | None = None) -> None:
    """Print the table, and the probability of a leak by tenths."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lines", type=int, default=400, help="lines of each noise")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args(given)
    by_law: dict[str, list[Outcome]] = {"learned": [], "shipped": []}
    print(HEADER)
    for k, (name, law) in enumerate(LAWS.items()):
        lines = drawn_lines(args.lines, (args.seed, k), law)
        for kind, taken in (("learned", learned(lines)), ("shipped", load_constants().noise_law)):
            by_law[kind].append(outcome(lines, taken))
            print(row(name, kind, by_law[kind][-1]), flush=True)
    told = by_law["learned"]
    print("\n## Probability of a leak, learned law\n")
    print(reliability(_all("leak_probability", told), _all("leaks", told), "lines"))
    print("\n## Claims within a foot, learned law\n")
    print(reliability(_all("claim", told), _all("hit", told), "lines"))


def _all(name: str, told: Sequence[Outcome]) -> np.ndarray:
    return np.concatenate([getattr(result, name) for result in told])


if __name__ == "__main__":
    main()
