"""Measurable lines of a job, and the reasons why other lines are rejected."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

import numpy as np
import pandas as pd
import shapely
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from leakgeo.arrays import floats, texts
from leakgeo.errors import ContractError
from leakgeo.faults import Fault
from leakgeo.job.checks import MERGED, identical_row
from leakgeo.job.model import NOT_SELECTED, without_fault
from leakgeo.reason import Reason
from leakgeo.route.chainage import RouteSet

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from leakgeo.arrays import Bools, Floats, Ints, Objects
    from leakgeo.job.model import Job
    from leakgeo.result import Result

# Parts touch where their ends are nearer than this: far below any trace error.
TOUCH_M = 0.05
# Lines of the jobs that steps work on, by trace error: nearly all steps need them.
_KEPT: WeakKeyDictionary[Job, dict[float, Lines]] = WeakKeyDictionary()


@dataclass(frozen=True, eq=False)
class Lines:
    """Measurable lines of a job.

    Parameters
    ----------
    table : pandas.DataFrame
        Columns of ``routes`` for the measurable lines, indexed by ``line_id``.
    routes : RouteSet
        In the order of `table`.
    rejected : pandas.Series
        Reason why each other route with an identifier is left out, indexed by ``line_id``.
    trace_sd_m : ndarray of float, shape (l,)
        1-sigma trace error of each measurable line.
    faults : tuple of Fault
    """

    table: pd.DataFrame
    routes: RouteSet
    rejected: pd.Series[str]
    trace_sd_m: Floats
    faults: tuple[Fault, ...]

    @cached_property
    def length_m(self) -> Floats:
        """Ground length of each line, shape (l,)."""
        return self.routes.length_m

    @cached_property
    def depth_m(self) -> Floats:
        """Cover of each line, NaN where unknown, shape (l,)."""
        return floats(self.table, "depth_m")

    @cached_property
    def material(self) -> list[str]:
        """Material code of each line, ``unknown`` where none is given."""
        return [name or "unknown" for name in texts(self.table, "material")]

    @property
    def selected(self) -> Bools:
        """Whether each measurable line is among the selected lines, shape (l,)."""
        return np.asarray(self.table["reason"].isna(), dtype=bool)

    def repair_day(self, line: int) -> str:
        """Return the day in UTC on which the leak of a line was repaired, ``""`` if never."""
        if "repaired_time" not in self.table:
            return ""
        time = self.table["repaired_time"].iloc[line]
        return "" if pd.isna(time) else f"{time:%Y-%m-%d}"

    def index_of(self, line_id: ArrayLike) -> Ints:
        """Return the row of each line in the table, -1 where it is missing."""
        wanted = pd.Index(np.asarray(line_id, dtype=object))
        return np.asarray(self.table.index.get_indexer(wanted), dtype=np.int64)


def lines_in(result: Result) -> Lines:
    """Join and measure the lines of a result's job, with the trace error that its profile used.

    Parameters
    ----------
    result : Result
        With the layer ``profile``: a step that calls this declares it in its ``needs``.

    Returns
    -------
    Lines

    Raises
    ------
    ContractError
        If the step ``profile`` has not run on the result.
    """
    if "profile" not in result.parameters:
        raise ContractError(
            'The step profile has not run. A step that works with lines needs "profile" in needs.'
        )
    return kept_lines_of(result.job, float(str(result.parameters["profile"]["route_sd_m"])))


def kept_lines_of(job: Job, route_sd_m: float) -> Lines:
    """Return what `lines_of` does, the same object for the same job as long as that is in use."""
    known = _KEPT.setdefault(job, {})
    if route_sd_m not in known:
        known[route_sd_m] = lines_of(job, route_sd_m)
    return known[route_sd_m]


def lines_of(job: Job, route_sd_m: float) -> Lines:
    """Join the parts of the job's valid routes, and measure them.

    Parameters
    ----------
    job : Job
    route_sd_m : float
        Trace error of routes without ``position_sd_m`` (1-sigma).

    Returns
    -------
    Lines
        Routes whose parts leave a gap are rejected with a fault.
    """
    # Lines that are not selected keep their readings: they are measured here, and left out later.
    why = job.routes["reason"]
    good = job.routes[without_fault(why)]
    joined, gap = join_parts(good.geometry.to_numpy())
    whole = np.array([line is not None for line in joined], dtype=bool)
    table = pd.DataFrame(good.drop(columns="geometry")[whole]).set_index("line_id")
    faults = tuple(
        Fault("routes", _not_joined(shape, width), str(line_id), "geometry", line_id=str(line_id))
        for line_id, shape, width in zip(
            good["line_id"][~whole], good.geometry[~whole], gap[~whole], strict=True
        )
    )
    # The row that a copy repeats, or that another is merged into, stands for both.
    bad = why.notna() & ~why.isin([NOT_SELECTED, MERGED, identical_row("line_id")])
    rejected = job.routes.loc[bad, ["line_id", "reason"]].dropna()
    broken_rows = [(f.feature, f.reason) for f in faults]
    broken = pd.DataFrame(broken_rows, columns=["line_id", "reason"])
    rejections = (
        pd.concat([rejected, broken]).drop_duplicates("line_id").set_index("line_id")["reason"]
    )
    trace_sd = table["position_sd_m"].fillna(route_sd_m).to_numpy(dtype=float)
    return Lines(table, RouteSet.of(joined[whole], job.crs), rejections, trace_sd, faults)


def _not_joined(shape: shapely.Geometry, gap_m: float) -> Reason:
    """Return the reason why the parts of a route make no line: a gap or a branch."""
    parts = shapely.get_parts(shape)
    touching = shapely.STRtree(parts).query(parts, predicate="dwithin", distance=TOUCH_M)
    if connected_components(csr_array((np.ones(touching.shape[1]), touching)))[0] == 1:
        return Reason("route_branches")
    return Reason("route_parted", gap_m=gap_m)


def join_parts(geometry: Objects) -> tuple[Objects, Floats]:
    """Join the parts of each route where their ends meet, keeping the first vertex first.

    Parameters
    ----------
    geometry : ndarray of LineString or MultiLineString, shape (n,)
        In a metre CRS; Z is dropped.

    Returns
    -------
    lines : ndarray of LineString or None, shape (n,)
        None where the parts leave a gap.
    gap_m : ndarray of float, shape (n,)
        Narrowest gap between the parts, 0 where they join.

    Examples
    --------
    >>> from shapely import from_wkt
    >>> lines, gap = join_parts(np.array([from_wkt("MULTILINESTRING((0 0,1 0),(2 0,1 0))")]))
    >>> lines[0].wkt, float(gap[0])
    ('LINESTRING (0 0, 1 0, 2 0)', 0.0)
    """
    flat = shapely.force_2d(np.asarray(geometry, dtype=object))
    single = shapely.get_num_geometries(flat) == 1
    lines = np.full(len(flat), None, dtype=object)
    lines[single] = shapely.get_geometry(flat[single], 0)
    gap = np.zeros(len(flat))
    for i in np.flatnonzero(~single):
        lines[i], gap[i] = _join(list(shapely.get_parts(flat[i])))
    return lines, gap


def _join(parts: list[shapely.LineString]) -> tuple[shapely.LineString | None, float]:
    """Append parts to the first, nearest first, at either end and in either direction."""
    chain = shapely.get_coordinates(parts[0])
    rest: list[Floats] = [shapely.get_coordinates(p) for p in parts[1:]]
    while rest:
        distance, at_end, which, flip = min(_end_pairs(chain, rest))
        if distance > TOUCH_M:
            return None, distance
        piece = rest.pop(which)
        piece = piece[::-1] if flip else piece
        chain = np.vstack([chain, piece[1:]] if at_end else [piece[:-1], chain])
    return shapely.LineString(chain), 0.0


def _end_pairs(chain: Floats, rest: list[Floats]) -> list[tuple[float, bool, int, bool]]:
    """List distance, at the chain's end or not, index of the part, and whether it is reversed."""
    ways = [(True, False, -1, 0), (True, True, -1, -1), (False, False, 0, -1), (False, True, 0, 0)]
    return [
        (float(np.hypot(*(chain[mine] - part[its]))), at_end, which, flip)
        for which, part in enumerate(rest)
        for at_end, flip, mine, its in ways
    ]
