"""Convert taped distances from a fitting to chainages along the route."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pyproj
import shapely

from leakgeo.arrays import floats, texts
from leakgeo.job.checks.lines import OFF_LINE_M, OFF_LINE_SD, row_of_line
from leakgeo.job.crs import ground_scale
from leakgeo.reason import Reason

if TYPE_CHECKING:
    import pandas as pd

    from leakgeo.arrays import Bools, Floats, Ints, Objects
    from leakgeo.job.checks.collector import IssueCollector
    from leakgeo.job.checks.layer import CheckedLayer

# Standard deviation of fittings on plans, in metres.
FITTING_SD_M = 1.0
# Closer fittings define no direction along the route.
_MIN_APART_M = 0.05


def tape_along_routes(
    readings: CheckedLayer,
    contacts: CheckedLayer | None,
    routes: CheckedLayer,
    route_sd_m: float,
) -> CheckedLayer:
    """Add ``tape_m``: the chainage of each taped distance along the route, in metres on the ground.

    Parameters
    ----------
    readings, routes : CheckedLayer
        In the local CRS, in metres; `readings` linked to `routes`.
    contacts : CheckedLayer or None
        Fittings that distances were taped from or toward, whatever their sound level.
    route_sd_m : float
        Error of a route that states none (1-sigma).

    Returns
    -------
    CheckedLayer
        ``tape_m`` is null, with a fault, if the fitting is unknown or not on the line; a reading
        without a position is then rejected.
    """
    table, tape = readings.table, floats(readings.table, "chainage_m").copy()
    fitted = (table["chainage_from"].notna() | table["chainage_toward"].notna()).to_numpy()
    rows = np.flatnonzero(fitted & np.isfinite(tape) & table["reason"].isna().to_numpy())
    if not rows.size:
        return replace(readings, table=table.assign(tape_m=tape))
    issues = readings.issues()
    fittings = _Fittings(table, rows, contacts, routes, route_sd_m, issues)
    begin, side = fittings.origin_and_direction()
    tape[rows] = begin + side * tape[rows]
    return replace(readings, table=table.assign(tape_m=tape)).with_issues(issues)


class _Fittings:
    """Fittings that readings name, and their chainages on the lines of these readings."""

    def __init__(
        self, table: pd.DataFrame, rows: Ints, contacts: CheckedLayer | None,
        routes: CheckedLayer, route_sd_m: float, issues: IssueCollector,
    ) -> None:  # fmt: skip
        self.table, self.rows, self.issues = table, rows, issues
        lines = routes.table[routes.table["reason"].isna()]
        self.line = row_of_line(table.iloc[rows], lines)
        self.traces: Objects = lines.geometry.to_numpy()
        self.trace_sd = floats(lines, "position_sd_m", null=route_sd_m)
        x, y = shapely.get_coordinates(shapely.centroid(self.traces)).T
        self.scale = ground_scale(pyproj.CRS(routes.table.crs), x, y)
        placed = None if contacts is None else contacts.table[contacts.table.geometry.notna()]
        self.places: dict[object, Objects] = {} if placed is None else {
            name: own.geometry.to_numpy() for name, own in placed.groupby("contact_id")
        }  # fmt: skip

    def origin_and_direction(self) -> tuple[Floats, Floats]:
        """Return the chainage of each origin, and +1 along the route or -1 against it; or NaN."""
        self._report(self.line < 0, "line_id", Reason("tape_without_line"))
        begin = self._fitting_chainage("chainage_from", null=0.0)
        toward = self._fitting_chainage("chainage_toward", null=np.inf)
        with np.errstate(invalid="ignore"):
            same = np.abs(toward - begin) < _MIN_APART_M
            side = np.where(same, np.nan, np.sign(toward - begin))
        self._report(same, "chainage_toward", Reason("tape_without_direction"))
        return np.where(self.line < 0, np.nan, begin), side

    def _fitting_chainage(self, column: str, null: float) -> Floats:
        """Return the chainage of the fitting in a column on the line of each reading."""
        named = texts(self.table, column)[self.rows]
        given = np.array([name is not None for name in named], dtype=bool)
        known = np.array([name in self.places for name in named], dtype=bool)
        self._report(given & ~known, column, Reason("tape_fitting_unknown", column=column))
        at, apart = np.full((2, len(named)), np.nan)
        at[~given] = null
        for i in np.flatnonzero(known & (self.line >= 0)):
            points, k = self.places[named[i]], self.line[i]
            away = shapely.distance(points, self.traces[k])
            nearest = int(np.argmin(away))
            apart[i] = away[nearest]
            grid = shapely.line_locate_point(self.traces[k], points[nearest])
            at[i] = grid / self.scale[k]
        limit = OFF_LINE_M + OFF_LINE_SD * np.hypot(FITTING_SD_M, self.trace_sd[self.line])
        off = apart > limit
        self._report(off, column, Reason("tape_fitting_off_line", column=column))
        at[off] = np.nan
        return at

    def _report(self, wrong: Bools, column: str, reason: Reason) -> None:
        """Report unusable taped distances; reject readings that also have no position."""
        unusable = np.zeros(len(self.table), dtype=bool)
        unusable[self.rows[wrong]] = True
        has_no_position = self.table.geometry.isna().to_numpy()
        for rows, rejects in (
            (unusable & has_no_position, True),
            (unusable & ~has_no_position, False),
        ):
            self.issues.report(
                rows, reason, column=column, values=self.table[column], rejects=rejects
            )
