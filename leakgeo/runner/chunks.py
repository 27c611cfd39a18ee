"""Divide a job into chunks of lines with their surroundings; a small job is one chunk."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from leakgeo.arrays import texts
from leakgeo.find.advise.valve_tests import ValveClosures, valve_closures
from leakgeo.find.evidence.isolation_lines import IsolationFindings, isolation_findings
from leakgeo.find.locate.nearby_lines import REACH_M
from leakgeo.find.survey.fittings import fitting_chainages
from leakgeo.job.checks import IssueCollector
from leakgeo.job.latest_month import latest_month
from leakgeo.job.model import LAYERS, NOT_SELECTED
from leakgeo.job.reuse import Reuse
from leakgeo.job.window import AROUND_M, NEAR_M
from leakgeo.route.junctions import junctions_of
from leakgeo.route.lines import lines_of
from leakgeo.route.place import place_on_routes

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

    from leakgeo.arrays import Bools, Ints
    from leakgeo.faults import Fault
    from leakgeo.job.model import Job

#: Layers of which a chunk has the features near its lines.
AROUND = ("contacts", "valves", "utilities", "surfaces", "history", "dig_outcomes")


@dataclass(frozen=True, eq=False)
class Chunk:
    """Some lines of a job, as a separate job.

    Parameters
    ----------
    number : int
        From 0.
    job : Job
        The chunk's own lines, and their neighbours as lines that are not selected.
    rows : ndarray of int, shape (n,)
        Row of each reading in the whole job; -1 for readings of neighbours.
    own : frozenset of str
        ``line_id`` of the chunk's own lines, good or not.
    loose : bool
        Whether it has the readings of no line, and the lines that are not selected.
    """

    number: int
    job: Job
    rows: Ints
    own: frozenset[str]
    loose: bool = True


@dataclass(frozen=True)
class DefaultErrors:
    """Errors that are assumed where the data state none.

    Parameters
    ----------
    route_sd_m, reading_sd_m, tape_sd_m, join_gap_m : float
        Parameters of the steps, in metres.
    """

    route_sd_m: float
    reading_sd_m: float
    tape_sd_m: float
    join_gap_m: float


def with_assigned_lines(
    job: Job, errors: DefaultErrors, reported: Bools | None = None
) -> tuple[Job, tuple[Fault, ...]]:
    """Assign every reading without line_id to a line by position, among all routes.

    Readings that can't be assigned get a reason, and are returned as faults, or only those that are
    `reported`.
    """
    free = job.readings["line_id"].isna() & job.readings["reason"].isna()
    if not free.any():
        return job, ()
    own, lines = job.readings[free].reset_index(drop=True), lines_of(job, errors.route_sd_m)
    placed = place_on_routes(
        own, lines, reading_sd_m=errors.reading_sd_m, tape_sd_m=errors.tape_sd_m
    )
    readings, names = job.readings.copy(), texts(own, "reading_id")
    issues = IssueCollector("readings", names, None if reported is None else reported[free])
    lost = (placed["line"] < 0).to_numpy()
    why, name = texts(placed, "reason"), texts(placed, "line_id")
    name[lost], why[~lost] = None, None
    line_of, reason_of = texts(readings, "line_id"), texts(readings, "reason")
    line_of[free.to_numpy()], reason_of[free.to_numpy()] = name, why
    readings = readings.assign(line_id=line_of, reason=reason_of)
    code = np.array([None if reason is None else reason.code for reason in why], dtype=object)
    for one in dict.fromkeys(code[lost]):
        issues.report(code == one, why[code == one].tolist())
    return replace(job, readings=readings), tuple(issues.faults)


def with_valves(job: Job, errors: DefaultErrors, reuse: Reuse) -> Job:
    """Add the isolation tests by line: what closed valves isolate may span many chunks."""
    if all(table is None or table.empty for table in (job.isolation_tests, job.valves)):
        return replace(job, isolation=IsolationFindings(), valve_closures=ValveClosures())
    silent = replace(job, readings=job.readings.iloc[:0])
    layers = [getattr(job, name) for name in LAYERS if name != "readings"]
    made, may = reuse("valves", lambda *_: _valve_findings(silent, errors), *layers, repr(errors))
    return replace(job, isolation=made, valve_closures=may)


def _valve_findings(job: Job, errors: DefaultErrors) -> tuple[IsolationFindings, ValveClosures]:
    """Return what the isolation tests found, and which may be made; readings are no part of it."""
    lines = lines_of(job, errors.route_sd_m)
    junctions = junctions_of(lines, floor_m=errors.join_gap_m)
    fittings = fitting_chainages(job.contacts, lines, junctions)
    made = isolation_findings(job, lines, junctions, fittings)
    return made, valve_closures(job, lines, junctions, fittings, made)


@dataclass(frozen=True, eq=False)
class ChunkPlan:
    """A job and its division into chunks of lines, in the order of the routes.

    Parameters
    ----------
    job : Job
        Every good reading has a line_id, unless the job is one chunk.
    size : int
        Lines per chunk.
    errors : DefaultErrors
    faults : tuple of Fault
        Of readings that can't be assigned to a line; `profile` reports them in a whole job.
    rows : ndarray of int or None
        Rows of the routes of the lines to run; all that are selected if None.
    loose : bool
        Whether the first chunk has the readings of no line, and the lines that are not selected.
    reuse : Reuse
        Has what was made of routes and features that did not change.
    """

    job: Job
    size: int
    errors: DefaultErrors
    faults: tuple[Fault, ...] = ()
    rows: Ints | None = None
    loose: bool = True
    reuse: Reuse = field(default_factory=Reuse)

    @classmethod
    def of(
        cls, job: Job, size: int, errors: DefaultErrors, *, assign: bool = False,
        reuse: Reuse | None = None,
    ) -> ChunkPlan:  # fmt: skip
        """Plan the chunks of a job; of several chunks, first assign readings to lines.

        With `assign`, they are assigned even if the job is one chunk.
        """
        reuse = reuse or Reuse()
        whole = cls(job, size, errors, reuse=reuse)
        if whole.one_chunk and not assign:
            return whole
        latest = latest_month(job) if job.latest_month is None else job.latest_month
        job = with_valves(replace(job, latest_month=latest), errors, reuse)
        job, faults = with_assigned_lines(job, errors)
        return cls(job, size, errors, faults, reuse=reuse)

    def limited(self, rows: Ints, *, loose: bool) -> ChunkPlan:
        """Return the plan of some lines only; what was computed for all of them is kept."""
        plan = replace(self, rows=rows, loose=loose)
        for name in ("line_of_reading", "pairs", "tree"):
            if name in self.__dict__:
                plan.__dict__[name] = self.__dict__[name]
        return plan

    @property
    def one_chunk(self) -> bool:
        """Whether the job is small enough for one chunk."""
        return len(self.job.routes) <= self.size

    @property
    def numbers(self) -> range:
        """Numbers of the chunks."""
        if self.rows is None and self.one_chunk:
            return range(1)
        return range(max(-(-len(self._own_rows) // self.size), 1))

    def chunk(self, number: int) -> Chunk:
        """Return one chunk; the first also has the readings that belong to no line."""
        if self.rows is None and self.one_chunk:
            every = np.arange(len(self.job.readings))
            return Chunk(0, self.job, every, _names(self.job, is_selected(self.job)))
        # Readings of no line, or of one that is not selected, are placed once.
        return self.part(self.own(number), number, loose=self.loose and number == 0)

    def own(self, number: int) -> Bools:
        """Return whether each row of the routes is one of a chunk's own lines."""
        own = np.zeros(len(self.job.routes), dtype=bool)
        own[self._own_rows[number * self.size : (number + 1) * self.size]] = True
        return own

    def lines_of(self, number: int) -> frozenset[str]:
        """Return the ``line_id`` of the lines of one chunk."""
        return _names(self.job, self.own(number))

    def part(self, own: Bools, number: int = 0, *, loose: bool = False) -> Chunk:
        """Return a chunk of any lines, with their neighbours and surroundings.

        Parameters
        ----------
        own : ndarray of bool, shape (r,)
            Whether each row of the routes is one of the chunk's own lines.
        number : int
            Number of the chunk.
        loose : bool
            Whether the chunk has the readings of no line, and the lines that are not selected.
        """
        around = neighbours(self.job, own, self.pairs, self.tree)
        if loose:
            around |= ~is_selected(self.job)
        heard = own | beside(self.job, own, self.pairs, self.tree)
        return _chunk(self.job, number, own, around, heard, self.line_of_reading, loose)

    @property
    def _own_rows(self) -> Ints:
        return self.selected_rows if self.rows is None else self.rows

    @cached_property
    def selected_rows(self) -> Ints:
        """Rows of the selected routes."""
        return np.flatnonzero(is_selected(self.job))

    @cached_property
    def line_of_reading(self) -> Ints:
        """Row of the route of each reading; -1 if it has none."""
        return self.rows_of(self.job.readings["line_id"])

    def rows_of(self, names: pd.Series[Any]) -> Ints:
        """Return the row of the route of each ``line_id``; -1 if it is none."""
        first = self.job.routes.drop_duplicates("line_id").reset_index()[["index", "line_id"]]
        row_of = first.dropna().set_index("line_id")["index"]
        return names.map(row_of).fillna(-1).to_numpy(dtype=np.int64)

    @cached_property
    def pairs(self) -> tuple[Ints, Ints]:
        """Rows of each two routes that meet, in both orders."""
        given = self.errors.route_sd_m, self.errors.join_gap_m
        return self.reuse("pairs", lambda *_: self._pairs(), self.job.routes, *given)

    def _pairs(self) -> tuple[Ints, Ints]:
        lines = lines_of(self.job, self.errors.route_sd_m)
        met = junctions_of(lines, floor_m=self.errors.join_gap_m)
        names = self.job.routes["line_id"].to_numpy(dtype=object)
        row = {name: i for i, name in reversed(list(enumerate(names)))}
        at = np.array([row[name] for name in lines.table.index], dtype=np.int64)
        a, b = at[met.line_a], at[met.line_b]
        return np.concatenate([a, b]), np.concatenate([b, a])

    @cached_property
    def tree(self) -> shapely.STRtree:
        """Spatial index of all routes."""
        return self.reuse(
            "tree", lambda routes: shapely.STRtree(routes.geometry.to_numpy()), self.job.routes
        )


def is_selected(job: Job) -> Bools:
    """Return whether each route of a job is selected, good or not."""
    return np.asarray(job.routes["reason"].to_numpy(dtype=object) != NOT_SELECTED)


def _names(job: Job, rows: Bools) -> frozenset[str]:
    """Return the ``line_id`` of some rows of the routes."""
    return frozenset(job.routes.loc[rows, "line_id"].dropna().astype(str))


def neighbours(job: Job, own: Bools, pairs: tuple[Ints, Ints], tree: shapely.STRtree) -> Bools:
    """Return whether each route is near a line of the chunk, joins one, or joins such a route."""
    within = own.copy()
    shapes = job.routes.geometry.to_numpy()[own]
    near = tree.query(shapes[~shapely.is_missing(shapes)], predicate="dwithin", distance=NEAR_M)[1]
    within[near] = True
    for _ in range(2):
        within[pairs[1][within[pairs[0]]]] = True
    return within & ~own


def beside(job: Job, own: Bools, pairs: tuple[Ints, Ints], tree: shapely.STRtree) -> Bools:
    """Return whether each route joins a line of the chunk, or comes so near that both are heard.

    Only their readings may be weighed with those of the chunk's lines.
    """
    beside = np.zeros(len(own), dtype=bool)
    shapes = job.routes.geometry.to_numpy()[own]
    shapes = shapes[~shapely.is_missing(shapes)]
    beside[tree.query(shapes, predicate="dwithin", distance=REACH_M)[1]] = True
    beside[pairs[1][own[pairs[0]]]] = True
    return beside


def _chunk(
    job: Job, number: int, own: Bools, around: Bools, heard: Bools, line: Ints, loose: bool
) -> Chunk:
    routes = job.routes[own | around].copy()
    routes["reason"] = _not_selected(routes["reason"], around[own | around])
    of_own, of_around = (line >= 0) & own[line], (line >= 0) & (around & heard)[line]
    if loose:
        of_own |= (line < 0) | ~is_selected(job)[line]
    taken = of_own | of_around
    readings = job.readings[taken].reset_index(drop=True)
    readings["reason"] = _not_selected(readings["reason"], ~of_own[taken])
    rows = np.where(of_own[taken], np.flatnonzero(taken), -1)
    # A hold depends on whether the whole job has utilities, near these lines or not.
    counts = {"readings": len(readings)}
    if job.utilities is not None:
        counts["utilities"] = len(job.utilities)
    part = replace(job, faults=(), counts=counts)
    part = replace(part, routes=routes.reset_index(drop=True), readings=readings)
    if job.valve_closures is not None:
        of_lines = job.valve_closures.of_lines(texts(routes[own[own | around]], "line_id"))
        part = replace(part, valve_closures=of_lines)
    return Chunk(number, with_surroundings(part), rows, _names(job, own), loose)


def with_surroundings(job: Job) -> Job:
    """Keep the features of other layers near the routes, and those without geometry."""
    shapes = job.routes.geometry.to_numpy()
    tree = shapely.STRtree(shapes[~shapely.is_missing(shapes)])
    for name in AROUND:
        layer: gpd.GeoDataFrame | None = getattr(job, name)
        if layer is not None:
            own = layer.geometry.to_numpy()
            near = shapely.is_missing(own)
            near[tree.query(own, predicate="dwithin", distance=AROUND_M)[0]] = True
            kept: Any = {name: layer[near].reset_index(drop=True)}
            job = replace(job, **kept)
    return job


def _not_selected(reason: pd.Series[Any], rows: Bools) -> pd.Series[Any]:
    """Return reasons with NOT_SELECTED for those of the rows that are good."""
    return reason.mask(rows & reason.isna().to_numpy(), NOT_SELECTED)
