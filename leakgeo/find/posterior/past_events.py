"""Prior kernels along the lines: joints and fittings, past leaks, repairs and excavations."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely

from leakgeo.arrays import texts
from leakgeo.find.survey.fittings import INDOORS, place_fittings
from leakgeo.job.latest_month import days_of, latest_month
from leakgeo.job.model import without_fault

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import geopandas as gpd

    from leakgeo.arrays import Floats, Ints, Objects
    from leakgeo.job.model import Job
    from leakgeo.route.junctions import Junctions
    from leakgeo.route.lines import Lines

# A record further from a line than this many widths of its kernel is not used.
_MAX_DISTANCE = 3.0
# Weight of a record without a date.
_UNDATED_WEIGHT = 0.5
_DAYS = 365.25
# Kinds of the history layer, in the order of their priors.
RECORDED = ("past_leak", "repair", "excavation")


@dataclass(frozen=True, eq=False)
class PriorKernels:
    """Stretches where a leak is likelier before listening, with Gaussian flanks.

    Parameters
    ----------
    line : ndarray of int, shape (b,)
    begin_m, end_m : ndarray of float, shape (b,)
        Ends of the stretch, equal for a point.
    reach_m : ndarray of float, shape (b,)
        Standard deviation of the flanks.
    excess : ndarray of float, shape (b,)
        Relative increase of the density in the stretch; 0.5 is 50 %.
    kind : ndarray of int, shape (b,)
        Index of the prior in `place_prior.KINDS`.
    """

    line: Ints
    begin_m: Floats
    end_m: Floats
    reach_m: Floats
    excess: Floats
    kind: Ints

    @classmethod
    def concatenated(cls, parts: Sequence[PriorKernels | None]) -> PriorKernels:
        """Return the kernels of all parts, in order of line."""
        there = [part for part in parts if part is not None]
        empty = [np.empty(0, dtype=np.int64), *(np.empty(0),) * 4, np.empty(0, dtype=np.int64)]
        stacked = [
            np.concatenate([none, *(getattr(part, name) for part in there)])
            for none, name in zip(empty, cls.__dataclass_fields__, strict=True)
        ]
        order = np.argsort(stacked[0], kind="stable")
        return cls(*(column[order] for column in stacked))


def joint_kernels(
    job: Job, lines: Lines, junctions: Junctions, weight: Mapping[str, float], kind: int
) -> PriorKernels:
    """Return the kernels of the tees of the lines and of the fittings outdoors."""
    line, at = (
        [junctions.line_a, junctions.line_b],
        [junctions.chainage_a_m, junctions.chainage_b_m],
    )
    if job.contacts is not None and len(job.contacts):
        placed = place_fittings(job.contacts, lines, junctions)
        usable = without_fault(placed["reason"]) & ~job.contacts["kind"].isin(INDOORS).to_numpy()
        line.append(placed.loc[usable, "line"].to_numpy())
        at.append(placed.loc[usable, "chainage_m"].to_numpy())
    where, place = np.concatenate(line).astype(np.int64), np.concatenate(at)
    # A tee, with or without a valve at it, is one joint of each of its lines.
    first = ~pd.DataFrame({"line": where, "at": place.round(1)}).duplicated().to_numpy()
    where, place = where[first], place[first]
    excess = np.full(len(where), weight["times"] - 1.0)
    reach = np.full(len(where), weight["reach_m"])
    return PriorKernels(where, place, place, reach, excess, np.full(len(where), kind))


def history_kernels(
    job: Job, lines: Lines, weight: Mapping[str, float], kind: int
) -> PriorKernels | None:
    """Return the kernels of the records of one kind; a ``line_id`` ties a record to that line."""
    name = RECORDED[kind - 1]
    history = None if job.history is None else job.history[job.history["kind"] == name]
    if history is None or not without_fault(history["reason"]).any():
        return None
    history = history[without_fault(history["reason"])].reset_index(drop=True)
    record, line = _near(history, lines, _MAX_DISTANCE * weight["reach_m"])
    shapes = history.geometry.to_numpy()[record]
    begin, end, offset = _stretches(shapes, line, lines)
    fade = _fade(job, history, weight["fade_years"])[record]
    reach = np.full(len(line), weight["reach_m"])
    excess = (weight["times"] - 1.0) * fade * np.exp(-0.5 * (offset / reach) ** 2)
    return PriorKernels(line, begin, end, reach, excess, np.full(len(line), kind))


def _near(history: gpd.GeoDataFrame, lines: Lines, far_m: float) -> tuple[Ints, Ints]:
    """Return pairs of a record and a line that it may belong to."""
    tree = shapely.STRtree(lines.routes.lines)
    record, line = tree.query(history.geometry.to_numpy(), predicate="dwithin", distance=far_m)
    named = texts(history, "line_id")[record]
    of_another = np.array([name is not None for name in named], dtype=bool)
    of_another &= lines.index_of(named) != line
    return record[~of_another], line[~of_another]


def _stretches(shapes: Objects, line: Ints, lines: Lines) -> tuple[Floats, Floats, Floats]:
    """Return begin and end of each line nearest to, or inside, a shape, and their distance."""
    drawn = lines.routes.lines[line]
    offset = shapely.distance(drawn, shapes)
    nearest = shapely.get_point(shapely.shortest_line(drawn, shapes), 0)
    begin, _ = lines.routes.locate(np.asarray(nearest, dtype=object), line)
    end = begin.copy()
    inside = np.flatnonzero((offset == 0.0) & (shapely.get_dimensions(shapes) == 2))
    xy, owner = shapely.get_coordinates(
        shapely.intersection(drawn[inside], shapes[inside]), return_index=True
    )
    corners = np.asarray(shapely.points(xy), dtype=object)
    at, _ = lines.routes.locate(corners, line[inside[owner]])
    np.minimum.at(begin, inside[owner], at)
    np.maximum.at(end, inside[owner], at)
    return begin, end, offset


def _fade(job: Job, history: gpd.GeoDataFrame, years: float) -> Floats:
    """Return the weight of each record by its age on the latest day of the job."""
    latest = latest_month(job) if job.latest_month is None else job.latest_month
    age = (latest - days_of(history, "date")).clip(0.0) / _DAYS
    return np.where(np.isfinite(age), np.exp(-np.nan_to_num(age) / years), _UNDATED_WEIGHT)
