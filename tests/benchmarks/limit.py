"""The limit: a locator that knows the laws of the simulator, but nothing of the line.

It is told what a job states: readings, material and cover on record, length, surfaces along the
line, gains on record; and also pressure, full scale, and the errors of the tape, which matter
little. All else that draws a line is averaged over by its prior in the simulator: place, level and
spectrum of the leak, cover, soil, pipe, smear and step of each surface, floor, another source or
none, gain and offset, and the constants of the noise. So no locator has shorter zones that cover
as often.

The random numbers that draw a line are a vector of unit normals (`inputs`), and a Markov chain
moves in it: preconditioned Crank-Nicolson moves of some of them (Cotter and others, Statistical
Science 28, 2013), several in a row under a rough likelihood, then accepted or not by the exact one
(surrogate transition: Liu, Monte Carlo Strategies in Scientific Computing, 2001, section 9.4.3).
The exact one is that of `informed`; the place of the leak is integrated over in both. The chain
starts at the true numbers: they are a draw from the posterior, so nothing need be discarded.

Where a chain mixes badly, as between two sources of which either may be the leak, the zone is that
of one of them, and the limit too low: the second column of zones, from the first half of each
chain, tells how much more steps would change.

Run ``python -m tests.benchmarks.limit --fields 40 --seed 1``.
"""

from __future__ import annotations

import argparse
import copy
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.linalg import cholesky, solve_triangular
from scipy.special import ndtri
from threadpoolctl import threadpool_limits

from leakgeo.simulate import Conditions, World
from leakgeo.simulate.draw_truth import draw_truth
from leakgeo.simulate.field import WalkedLine, draw_gain, draw_route, record
from leakgeo.simulate.job import fields_to_layers
from leakgeo.simulate.listen import listen
from leakgeo.simulate.noise import coupling_correlation
from tests.benchmarks.estimate import Estimate, from_density
from tests.benchmarks.informed import GRID_M, LEAK_PRIOR, View, intervals
from tests.benchmarks.inputs import Inputs, Tape
from tests.benchmarks.own import estimates_of, located
from tests.benchmarks.score import HEADER, against, score

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from leakgeo.result import Result
    from leakgeo.simulate import Recorded
    from leakgeo.simulate.truth import Truth
    from tests.benchmarks.score import Score

# Where a leak may be, as a share of the line; it is also the range by which its draw is found.
WHERE = (0.05, 0.95)
# A place is left out if told everything it is less likely than this, and to leakgeo than that.
UNLIKELY_NATS, UNLIKELY_SHARE = 18.0, 1e-4
MOST_PLACES, SPACING_M = 40, (0.1, 0.6)
GAIN_INPUTS = 3


@dataclass(frozen=True)
class Evidence:
    """Log probability of the readings and the cover on record, for one vector of inputs.

    Parameters
    ----------
    leaks : ndarray of float, shape (g,)
        For a leak at each place.
    quiet : float
        Without a leak.
    share : float
        Share of the line that a place stands for.
    """

    leaks: np.ndarray
    quiet: float
    share: float

    def parts(self) -> tuple[float, float]:
        """Return the log probabilities with a leak anywhere and without, times their priors."""
        leak = np.logaddexp.reduce(self.leaks) + np.log(self.share * LEAK_PRIOR)
        return float(leak), self.quiet + float(np.log1p(-LEAK_PRIOR))

    @property
    def total(self) -> float:
        """Log probability with a leak or without."""
        return float(np.logaddexp(*self.parts()))

    @property
    def mass(self) -> np.ndarray:
        """Probability of a leak at each place, and of none: less than one in sum."""
        return np.exp(self.leaks + np.log(self.share * LEAK_PRIOR) - self.total)


class Unknown:
    """A line of which only its record is known.

    Parameters
    ----------
    field : Recorded
    tape : Tape
        On which its truth was drawn.
    conditions : Conditions
    """

    def __init__(self, field: Recorded, tape: Tape, conditions: Conditions) -> None:
        self.field, self.conditions = field, conditions
        constants = conditions.constants
        self.where = tape.index_of(WHERE)
        # How far another source is beside the line is not drawn for one on it, but may be tried.
        self.on_line = tape.index_of(constants.least_excess_db) + 2
        drawn = tape.normal
        if self._is_on_line(drawn):
            drawn = np.insert(drawn, self.on_line + 2, 0.0)
        self.start = np.concatenate([drawn, self._gain_inputs(), [self._offset_input()]])
        self.free = np.ones(self.start.size, dtype=bool)
        # Plastic or metal, its kind, and then the surfaces.
        first = 0 if field.material != "unknown" else 2
        self.free[first : tape.index_of(constants.plastic_db_per_m)] = False
        self.free[[tape.index_of(constants.pressure_kpa), self.where, self.where + 1]] = False
        low, high = intervals(field)
        told = np.isfinite(low) & np.isfinite(high)
        self.told = told
        self.heard_db = np.where(told, 0.5 * (low + high), 0.0)
        self.display_var = np.where(told, (high - low) ** 2 / 12.0, 1e6)
        # The rough likelihood only proposes: so it may be told which readings are outliers.
        self.display_var[field.survey.outlier[field.stop] != 0] += 50.0
        self.places, self.spacing_m = np.empty(0), 1.0

    def _gain_inputs(self) -> np.ndarray:
        """Draw inputs of the gains, given what they are."""
        gain, rng = self.field.survey.gain_db, np.random.default_rng(0)
        true = gain[0], gain[1] - gain[0]
        while True:
            drawn = rng.standard_normal(GAIN_INPUTS)
            if true[1] == 0.0 or draw_gain(Inputs(drawn), self.conditions.constants) == true:
                return drawn

    def _offset_input(self) -> float:
        return self.field.survey.sensor_offset_db / self.conditions.constants.sensor_offset_sd_db[0]

    def _is_on_line(self, normal: np.ndarray) -> bool:
        return bool(normal[self.on_line] < 0.0)

    def seen(self, normal: np.ndarray) -> Recorded:
        """Return the field as it is if the inputs are these, for a leak on any stretch."""
        if self._is_on_line(normal):
            normal = np.delete(normal, self.on_line + 2)
        inputs, c = Inputs(normal), self.conditions.constants
        truth = draw_truth(inputs, self.conditions, self.field.sensor, self.field.length_m)
        start, change = draw_gain(inputs, c)
        survey = replace(
            self.field.survey, sensor_offset_db=c.sensor_offset_sd_db[0] * inputs.standard_normal()
        )
        if np.isnan(self.field.gain_db).any():
            survey = replace(survey, gain_db=(start, start + change))
        return replace(self.field, truth=truth, survey=survey)

    def stretches(self, normal: np.ndarray, seen: Recorded) -> list[tuple[np.ndarray, Truth]]:
        """Return which places are on each stretch of surface, and the truth for a leak there.

        A faint leak is raised by as much as the surface above it asks for.
        """
        ground, done = seen.truth.ground, []
        on, own = ground.stretch(self.places), ground.stretch(np.asarray(self._where_m(normal)))
        for k in np.unique(on):
            truth = seen.truth
            if k != own:
                moved = normal.copy()
                middle = np.mean(self.places[on == k]) / self.field.length_m
                moved[self.where] = _normal_of(middle, WHERE)
                truth = self.seen(moved).truth
            done.append((on == k, truth))
        return done

    def _where_m(self, normal: np.ndarray) -> float:
        return self.field.length_m * Inputs(normal[self.where :]).uniform(*WHERE)

    def _evidence(self, leaks: np.ndarray, quiet: float, seen: Recorded) -> Evidence:
        cover, sd = 0.0, self.conditions.constants.depth_known_ratio_sd[0]
        if np.isfinite(self.field.depth_m):
            depth_m = seen.truth.ground.depth_m
            cover = -0.5 * ((self.field.depth_m / depth_m - 1.0) / sd) ** 2
        share = self.spacing_m / ((WHERE[1] - WHERE[0]) * self.field.length_m)
        return Evidence(leaks + cover, quiet + cover, share)

    def rough(self, normal: np.ndarray) -> Evidence:
        """Return the evidence with normal noise, and stops where the tape says."""
        seen = self.seen(normal)
        f, noise = self.field, seen.truth.noise
        apart = f.chainage_m[:, None] - f.chainage_m
        cov = noise.coupling_sd_db**2 * coupling_correlation(apart, noise.coupling_length_m)
        cov[np.diag_indices_from(cov)] += noise.reading_sd_db**2 + self.display_var
        root = cholesky(cov, lower=True)
        offset = seen.survey.sensor_offset_db + np.asarray(seen.survey.gain_db)[f.walk]
        stop = np.clip(f.chainage_m, 0.0, f.length_m)
        levels = np.empty((self.places.size + 1, f.level.size))
        for mine, truth in self.stretches(normal, seen):
            levels[:-1][mine] = truth.level_db(0, stop, self.places[mine, None])
        levels[-1] = seen.truth.level_db(0, stop, None)
        off = np.where(self.told, self.heard_db - levels - offset, 0.0)
        white = solve_triangular(root, off.T, lower=True)
        value = -0.5 * np.sum(white**2, axis=0) - np.log(np.diagonal(root)).sum()
        return self._evidence(value[:-1], value[-1], seen)

    def exact(self, normal: np.ndarray) -> Evidence:
        """Return the evidence as the informed locator computes it."""
        seen = self.seen(normal)
        view = View(seen, np.ones(seen.level.size, dtype=bool), seen.walk == 1)
        leaks = np.empty(self.places.size)
        for mine, truth in self.stretches(normal, seen):
            there = copy.copy(view)
            there.truth = truth
            leaks[mine] = there.log_evidence(self.places[mine])
        return self._evidence(leaks, float(view.log_evidence(None)[0]), seen)

    def restrict(self, density: Callable[[np.ndarray], np.ndarray]) -> None:
        """Choose the places of a leak that are not out of the question.

        Parameters
        ----------
        density : callable
            Gives leakgeo's density at places.
        """
        length_m = self.field.length_m
        self.spacing_m = SPACING_M[1]
        self.places = _lattice(length_m, self.spacing_m)
        likely = self.exact(self.start).leaks
        told = density(self.places)
        near = (likely > likely.max() - UNLIKELY_NATS) | (told > UNLIKELY_SHARE * told.max())
        coarse = self.places[np.convolve(near, np.ones(3), "same") > 0]
        reach = coarse.size * self.spacing_m
        self.spacing_m = float(np.clip(reach / MOST_PLACES, *SPACING_M))
        places = _lattice(length_m, self.spacing_m)
        apart = np.abs(places[:, None] - coarse).min(axis=1)
        self.places = places[apart <= 0.5 * SPACING_M[1] + 1e-9]

    def estimate(self, mass: np.ndarray) -> Estimate:
        """Return the estimate for a probability of each place."""
        leak = float(mass.sum())
        places = _lattice(self.field.length_m, self.spacing_m)
        every = np.full(places.size, 1e-30)
        every[np.searchsorted(places, self.places - 1e-6)] = np.maximum(mass, 1e-30)
        grid = np.arange(places[0], places[-1] + 1e-9, GRID_M)
        fine = np.exp(PchipInterpolator(places, np.log(every))(grid))
        found = from_density(grid, fine / fine.sum(), leak)
        return replace(found, probability_within_1ft=found.probability_within_1ft * leak)


def _lattice(length_m: float, spacing_m: float) -> np.ndarray:
    return np.arange(WHERE[0] * length_m, WHERE[1] * length_m + 1e-9, spacing_m)


def _normal_of(value: float, span: tuple[float, float]) -> float:
    share = (value - span[0]) / (span[1] - span[0])
    return float(ndtri(np.clip(share, 1e-6, 1.0 - 1e-6)))


@dataclass(frozen=True)
class Chain:
    """Evidence after each step of a chain, and how often each of its two decisions was yes."""

    evidence: list[Evidence]
    moved: float
    accepted: float


def sample(
    start: np.ndarray,
    free: np.ndarray,
    likelihoods: tuple[Callable[[np.ndarray], Evidence], Callable[[np.ndarray], Evidence]],
    steps: tuple[int, int],
    rng: np.random.Generator,
) -> Chain:
    """Sample unit normals by a likelihood.

    Parameters
    ----------
    start : ndarray of float, shape (p,)
    free : ndarray of bool, shape (p,)
        Which of them may move.
    likelihoods : (callable, callable)
        The rough and the exact one.
    steps : (int, int)
        Steps under the exact likelihood, and under the rough one for each of them.
    rng : numpy.random.Generator
    """
    rough, exact = likelihoods
    at, low, high = start, rough(start), exact(start)
    kept, moved, accepted = [], 0, 0
    for _ in range(steps[0]):
        then, guess = at, low
        for _ in range(steps[1]):
            tried = _moved(then, free, rng)
            new = rough(tried)
            if np.log(rng.random()) < new.total - guess.total:
                then, guess, moved = tried, new, moved + 1
        if then is not at:
            new = exact(then)
            if np.log(rng.random()) < new.total - guess.total - (high.total - low.total):
                at, low, high, accepted = then, guess, new, accepted + 1
        kept.append(high)
    return Chain(kept, moved / (steps[0] * steps[1]), accepted / steps[0])


def _moved(at: np.ndarray, free: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Move some of the numbers, few by much or many by little; unit normals stay unit normals."""
    able = np.flatnonzero(free)
    if able.size == 0:
        return at
    count = int(np.ceil(able.size * 2.0 ** -rng.uniform(0.0, 4.5)))
    some = rng.choice(able, count, replace=False)
    far = 10.0 ** -rng.uniform(0.0, 1.0)
    tried = at.copy()
    tried[some] = (1.0 - far**2) ** 0.5 * at[some] + far * rng.standard_normal(count)
    return tried


def drawn(seed: Sequence[int], conditions: Conditions) -> tuple[Recorded, Tape]:
    """Draw a field as `simulate_field` does, and keep the numbers that draw its truth."""
    rng = np.random.default_rng(seed)
    sensor, route = draw_route(rng, conditions)
    tape = Tape(rng)
    truth = draw_truth(tape, conditions, sensor, route.length_m)
    heard = listen(rng, conditions, truth)
    return record(rng, conditions, WalkedLine(truth, route, heard, sensor)), tape


@dataclass(frozen=True)
class Limit:
    """Estimates of one line: told all but the place, by the whole chain, and by its first half."""

    informed: Estimate
    whole: Estimate
    half: Estimate
    chain: Chain


def limit(line: Unknown, steps: tuple[int, int], rng: np.random.Generator) -> Limit:
    """Estimate the leak of a line whose places are chosen (`Unknown.restrict`)."""
    chain = sample(line.start, line.free, (line.rough, line.exact), steps, rng)
    mass = np.array([evidence.mass for evidence in chain.evidence])
    return Limit(
        line.estimate(line.exact(line.start).mass),
        line.estimate(mass.mean(axis=0)),
        line.estimate(mass[: max(len(mass) // 2, 1)].mean(axis=0)),
        chain,
    )


def densities(result: Result) -> list[Callable[[np.ndarray], np.ndarray]]:
    """Return leakgeo's density of the leak along each line of a result."""
    profile = result.layers["profile"]
    names = result.layers["lines"]["line_id"]
    found = []
    for name in names:
        own = profile[profile["line_id"] == name].sort_values("chainage_m")
        x, y = (own[c].to_numpy(dtype=float) for c in ("chainage_m", "leak_density_per_m"))
        found.append(partial(np.interp, xp=x, fp=np.nan_to_num(y)))
    return found


def zone_ratio(own: Score, least: Score) -> tuple[float, float]:
    """Return the geometric mean of the ratios of zones, field by field, and its standard error."""
    ratio = np.log(own.length_m / least.length_m)
    ratio = ratio[np.isfinite(ratio)]
    mean = float(np.exp(ratio.mean()))
    return mean, mean * float(ratio.std()) / ratio.size**0.5


def main(given: Sequence[str] | None = None) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--fields", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--lines", type=int, default=200, help="of leakgeo's job, the fields first")
    parser.add_argument("--coupling", type=float, default=1.0, help="factor on the coupling")
    parser.add_argument("--steps", type=int, nargs=2, default=(80, 25), help="exact; rough in each")
    args = parser.parse_args(given)
    world = World().scaled("coupling_sd_db", args.coupling)
    conditions = Conditions(tape_share=1.0, constants=world)
    every = [drawn((args.seed, i), conditions) for i in range(max(args.fields, args.lines))]
    result = located(fields_to_layers([field for field, _ in every]))
    own = estimates_of(result, list(result.layers["lines"]["line_id"]))[: args.fields]
    told = []
    with threadpool_limits(1):
        for (field, tape), density in zip(every[: args.fields], densities(result), strict=False):
            line = Unknown(field, tape, conditions)
            line.restrict(density)
            told.append(limit(line, tuple(args.steps), np.random.default_rng(args.seed)))
            _print_field(field, told[-1], own[len(told) - 1])
    print("\n" + table([field for field, _ in every[: args.fields]], told, own))


def _print_field(field: Recorded, found: Limit, own: Estimate) -> None:
    zones = " ".join(
        f"{_length(e):.2f}" for e in (found.informed, found.half, found.whole, own)
    )  # fmt: skip
    print(
        f"leak {field.leak_chainage_m or np.nan:.2f} | zones, told everything, half, whole, "
        f"leakgeo: {zones} m | leak {found.whole.leak_probability:.3f} "
        f"| moved {found.chain.moved:.2f}, accepted {found.chain.accepted:.2f}",
        flush=True,
    )


def _length(estimate: Estimate) -> float:
    return np.nan if estimate.zones_m is None else float(np.diff(estimate.zones_m).sum())


def table(fields: Sequence[Recorded], told: Sequence[Limit], own: Sequence[Estimate]) -> str:
    """Lay out the scores of the limit and of leakgeo, and the ratio of their zones."""
    ours = score(fields, own)
    marked = np.isfinite(ours.length_m)
    scores = {
        "told everything": score(fields, [t.informed for t in told]),
        "limit, half of each chain": score(fields, [t.half for t in told]),
        "limit": score(fields, [t.whole for t in told]),
        "leakgeo": ours,
    }
    rows = [s.of(marked).row(name) for name, s in scores.items()]
    least = scores["limit"].of(marked)
    mean, error = zone_ratio(ours.of(marked), least)
    title = f"Lines with a leak that leakgeo marks, {marked.sum()} of {marked.size}.\n"
    ratio = f"\nleakgeo, {against(ours.of(marked), least)}; "
    ratio += f"field by field, geometric mean: {mean:.2f} ± {error:.2f}"
    return "\n".join([title, HEADER, *rows, ratio])


if __name__ == "__main__":
    main()
