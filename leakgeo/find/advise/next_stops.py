"""Next stops on a line with readings."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from itertools import accumulate, pairwise
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import ndtr

from leakgeo.arrays import floats, median
from leakgeo.conversion import FOOT_M
from leakgeo.find.advise.greedy_design import DesignRules, greedy_design
from leakgeo.find.advise.predictive import Hypotheses, expected_levels
from leakgeo.find.locate.status import LIKELIER_THAN_NOT
from leakgeo.find.posterior import kernel
from leakgeo.find.posterior.posterior import MAX_SPAN_M
from leakgeo.find.posterior.problem import build_problem
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.arrays import Floats
    from leakgeo.find.advise.predictive import Expected
    from leakgeo.find.advise.ranking import Ranked
    from leakgeo.find.levels.readings import Readings
    from leakgeo.find.posterior.problem import Problem, Taught
    from leakgeo.reason import Reason
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants

# A stop with a smaller share of the places on one side is beside the stretch, not in it.
_MIN_SIDE_SHARE = 0.05

# Number of equally likely places that represent the posterior, and how far beyond them stops may
# be: the flanks of the sound carry as much information on its peak as the peak itself.
PLACES, REACH_M = 24, 6.0
# Ranges of the level at a stop whose probabilities are compared.
_LEVELS = 16
# Up to this distance beyond them, stops have the closest spacing.
FINE_SPACING_M = 1.5
# Approximate number of candidate stops.
MAX_STOPS = 60
# Stops that are expected to shorten the zone in all by less than this share, or by less than an
# inch, are not proposed. Without a zone, the share applies to the information gain.
MIN_SHARE, MIN_GAIN_M = 0.05, 0.0254
# Where the zone is within this multiple of the short length, smaller gains are accepted.
NEAR_FACTOR, NEAR_SHARE = 1.4, 0.6
# Share of the least gain where it is not decided whether a likely leak is heard.
UNDECIDED_SHARE = 0.4
# Gains of single stops below this are lost in the errors of the prediction.
MIN_BITS = 0.001


@dataclass(frozen=True)
class StopRules:
    """Parameters of `advise`: when a line needs no more readings, and how stops are chosen."""

    how_many: int
    short_zone_m: float
    least_bits: float
    walk_m_per_bit: float

    def least(self, zone_m: float, leak_probability: float = 1.0) -> float:
        """Return the minimum mean gain of readings.

        It is lower where the zone is nearly short, and on a line without a zone where a leak is
        likelier than not, as a leak that is given up there has no mark at all.
        """
        near = zone_m <= NEAR_FACTOR * self.short_zone_m
        undecided = not np.isfinite(zone_m) and leak_probability >= LIKELIER_THAN_NOT
        share = NEAR_SHARE if near else UNDECIDED_SHARE if undecided else 1.0
        return self.least_bits * share


@dataclass(frozen=True)
class Advice:
    """Advice on one line.

    Parameters
    ----------
    line_id : str
    rows : sequence of tuple
        Rows of ``next_readings``.
    advice : Reason
        What to do, or why nothing more is needed.
    actions : sequence of Ranked
        What can be done, the best first.
    shown : ndarray of float, shape (k, b), or None
        Probability of each level at the first of the stops, for each hypothesis.
    """

    line_id: str
    rows: Sequence[tuple[object, ...]]
    advice: Reason
    actions: Sequence[Ranked] = ()
    shown: Floats | None = None

    @property
    def gain_bits(self) -> float:
        """Expected information gain of all stops; NaN where it is not computed."""
        return float(sum(row[3] for row in self.rows))  # type: ignore[misc]

    @property
    def walk_m(self) -> float:
        """Length of the walk over all stops, in metres."""
        return float(np.abs(np.diff([row[2] for row in self.rows])).sum())


# Maximum number of readings to predict from.
MAX_READINGS = 1500


@dataclass(frozen=True)
class HeardLine:
    """A line with readings.

    Parameters
    ----------
    lines : Lines
    line : int
        Index of the line.
    readings : Readings
    zone_m : float
        Total length of its search zones, NaN where it has none.
    taught : Taught
        What open taps teach of the line.
    """

    lines: Lines
    line: int
    readings: Readings
    zone_m: float
    taught: Taught = field(default_factory=dict)

    @cached_property
    def step_m(self) -> float:
        """Closest useful spacing of stops: one foot, or the position error if larger."""
        own, shared = self.readings.position_sd_m, self.readings.shift_sd_m
        return max(FOOT_M, float(np.hypot(median(own), median(shared))))

    def stops(self, place_m: Floats) -> Floats:
        """Return candidate stops on the line, one of them at the median of the likely places."""
        length = float(self.lines.length_m[self.line])
        begin, end = max(place_m[0] - REACH_M, 0.0), min(place_m[-1] + REACH_M, length)
        step = max(self.step_m, (end - begin) / MAX_STOPS)
        middle = median(place_m)
        turn = np.arange(np.ceil((begin - middle) / step), np.floor((end - middle) / step) + 1)
        stops = np.round(middle + step * turn, 2).clip(0.0, length)
        # Half the density on the flanks.
        beside = np.maximum(place_m[0] - stops, stops - place_m[-1])
        return np.asarray(stops[(beside <= FINE_SPACING_M) | (turn % 2 == 0)])

    def problem(self, middle_m: float, constants: Constants) -> Problem:
        """Build the kernel's problem; on a long line from the readings near the likely place."""
        material = constants.materials[self.lines.material[self.line]]
        problem = build_problem(
            self.readings, material, float(self.lines.depth_m[self.line]), constants,
            taught=self.taught,
        )  # fmt: skip
        away = np.abs(problem.readings[:, kernel.X] - middle_m)
        near = np.flatnonzero(away <= max(MAX_SPAN_M / 2, float(away.min())))
        # Only the nearest readings of a continuous recording: the cost grows with their cube.
        kept = np.sort(near[np.argsort(away[near], kind="stable")[:MAX_READINGS]])
        return problem.cut(kept)


@dataclass(frozen=True)
class Densities:
    """Density of the leak along all lines of a profile.

    Parameters
    ----------
    rows : mapping of str to slice
        Rows of each line, sorted by chainage.
    chainage_m, density_per_m : ndarray of float, shape (n,)
    """

    rows: Mapping[str, slice]
    chainage_m: Floats
    density_per_m: Floats

    @classmethod
    def of(cls, profile: pd.DataFrame) -> Densities:
        """Return the densities of a profile sorted by line and chainage."""
        code, names = pd.factorize(profile["line_id"])
        edges = np.append(np.flatnonzero(np.diff(code, prepend=-1)), len(code)).tolist()
        rows = {str(names[code[a]]): slice(a, b) for a, b in pairwise(edges)}
        return cls(rows, *(floats(profile, c) for c in ("chainage_m", "leak_density_per_m")))

    def of_line(self, line_id: str) -> tuple[Floats, Floats]:
        """Return chainages and densities of one line."""
        own = self.rows[line_id]
        return self.chainage_m[own], self.density_per_m[own]


def hypotheses(at: Floats, density: Floats, silent: float) -> Hypotheses:
    """Return equally likely places from the leak's density, and the hypothesis of silence.

    Parameters
    ----------
    at : ndarray of float, shape (n,)
        Chainages, ascending.
    density : ndarray of float, shape (n,)
        Density of the leak there, per metre.
    silent : float
        Probability that there is no leak; 0 where that is settled.
    """
    near = np.abs(at - at[np.argmax(density)]) <= MAX_SPAN_M / 2
    at, density = at[near], density[near]
    step = np.diff(at) * 0.5 * (density[1:] + density[:-1])
    total = np.concatenate([[0.0], np.cumsum(step)])
    place = np.interp((np.arange(PLACES) + 0.5) / PLACES * total[-1], total, at)
    return equally_likely(place, silent)


def equally_likely(place_m: Floats, silent: float) -> Hypotheses:
    """Return the hypotheses of a leak at each place, and of silence with its probability."""
    each = (1.0 - silent) / len(place_m)
    return Hypotheses(place_m, np.full(len(place_m), each), silent)


def next_stops(
    line: HeardLine, where: Hypotheses, constants: Constants, rules: StopRules
) -> Advice | None:
    """Return the next stops of a line with their reasons, or None if they gain too little."""
    name, place = str(line.lines.table.index[line.line]), where.place_m
    stop_m = line.stops(place)
    problem = line.problem(median(place), constants)
    expected = expected_levels(problem, where, stop_m, constants)
    choice = DesignRules(rules.how_many, MIN_BITS, rules.walk_m_per_bit, line.step_m)
    stops, bits = greedy_design(expected, choice)
    worth = worthwhile(bits, rules.least(line.zone_m, 1.0 - where.silent))
    stops, bits = stops[:worth], bits[:worth]
    # One bit halves the zone.
    left = 2.0 ** -np.cumsum(bits)
    if not stops or left[-1] > 1.0 - MIN_SHARE or line.zone_m * (1.0 - left[-1]) < MIN_GAIN_M:
        return None
    zone = (line.zone_m * left).tolist()
    rows = [
        (name, turn, float(stop_m[i]), gain, after, stop_reason(float(stop_m[i]), place))
        for turn, (i, gain, after) in enumerate(zip(stops, bits, zone, strict=True), 1)
    ]
    shown = levels_at(expected, stops[0])
    advice = keep_listening(len(rows), line.zone_m, zone[-1])
    return Advice(name, rows, advice, shown=shown)


def levels_at(expected: Expected, stop: int) -> Floats:
    """Return the probability of each of some ranges of the level at a stop, by hypothesis.

    Parameters
    ----------
    expected : Expected
    stop : int
        Index of the stop.

    Returns
    -------
    ndarray of float, shape (k, b)
    """
    level, sd = expected.level_db[:, stop], float(np.sqrt(expected.covariance[stop, stop]))
    edges = np.linspace(level.min() - 2.0 * sd, level.max() + 2.0 * sd, _LEVELS - 1)
    below = np.zeros((len(level), _LEVELS + 1))
    below[:, 1:-1] = ndtr((edges - level[:, None]) / sd)
    below[:, -1] = 1.0
    return np.asarray(below[:, 1:] - below[:, :-1])


def worthwhile(bits: Sequence[float], least: float) -> int:
    """Return how many of the stops, in the order chosen, gain enough on the average.

    A stop may gain little by itself and much with the next, as two flanks of a sound do.

    Parameters
    ----------
    bits : sequence of float
        Expected information gain of each.
    least : float
        Minimum of their mean.

    Examples
    --------
    >>> [worthwhile(bits, 0.05) for bits in ([0.04, 0.07, 0.03, 0.01], [0.04, 0.05], [])]
    [2, 0, 0]
    """
    total = enumerate(accumulate(bits), start=1)
    return max((count for count, bits in total if bits / count >= least - 1e-12), default=0)


def stop_reason(stop_m: float, place_m: Floats) -> Reason:
    """Return the reason of a stop, from equally likely places of the leak."""
    before = np.count_nonzero(place_m < stop_m) / len(place_m)
    if min(before, 1.0 - before) < _MIN_SIDE_SHARE:
        return Reason("beside_stretch")
    return Reason("splits_stretch", before=before, beyond=1.0 - before)


def no_more_stops(zone_m: float) -> Reason:
    """Return the advice that more readings of this kind do not help.

    Parameters
    ----------
    zone_m : float
        Total length of the search zones, NaN where there is none.
    """
    return Reason("more_stops_no_shorter" if np.isfinite(zone_m) else "more_stops_unclear")


def keep_listening(count: int, zone_m: float, after_m: float) -> Reason:
    """Return the advice to keep listening, with the expected length of the zone."""
    if not np.isfinite(zone_m):
        return Reason("listen_to_decide", stops=count)
    return Reason("listen_on", stops=count, less=1.0 - after_m / zone_m, after_m=after_m)
