"""Our posterior of a line that is written down independently, and how it compares with emcee's.

Run ``python -m tests.outside.posteriors --fields 10`` for ten fields with noise of one node, and
ten with a law of three.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.posterior.posterior import _leak_evidence, cells_of
from leakgeo.find.posterior.problem import build_problem
from leakgeo.sound.constants import load_constants
from leakgeo.sound.noise_law import NoiseLaw
from tests.benchmarks.efficiency import one_walk
from tests.outside.independent import FLOOR, ONE_NODE, PLACE, Line, Target, draw, places

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

MEMBER = {"metal": "copper", "plastic": "pvc"}
THREE_NODES = ((0.7, 1.0, 0.8, 1.0), (1.5, 0.6, 1.3, 2.0), (2.5, 1.2, 1.3, 1.0))
# Of the posterior as emcee has it: where the tails begin.
TAILS = (0.01, 0.05, 0.95, 0.99)


@dataclass(frozen=True)
class Ours:
    """Cells of the line, and their probabilities given one leak."""

    chainage_m: Floats
    probability: Floats

    def below(self, place_m: float | Floats) -> Floats:
        """Probability that the leak lies before a place."""
        ends = np.append(0.0, self.chainage_m + self.chainage_m[0])
        return np.interp(place_m, ends, np.append(0.0, np.cumsum(self.probability)))

    def summary(self) -> Floats:
        """Mean, deviation, and ends of the middle 90 %."""
        mean = self.chainage_m @ self.probability
        sd = np.sqrt((self.chainage_m - mean) ** 2 @ self.probability)
        ends = np.interp([0.05, 0.95], np.cumsum(self.probability),
                         self.chainage_m + self.chainage_m[0])  # fmt: skip
        return np.array([mean, sd, *ends])


def blank(
    material: str, law: tuple[tuple[float, ...], ...] = ONE_NODE, step_m: float = 0.6,
    length_m: float = 18.0,
) -> Line:  # fmt: skip
    """A line with its stops, before it is heard: 0.9 m of cover, soil."""
    x = np.arange(step_m / 2, length_m, step_m)
    return Line(x, np.full(x.size, 50.0), length_m, 0.9, 0.05, material, law)


def ours(line: Line) -> Ours:
    """Posterior of one leak by leakgeo's own scan, under the noise law of the line."""
    constants = replace(load_constants(), noise_law=NoiseLaw.of(line.law))
    readings = replace(one_walk(line.x_m, line.heard_db),
                       smear_m=np.full(line.x_m.size, line.smear_m))  # fmt: skip
    problem = build_problem(
        readings, constants.materials[MEMBER[line.material]], line.cover_m, constants
    )
    x = cells_of(0.0, line.length_m)
    alone = _leak_evidence(problem, (0.0, line.length_m), x, constants).leaks[0]
    weight = np.exp(alone - alone.max())
    return Ours(x, weight / weight.sum())


def claimed(line: Line, times: float) -> Line:
    """The same line, of whose noise a wrong law is believed: deviations so many times larger."""
    law = tuple((c * times, at, own * times, w) for c, at, own, w in line.law)
    return replace(line, law=law)


@dataclass(frozen=True)
class Compared:
    """One field: ours and emcee's mean, deviation and interval; our tails; independent draws.

    `tails` are our probabilities before the places that emcee has at its quantiles `TAILS`.
    """

    true_m: float
    ours: Floats
    theirs: Floats
    tails: Floats
    draws: float

    def gaps(self) -> Floats:
        """Differences over emcee's deviation; of the deviations, the ratio less one."""
        gap = (self.ours - self.theirs) / self.theirs[1]
        gap[1] = self.ours[1] / self.theirs[1] - 1
        return gap

    def monte_carlo(self) -> Floats:
        """Standard errors of those: mean, deviation and quantiles of `draws` normal draws."""
        density = 0.1031  # of a normal at its 5th percentile
        tail = np.sqrt(0.05 * 0.95) / density
        return np.array([1.0, 0.5**0.5, tail, tail]) / self.draws**0.5

    def tail_gaps(self) -> tuple[Floats, Floats]:
        """How much more probability we have in the tails, and its standard error by Monte Carlo."""
        want = np.array(TAILS)
        return np.where(want < 0.5, 1, -1) * (self.tails - want), np.sqrt(
            want * (1 - want) / self.draws
        )


def compared(
    seed: int, law: tuple[tuple[float, ...], ...], walkers: int, steps: int, outliers: int = 2
) -> Compared:
    """Draw a field that stands out by 8 dB, and sample it by both."""
    rng = np.random.default_rng([17, seed])
    empty = blank(("plastic", "metal")[seed % 2], law)
    line, true = draw(rng, empty)
    while true[FLOOR] > -8.0 or not 2.0 < true[PLACE] < 16.0:
        line, true = draw(rng, empty)
    found = ours(line)
    visited, draws = places(Target(line, outliers), walkers, steps, 1)
    theirs = np.array([visited.mean(), visited.std(), *np.quantile(visited, [0.05, 0.95])])
    tails = found.below(np.quantile(visited, TAILS))
    return Compared(float(true[PLACE]), found.summary(), theirs, tails, draws)


def ranks(
    fields: int, seed: int, law: tuple[tuple[float, ...], ...] = THREE_NODES, times: float = 1.0
) -> Floats:
    """Share of the posterior before the true place, for fields drawn from the prior itself."""
    rng, told = np.random.default_rng(seed), []
    for k in range(fields):
        line, true = draw(rng, blank(("plastic", "metal")[k % 2], law))
        told.append(ours(claimed(line, times)).below(float(true[PLACE])))
    return np.array(told)


def main() -> None:
    """Print how ours compares with emcee, field by field."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fields", type=int, default=10)
    parser.add_argument("--steps", type=int, default=6000)
    parser.add_argument("--outliers", type=int, default=2, help="most outliers of a case")
    args = parser.parse_args()
    write = sys.stdout.write
    for law in (ONE_NODE, THREE_NODES):
        write(f"\n{len(law)} nodes: place | mean, sd, 5 %, 95 % by leakgeo | by emcee | gaps | "
              f"by leakgeo before emcee's {TAILS} | draws\n")  # fmt: skip
        for k in range(args.fields):
            one = compared(k, law, 64, args.steps, args.outliers)
            write(f"{one.true_m:.2f} | {one.ours.round(3)} | {one.theirs.round(3)} | "
                  f"{one.gaps().round(3)} | {one.tails.round(4)} | {one.draws:.0f}\n")  # fmt: skip
            sys.stdout.flush()


if __name__ == "__main__":
    main()
