"""Traces of lines that a taped list describes, and places of its fittings along drawn lines."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple

import geopandas as gpd
import numpy as np
import pandas as pd
import pyproj
import shapely

from leakgeo.arrays import floats, texts
from leakgeo.job.checks.lines import OFF_LINE_M, OFF_LINE_SD
from leakgeo.job.checks.tape_origin import FITTING_SD_M
from leakgeo.job.checks.taped_lists import TapedList, taped_lists
from leakgeo.job.crs import NOWHERE_M, ground_scale
from leakgeo.job.placed import DRAWN, STRAIGHT, TAPED
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pyproj import CRS

    from leakgeo.arrays import Floats, Objects
    from leakgeo.job.checks.collector import IssueCollector
    from leakgeo.job.checks.layer import CheckedLayer

# Easting of the first trace that is not placed, and distance between them: farther than anything
# reaches, such as a stop beside its pipe.
_FIRST_M, _APART_M = 2.0 * NOWHERE_M, 10_000.0
# Two positions closer than this show no direction.
_LEAST_CHORD_M = 2.0
# A list and a drawn route may differ by this share and this many metres before it is noted.
_LENGTH_SHARE, _LENGTH_M = 0.05, 2.0


class _Straight(NamedTuple):
    """A straight line through two positions: a point at a chainage, direction, error, ends."""

    point: Floats
    at_m: float
    along: Floats
    sd_m: float
    ends: tuple[int, int]


class _Placing:
    """Routes and fittings while the lists place them."""

    def __init__(
        self, routes: CheckedLayer, contacts: CheckedLayer, crs: CRS, reading_sd_m: float,
        route_sd_m: float,
    ) -> None:  # fmt: skip
        self.crs, self.reading_sd_m = crs, reading_sd_m
        self.routes, self.route_issues = routes, routes.issues()
        self.contacts, self.contact_issues = contacts, contacts.issues()
        self.traces: Objects = np.array(routes.table.geometry.array, dtype=object)
        self.points: Objects = np.array(contacts.table.geometry.array, dtype=object)
        self.recorded = np.full((len(self.points), 2), np.nan)
        self.kind = np.full(len(self.traces), DRAWN, dtype=object)
        self.sd_m = floats(routes.table, "position_sd_m")
        self.drawn_sd_m = np.where(np.isfinite(self.sd_m), self.sd_m, route_sd_m)

    def place(self, row: int, one: TapedList) -> None:
        """Place one line and the fittings of its list."""
        if self.traces[row] is not None:
            self._along_drawn(row, one)
            return
        straight = self._straight(one, row)
        if straight is None:
            self.kind[row] = TAPED
            self._note(row, Reason("line_by_tape_alone", length_m=one.length_m))
            x = np.full(len(one.at_m), _FIRST_M + row * _APART_M)
            self._lay(row, one, np.column_stack([x, one.at_m]))
            return
        self.kind[row] = STRAIGHT
        if not np.isfinite(self.sd_m[row]):
            self.sd_m[row] = straight.sd_m
        scale = float(ground_scale(self.crs, straight.point[:1], straight.point[1:])[0])
        steps = (one.at_m - straight.at_m)[:, None] * scale
        self._lay(row, one, straight.point + steps * straight.along)
        ends = [str(self.contact_issues.labels[k]) for k in straight.ends]
        self._note(row, Reason("line_assumed_straight", ends=ends, sd_m=float(self.sd_m[row])))

    def _lay(self, row: int, one: TapedList, xy: Floats) -> None:
        """Set the trace of a line, and its fittings on it; keep their recorded positions."""
        fresh = np.concatenate([[True], np.diff(one.at_m) > 0.0])
        self.traces[row] = shapely.LineString(xy[fresh])
        there = one.rows[~shapely.is_missing(self.points[one.rows])]
        self.recorded[there] = shapely.get_coordinates(self.points[there])
        self.points[one.rows] = shapely.points(xy)

    def _straight(self, one: TapedList, row: int) -> _Straight | None:
        """Return the straight line between the outermost recorded positions of a list, if any."""
        placed = np.flatnonzero(~shapely.is_missing(self.points[one.rows]))
        if len(placed) < 2:
            return None
        ends, at = one.rows[placed[[0, -1]]], one.at_m[placed[[0, -1]]]
        xy = shapely.get_coordinates(self.points[ends])
        taped, middle = float(at[1] - at[0]), xy.mean(axis=0)
        scale = float(ground_scale(self.crs, middle[:1], middle[1:])[0])
        chord = float(np.hypot(*(xy[1] - xy[0]))) / scale
        error = np.sqrt(2.0) * self.reading_sd_m
        if chord < _LEAST_CHORD_M or taped <= 0.0:
            return None
        if chord > taped + OFF_LINE_SD * error:
            self._note(row, Reason("positions_contradict_tape", apart_m=chord, taped_m=taped))
            return None
        # A pipe of this length between two points may leave the straight line by at most this.
        bow = np.sqrt(max(taped**2 - chord**2, 0.0)) / 2.0
        along = (xy[1] - xy[0]) / np.hypot(*(xy[1] - xy[0]))
        sd = float(np.hypot(self.reading_sd_m, bow / 2.0))
        return _Straight(middle, float(at.mean()), along, sd, (int(ends[0]), int(ends[1])))

    def _along_drawn(self, row: int, one: TapedList) -> None:
        """Place fittings without a position along a drawn line at their taped chainage."""
        trace, names = self.traces[row], self.points[one.rows]
        x, y = shapely.get_coordinates(shapely.centroid(trace))[0]
        scale = float(ground_scale(self.crs, [x], [y])[0])
        length = float(shapely.length(trace)) / scale
        bare = shapely.is_missing(names)
        if not bare.any():
            return
        at = one.at_m if self._runs_along(trace, scale, length, one) else length - one.at_m
        reach = OFF_LINE_M + OFF_LINE_SD * float(np.hypot(FITTING_SD_M, self.drawn_sd_m[row]))
        beyond = bare & ((at > length + reach) | (at < -reach))
        wrong = np.zeros(len(self.points), dtype=bool)
        wrong[one.rows[beyond]] = True
        self.contact_issues.report(wrong, Reason("list_beyond_route", route_m=length), column="seq")
        kept = bare & ~beyond
        on = np.clip(at[kept], 0.0, length) * scale
        self.points[one.rows[kept]] = shapely.line_interpolate_point(trace, on)
        if abs(one.length_m - length) > _LENGTH_M + _LENGTH_SHARE * length:
            values = {"taped_m": one.length_m, "route_m": length}
            self._note(row, Reason("list_and_route_differ", **values))

    def _runs_along(self, trace: Any, scale: float, length: float, one: TapedList) -> bool:
        """Return whether a list begins at the start of a route, by the fittings with a position."""
        points = self.points[one.rows]
        known = ~shapely.is_missing(points)
        if not known.any():
            return True
        at = shapely.line_locate_point(trace, points[known]) / scale
        on, against = (np.abs(at - taped).sum()
                       for taped in (one.at_m[known], length - one.at_m[known]))  # fmt: skip
        return bool(on <= against)

    def _note(self, row: int, reason: Reason) -> None:
        own = np.zeros(len(self.traces), dtype=bool)
        own[row] = True
        self.route_issues.report(own, reason, column="geometry", rejects=False)

    def _report_unplaced(self) -> None:
        """Reject fittings of good lines that have no place; those of others go with their line."""
        issues, line = self.contact_issues, texts(self.contacts.table, "line_id")
        names, good = texts(self.routes.table, "line_id"), self.route_issues.good
        bare = shapely.is_missing(self.points) & issues.good
        bare &= pd.Index(line).isin(names[good])
        issues.report(bare, Reason("list_not_used"), column="geometry")

    def layers(self) -> dict[str, CheckedLayer]:
        """Return both layers; a route or fitting that nothing placed is rejected."""
        routes, contacts = self.routes.table, self.contacts.table
        bare = shapely.is_missing(self.traces) & self.route_issues.good
        self.route_issues.report(bare, Reason("taped_list_unusable"), column="geometry")
        self._report_unplaced()
        routes = routes.assign(position_sd_m=self.sd_m, trace=self.kind)
        contacts = contacts.assign(recorded_x=self.recorded[:, 0], recorded_y=self.recorded[:, 1])
        return {
            "routes": _with(self.routes, routes, self.traces, self.route_issues),
            "contacts": _with(self.contacts, contacts, self.points, self.contact_issues),
        }


def place_taped_lines(
    layers: Mapping[str, CheckedLayer], crs: CRS, reading_sd_m: float, route_sd_m: float
) -> dict[str, CheckedLayer]:
    """Give each line without a geometry the trace of its taped list, and place its fittings.

    Two fittings with positions give a straight line between them, whose error is that of the
    positions and of the bow that the taped length allows. Any other trace lies nowhere on the
    ground, see `leakgeo.job.placed`. Along a drawn line, fittings of the list that have no position
    are placed at their taped chainage.

    Parameters
    ----------
    layers : mapping of str to CheckedLayer
        In `crs`.
    crs : pyproj.CRS
        The local CRS, in metres.
    reading_sd_m, route_sd_m : float
        Errors (1-sigma) of a position and of a drawn route that state none.

    Returns
    -------
    dict of str to CheckedLayer
        The layers; ``routes`` with the column ``trace`` (drawn, straight or taped), ``contacts``
        with ``recorded_x`` and ``recorded_y``, if there is any list.
    """
    contacts = layers.get("contacts")
    if contacts is None or not contacts.table["tape_from_previous"].notna().any():
        return dict(layers)
    routes = layers["routes"]
    placing = _Placing(routes, contacts, crs, reading_sd_m, route_sd_m)
    lists = taped_lists(contacts.table, placing.contact_issues)
    names, good = texts(routes.table, "line_id"), placing.route_issues.good
    for row in np.flatnonzero(good):
        one = lists.get(str(names[row]))
        if one is not None:
            placing.place(int(row), one)
    return {**layers, **placing.layers()}


def _with(
    checked: CheckedLayer, table: pd.DataFrame, shapes: Objects, issues: IssueCollector
) -> CheckedLayer:
    crs = pyproj.CRS(checked.table.crs)
    placed = gpd.GeoDataFrame(
        table.drop(columns="geometry"), geometry=shapes, crs=crs
    )  # fmt: skip
    return replace(checked, table=placed).with_issues(issues)
