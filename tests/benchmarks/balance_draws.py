"""Lines of each hypothesis at the rates that the locator assumes, with all evidence drawn from it.

A line is silent, or it has a fitting that sounds, another source, a leak beyond an end, or a leak:
alone, with another source, with a fitting, with a source that some walks heard, or unheard beside
another source. Rates are those of the tables of weights and of the constants of the sound. Levels
are drawn from the written formula, and so are sweeps and air tests, from the true constants of the
line; meter tests, holes and isolation tests from their tables. Nothing is taken from the
likelihoods themselves.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.evidence.air import AirPlaces
from leakgeo.find.evidence.digs import Exposed, load_dig_weights
from leakgeo.find.evidence.isolated import Isolated
from leakgeo.find.evidence.isolation import IsolationTest
from leakgeo.find.evidence.isolation_results import IsolationResult, load_isolation_weights
from leakgeo.find.evidence.meter import load_meter_weights
from leakgeo.find.evidence.sweep_readings import Sweep, load_sweep_weights, reach_of
from leakgeo.find.loss.meter_tests import Loss
from leakgeo.find.posterior import kernel
from leakgeo.find.posterior.noise import noise_vectors
from leakgeo.find.posterior.problem import build_problem, hump, with_other_source
from leakgeo.find.posterior.rivals import OpenEnd, SoundingFitting, load_rival_weights
from leakgeo.job.checks import HOLE_SD_M
from leakgeo.sound.constants import load_constants
from leakgeo.sound.spreading import DB, Spreading, relative_level
from tests.benchmarks.calibration import PLACES_M, read_places
from tests.benchmarks.efficiency import (
    DEPTHS_M,
    LENGTH_M,
    LEVEL_DB,
    MATERIALS,
    SMEAR_M,
    coupling,
    level_db,
    one_walk,
    own_error,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.find.evidence.meter import Valve
    from leakgeo.find.levels.readings import Readings
    from leakgeo.find.posterior.problem import Problem
    from leakgeo.sound.constants import Constants

FITTINGS = ("pressure_reducing_valve", "backflow_preventer", "hydrant", "stop_valve")
# A fitting is on half of the lines, an open end at either end of half of them.
FITTED = OPEN = 0.5
# Standard deviation of the place of a fitting that sounds, as taped or drawn.
FITTING_SD_M = 0.5
# Smallest loss that a register shows in a test, in litres a day.
LEAST_L_PER_DAY = (2.4, 24.0, 240.0)
CONTROL_M, PAIRS = 9.0, 4
TRACE_SD_M = 0.3
_NO_FLOOR = -60.0


@dataclass(frozen=True)
class Hypothesis:
    """What is true of a line.

    Parameters
    ----------
    kind : {"silence", "fitting", "unknown", "beyond_start", "beyond_end", "leak"}
    besides : {"", "other", "fitting", "passing_0", "passing_1"}
        What sounds besides a leak; for an unknown source whether only one walk heard it.
    unheard : bool
        Whether the line leaks, and only the unknown source is heard.
    """

    kind: str
    besides: str = ""
    unheard: bool = False


@dataclass(frozen=True)
class Sound:
    """Sources of a line.

    Parameters
    ----------
    theta : ndarray of float
        Constants in the order of the kernel; the level last.
    source_m : float
        Place of the leak, or of what is heard as one; NaN for none.
    others : tuple of (float, float, float, int)
        Log power relative to the leak, distance from the pipe, place, and the only walk that heard
        it or -1, of each other source.
    gains : bool
        Whether air makes the source louder: it is a leak.
    """

    theta: np.ndarray
    source_m: float
    others: tuple[tuple[float, float, float, int], ...] = ()
    gains: bool = False

    def level(self, x: np.ndarray, walk: int = 0, louder: float = 1.0) -> np.ndarray:
        """Return the level at places in one walk, with the power of a leak multiplied."""
        trend = self.theta[kernel.TREND] * (2.0 * x / LENGTH_M - 1.0)
        power = np.exp(self.theta[kernel.BANDS + kernel.FLOOR] + trend)
        if np.isfinite(self.source_m):
            bare = self.theta.copy()
            bare[kernel.BANDS + kernel.FLOOR] = _NO_FLOOR
            heard = level_db(x, self.source_m, bare) - bare[-1]
            power = power + (louder if self.gains else 1.0) * np.exp(heard / DB)
        for level, away, place, only in self.others:
            if only in (-1, walk):
                power = power + np.exp(level) * away**2 / (away**2 + (x - place) ** 2)
        return np.asarray(self.theta[-1] + DB * np.log(power))


@dataclass(frozen=True)
class Line:
    """A line as the locator has it, and what is true of it.

    Parameters
    ----------
    leak_m : float
        NaN without a leak on the line.
    source_m : float
        Place along the line of what is heard; NaN for silence.
    """

    readings: Readings
    material: str
    depth_m: float
    fittings: tuple[tuple[str, SoundingFitting], ...]
    ends: tuple[OpenEnd, ...]
    truth: Hypothesis
    leak_m: float
    source_m: float
    sound: Sound = field(repr=False)
    noise: np.ndarray = field(repr=False)

    @property
    def walks(self) -> int:
        """Number of walks."""
        return int(self.readings.visit.max()) + 1

    def problem(self, constants: Constants) -> Problem:
        """Return the line as the locator sees it."""
        material = constants.materials[self.material]
        return build_problem(self.readings, material, self.depth_m, constants)


def prior(
    fittings: Sequence[SoundingFitting], ends: Sequence[OpenEnd], walks: int, leak_prior: float
) -> dict[Hypothesis, float]:
    """Return how probable each hypothesis is before listening, in the words of the tables."""
    table, other = load_rival_weights(), load_constants().other["probability"]
    unheard, beyond = table["unknown"]["leak_unheard"], table["beyond_end"]["probability"]
    passing = table["passing"]["probability"] if walks > 1 else 0.0
    sources = {"": other, **{f"passing_{w}": passing / walks for w in range(walks) if passing}}
    chance = sum(f.probability for f in fittings)
    besides = {name or "other": p for name, p in sources.items()}
    often = [f for f in fittings if f.probability >= table["with_leak"]["least_probability"]]
    besides |= {"fitting": sum(f.probability for f in often)} if often else {}
    besides[""] = 1.0 - sum(besides.values())
    weight = {Hypothesis("leak", name): leak_prior * p for name, p in besides.items()}
    weight |= {Hypothesis(end.kind): leak_prior * beyond for end in ends}
    for name, p in sources.items():
        weight[Hypothesis("unknown", name)] = (1.0 - leak_prior) * p
        weight[Hypothesis("unknown", name, unheard=True)] = leak_prior * unheard * p
    weight |= {Hypothesis("fitting"): (1.0 - leak_prior) * chance} if fittings else {}
    quiet = 1.0 - chance - sum(sources.values())
    weight[Hypothesis("silence")] = (1.0 - leak_prior) * quiet
    total = sum(weight.values())
    return {name: p / total for name, p in weight.items()}


def drawn_line(
    rng: np.random.Generator, leak_prior: float, two_walks: float = 0.25, *, levels: bool = True
) -> Line:
    """Draw a line.

    The prior of the level is about the median of the readings. So the level is drawn flat, which a
    constant is as good as, and the line kept as likely as that prior has it. That is left out where
    nobody listens.
    """
    constants = load_constants()
    spread = constants.spread["level_db"]
    while True:
        line = _any_line(rng, leak_prior, two_walks, constants)
        if not levels:
            return line
        off = line.sound.theta[-1] - np.median(line.readings.level_db)
        if rng.random() < np.exp(-0.5 * (off / spread) ** 2):
            return line


def _any_line(
    rng: np.random.Generator, leak_prior: float, two_walks: float, constants: Constants
) -> Line:
    """Draw a line with any level."""
    walks = 2 if rng.random() < two_walks else 1
    material, depth_m = str(rng.choice(MATERIALS)), float(rng.choice(DEPTHS_M))
    fittings, ends = _fittings(rng), _ends(rng)
    x = np.repeat(PLACES_M, walks)
    visit = np.tile(np.arange(walks), PLACES_M.size)
    flat = replace(one_walk(x, np.full(x.size, LEVEL_DB)), visit=visit)
    problem = build_problem(flat, constants.materials[material], depth_m, constants)
    law = constants.noise_law
    vectors = noise_vectors(law, problem)
    weight = law.weight / law.weight.sum()
    problem = replace(problem, noise=vectors[rng.choice(len(vectors), p=weight)])
    chances = prior([f for _, f in fittings], ends, walks, leak_prior)
    truth = list(chances)[rng.choice(len(chances), p=list(chances.values()))]
    sound, leak_m, source_m = _sound(rng, truth, problem, [f for _, f in fittings], constants)
    heard = np.choose(visit, [sound.level(x, walk) for walk in range(walks)])
    shared = np.linalg.cholesky(coupling(x, problem.noise) + 1e-9 * np.eye(x.size))
    heard = heard + shared @ rng.standard_normal(x.size) + own_error(rng, x.size, problem.noise)
    loudest = heard.reshape(-1, walks).max(axis=1)
    read = np.repeat(read_places(loudest), walks)
    readings = replace(one_walk(x[read], heard[read]), visit=visit[read])
    return Line(
        readings, material, depth_m, fittings, ends, truth, leak_m, source_m, sound, problem.noise
    )


def _fittings(rng: np.random.Generator) -> tuple[tuple[str, SoundingFitting], ...]:
    if rng.random() >= FITTED:
        return ()
    kind = str(rng.choice(FITTINGS))
    chance = load_rival_weights()["fitting_sounds"][kind]
    return ((kind, SoundingFitting("F", float(rng.uniform(0.0, LENGTH_M)), chance)),)


def _ends(rng: np.random.Generator) -> tuple[OpenEnd, ...]:
    both = OpenEnd("beyond_start", 0.0), OpenEnd("beyond_end", LENGTH_M)
    return tuple(end for end in both if rng.random() < OPEN)


def _sound(
    rng: np.random.Generator, truth: Hypothesis, problem: Problem,
    fittings: Sequence[SoundingFitting], constants: Constants,
) -> tuple[Sound, float, float]:  # fmt: skip
    """Draw the sources of a line; gives the place of the leak, and of what is heard, too."""
    anywhere = float(rng.uniform(0.0, LENGTH_M))
    leak_m = anywhere if truth.kind == "leak" or truth.unheard else np.nan
    if truth.unheard:
        anywhere = float(rng.uniform(0.0, LENGTH_M))
    if truth.kind == "silence":
        return _no_source(rng, problem), leak_m, np.nan
    if truth.kind.startswith("beyond"):
        return *_beyond(rng, truth.kind, problem, constants), np.nan
    if truth.kind == "unknown" and truth.besides:
        theta = _theta(rng, problem)
        theta[kernel.BANDS + kernel.FLOOR] = problem.mean[kernel.BANDS + kernel.FLOOR]
        more = constants.spread["floor_db"] / DB * rng.standard_normal()
        other = _other(rng, truth.besides, problem, fittings, constants)
        other = (other[0] + more, *other[1:])
        return Sound(theta, np.nan, (other,)), leak_m, other[2]
    if truth.kind == "fitting":
        anywhere = fittings[0].chainage_m + FITTING_SD_M * float(rng.standard_normal())
        anywhere = float(np.clip(anywhere, 0.0, LENGTH_M))
    theta = _theta(rng, _shaped(rng, problem, constants) if _alone(truth) else problem)
    others = ()
    if truth.kind == "leak" and truth.besides:
        others = (_other(rng, truth.besides, problem, fittings, constants),)
    gains = truth.kind == "leak"
    return Sound(theta, anywhere, others, gains), leak_m, anywhere


def _alone(truth: Hypothesis) -> bool:
    return not (truth.kind == "leak" and truth.besides)


def _theta(rng: np.random.Generator, problem: Problem) -> np.ndarray:
    theta = problem.mean + rng.standard_normal(problem.mean.size) / problem.precision**0.5
    theta[-1] = LEVEL_DB
    return np.asarray(theta)


def _shaped(rng: np.random.Generator, problem: Problem, constants: Constants) -> Problem:
    """Return the prior of the physics, or of a hump of any width."""
    shapeless = rng.random() < constants.other["hump_share"]
    return hump(problem, constants) if shapeless else problem


def _no_source(rng: np.random.Generator, problem: Problem) -> Sound:
    theta = _theta(rng, problem)
    theta[kernel.BANDS + kernel.FLOOR] = 0.0
    return Sound(theta, np.nan)


def _beyond(
    rng: np.random.Generator, kind: str, problem: Problem, constants: Constants
) -> tuple[Sound, float]:
    """Draw a leak beyond an end: near, or so far away that the level rises steadily to the end."""
    table, side = load_rival_weights()["beyond_end"], 1.0 if kind == "beyond_end" else -1.0
    if rng.random() < table["steady_share"]:
        sound = _no_source(rng, problem)
        rise = side * (table["rise_db"] + table["rise_sd_db"] * side * rng.standard_normal())
        sound.theta[kernel.TREND] = rise / DB
        return sound, np.nan
    away = float(rng.uniform(0.0, table["reach_m"]))
    place = LENGTH_M + away if side > 0.0 else -away
    return Sound(_theta(rng, _shaped(rng, problem, constants)), place, (), gains=True), np.nan


def _other(
    rng: np.random.Generator, besides: str, problem: Problem,
    fittings: Sequence[SoundingFitting], constants: Constants,
) -> tuple[float, float, float, int]:  # fmt: skip
    """Draw another source: level, distance from the pipe, place, and the walk that heard it."""
    both = with_other_source(problem, 0.0, LENGTH_M, constants)
    mean, precision = both.mean[-kernel.PER_OTHER :], both.precision[-kernel.PER_OTHER :]
    level, away, _ = mean + rng.standard_normal(kernel.PER_OTHER) / precision**0.5
    place = float(rng.uniform(0.0, LENGTH_M))
    if besides == "fitting":
        sd = load_rival_weights()["with_leak"]["sd_m"]
        place = fittings[0].chainage_m + sd * float(rng.standard_normal())
    only = int(besides[-1]) if besides.startswith("passing") else -1
    return float(level), float(np.exp(away)), place, only


def air_test(rng: np.random.Generator, line: Line, mark_m: float) -> AirPlaces:
    """Draw an air test at the mark, and at a control."""
    constants = load_constants()
    air, reading = constants.air, constants.noise["reading_db"]
    side = -1.0 if mark_m > LENGTH_M / 2.0 else 1.0
    x = np.sort([mark_m, mark_m + side * CONTROL_M])
    gain_db = air["gain_db"] * np.exp(air["gain_ln"] * rng.standard_normal())
    louder = 1.0 if rng.random() < air["fails"] else np.exp(gain_db / DB)
    degrees = air["scale_degrees"]
    sd = (degrees * 2.0 * reading**2 / rng.chisquare(degrees)) ** 0.5
    off = line.sound.level(x)
    change = line.sound.level(x, louder=louder) - off + air["common_db"] * rng.standard_normal()
    change = change + np.hypot(air["misfit_db"], sd / PAIRS**0.5) * rng.standard_normal(2)
    off = off + line.noise[kernel.COUPLING_VARIANCE] ** 0.5 * rng.standard_normal(2)
    off = off + (line.noise[kernel.READING_VARIANCE] / PAIRS) ** 0.5 * rng.standard_normal(2)
    return AirPlaces(
        x, np.full(2, 0.1), np.full(2, SMEAR_M), off + change, off, np.full(2, PAIRS),
        sd**2 * rng.chisquare(PAIRS - 1, 2), np.full(2, np.nan),
    )  # fmt: skip


def meter_tests(rng: np.random.Generator, truth: Hypothesis) -> dict[Valve, Loss]:
    """Draw tests of a meter at the start of the line: valve at the house open, shut, or both."""
    weight = load_meter_weights()
    chosen: tuple[tuple[Valve, ...], ...] = (("open",), ("shut",), ("open", "shut"))
    valves = chosen[rng.integers(3)]
    leaks = truth.kind in ("leak", "beyond_end") or truth.unheard
    loss = _flow(rng, weight["leak"]) if leaks else 0.0
    stuck = rng.random() < weight["meter"]["stuck"]
    times = weight["use"]["through_fitting_times"] if truth.kind == "fitting" else 1.0
    found: dict[Valve, Loss] = {}
    for valve in valves:
        passes = valve == "open" or truth.kind != "beyond_end"
        passes = passes or rng.random() < weight["meter"]["lets_by"]
        used = rng.random() < times * weight["use"][f"house_valve_{valve}"]
        flow = loss * passes
        found[valve] = _register(rng, flow, _flow(rng, weight["use"]) * used, stuck=stuck)
    return found


def _flow(rng: np.random.Generator, weight: Mapping[str, float]) -> float:
    return float(weight["median_l_per_day"] * weight["factor"] ** rng.standard_normal())


def _register(rng: np.random.Generator, leak: float, use: float, *, stuck: bool) -> Loss:
    """Read a register that starts anywhere within its step; other use shows always."""
    least = float(rng.choice(LEAST_L_PER_DAY))
    turns = not stuck and (use > 0.0 or rng.random() < leak / least)
    sd = least / 6.0**0.5
    if not turns:
        return Loss("none_within_resolution", 0.0, sd, 0.0, 2.0 * sd, least, 24.0, 1, 1, ())
    times = load_meter_weights()["meter"]["loss_factor"] ** rng.standard_normal()
    shown = max(np.floor((leak + use) * times / least + rng.random()), 1.0) * least
    low, high = max(shown - 2.0 * sd, 0.0), shown + 2.0 * sd
    return Loss("loss_shown", shown, sd, low, high, least, 24.0, 1, 1, ())


def hole(rng: np.random.Generator, line: Line, mark_m: float) -> Exposed:
    """Draw a hole at the mark, or anywhere."""
    weight = load_dig_weights()
    at = mark_m if rng.random() < 0.7 else float(rng.uniform(0.0, LENGTH_M))
    measured = rng.random() < 0.5
    sd = weight["edge_sd_m"] if measured else HOLE_SD_M
    half = float(rng.uniform(0.4, 1.2)) if measured else weight["half_length_m"]
    away = line.leak_m - at - sd * rng.standard_normal()
    inside = bool(abs(away) <= half)
    leak = rng.random() < (1.0 - weight["missed"] if inside else weight["mistaken"])
    return Exposed(at - half, at + half, sd, "leak" if leak else "dry", "")


def isolation_test(rng: np.random.Generator, line: Line) -> IsolationTest:
    """Draw an isolation test of the line, or of its part beyond a valve."""
    weight = load_isolation_weights()
    shows, tight = weight["shows"], weight["tight"]
    state = str(rng.choice(sorted(tight)))
    valve = -np.inf if rng.random() < 0.5 else float(rng.uniform(4.0, 20.0))
    outlets, beyond = bool(rng.random() < 0.5), bool(rng.random() < 0.5)
    begin = valve + weight["place"]["valve_sd_m"] * rng.standard_normal()
    leaks = bool(line.leak_m >= begin) or (beyond and line.truth.kind == "beyond_end")
    p = shows["outlets" if outlets else "none"]
    if line.truth.kind == "fitting" and line.fittings[0][1].chainage_m >= begin:
        p = shows["fitting_times"] * p
    p = shows["leak"] if leaks else p
    p = p if rng.random() < tight[state] else shows["not_isolated"]
    seen = float(rng.random() < p)
    result = IsolationResult("T", "C", "pressure", 400.0, 400.0 - 200.0 * seen, 20.0, seen)
    part = Isolated(((valve, np.inf),), beyond_start=False, beyond_end=beyond, connected=0.0,
                    others=0.0)  # fmt: skip
    return IsolationTest(result, part, ("V",), tight[state], outlets)


def sweep_across(rng: np.random.Generator, line: Line, mark_m: float) -> Sweep:
    """Draw a sweep across the line at the mark."""
    x = np.arange(-3.0, 3.1, 0.5)
    zero = np.zeros(x.size)
    flat = Sweep(mark_m, x, zero, zero + 0.3, zero + SMEAR_M, zero + 1.0, zero.astype(int))
    y = _across(rng, line, mark_m, reach_of(flat))
    level = _swept(rng, line, flat, y)
    return replace(flat, level_db=np.round(level + LEVEL_DB))


def _across(rng: np.random.Generator, line: Line, mark_m: float, reach: float) -> float:
    """Draw where the source is across the line; NaN if none is heard."""
    weights = load_sweep_weights()
    table, missed = weights["explanations"], weights["likelihood"]["not_heard"]
    names, near_m = ["own_pipe", "trace_wrong", "other"], weights["likelihood"]["near_m"]
    share = np.array([table[name] for name in names])
    if line.truth.kind == "silence":
        if rng.random() >= weights["likelihood"]["only_swept"]:
            return np.nan
        share[:2] = 0.0
    elif rng.random() < np.clip(2.0 - abs(mark_m - line.source_m) / near_m, 0.0, 1.0):
        share[:2] *= line.truth.kind != "unknown"
        share[2] *= line.truth.kind == "unknown"
    if rng.random() < missed:
        return np.nan
    kind = names[rng.choice(3, p=share / share.sum())]
    if kind == "other":
        return float(rng.uniform(-reach, reach))
    wrong = weights["place"]["trace_wrong_sd_m"] if kind == "trace_wrong" else 0.0
    sd = np.sqrt(TRACE_SD_M**2 + wrong**2 + weights["place"]["reference_sd_m"] ** 2)
    return float(sd * rng.standard_normal())


def _swept(rng: np.random.Generator, line: Line, sweep: Sweep, y: float) -> np.ndarray:
    """Draw the levels of a sweep."""
    constants = load_constants()
    spread, noise, law = constants.spread, constants.noise, constants.noise_law
    strength, length, reading = law.nodes[rng.choice(len(law.weight),
                                                     p=law.weight / law.weight.sum())]  # fmt: skip
    level = np.zeros(sweep.offset_m.size)
    if np.isfinite(y):
        z = rng.standard_normal(3)
        depth = line.depth_m * np.exp(z[0] * spread["depth_ln"])
        soil = spread["soil_decay_db_per_m"] * np.exp(z[1] * spread["soil_decay_ln"])
        floor = np.exp(-(spread["floor_below_db"] + z[2] * spread["floor_db"]) / DB)
        law_at = Spreading(depth, soil_decay_db_per_m=soil, floor=floor)
        level = relative_level(sweep.offset_m - y, law_at, sweep.smear_m)
    apart = np.abs(sweep.offset_m[:, None] - sweep.offset_m)
    shared = np.linalg.cholesky(strength**2 * np.exp(-apart / length) + 1e-9 * np.eye(len(level)))
    bursts = rng.random(len(level)) < noise["outlier_share"]
    more = np.where(bursts, (noise["outlier_times"] - 1.0) * (reading**2 + strength**2), 0.0)
    own = (reading**2 + more) ** 0.5 * rng.standard_normal(len(level))
    return np.asarray(level + shared @ rng.standard_normal(len(level)) + own)
