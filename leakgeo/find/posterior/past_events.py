"""What was there before: joints, leaks, repairs and digs, as bumps along the lines."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely

from leakgeo.arrays import texts
from leakgeo.find.survey.fittings import INDOORS, place_fittings
from leakgeo.job.model import NOT_SELECTED

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import geopandas as gpd

    from leakgeo.arrays import Floats, Ints, Objects
    from leakgeo.job.model import Job
    from leakgeo.route.junctions import Junctions
    from leakgeo.route.lines import Lines

# What happened further off than so many reaches says nothing of a line.
_FAR = 3.0
# A record without a date counts by half.
_UNDATED = 0.5
_DAYS = 365.25
# Kinds of the history layer, in the order of their priors.
RECORDED = ("past_leak", "repair", "excavation")


@dataclass(frozen=True, eq=False)
class Bumps:
    """Stretches around which a leak is likelier, dying away as a normal curve.

    Parameters
    ----------
    line : ndarray of int, shape (b,)
    begin_m, end_m : ndarray of float, shape (b,)
        The stretch on it; a place has both alike.
    reach_m : ndarray of float, shape (b,)
        Deviation of the curve beyond the stretch.
    more : ndarray of float, shape (b,)
        By how much more likely it is there, in times; 0.5 is half as much again.
    kind : ndarray of int, shape (b,)
        Which prior it is of.
    """

    line: Ints
    begin_m: Floats
    end_m: Floats
    reach_m: Floats
    more: Floats
    kind: Ints

    @classmethod
    def joined(cls, several: Sequence[Bumps | None]) -> Bumps:
        """Put several together, in order of line."""
        there = [b for b in several if b is not None]
        empty = [np.empty(0, dtype=np.int64), *(np.empty(0),) * 4, np.empty(0, dtype=np.int64)]
        stacked = [
            np.concatenate([none, *(getattr(b, name) for b in there)])
            for none, name in zip(empty, cls.__dataclass_fields__, strict=True)
        ]
        order = np.argsort(stacked[0], kind="stable")
        return cls(*(column[order] for column in stacked))


def joint_bumps(
    job: Job, lines: Lines, junctions: Junctions, weight: Mapping[str, float], kind: int
) -> Bumps:
    """Joints where lines meet, and fittings out of doors."""
    line, at = (
        [junctions.line_a, junctions.line_b],
        [junctions.chainage_a_m, junctions.chainage_b_m],
    )
    if job.contacts is not None and len(job.contacts):
        placed = place_fittings(job.contacts, lines, junctions)
        good = _good(placed["reason"]) & ~job.contacts["kind"].isin(INDOORS).to_numpy()
        line.append(placed.loc[good, "line"].to_numpy())
        at.append(placed.loc[good, "chainage_m"].to_numpy())
    where, place = np.concatenate(line).astype(np.int64), np.concatenate(at)
    # A tee of several lines, or a valve at it, is one joint of each of them.
    first = ~pd.DataFrame({"line": where, "at": place.round(1)}).duplicated().to_numpy()
    where, place = where[first], place[first]
    more = np.full(len(where), weight["times"] - 1.0)
    reach = np.full(len(where), weight["reach_m"])
    return Bumps(where, place, place, reach, more, np.full(len(where), kind))


def _good(reason: pd.Series[str]) -> pd.Series[bool]:
    """Rows without a fault; a line asked for by itself has the neighbours that it always has."""
    return reason.isna() | (reason == NOT_SELECTED)


def history_bumps(job: Job, lines: Lines, weight: Mapping[str, float], kind: int) -> Bumps | None:
    """Records of one kind near the lines; a record that names its line is of that line alone."""
    name = RECORDED[kind - 1]
    history = None if job.history is None else job.history[job.history["kind"] == name]
    if history is None or not _good(history["reason"]).any():
        return None
    history = history[_good(history["reason"])].reset_index(drop=True)
    record, line = _near(history, lines, _FAR * weight["reach_m"])
    shapes = history.geometry.to_numpy()[record]
    begin, end, offset = _stretches(shapes, line, lines)
    fade = _fade(job, history, weight["fade_years"])[record]
    reach = np.full(len(line), weight["reach_m"])
    more = (weight["times"] - 1.0) * fade * np.exp(-0.5 * (offset / reach) ** 2)
    return Bumps(line, begin, end, reach, more, np.full(len(line), kind))


def _near(history: gpd.GeoDataFrame, lines: Lines, far_m: float) -> tuple[Ints, Ints]:
    """Pairs of a record and a line that it may be of."""
    tree = shapely.STRtree(lines.routes.lines)
    record, line = tree.query(history.geometry.to_numpy(), predicate="dwithin", distance=far_m)
    named = texts(history, "line_id")[record]
    of_another = np.array([name is not None for name in named], dtype=bool)
    of_another &= lines.index_of(named) != line
    return record[~of_another], line[~of_another]


def _stretches(shapes: Objects, line: Ints, lines: Lines) -> tuple[Floats, Floats, Floats]:
    """Stretch of each line beside, or inside, a shape, and how far off the shape is."""
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
    """What is left of each record by its age, against the latest day that the job tells of."""
    latest = latest_day(job) if job.latest_day is None else job.latest_day
    age = (latest - _days(history, "date")).clip(0.0) / _DAYS
    return np.where(np.isfinite(age), np.exp(-np.nan_to_num(age) / years), _UNDATED)


def latest_day(job: Job) -> float:
    """Latest day that a job tells of, in days since 1970; NaN if it tells of none.

    Not today: one job gives one answer.
    """
    told = [_days(job.readings, "time"), _days(job.contacts, "time"), _days(job.history, "date")]
    known = np.concatenate(told)
    return float(np.nanmax(known)) if np.isfinite(known).any() else np.nan


def _days(layer: pd.DataFrame | None, column: str) -> Floats:
    """Days of a column since 1970, NaN where there is none."""
    if layer is None or column not in layer:
        return np.empty(0)
    time = pd.to_datetime(layer[column], utc=True, errors="coerce")
    return ((time - pd.Timestamp(0, tz="UTC")) / pd.Timedelta(days=1)).to_numpy(dtype=float)
