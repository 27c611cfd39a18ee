"""Our posterior of a line that is written down independently, and how it compares with emcee's.

Run ``python -m tests.outside.posteriors --fields 10`` for ten fields, normal and Student's t.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.posterior import kernel
from leakgeo.find.posterior.posterior import _cells, _leak_evidence
from leakgeo.find.posterior.problem import build_problem
from leakgeo.sound.constants import load_constants
from tests.benchmarks.efficiency import _readings
from tests.outside.independent import FLOOR, PLACE, Line, Normal, Student, draw, places

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

MEMBER = {"metal": "copper", "plastic": "pvc"}
NORMAL_DEGREES = 1e8  # Student's t of so many degrees is a normal


@dataclass(frozen=True)
class Ours:
    """Cells of the line, their probabilities given one leak, and the noise scale chosen."""

    chainage_m: Floats
    probability: Floats
    noise_times: float

    def below(self, place_m: float) -> float:
        """Probability that the leak lies before a place."""
        ends = np.append(0.0, self.chainage_m + self.chainage_m[0])
        return float(np.interp(place_m, ends, np.append(0.0, np.cumsum(self.probability))))

    def summary(self) -> Floats:
        """Mean, deviation, and ends of the middle 90 %."""
        mean = self.chainage_m @ self.probability
        sd = np.sqrt((self.chainage_m - mean) ** 2 @ self.probability)
        ends = np.interp([0.05, 0.95], np.cumsum(self.probability),
                         self.chainage_m + self.chainage_m[0])  # fmt: skip
        return np.array([mean, sd, *ends])


def blank(material: str, step_m: float = 0.6, length_m: float = 18.0) -> Line:
    """A line with its stops, before it is heard: 0.9 m of cover, soil."""
    x = np.arange(step_m / 2, length_m, step_m)
    return Line(x, np.full(x.size, 50.0), length_m, 0.9, 0.05, material)


def ours(line: Line, degrees: float | None = None, claimed: float = 1.0) -> Ours:
    """Posterior of one leak by leakgeo's own scan; `claimed` puts a wrong factor on the noise."""
    constants = load_constants()
    readings = replace(_readings(line.x_m, line.heard_db),
                       smear_m=np.full(line.x_m.size, line.smear_m))  # fmt: skip
    problem = build_problem(
        readings, constants.materials[MEMBER[line.material]], line.cover_m, constants
    )
    noise = problem.noise.copy()
    noise[kernel.TAIL] = degrees or noise[kernel.TAIL]
    problem, x = replace(problem, noise=noise), _cells(0.0, line.length_m)
    (fitted, _), leaks = _leak_evidence(problem, (0.0, line.length_m), x, constants)
    if claimed != 1.0:
        wrong = replace(fitted, noise=fitted.noise * _scaled(claimed))
        leaks = [_with_noise(wrong, line, x)]
    weight = np.exp(leaks[0] - leaks[0].max())
    return Ours(x, weight / weight.sum(), float(fitted.noise[kernel.SCALE]))


def _scaled(times: float) -> Floats:
    """Factor on each entry of the noise that puts `times` on its deviation."""
    factor = np.ones(5)
    factor[kernel.SCALE] = times**2
    return factor


def _with_noise(problem, line: Line, x: Floats) -> Floats:
    from leakgeo.find.posterior.grid import adaptive_scan
    from leakgeo.find.posterior.posterior import _initial_fit
    from leakgeo.find.posterior.reference_walk import log_density

    span = (0.0, line.length_m)
    place, start = _initial_fit(problem, span)
    return log_density(adaptive_scan(kernel.ONE, span, problem, start, place), x, problem)


@dataclass(frozen=True)
class Compared:
    """One field: ours and emcee's mean, deviation and interval; independent draws."""

    true_m: float
    ours: Floats
    theirs: Floats
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


def compared(seed: int, target: type[Normal], walkers: int, steps: int) -> Compared:
    """Draw a field that stands out by 8 dB, and sample it by both."""
    rng = np.random.default_rng([17, seed])
    line, true = draw(rng, blank(("plastic", "metal")[seed % 2]))
    while true[FLOOR] > -8.0 or not 2.0 < true[PLACE] < 16.0:
        line, true = draw(rng, blank(line.material))
    found = ours(line, NORMAL_DEGREES if target is Normal else None)
    visited, draws = places(target(replace(line, noise_times=found.noise_times)), walkers, steps, 1)
    theirs = np.array([visited.mean(), visited.std(), *np.quantile(visited, [0.05, 0.95])])
    return Compared(float(true[PLACE]), found.summary(), theirs, draws)


def ranks(fields: int, seed: int, claimed: float = 1.0) -> Floats:
    """Share of the posterior before the true place, for fields drawn from the prior itself."""
    rng, told = np.random.default_rng(seed), []
    for k in range(fields):
        times = 30.0 / rng.chisquare(30.0)  # noise.scale_degrees
        line, true = draw(rng, replace(blank(("plastic", "metal")[k % 2]), noise_times=times))
        told.append(ours(line, claimed=claimed).below(float(true[PLACE])))
    return np.array(told)


def main() -> None:
    """Print how ours compares with emcee, field by field."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fields", type=int, default=10)
    args = parser.parse_args()
    write = sys.stdout.write
    for target, walkers, steps in ((Normal, 64, 6000), (Student, 120, 6000)):
        write(f"\n{target.__name__}: place | mean, sd, 5 %, 95 % by leakgeo | by emcee | draws\n")
        for k in range(args.fields):
            one = compared(k, target, walkers, steps)
            write(f"{one.true_m:.2f} | {one.ours.round(3)} | {one.theirs.round(3)} | "
                  f"{one.draws:.0f}\n")  # fmt: skip
            sys.stdout.flush()


if __name__ == "__main__":
    main()
