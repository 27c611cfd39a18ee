"""Connected lines: the leak may be on any of them, and its sound is heard from all of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from leakgeo.find.posterior.problem import RelativePositions, build_problem
from leakgeo.find.posterior.rivals import OpenEnd

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from leakgeo.arrays import Floats, Ints
    from leakgeo.find.levels.readings import Readings, Table
    from leakgeo.find.posterior.place_prior import PlacePrior
    from leakgeo.find.posterior.posterior import Posterior
    from leakgeo.find.posterior.problem import Problem
    from leakgeo.route.junctions import Junctions
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants

# Stretch of a connected line beyond the tee that may have the leak, and whose readings are used.
REACH_M = 12.0
# A tee is considered if the probability of the leak within reach of it exceeds this.
MIN_PROBABILITY = 0.02
# Distance put between the lines in the coupling filter, so that their couplings are independent.
_LINE_GAP_M = 1e6
# A tee this near an end of a line is at it.
_AT_END_M = 1.5
# A reading at the tee itself counts as on its branch: 0 means on the line.
_MIN_BRANCH_M = 0.001


@dataclass(frozen=True)
class ConnectedStretch:
    """A stretch of a connected line that may have the leak.

    Parameters
    ----------
    line : int
        Index of the connected line among the measurable ones.
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
    """A line with the connected lines near its leak.

    Parameters
    ----------
    problem : Problem
        The readings of the line and those within reach on connected lines.
    stretches : list of ConnectedStretch
        Stretches of connected lines that may have the leak.
    others : list of (int, Problem)
        Each connected line with its readings among those of `problem`.
    """

    problem: Problem
    stretches: list[ConnectedStretch]
    others: list[tuple[int, Problem]]


@dataclass(frozen=True)
class _Tee:
    """A tee: another line, and the chainage of the tee here and there."""

    line: int
    here_m: float
    there_m: float


class Branches:
    """The tees of a job, with the readings of its lines.

    Parameters
    ----------
    lines : Lines
    table : Table
    junctions : Junctions
    prior : PlacePrior
    constants : Constants
    """

    def __init__(
        self, lines: Lines, table: Table, junctions: Junctions, prior: PlacePrior,
        constants: Constants,
    ) -> None:  # fmt: skip
        self.lines, self.table, self.prior, self.constants = lines, table, prior, constants
        a, b = junctions.line_a, junctions.line_b
        at_a, at_b = junctions.chainage_a_m, junctions.chainage_b_m
        line, other = np.concatenate([a, b]), np.concatenate([b, a])
        here, there = np.concatenate([at_a, at_b]), np.concatenate([at_b, at_a])
        order = np.flatnonzero(line != other)
        order = order[np.lexsort((here[order], other[order], line[order]))]
        self._line, self._other = line[order], other[order]
        self._here, self._there = here[order], there[order]

    def neighbourhood(
        self, line: int, alone: Posterior, span: tuple[float, float]
    ) -> Neighbourhood | None:
        """Return a line with its connected lines; None if no tee is near a likely leak.

        Parameters
        ----------
        line : int
        alone : Posterior
            Posterior of the line from its own readings.
        span : tuple of float
            Stretch of the line whose readings are used.

        Returns
        -------
        Neighbourhood or None
        """
        tees = self._tees(line, alone)
        if not tees:
            return None
        parts = [self.table.rows(line, *span)]
        parts += [self.table.rows(t.line, t.there_m - REACH_M, t.there_m + REACH_M) for t in tees]
        stretches = [self._stretch(line, tee, tees, parts) for tee in tees]
        others = [(t.line, self.problem(t.line, self.table.cut(own, self.constants)))
                  for t, own in zip(tees, parts[1:], strict=True) if len(own)]  # fmt: skip
        return Neighbourhood(self._joint_problem(line, tees, parts), stretches, others)

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
            readings, self.constants.materials[material], depth_m, self.constants, positions
        )

    def _tees(self, line: int, found: Posterior) -> list[_Tee]:
        """Return for each connected line its tee with the most probability within reach."""
        first, last = np.searchsorted(self._line, [line, line + 1])
        best: dict[int, tuple[float, _Tee]] = {}
        for k in range(first, last):
            near = np.abs(found.chainage_m - self._here[k]) <= REACH_M
            mass = float(found.probability[near].sum())
            tee = _Tee(int(self._other[k]), float(self._here[k]), float(self._there[k]))
            if mass > max(MIN_PROBABILITY, best.get(tee.line, (0.0, tee))[0]):
                best[tee.line] = mass, tee
        return [tee for _, tee in best.values()]

    def _stretch(
        self, line: int, tee: _Tee, tees: Sequence[_Tee], parts: Sequence[Ints]
    ) -> ConnectedStretch:
        """Return one connected line; `line` and the other connected lines are its branches."""
        back = _Tee(line, tee.there_m, tee.here_m)
        further = [t for t in tees if t is not tee]
        problem = self._joint_problem(tee.line, [back], parts, further)
        length = float(self.lines.length_m[tee.line])
        begin, end = max(tee.there_m - REACH_M, 0.0), min(tee.there_m + REACH_M, length)
        age_ratio = float(self.prior.by_age(np.array([tee.line]), np.array([line]))[0])
        return ConnectedStretch(
            tee.line, problem, begin, end, lambda x: age_ratio + self.weight(tee.line)(x)
        )

    def weight(self, line: int) -> Callable[[Floats], Floats]:
        """Return the log of the prior density relative to its mean, as a function of chainage."""

        def log_weight(chainage_m: Floats) -> Floats:
            weight = self.prior.log_weight(line, chainage_m)
            return np.zeros_like(chainage_m) if weight is None else weight

        return log_weight

    def _joint_problem(
        self, axis: int, tees: Sequence[_Tee], parts: Sequence[Ints], further: Sequence[_Tee] = ()
    ) -> Problem:
        """Build the problem of a leak on the line `axis` from the readings of several lines.

        `tees` join their lines to the axis; `further` join theirs to the line of the first tee.
        """
        rows = np.concatenate(parts)
        line, chainage = self.table.line[rows], self.table.numbers["chainage_m"][rows]
        tee, branch = np.zeros(len(rows)), np.zeros(len(rows))
        for t in tees:
            on = line == t.line
            tee[on], branch[on] = t.here_m, np.abs(chainage[on] - t.there_m)
        for t in further:
            # The sound reaches it through the line between.
            on = line == t.line
            tee[on] = tees[0].here_m
            branch[on] = np.abs(chainage[on] - t.there_m) + abs(t.here_m - tees[0].there_m)
        branch = np.where(line == axis, 0.0, np.maximum(branch, _MIN_BRANCH_M))
        x, across = self._projected(axis, tee, line, chainage)
        own = line == axis
        positions = RelativePositions(
            np.where(own, chainage, x),
            np.where(own, 0.0, across),
            tee,
            branch,
            chainage + _LINE_GAP_M * np.unique(line, return_inverse=True)[1],
        )
        # The coupling filter needs ascending chainage, line after line.
        order = np.lexsort((self.table.codes["stop"][rows], positions.along_m))
        names = RelativePositions.__dataclass_fields__
        positions = RelativePositions(*(getattr(positions, name)[order] for name in names))
        readings = self.table.cut(rows[order], self.constants, one_line=False)
        return self.problem(axis, readings, positions)

    def _projected(
        self, axis: int, tee_m: Floats, line: Ints, chainage_m: Floats
    ) -> tuple[Floats, Floats]:
        """Project points on the axis, extended straight at the tee; return along and across."""
        routes, which = self.lines.routes, np.full(len(line), axis)
        points, tees = routes.points(line, chainage_m), routes.points(which, tee_m)
        away = shapely.get_coordinates(points) - shapely.get_coordinates(tees)
        azimuth = np.radians(routes.grid_azimuth_deg(which, tee_m))
        ahead = np.column_stack([np.sin(azimuth), np.cos(azimuth)])
        along = np.sum(away * ahead, axis=1)
        across = np.sqrt(np.maximum(np.sum(away**2, axis=1) - along**2, 0.0))
        return tee_m + along, across
