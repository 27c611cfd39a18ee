"""Nearby lines, joined by a tee or beside: the leak may be on any, and is heard from all."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np
import shapely

from leakgeo.find.posterior.problem import RelativePositions, build_problem
from leakgeo.find.posterior.rivals import OpenEnd

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from leakgeo.arrays import Floats, Ints
    from leakgeo.find.levels.readings import Readings, Table
    from leakgeo.find.posterior.place_prior import PlacePrior
    from leakgeo.find.posterior.posterior import Posterior
    from leakgeo.find.posterior.problem import Problem, Taught
    from leakgeo.route.junctions import Junctions
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants

# Stretch of a nearby line beyond the tee that may have the leak, and whose readings are used.
REACH_M = 12.0
# A line that does not join is beside up to this distance, and twice the errors of both traces.
BESIDE_M = 4.0
# A nearby line is considered if the probability of the leak within reach of it exceeds this.
MIN_PROBABILITY = 0.02
# Cells less likely than this do not count for the stretch along which another line is beside.
_LEAST_CELL = 1e-4
# Distance put between the lines in the coupling filter, so that their couplings are independent.
_LINE_GAP_M = 1e6
# A tee this near an end of a line is at it.
_AT_END_M = 1.5
# A reading at the tee itself counts as on its branch: 0 means on the line, less means beside it.
_MIN_BRANCH_M, _BESIDE = 0.001, -1.0


@dataclass(frozen=True)
class NearbyStretch:
    """A stretch of a nearby line that may have the leak.

    Parameters
    ----------
    line : int
        Index of the nearby line among the measurable ones.
    problem : Problem
        All readings of the neighbourhood, for a leak on that line.
    begin_m, end_m : float
        Chainages of its ends on that line.
    log_weight : callable
        Maps chainages on that line to the log of the prior density of a leak, relative to the mean
        of the line that is searched.
    """

    line: int
    problem: Problem
    begin_m: float
    end_m: float
    log_weight: Callable[[Floats], Floats]


@dataclass(frozen=True)
class Neighbourhood:
    """A line with the nearby lines near its leak.

    Parameters
    ----------
    problem : Problem
        The readings of the line and those within reach on nearby lines.
    stretches : list of NearbyStretch
        Stretches of nearby lines that may have the leak.
    others : list of (int, Problem)
        Each nearby line with its readings among those of `problem`.
    """

    problem: Problem
    stretches: list[NearbyStretch]
    others: list[tuple[int, Problem]]


@dataclass(frozen=True)
class _Nearby:
    """A nearby line: the chainages of the tee, or of where it is beside, here and there.

    Sound goes `between_m` along a third line before it comes to a tee there.
    """

    line: int
    here_m: float
    there_m: float
    joins: bool = True
    between_m: float = 0.0
    # Stretch of it that may have the leak.
    span: tuple[float, float] = (0.0, 0.0)


class NearbyLines:
    """The lines of a job that join or run beside one another, with their readings.

    Parameters
    ----------
    lines : Lines
    table : Table
    junctions : Junctions
    prior : PlacePrior
    constants : Constants
    taught : mapping of int to Taught
        What is known of the sound of some lines, by index of the line.
    """

    def __init__(
        self, lines: Lines, table: Table, junctions: Junctions, prior: PlacePrior,
        constants: Constants, taught: Mapping[int, Taught] = MappingProxyType({}),
    ) -> None:  # fmt: skip
        self.lines, self.table, self.prior, self.constants = lines, table, prior, constants
        self.taught = taught
        a, b = junctions.line_a, junctions.line_b
        at_a, at_b = junctions.chainage_a_m, junctions.chainage_b_m
        line, other = np.concatenate([a, b]), np.concatenate([b, a])
        here, there = np.concatenate([at_a, at_b]), np.concatenate([at_b, at_a])
        order = np.flatnonzero(line != other)
        order = order[np.lexsort((here[order], other[order], line[order]))]
        self._line, self._other = line[order], other[order]
        self._here, self._there = here[order], there[order]
        self._beside = _lines_beside(lines, self._line, self._other)

    def neighbourhoods(
        self, line: int, alone: Posterior, span: tuple[float, float]
    ) -> list[Neighbourhood]:
        """Return a line with all connected lines, and with each line beside, near a likely leak.

        Parameters
        ----------
        line : int
        alone : Posterior
            Posterior of the line from its own readings.
        span : tuple of float
            Stretch of the line whose readings are used.

        Returns
        -------
        list of Neighbourhood
            Their nearby lines are different ones.
        """
        tees = self._tees(line, alone)
        groups = [tees] if tees else []
        groups += [[one] for one in self._besides(line, alone)]
        return [self._neighbourhood(line, group, span) for group in groups]

    def _neighbourhood(
        self, line: int, nearby: Sequence[_Nearby], span: tuple[float, float]
    ) -> Neighbourhood:
        parts = [self.table.rows(line, *span)]
        parts += [self.table.rows(n.line, *n.span) for n in nearby]
        stretches = [self._stretch(line, one, nearby, parts) for one in nearby]
        others = [(n.line, self.problem(n.line, self.table.cut(own, self.constants)))
                  for n, own in zip(nearby, parts[1:], strict=True) if len(own)]  # fmt: skip
        return Neighbourhood(self._joint_problem(line, nearby, parts), stretches, others)

    def open_ends(self, line: int) -> list[OpenEnd]:
        """Return the ends of a line at which it joins no other line."""
        first, last = np.searchsorted(self._line, [line, line + 1])
        ends = (
            OpenEnd("beyond_start", 0.0), OpenEnd("beyond_end", float(self.lines.length_m[line]))
        )  # fmt: skip
        return [
            end for end in ends
            if (np.abs(self._here[first:last] - end.chainage_m) > _AT_END_M).all()
        ]  # fmt: skip

    def problem(
        self, line: int, readings: Readings, positions: RelativePositions | None = None
    ) -> Problem:
        """Build the problem of a leak on a line.

        `positions` are those of the readings relative to the line; all are on the line if None.
        """
        material, depth_m = self.lines.material[line], float(self.lines.depth_m[line])
        return build_problem(
            readings, self.constants.materials[material], depth_m, self.constants, positions,
            self.taught.get(line, {}),
        )  # fmt: skip

    def _tees(self, line: int, found: Posterior) -> list[_Nearby]:
        """Return for each connected line its tee with the most probability within reach."""
        first, last = np.searchsorted(self._line, [line, line + 1])
        best: dict[int, tuple[float, _Nearby]] = {}
        for k in range(first, last):
            near = np.abs(found.chainage_m - self._here[k]) <= REACH_M
            mass = float(found.probability[near].sum())
            other, there = int(self._other[k]), float(self._there[k])
            span = there - REACH_M, there + REACH_M
            tee = _Nearby(other, float(self._here[k]), there, span=span)
            if mass > max(MIN_PROBABILITY, best.get(tee.line, (0.0, tee))[0]):
                best[tee.line] = mass, tee
        return [tee for _, tee in best.values()]

    def _besides(self, line: int, found: Posterior) -> list[_Nearby]:
        """Return the lines that run beside a likely leak without joining the line."""
        likely = np.flatnonzero(found.probability > _LEAST_CELL * found.probability.max())
        x, mass = found.chainage_m[likely], found.probability[likely]
        nearby = []
        for other in self._beside.get(line, ()):
            at, away = self._nearest(line, x, other)
            near = away <= _beside_m(self.lines, line, other)
            if mass[near].sum() <= MIN_PROBABILITY:
                continue
            best = int(np.argmax(np.where(near, mass, -1.0)))
            here, there = float(x[best]), float(at[best])
            span = float(at[near].min()) - REACH_M, float(at[near].max()) + REACH_M
            nearby.append(_Nearby(other, here, there, joins=False, span=span))
        return nearby

    def _nearest(self, line: int, chainage_m: Floats, other: int) -> tuple[Floats, Floats]:
        """Return the nearest chainages on another line, and the distances to it."""
        routes = self.lines.routes
        points = routes.points(np.full(len(chainage_m), line), chainage_m)
        at, offset = routes.locate(points, np.full(len(chainage_m), other))
        return at, np.abs(offset)

    def _stretch(
        self, line: int, one: _Nearby, nearby: Sequence[_Nearby], parts: Sequence[Ints]
    ) -> NearbyStretch:
        """Return one nearby line; the sound reaches the others through `line`."""
        seen = [_Nearby(line, one.there_m, one.here_m, one.joins)]
        seen += [
            _Nearby(n.line, one.there_m, n.there_m, between_m=abs(n.here_m - one.here_m))
            for n in nearby if n is not one
        ]  # fmt: skip
        problem = self._joint_problem(one.line, seen, parts)
        length = float(self.lines.length_m[one.line])
        begin, end = max(one.span[0], 0.0), min(one.span[1], length)
        age_ratio = float(self.prior.by_age(np.array([one.line]), np.array([line]))[0])
        return NearbyStretch(
            one.line, problem, begin, end, lambda x: age_ratio + self.weight(one.line)(x)
        )

    def weight(self, line: int) -> Callable[[Floats], Floats]:
        """Return the log of the prior density relative to its mean, as a function of chainage."""

        def log_weight(chainage_m: Floats) -> Floats:
            weight = self.prior.log_weight(line, chainage_m)
            return np.zeros_like(chainage_m) if weight is None else weight

        return log_weight

    def _joint_problem(
        self, axis: int, nearby: Sequence[_Nearby], parts: Sequence[Ints]
    ) -> Problem:
        """Build the problem of a leak on the line `axis` from the readings of several lines.

        `nearby` are the other lines, relative to the axis.
        """
        rows = np.concatenate(parts)
        line, chainage = self.table.line[rows], self.table.numbers["chainage_m"][rows]
        tee, branch = np.zeros(len(rows)), np.zeros(len(rows))
        lateral = np.full(len(rows), -1, dtype=np.int64)
        beside = [n.line for n in nearby if not n.joins]
        for n in nearby:
            on = line == n.line
            tee[on], branch[on] = n.here_m, np.abs(chainage[on] - n.there_m) + n.between_m
            lateral[on] = -1 if n.joins else beside.index(n.line)
        own = line == axis
        branch = np.where(own, 0.0, np.maximum(branch, _MIN_BRANCH_M))
        branch = np.where(lateral >= 0, _BESIDE, branch)
        x, across = self._projected(axis, tee, line, chainage)
        if beside:
            at = np.flatnonzero(lateral >= 0)
            x[at], across[at] = self._abreast(axis, line[at], chainage[at])
        along = chainage + _LINE_GAP_M * np.unique(line, return_inverse=True)[1]
        # The coupling filter needs ascending chainage, line after line.
        order = np.lexsort((self.table.codes["stop"][rows], along))
        positions = RelativePositions(
            np.where(own, chainage, x)[order],
            np.where(own, 0.0, across)[order],
            tee[order],
            branch[order],
            along[order],
            lateral[order],
            np.array([_lateral_sd(self.lines, axis, other) for other in beside]),
        )
        readings = self.table.cut(rows[order], self.constants, one_line=False)
        return self.problem(axis, readings, positions)

    def _projected(
        self, axis: int, tee_m: Floats, line: Ints, chainage_m: Floats
    ) -> tuple[Floats, Floats]:
        """Project points on the axis, extended straight at the tee; return along and across."""
        away, ahead = self._away(axis, tee_m, line, chainage_m)
        along = np.sum(away * ahead, axis=1)
        across = np.sqrt(np.maximum(np.sum(away**2, axis=1) - along**2, 0.0))
        return tee_m + along, across

    def _abreast(self, axis: int, line: Ints, chainage_m: Floats) -> tuple[Floats, Floats]:
        """Return the nearest chainages on the axis, extended straight at its ends, and across."""
        routes, which = self.lines.routes, np.full(len(line), axis)
        at, across = routes.locate(routes.points(line, chainage_m), which)
        away, ahead = self._away(axis, at, line, chainage_m)
        beyond = (at <= 0.0) | (at >= self.lines.length_m[axis])
        along = np.where(beyond, np.sum(away * ahead, axis=1), 0.0)
        return at + along, np.copysign(np.sqrt(np.maximum(across**2 - along**2, 0.0)), across)

    def _away(
        self, axis: int, from_m: Floats, line: Ints, chainage_m: Floats
    ) -> tuple[Floats, Floats]:
        """Return vectors from places on the axis to points on other lines, and its directions."""
        routes, which = self.lines.routes, np.full(len(line), axis)
        points, places = routes.points(line, chainage_m), routes.points(which, from_m)
        azimuth = np.radians(routes.grid_azimuth_deg(which, from_m))
        ahead = np.column_stack([np.sin(azimuth), np.cos(azimuth)])
        return shapely.get_coordinates(points) - shapely.get_coordinates(places), ahead


def _lateral_sd(lines: Lines, line: int, other: int) -> float:
    """Return the standard deviation of the distance between two lines, from both traces."""
    return float(np.hypot(lines.trace_sd_m[line], lines.trace_sd_m[other]))


def _beside_m(lines: Lines, line: int, other: int) -> float:
    """Return the greatest distance at which one line is beside another."""
    return min(BESIDE_M + 2.0 * _lateral_sd(lines, line, other), REACH_M)


def _lines_beside(lines: Lines, line: Ints, joined: Ints) -> dict[int, list[int]]:
    """Return for each line those that come near it without joining it.

    `line` and `joined` are the pairs that join.
    """
    drawn, widest = lines.routes.lines, float(lines.trace_sd_m.max(initial=0.0))
    reach = np.minimum(BESIDE_M + 2.0 * np.hypot(lines.trace_sd_m, widest), REACH_M)
    a, b = shapely.STRtree(drawn).query(drawn, predicate="dwithin", distance=reach)
    pairs = set(zip(a.tolist(), b.tolist(), strict=True))
    pairs -= set(zip(line.tolist(), joined.tolist(), strict=True))
    found: dict[int, list[int]] = {}
    for one, other in sorted(pairs):
        if one != other and shapely.distance(drawn[one], drawn[other]) <= _beside_m(
            lines, one, other
        ):
            found.setdefault(one, []).append(other)
    return found
