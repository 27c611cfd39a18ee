"""How near the locator comes to the least error that any could have, on fields of its own model.

The constants of the sound are drawn from their prior, and the noise is that in the middle of the
noise law or half or twice its variance. So nothing keeps the locator from the bound but its own
approximations, and that it isn't told the noise. The bound is that of Cramer
and Rao with the constants as nuisances known to within their prior (Van Trees, Detection,
Estimation, and Modulation Theory, 1968, section 2.4). Derivatives of the written formula are taken
by central differences and the covariance is dense: nothing of the compiled kernel is used.

The bound is a local one: it is silent on lines so noisy that chance makes a second peak elsewhere,
and no locator reaches it there (the threshold, ibid.). Lines more than five times the bound off,
which a locator at the bound has once in a million, are therefore counted apart, with what their
marks claimed.

Run ``python -m tests.benchmarks.efficiency --fields 200 --seed 1``.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from dataclasses import fields as fields_of
from itertools import pairwise, product
from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import norm

from leakgeo.conversion import FOOT_M
from leakgeo.find.levels.level_offsets import LevelOffsets
from leakgeo.find.levels.readings import Readings
from leakgeo.find.locate.zones import best_mark
from leakgeo.find.posterior import kernel
from leakgeo.find.posterior.posterior import posterior
from leakgeo.find.posterior.problem import Problem, build_problem
from leakgeo.sound.constants import load_constants
from leakgeo.sound.spreading import DB, Spreading, relative_level

if TYPE_CHECKING:
    from collections.abc import Sequence

DEPTHS_M, MATERIALS, SCALES = (0.5, 0.9, 1.5), ("copper", "pvc"), (0.5, 1.0, 2.0)
LENGTH_M, SMEAR_M, LEVEL_DB = 24.0, 0.05, 50.0
LEAK_PRIOR = 0.9
# A leak that hardly stands out has no peak to find, and its bound says nothing.
LEAST_EXCESS_DB = 6.0
FAR = 5.0
BOUNDS_M = (0.0, 0.15, 0.3, 0.6, np.inf)


@dataclass(frozen=True)
class Cell:
    """One cell of the table: depth, material, and the factor on all variances of the noise."""

    depth_m: float
    material: str
    scale: float


@dataclass(frozen=True)
class Outcome:
    """Errors of the mark and of the posterior's mean, the bound, the claim; a field each."""

    mark_m: np.ndarray
    mean_m: np.ndarray
    bound_m: np.ndarray
    claim: np.ndarray

    @property
    def far(self) -> np.ndarray:
        """Which marks are below the threshold: no error of the local kind."""
        return np.abs(self.mark_m) > FAR * self.bound_m

    def of(self, chosen: np.ndarray) -> Outcome:
        """Give some of the fields."""
        return Outcome(*(getattr(self, f.name)[chosen] for f in fields_of(self)))

    def ratio(self, error_m: np.ndarray, draws: int = 400) -> tuple[float, float]:
        """Root mean square error over that of the bound, and its standard error by bootstrap."""
        pick = np.random.default_rng(0).integers(0, error_m.size, (draws, error_m.size))
        square, least = error_m**2, self.bound_m**2
        again = np.sqrt(square[pick].sum(axis=1) / least[pick].sum(axis=1))
        return float(np.sqrt(square.sum() / least.sum())), float(again.std())


def level_db(chainage_m: np.ndarray, leak_m: float, theta: np.ndarray) -> np.ndarray:
    """Level by the written formula, of constants in the locator's order and logarithms."""
    band, away, smear = theta[kernel.BANDS :], chainage_m - leak_m, np.exp(theta[kernel.SMEAR])
    half = np.ptp(chainage_m) / 2
    trend = np.exp(theta[kernel.TREND] * ((chainage_m - chainage_m.min()) / half - 1.0))
    before, beyond = (
        relative_level(
            away,
            Spreading(
                np.exp(theta[kernel.DEPTH]),
                DB * np.exp(band[kernel.DECAY] + side * theta[kernel.ASYMMETRY]),
                1 / (1 + np.exp(-theta[kernel.PIPED])),
                DB * np.exp(band[kernel.SOIL]),
                np.exp(band[kernel.FLOOR]) * trend,
            ),
            SMEAR_M * smear,
        )
        for side in (-1, 1)
    )
    return theta[-1] + np.where(away < 0, before, beyond)


def bound_m(chainage_m: np.ndarray, leak_m: float, problem: Problem, scale: float) -> float:
    """Least standard deviation of the leak's place, with constants `problem.mean` the true ones.

    Independent noise with outliers counts as normal noise of the same information: information of
    sums is no more than that of normal ones (Stam, Information and Control 2, 1959), so the bound
    stays a bound.
    """
    true = np.append(problem.mean, leak_m)
    own = problem.noise[kernel.READING_VARIANCE] / information_share(problem.noise)
    covariance = coupling(chainage_m, problem.noise) + own * np.eye(chainage_m.size)
    step = 1e-5 * np.eye(true.size)
    slopes = np.column_stack([
        level_db(chainage_m, (true + h)[-1], (true + h)[:-1])
        - level_db(chainage_m, (true - h)[-1], (true - h)[:-1])
        for h in step
    ]) / 2e-5  # fmt: skip
    information = slopes.T @ np.linalg.solve(scale * covariance, slopes)
    information += np.diag(np.append(problem.precision, 0.0))
    return float(np.sqrt(np.linalg.inv(information)[-1, -1]))


def information_share(noise: np.ndarray) -> float:
    """Information of a reading that may be an outlier, relative to one that is none."""
    share, sd = noise[kernel.OUTLIERS], noise[kernel.OUTLIER_TIMES] ** 0.5
    x = np.linspace(0.0, 8.0 * sd, 20_001)
    parts = np.array([(1 - share) * norm.pdf(x), share * norm.pdf(x, scale=sd)])
    slope = (parts * x[None] / np.array([[1.0], [sd**2]])).sum(axis=0)
    return float(2.0 * np.trapezoid(slope**2 / parts.sum(axis=0), x))


def coupling(chainage_m: np.ndarray, noise: np.ndarray) -> np.ndarray:
    """Covariance of what stops close together share: Matern with smoothness 3/2."""
    apart = 3**0.5 * np.abs(chainage_m[:, None] - chainage_m) / noise[kernel.COUPLING_LENGTH]
    return np.asarray(noise[kernel.COUPLING_VARIANCE] * (1.0 + apart) * np.exp(-apart))


def own_error(rng: np.random.Generator, n: int, noise: np.ndarray) -> np.ndarray:
    """Draw what each reading has for itself: normal, and for a few of larger variance."""
    times = np.where(rng.random(n) < noise[kernel.OUTLIERS], noise[kernel.OUTLIER_TIMES], 1.0)
    return np.asarray((times * noise[kernel.READING_VARIANCE]) ** 0.5 * rng.standard_normal(n))


def stops(rng: np.random.Generator, leak_m: float) -> np.ndarray:
    """A coarse walk along the line, and a fine one about the loudest of its stops."""
    coarse = np.arange(0.0, LENGTH_M, 1.2)
    fine = leak_m + rng.uniform(-0.6, 0.6) + 0.3 * np.arange(-7, 8)
    return np.sort(np.concatenate([coarse, fine]))


def draw(rng: np.random.Generator, cell: Cell) -> tuple[Problem, float, float]:
    """Draw a field as the locator believes fields to be; gives its leak and bound too."""
    constants = load_constants()
    leak = float(rng.uniform(8.0, LENGTH_M - 8.0))
    x = stops(rng, leak)
    material = constants.materials[cell.material]
    problem = build_problem(
        one_walk(x, np.full(x.size, LEVEL_DB)), material, cell.depth_m, constants
    )
    true = _constants(rng, problem)
    shared = np.linalg.cholesky(coupling(x, problem.noise) + 1e-9 * np.eye(x.size))
    error = shared @ rng.standard_normal(x.size) + own_error(rng, x.size, problem.noise)
    heard = level_db(x, leak, true) + cell.scale**0.5 * error
    least = bound_m(x, leak, replace(problem, mean=true), cell.scale)
    return build_problem(one_walk(x, heard), material, cell.depth_m, constants), leak, least


def _constants(rng: np.random.Generator, problem: Problem) -> np.ndarray:
    """Draw constants from their prior; the level's own is so wide that it stays as it is."""
    while True:
        true = problem.mean + rng.standard_normal(problem.mean.size) / problem.precision**0.5
        true[-1] = LEVEL_DB
        if -DB * true[kernel.BANDS + kernel.FLOOR] >= LEAST_EXCESS_DB:
            return true


def one_walk(chainage_m: np.ndarray, heard_db: np.ndarray) -> Readings:
    """Return readings of one taped walk on soil, without rounding."""
    n, whole = chainage_m.size, np.zeros(chainage_m.size, dtype=np.int64)
    return Readings(
        chainage_m=chainage_m,
        level_db=heard_db,
        rounding_sd_db=np.zeros(n),
        position_sd_m=np.zeros(n),
        stop=np.arange(n),
        surface=whole,
        offsets=LevelOffsets(whole, whole, whole, np.empty(0), np.empty(0), np.empty(0), ("wide",)),
        smear_m=np.full(n, SMEAR_M),
        run=np.zeros(n, dtype=np.int64),
        shift_sd_m=np.zeros(1),
        spacing_sd_m=np.zeros(1),
        common_shift_sd_m=np.zeros(1),
        stops_from_middle=np.zeros(n),
        tape_share=1.0,
        row=np.arange(n),
        visit=whole,
        noise_sd_db=load_constants().noise["reading_db"],
    )


def outcome(cell: Cell, fields: int, seed: Sequence[int]) -> Outcome:
    """Locate leaks of many fields of one cell."""
    rows = [_one(np.random.default_rng([*seed, i]), cell) for i in range(fields)]
    return Outcome(*np.array(rows).T)


def _one(rng: np.random.Generator, cell: Cell) -> tuple[float, float, float, float]:
    problem, leak, least = draw(rng, cell)
    found = posterior(problem, LENGTH_M, load_constants(), LEAK_PRIOR)
    mark = best_mark(found.chainage_m, found.probability)
    mean = float(found.chainage_m @ found.probability)
    claim = mark.within_foot_given_leak * found.leak_probability
    return mark.chainage_m - leak, mean - leak, least, claim


def cells() -> list[Cell]:
    """Give all cells of the table."""
    return [Cell(*c) for c in product(DEPTHS_M, MATERIALS, SCALES)]


HEADER = (
    "| depth | material | noise variance, times | bound | mark: error / bound | "
    "posterior mean: error / bound | below the threshold | their claim | mark, all lines | "
    "within 1 ft | claim |\n"
    "|---|---|---|---|---|---|---|---|---|---|---|"
)


def table(fields: int, seed: int) -> str:
    """Lay out the ratio of error to bound for every cell, and over all of them."""
    done = [outcome(cell, fields, (seed, k)) for k, cell in enumerate(cells())]
    rows = [
        row(f"{cell.depth_m} m | {cell.material} | {cell.scale}", result)
        for cell, result in zip(cells(), done, strict=True)
    ]
    every = [np.concatenate([getattr(o, f.name) for o in done]) for f in fields_of(Outcome)]
    whole = Outcome(*every)
    for low, high in pairwise(BOUNDS_M):
        part = whole.of((whole.bound_m >= low) & (whole.bound_m < high))
        rows.append(row(f"bound {low} to {high} m | |", part))
    return "\n".join([HEADER, *rows, row("all | |", whole)])


def row(name: str, result: Outcome) -> str:
    """Give one row of the table."""
    near, far = result.of(~result.far), result.far
    least = np.sqrt(np.mean(near.bound_m**2))
    mark, mean = near.ratio(near.mark_m), near.ratio(near.mean_m)
    claim = f"{result.claim[far].mean():.2f}" if far.any() else ""
    return (
        f"| {name} | {least:.3f} m | {mark[0]:.2f} ± {mark[1]:.2f} | {mean[0]:.2f} ± {mean[1]:.2f} "
        f"| {far.mean():.3f} | {claim} | {result.ratio(result.mark_m)[0]:.2f} "
        f"| {np.mean(np.abs(result.mark_m) <= FOOT_M):.3f} | {result.claim.mean():.3f} |"
    )


def main(given: Sequence[str] | None = None) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fields", type=int, default=200, help="lines of each cell")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args(given)
    print(table(args.fields, args.seed))


if __name__ == "__main__":
    main()
