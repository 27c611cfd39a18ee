"""Which district reads a row: that of its line, of the nearest line, or all that lie around it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from leakgeo.job.window import AROUND_M
from leakgeo.runner.chunks import beside, neighbours

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.arrays import Bools, Ints, Objects
    from leakgeo.runner.chunks import ChunkPlan

# Datums and arcs displace a feature by less than this between its CRS and the local one.
_MARGIN_M = 10.0


def in_space_order(plan: ChunkPlan) -> ChunkPlan:
    """Return a plan whose chunks are districts: lines that lie together.

    The lines are in the order of a Hilbert curve through the middles of their bounds.
    """
    shapes = gpd.GeoSeries(plan.job.routes.geometry.to_numpy()[plan.selected_rows])
    there = (~(shapes.isna() | shapes.is_empty)).to_numpy()
    place = np.zeros(len(shapes), dtype=np.int64)
    if there.any():
        place[there] = gpd.GeoSeries(shapes[there]).hilbert_distance().to_numpy()
    rows = plan.selected_rows[np.argsort(place, kind="stable")]
    return plan.limited(rows, loose=True)


@dataclass(frozen=True, eq=False)
class Districts:
    """Where the rows of large layers go.

    Parameters
    ----------
    plan : ChunkPlan
        Of the whole job without these layers; each chunk is a district.
    """

    plan: ChunkPlan

    @cached_property
    def _of_routes(self) -> tuple[Ints, Ints, Ints, Ints, Ints]:
        """District of each route, and pairs of routes and districts: heard there, and around."""
        plan, count = self.plan, len(self.plan.job.routes)
        home = np.full(count, -1, dtype=np.int64)
        heard, around = [], []
        for number in plan.numbers:
            own = plan.own(number)
            home[own] = number
            near = neighbours(plan.job, own, plan.pairs, plan.tree)
            listened = np.flatnonzero(near & beside(plan.job, own, plan.pairs, plan.tree))
            heard.append(np.column_stack([listened, np.full(len(listened), number)]))
            there = np.flatnonzero(own | near)
            around.append(np.column_stack([there, np.full(len(there), number)]))
        pairs = [np.concatenate(each) for each in (heard, around)]
        sorted_ones = [each[np.argsort(each[:, 0], kind="stable")] for each in pairs]
        (a, b), (c, d) = (each.T for each in sorted_ones)
        return home, a, b, c, d

    def heard_in(self, number: int) -> frozenset[str]:
        """Return the lines beside a district whose readings it reads."""
        _, route, district, _, _ = self._of_routes
        names = self.plan.job.routes["line_id"].to_numpy(dtype=object)
        return frozenset(str(name) for name in names[route[district == number]])

    def of_readings(self, names: pd.Series[str], shapes: Objects) -> tuple[Ints, Ints, Bools]:
        """Return rows of readings, the districts that read them, and whether they are its own.

        Parameters
        ----------
        names : pandas.Series
            ``line_id`` of each reading; null where it has none.
        shapes : ndarray of shapely.Geometry, shape (n,)
            In the local CRS; None where a reading has no position.
        """
        home, heard, listens, _, _ = self._of_routes
        route = self.plan.rows_of(names)
        placed = self._nearest(shapes, np.where(names.isna(), -1, route))
        own = np.where(route >= 0, home[route], placed)
        own = np.where(own >= 0, own, 0)
        rows, districts = [np.arange(len(own))], [own]
        for row, district in (
            _joined(route, heard, listens), self._free_near(names.isna().to_numpy(), shapes)
        ):  # fmt: skip
            other = district != own[row]
            rows.append(row[other])
            districts.append(district[other])
        return _in_order(rows, districts, len(own))

    def lines_of(self, names: pd.Series[str], shapes: Objects) -> list[str]:
        """Return the line of each reading: that it names, else the nearest."""
        known = names.dropna().tolist()
        free = np.flatnonzero(names.isna().to_numpy() & _drawn(shapes))
        if not len(free):
            return known
        routes = self.plan.tree.query_nearest(shapes[free], all_matches=False)[1]
        lines = self.plan.job.routes["line_id"].to_numpy(dtype=object)[routes]
        return [*known, *(str(name) for name in lines)]

    def of_features(self, shapes: Objects) -> tuple[Ints, Ints, Bools]:
        """Return rows of features, the districts they lie around, and whether they are its own.

        Parameters
        ----------
        shapes : ndarray of shapely.Geometry, shape (n,)
            In the local CRS; None where a feature has none.
        """
        _, _, _, route, district = self._of_routes
        feature, near = self._within(shapes, AROUND_M + _MARGIN_M)
        row, number = _joined(near, route, district)
        pairs = np.unique(np.column_stack([feature[row], number]), axis=0)
        found, first = np.unique(pairs[:, 0], return_index=True)
        own = np.zeros(len(shapes), dtype=np.int64)
        own[found] = pairs[first, 1]
        other = pairs[pairs[:, 1] != own[pairs[:, 0]]]
        every = [np.arange(len(shapes)), other[:, 0]], [own, other[:, 1]]
        return _in_order(*every, len(shapes))

    def _nearest(self, shapes: Objects, known: Ints) -> Ints:
        """Return the district of the line nearest to each position, where no line is known."""
        home, at = self._of_routes[0], np.full(len(shapes), -1, dtype=np.int64)
        free = np.flatnonzero((known < 0) & _drawn(shapes))
        if len(free):
            found, route = self.plan.tree.query_nearest(shapes[free], all_matches=False)
            at[free[found]] = home[route]
        return at

    def _free_near(self, free: Bools, shapes: Objects) -> tuple[Ints, Ints]:
        """Return readings without a line, and the districts in whose reach they lie."""
        at = np.flatnonzero(free)
        feature, route = self._within(shapes[at], AROUND_M)
        district = self._of_routes[0][route]
        pairs = np.unique(np.column_stack([at[feature], district])[district >= 0], axis=0)
        return pairs[:, 0], pairs[:, 1]

    def _within(self, shapes: Objects, reach_m: float) -> tuple[Ints, Ints]:
        """Return pairs of shapes, by the box around them, and routes within a distance."""
        at = np.flatnonzero(_drawn(shapes))
        boxes = shapely.envelope(shapes[at])
        found, route = self.plan.tree.query(boxes, predicate="dwithin", distance=reach_m)
        return at[found], route


def _drawn(shapes: Objects) -> Bools:
    """Return which shapes have a place: numbers of which all are finite."""
    there = ~(shapely.is_missing(shapes) | shapely.is_empty(shapes))
    # The bounds of nothing are not finite.
    return np.asarray(there & np.isfinite(shapely.bounds(shapes)).all(axis=1))


def _joined(route: Ints, by: Ints, district: Ints) -> tuple[Ints, Ints]:
    """Return the places in `route`, and the districts that each is joined to; `by` is sorted."""
    begin, end = np.searchsorted(by, route, "left"), np.searchsorted(by, route, "right")
    count = np.where(route >= 0, end - begin, 0)
    place = np.repeat(np.arange(len(route)), count)
    turn = np.arange(len(place)) - np.repeat(np.cumsum(count) - count, count)
    return place, district[np.repeat(begin, count) + turn]


def _in_order(
    rows: Sequence[Ints], districts: Sequence[Ints], count: int
) -> tuple[Ints, Ints, Bools]:
    """Return pairs of rows and districts by the row; the first pair of each row is its own."""
    row, district = np.concatenate(rows), np.concatenate(districts)
    own = np.arange(len(row)) < count
    pairs = pd.DataFrame({"row": row, "district": district, "own": own})
    pairs = pairs.drop_duplicates(["row", "district"]).sort_values("row", kind="stable")
    return pairs["row"].to_numpy(), pairs["district"].to_numpy(), pairs["own"].to_numpy()
