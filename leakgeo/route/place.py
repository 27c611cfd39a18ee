"""Put readings on their routes: line, chainage, error, and why a reading has none."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.route.assign import AMBIGUOUS, REACH_SD, assign_lines
from leakgeo.route.fuse import fuse

if TYPE_CHECKING:
    from collections.abc import Callable

    import geopandas as gpd
    from numpy.typing import NDArray

    from leakgeo.route.lines import Lines

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]

# Beyond its errors, how far a reading may stand off the pipe: nobody listens from further away.
ASIDE_M = 1.0


def place_on_routes(
    points: gpd.GeoDataFrame, lines: Lines, *, reading_sd_m: float, tape_sd_m: float
) -> pd.DataFrame:
    """Give each point a line, a chainage and its error.

    Parameters
    ----------
    points : geopandas.GeoDataFrame
        ``readings`` of a job, or a layer like it, in the job's CRS; ``chainage_m``,
        ``chainage_sd_m``, ``position_sd_m`` are used where present.
    lines : Lines
    reading_sd_m, tape_sd_m : float
        Errors where a reading, a tape gives none (1-sigma).

    Returns
    -------
    pandas.DataFrame
        Index of `points`; ``line`` (place in `lines`, -1 for none), ``line_id``, ``chainage_m``,
        ``chainage_sd_m``, ``offset_m``, ``tape_weight``, ``reason``.
    """
    reason = points["reason"].astype(object).where(points["reason"].notna(), None).copy()
    trace_sd = lines.trace_sd_m
    sd = _column(points, "position_sd_m").fillna(reading_sd_m).clip(lower=1e-3).to_numpy()
    line = _which_line(points, lines, sd, trace_sd, reason)
    placed = _nowhere(points, line, lines)
    on = np.flatnonzero(line >= 0)
    if len(on):
        _measure(points, lines, placed, on, sd, trace_sd, tape_sd_m, reason)
    placed["reason"] = reason
    return placed


def _column(points: pd.DataFrame, name: str) -> pd.Series[float]:
    if name in points:
        return points[name].astype(float)
    return pd.Series(np.nan, index=points.index)


def _nowhere(points: pd.DataFrame, line: Ints, lines: Lines) -> pd.DataFrame:
    names = np.append(lines.table.index.to_numpy(dtype=object), None)
    given = points["line_id"].astype(object).where(points["line_id"].notna(), None)
    columns = dict.fromkeys(("chainage_m", "chainage_sd_m", "offset_m"), np.nan)
    placed = pd.DataFrame({"line": line, **columns, "tape_weight": 0.0}, index=points.index)
    placed.insert(1, "line_id", np.where(line >= 0, names[line], given))
    return placed


def _which_line(
    points: gpd.GeoDataFrame, lines: Lines, sd: Floats, trace_sd: Floats, reason: pd.Series[str]
) -> Ints:
    """Take the line that is named; assign by position where none is."""
    line = lines.index_of(points["line_id"].astype(object))
    line[reason.notna().to_numpy()] = -1
    named = points["line_id"].notna() & reason.isna()
    _say(
        reason, named.to_numpy() & (line < 0), lambda i: _why_not(points["line_id"].iloc[i], lines)
    )
    free = np.flatnonzero((points["line_id"].isna() & reason.isna()).to_numpy())
    if len(free):
        found = assign_lines(
            points.geometry.to_numpy()[free], sd[free], lines.routes.lines, trace_sd
        )
        line[free] = np.maximum(found, -1)
        _say(reason, _at(free[found == AMBIGUOUS], len(line)), lambda _: _TIED)
        _say(reason, _at(free[found == -1], len(line)), lambda _: _OFF_ALL)
    return line


_TIED = "has no line_id, and its position can't tell between two or more routes"
_OFF_ALL = "has no line_id, and is off every route by more than its error"


def _why_not(line_id: str, lines: Lines) -> str:
    why = lines.rejected.get(line_id)
    return f"its line {line_id} is rejected: {why}" if why else f"no route has line_id {line_id}"


def _at(places: Ints, size: int) -> NDArray[np.bool_]:
    mask = np.zeros(size, dtype=bool)
    mask[places] = True
    return mask


def _say(reason: pd.Series[str], where: NDArray[np.bool_], words: Callable[[int], str]) -> None:
    for i in np.flatnonzero(where):
        reason.iloc[i] = words(int(i))


def _measure(
    points: gpd.GeoDataFrame, lines: Lines, placed: pd.DataFrame, on: Ints, sd: Floats,
    trace_sd: Floats, tape_sd_m: float, reason: pd.Series[str],
) -> None:  # fmt: skip
    """Fill in chainage, its error and the offset of the points that have a line."""
    which = placed["line"].to_numpy()[on]
    satellite, offset = lines.routes.locate(points.geometry.to_numpy()[on], which)
    tape = _column(points, "chainage_m").to_numpy()[on]
    tape_sd = _column(points, "chainage_sd_m").fillna(tape_sd_m).clip(lower=1e-3).to_numpy()[on]
    chainage, error, weight = fuse(satellite, sd[on], tape, tape_sd)
    length = lines.routes.length_m[which]
    limit = ASIDE_M + REACH_SD * np.hypot(sd[on], trace_sd[which])
    off = (np.abs(offset) > limit) & ~np.isfinite(tape)
    beyond = (tape > length + ASIDE_M + REACH_SD * tape_sd) | (tape < -REACH_SD * tape_sd)
    for name, value in (
        ("chainage_m", np.clip(chainage, 0.0, length)), ("chainage_sd_m", error),
        ("offset_m", offset), ("tape_weight", weight),
    ):  # fmt: skip
        placed.iloc[on, placed.columns.get_loc(name)] = value
    where = dict(zip(on.tolist(), range(len(on)), strict=True))
    _say(
        reason,
        _at(on[off], len(reason)),
        lambda i: f"is {abs(offset[where[i]]):.1f} m off its route, more than its error explains",
    )
    _say(reason, _at(on[beyond], len(reason)),
         lambda i: f"was taped at {tape[where[i]]:.2f} m on a route of {length[where[i]]:.2f} m")  # fmt: skip
