"""Lines that meet: the leak may be around the corner, and is heard from there as well."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from leakgeo.find.posterior.prior import Seen, pose

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from leakgeo.arrays import Floats, Ints
    from leakgeo.find.levels.readings import Readings, Table
    from leakgeo.find.posterior.place_prior import PlacePrior
    from leakgeo.find.posterior.posterior import Posterior
    from leakgeo.find.posterior.prior import Problem
    from leakgeo.route.junctions import Junctions
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants

# So far beyond a tee another line is looked at, and readings on it are listened to.
REACH_M = 12.0
# A tee matters where so much of the leak's probability lies within reach of it.
LEAST_PROBABILITY = 0.02
# Lines are so far apart, in metres, that their couplings have nothing to do with each other.
_APART_M = 1e6
# A reading right at a tee is still on its branch.
_LEAST_BRANCH_M = 0.001


@dataclass(frozen=True)
class Arm:
    """A stretch of another line that the leak may be on.

    Parameters
    ----------
    line : int
        Place of the line among the measurable ones.
    problem : Problem
        The same readings, seen from that line.
    begin_m, end_m : float
        Chainages on it.
    log_weight : callable
        Gives for chainages on it the logarithm of how much likelier a leak is there before
        listening than on an average metre of the line at hand.
    """

    line: int
    problem: Problem
    begin_m: float
    end_m: float
    log_weight: Callable[[Floats], Floats]


@dataclass(frozen=True)
class Around:
    """A line with those that meet it.

    Parameters
    ----------
    problem : Problem
        The line with the readings on others within reach.
    arms : list of Arm
        Where else the leak may be.
    others : list of (int, Problem)
        The lines that meet it, and of each those readings by themselves.
    """

    problem: Problem
    arms: list[Arm]
    others: list[tuple[int, Problem]]


@dataclass(frozen=True)
class _Tee:
    """Where a line meets the one at hand: chainage on this, and on the other."""

    line: int
    here_m: float
    there_m: float


class Branches:
    """The lines of a job where they meet, with their readings.

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

    def around(self, line: int, found: Posterior, span: tuple[float, float]) -> Around | None:
        """Pose a line anew with its neighbours; None where no tee is near where the leak may be.

        Parameters
        ----------
        line : int
        found : Posterior
            Of the line by itself.
        span : tuple of float
            Stretch of the line whose readings that is from.

        Returns
        -------
        Around or None
        """
        tees = self._tees(line, found)
        if not tees:
            return None
        parts = [self.table.rows(line, *span)]
        parts += [self.table.rows(t.line, t.there_m - REACH_M, t.there_m + REACH_M) for t in tees]
        arms = [self._arm(line, tee, tees, parts) for tee in tees]
        others = [(t.line, self.posed(t.line, self.table.cut(own, self.constants)))
                  for t, own in zip(tees, parts[1:], strict=True) if len(own)]  # fmt: skip
        return Around(self._posed(line, tees, parts), arms, others)

    def posed(self, line: int, readings: Readings, seen: Seen | None = None) -> Problem:
        """Pose readings for a leak on a line: its own, or, `seen` from it, those of others too."""
        material = self.constants.materials[self.lines.material[line]]
        return pose(readings, material, float(self.lines.depth_m[line]), self.constants, seen)

    def _tees(self, line: int, found: Posterior) -> list[_Tee]:
        """The tee with each other line that is nearest to where the leak may be."""
        first, last = np.searchsorted(self._line, [line, line + 1])
        best: dict[int, tuple[float, _Tee]] = {}
        for k in range(first, last):
            near = np.abs(found.chainage_m - self._here[k]) <= REACH_M
            mass = float(found.probability[near].sum())
            tee = _Tee(int(self._other[k]), float(self._here[k]), float(self._there[k]))
            if mass > max(LEAST_PROBABILITY, best.get(tee.line, (0.0, tee))[0]):
                best[tee.line] = mass, tee
        return [tee for _, tee in best.values()]

    def _arm(self, line: int, tee: _Tee, tees: Sequence[_Tee], parts: Sequence[Ints]) -> Arm:
        """One neighbour, from which the line at hand and the other neighbours are branches."""
        back = _Tee(line, tee.there_m, tee.here_m)
        problem = self._posed(tee.line, [back], parts, around=[t for t in tees if t is not tee])
        length = float(self.lines.length_m[tee.line])
        begin, end = max(tee.there_m - REACH_M, 0.0), min(tee.there_m + REACH_M, length)
        older = float(self.prior.by_age(np.array([tee.line]), np.array([line]))[0])
        return Arm(tee.line, problem, begin, end, lambda x: older + self.weight(tee.line)(x))

    def weight(self, line: int) -> Callable[[Floats], Floats]:
        """Logarithm of how much likelier a leak is at places of a line than on average there."""

        def log_weight(chainage_m: Floats) -> Floats:
            weight = self.prior.log_weight(line, chainage_m)
            return np.zeros_like(chainage_m) if weight is None else weight

        return log_weight

    def _posed(
        self, axis: int, tees: Sequence[_Tee], parts: Sequence[Ints], around: Sequence[_Tee] = ()
    ) -> Problem:
        rows = np.concatenate(parts)
        line, chainage = self.table.line[rows], self.table.numbers["chainage_m"][rows]
        tee, branch = np.zeros(len(rows)), np.zeros(len(rows))
        for t in tees:
            on = line == t.line
            tee[on], branch[on] = t.here_m, np.abs(chainage[on] - t.there_m)
        for t in around:
            # Its readings are heard through the line that both join.
            on = line == t.line
            tee[on] = tees[0].here_m
            branch[on] = np.abs(chainage[on] - t.there_m) + abs(t.here_m - tees[0].there_m)
        branch = np.where(line == axis, 0.0, np.maximum(branch, _LEAST_BRANCH_M))
        x, aside = self._projected(axis, tee, line, chainage)
        own = line == axis
        seen = Seen(
            np.where(own, chainage, x),
            np.where(own, 0.0, aside),
            tee,
            branch,
            chainage + _APART_M * np.unique(line, return_inverse=True)[1],
        )
        # The filter runs along each line in turn.
        order = np.lexsort((self.table.codes["stop"][rows], seen.along_m))
        seen = Seen(*(getattr(seen, name)[order] for name in Seen.__dataclass_fields__))
        readings = self.table.cut(rows[order], self.constants, one_line=False)
        return self.posed(axis, readings, seen)

    def _projected(
        self, axis: int, tee_m: Floats, line: Ints, chainage_m: Floats
    ) -> tuple[Floats, Floats]:
        """Where points of other lines are along and across the axis, prolonged at the tee."""
        routes, which = self.lines.routes, np.full(len(line), axis)
        points, tees = routes.points(line, chainage_m), routes.points(which, tee_m)
        away = shapely.get_coordinates(points) - shapely.get_coordinates(tees)
        azimuth = np.radians(routes.grid_azimuth_deg(which, tee_m))
        ahead = np.column_stack([np.sin(azimuth), np.cos(azimuth)])
        along = np.sum(away * ahead, axis=1)
        across = np.sqrt(np.maximum(np.sum(away**2, axis=1) - along**2, 0.0))
        return tee_m + along, across
