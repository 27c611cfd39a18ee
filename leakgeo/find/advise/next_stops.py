"""The next stops on a line that was listened to."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats
from leakgeo.conversion import FOOT_M
from leakgeo.find.advise.greedy_design import Choice, choose
from leakgeo.find.advise.predictive import Hypotheses, expected_levels
from leakgeo.find.posterior import kernel
from leakgeo.find.posterior.posterior import MAX_SPAN_M
from leakgeo.find.posterior.problem import build_problem
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.arrays import Floats
    from leakgeo.find.levels.readings import Readings
    from leakgeo.find.posterior.problem import Problem
    from leakgeo.reason import Reason
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants

# A stop that all but this share of the places lie to one side of splits nothing.
_BESIDE = 0.05

# Equally likely places that stand for the posterior, and how far beyond them stops may go: the
# flanks of the sound tell as much of its middle as the middle itself.
PLACES, REACH_M = 24, 6.0
# So far beyond them stops are as close as they make sense.
FINE_M = 1.5
# The choice is among so many stops, or few more.
MOST_STOPS = 60
# Stops that together are expected to shorten the zone by less than this share, or by less than an
# inch, are not proposed: on a tape that is no gain. Where there is no zone, the same in bits.
LEAST_SHARE, LEAST_M = 0.05, 0.0254
# A zone within so many times the length that is short enough is brought there by smaller gains.
NEARLY, NEAR_SHARE = 1.4, 0.4


@dataclass(frozen=True)
class Rules:
    """When a line needs no more readings, and how they are chosen; as `advise` takes them."""

    how_many: int
    short_zone_m: float
    least_bits: float
    walk_m_per_bit: float

    def least(self, zone_m: float) -> float:
        """Least that a reading must be expected to tell: less will do where the goal is near."""
        return self.least_bits * (NEAR_SHARE if zone_m <= NEARLY * self.short_zone_m else 1.0)


@dataclass(frozen=True)
class Advice:
    """What is advised on one line: rows of ``next_readings``, and the advice."""

    line_id: str
    rows: Sequence[tuple[object, ...]]
    advice: Reason


# So many readings are looked at, at the most.
MOST_READINGS = 1500


@dataclass(frozen=True)
class HeardLine:
    """A line that was listened to.

    Parameters
    ----------
    lines : Lines
    line : int
        Its place among them.
    readings : Readings
    zone_m : float
        Length of its search zones together, NaN where it has none.
    """

    lines: Lines
    line: int
    readings: Readings
    zone_m: float

    @cached_property
    def step_m(self) -> float:
        """Closest spacing that the positions make sense of: a foot, or their error if more."""
        own, shared = self.readings.position_sd_m, self.readings.shift_sd_m
        return max(FOOT_M, float(np.hypot(np.median(own), np.median(shared))))

    def stops(self, place_m: Floats) -> Floats:
        """Stops to choose from, on the line, one of them at the middle of the likely places."""
        length = float(self.lines.length_m[self.line])
        begin, end = max(place_m[0] - REACH_M, 0.0), min(place_m[-1] + REACH_M, length)
        step = max(self.step_m, (end - begin) / MOST_STOPS)
        middle = float(np.median(place_m))
        turn = np.arange(np.ceil((begin - middle) / step), np.floor((end - middle) / step) + 1)
        stops = np.round(middle + step * turn, 2).clip(0.0, length)
        # On the flanks every other will do.
        beside = np.maximum(place_m[0] - stops, stops - place_m[-1])
        return np.asarray(stops[(beside <= FINE_M) | (turn % 2 == 0)])

    def problem(self, middle_m: float, constants: Constants) -> Problem:
        """The readings as the kernel takes them; of a long line those near the likely place."""
        material = constants.materials[self.lines.material[self.line]]
        problem = build_problem(
            self.readings, material, float(self.lines.depth_m[self.line]), constants
        )
        away = np.abs(problem.readings[:, kernel.X] - middle_m)
        near = np.flatnonzero(away <= max(MAX_SPAN_M / 2, float(away.min())))
        # Of a recorder that was left on, the nearest: the work goes with the cube of them.
        kept = np.sort(near[np.argsort(away[near], kind="stable")[:MOST_READINGS]])
        return replace(problem, readings=problem.readings[kept], codes=problem.codes[kept])


@dataclass(frozen=True)
class Densities:
    """Density of the leak along all lines of a profile, one array a column.

    Parameters
    ----------
    rows : mapping of str to slice
        Rows of each line, by chainage.
    chainage_m, density_per_m : ndarray of float, shape (n,)
    """

    rows: Mapping[str, slice]
    chainage_m: Floats
    density_per_m: Floats

    @classmethod
    def of(cls, profile: pd.DataFrame) -> Densities:
        """Take them out of a profile, whose rows are by line and chainage."""
        code, names = pd.factorize(profile["line_id"])
        edges = np.append(np.flatnonzero(np.diff(code, prepend=-1)), len(code)).tolist()
        rows = {str(names[code[a]]): slice(a, b) for a, b in pairwise(edges)}
        return cls(rows, *(floats(profile, c) for c in ("chainage_m", "leak_density_per_m")))

    def of_line(self, line_id: str) -> tuple[Floats, Floats]:
        """Chainages and densities of one line."""
        own = self.rows[line_id]
        return self.chainage_m[own], self.density_per_m[own]


def hypotheses(at: Floats, density: Floats, silent: float) -> Hypotheses:
    """Equally likely places out of the leak's density, and silence.

    Parameters
    ----------
    at : ndarray of float, shape (n,)
        Chainages, rising.
    density : ndarray of float, shape (n,)
        Of the leak there, per metre.
    silent : float
        Probability that there is no leak; 0 where that is no question any more.
    """
    near = np.abs(at - at[np.argmax(density)]) <= MAX_SPAN_M / 2
    at, density = at[near], density[near]
    step = np.diff(at) * 0.5 * (density[1:] + density[:-1])
    total = np.concatenate([[0.0], np.cumsum(step)])
    place = np.interp((np.arange(PLACES) + 0.5) / PLACES * total[-1], total, at)
    return Hypotheses(place, np.full(PLACES, (1.0 - silent) / PLACES), silent)


def next_stops(
    line: HeardLine, where: Hypotheses, constants: Constants, rules: Rules
) -> Advice | None:
    """Choose the next stops of a line, and say what they are for; None where they gain nothing."""
    name, place = str(line.lines.table.index[line.line]), where.place_m
    stop_m = line.stops(place)
    problem = line.problem(float(np.median(place)), constants)
    expected = expected_levels(problem, where, stop_m, constants)
    least = rules.least(line.zone_m)
    choice = Choice(rules.how_many, least, rules.walk_m_per_bit, line.step_m)
    stops, bits = choose(expected, choice)
    # A bit halves a stretch.
    left = 2.0 ** -np.cumsum(bits)
    if not stops or left[-1] > 1.0 - LEAST_SHARE or line.zone_m * (1.0 - left[-1]) < LEAST_M:
        return None
    zone = (line.zone_m * left).tolist()
    rows = [
        (name, turn, float(stop_m[i]), gain, after, why(float(stop_m[i]), place))
        for turn, (i, gain, after) in enumerate(zip(stops, bits, zone, strict=True), 1)
    ]
    return Advice(name, rows, listen_on(len(rows), line.zone_m, zone[-1]))


def why(stop_m: float, place_m: Floats) -> Reason:
    """Say what a stop is for, from equally likely places of the leak."""
    before = float(np.mean(place_m < stop_m))
    if min(before, 1.0 - before) < _BESIDE:
        return Reason("beside_stretch")
    return Reason("splits_stretch", before=before, beyond=1.0 - before)


def more_do_not_help(zone_m: float, action: str | None, *, wants_more: bool) -> Reason:
    """Say that more readings of the kind there are do not help, and what does.

    Parameters
    ----------
    zone_m : float
        Length of the search zones together, NaN where there is none.
    action : {"position", "night", "probe", "pressure"} or None
        What is expected to help most; None where nothing that is known of does.
    wants_more : bool
        Whether the line needs anything more: it isn't located, nor settled that it has no leak.
    """
    more = "more_stops_no_shorter" if np.isfinite(zone_m) else "more_stops_unclear"
    if not wants_more:
        return Reason("enough_readings", Reason(more))
    return Reason(more, Reason("next_action", action=action or "other_method"))


def listen_on(count: int, zone_m: float, after_m: float) -> Reason:
    """Say what some more stops are expected to do."""
    if not np.isfinite(zone_m):
        return Reason("listen_to_decide", stops=count)
    return Reason("listen_on", stops=count, less=1.0 - after_m / zone_m, after_m=after_m)
