"""Placement of readings on routes: line, chainage and error, or the reason for having none."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.job.checks import OFF_LINE_M, OFF_LINE_SD
from leakgeo.job.model import NOT_SELECTED
from leakgeo.reason import Reason
from leakgeo.route.assign import AMBIGUOUS, OFF_ROUTE, assign_lines

if TYPE_CHECKING:
    import geopandas as gpd

    from leakgeo.arrays import Floats, Ints, Objects
    from leakgeo.route.lines import Lines


def place_on_routes(
    points: gpd.GeoDataFrame, lines: Lines, *, reading_sd_m: float, tape_sd_m: float
) -> pd.DataFrame:
    """Return line, chainage and chainage error of each point.

    Parameters
    ----------
    points : geopandas.GeoDataFrame
        ``readings`` of a job, or a similar layer, in the job's CRS; ``tape_m``,
        ``chainage_sd_m`` and ``position_sd_m`` are used if present.
    lines : Lines
    reading_sd_m, tape_sd_m : float
        Default errors of a position and of a taped chainage (1-sigma).

    Returns
    -------
    pandas.DataFrame
        Index of `points`; ``line`` (row in `lines`, -1 for none), ``line_id``, ``chainage_m``,
        ``chainage_sd_m``, ``offset_m``, ``tape_weight``, ``reason``; ``map_m``, the chainage of the
        position alone, and ``map_sd_m``, infinite where the position is off the route.
    """
    reason = texts(points, "reason")
    sd = floats(points, "position_sd_m", null=reading_sd_m).clip(min=1e-3)
    line = _line_index(points, lines, sd, reason)
    on = np.flatnonzero(line >= 0)
    apart = np.array([why is None for why in reason[on]], dtype=bool) & ~lines.selected[line[on]]
    reason[on[apart]] = NOT_SELECTED
    columns = np.full((6, len(points)), np.nan)
    columns[3] = 0.0
    tape_sd = floats(points, "chainage_sd_m", null=tape_sd_m).clip(min=1e-3)
    tape = floats(points, "tape_m")
    columns[:, on] = _chainages(points.geometry.to_numpy()[on], lines, line[on], sd[on],
                               tape[on], tape_sd[on], on, reason)  # fmt: skip
    names = lines.table.index.to_numpy(dtype=object)
    given = texts(points, "line_id")
    given[on] = names[line[on]]
    chainage, error, offset, weight, on_map, map_sd = columns
    return pd.DataFrame(
        {
            "line": line, "line_id": given, "chainage_m": chainage, "chainage_sd_m": error,
            "offset_m": offset, "tape_weight": weight, "reason": reason, "map_m": on_map,
            "map_sd_m": map_sd,
        },
        index=points.index,
    )  # fmt: skip


def _line_index(points: gpd.GeoDataFrame, lines: Lines, sd: Floats, reason: Objects) -> Ints:
    """Return the line named by ``line_id``, else the one assigned by position; fill `reason`."""
    named = texts(points, "line_id")
    # Readings of lines that are not selected are used for the selected ones too.
    good = np.array([why is None or why == NOT_SELECTED for why in reason], dtype=bool)
    has_name = np.array([name is not None for name in named], dtype=bool)
    line = np.where(good, lines.index_of(named), -1)
    for i in np.flatnonzero(good & has_name & (line < 0)):
        reason[i] = _line_fault(str(named[i]), lines)
    free = np.flatnonzero(good & ~has_name)
    found = assign_lines(
        points.geometry.to_numpy()[free], sd[free], lines.routes.lines, lines.trace_sd_m
    )
    line[free] = np.maximum(found, -1)
    reason[free[found == AMBIGUOUS]] = _BETWEEN_ROUTES
    reason[free[found == OFF_ROUTE]] = _OFF_EVERY_ROUTE
    return line


_BETWEEN_ROUTES = Reason("between_routes")
_OFF_EVERY_ROUTE = Reason("off_every_route")


def _line_fault(line_id: str, lines: Lines) -> Reason:
    why = lines.rejected.get(line_id)
    if why is not None:
        return Reason("on_rejected_line", line=line_id, why=why)
    return Reason("on_unknown_line", line=line_id)


def _chainages(
    points: Objects, lines: Lines, line: Ints, sd: Floats, tape: Floats, tape_sd: Floats,
    on: Ints, reason: Objects,
) -> Floats:  # fmt: skip
    """Return the columns of `place_on_routes` from chainage on, shape (6, n); fill `reason`."""
    satellite, offset = lines.routes.locate(points, line)
    length = lines.routes.length_m[line]
    beyond = (tape > length + OFF_LINE_M + OFF_LINE_SD * tape_sd) | (tape < -OFF_LINE_SD * tape_sd)
    limit = OFF_LINE_M + OFF_LINE_SD * np.hypot(sd, lines.trace_sd_m[line])
    away, taped = np.abs(offset) > limit, np.isfinite(tape)
    for i in np.flatnonzero(beyond):
        reason[on[i]] = Reason("taped_beyond_route", taped_m=tape[i], route_m=length[i])
    for i in np.flatnonzero(away & ~taped):
        reason[on[i]] = Reason("off_its_route", offset_m=abs(offset[i]))
    # A position off the route gets no weight beside a tape.
    map_sd = np.where(away, np.inf, sd)
    chainage, error, weight = inverse_variance_mean(
        satellite, np.where(taped, map_sd, sd), tape, tape_sd
    )
    return np.stack([np.clip(chainage, 0.0, length), error, offset, weight, satellite, map_sd])


def inverse_variance_mean(
    satellite_m: Floats, satellite_sd_m: Floats, tape_m: Floats, tape_sd_m: Floats
) -> tuple[Floats, Floats, Floats]:
    """Combine position and tape into one chainage by inverse-variance weighting.

    Parameters
    ----------
    satellite_m, satellite_sd_m : ndarray of float, shape (n,)
        Chainage of the position, and its 1-sigma error along the route.
    tape_m, tape_sd_m : ndarray of float, shape (n,)
        Taped chainage and its 1-sigma error; NaN where not taped.

    Returns
    -------
    chainage_m, chainage_sd_m : ndarray of float, shape (n,)
    tape_weight : ndarray of float, shape (n,)
        Weight of the tape in the result, 0 where not taped.

    Notes
    -----
    The minimum-variance combination of two independent measurements (any textbook on adjustment).

    Examples
    --------
    >>> place, sd, weight = inverse_variance_mean(
    ...     np.array([10.0]), np.array([1.0]), np.array([11.0]), np.array([0.5]))
    >>> place.round(6).tolist(), sd.round(6).tolist(), weight.round(6).tolist()
    ([10.8], [0.447214], [0.8])
    """
    taped = np.isfinite(tape_m)
    information = np.where(taped, np.nan_to_num(tape_sd_m, nan=1.0) ** -2.0, 0.0)
    total = information + satellite_sd_m**-2.0
    weight = information / total
    tape = np.where(taped, tape_m, satellite_m)
    return satellite_m + weight * (tape - satellite_m), total**-0.5, weight
