"""Locate requests to a one-call centre: corners, mark and tie distances of one hole each."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from leakgeo.deliver.views.places import (
    FINE,
    WGS84,
    datum_error_m,
    degree_decimals,
    degrees_text,
    in_degrees,
)
from leakgeo.deliver.views.rows import (
    layer,
    mark_of,
    number,
    records,
    rows_by_line,
    text,
    with_geometry,
)
from leakgeo.job.datum import MAX_UNREPORTED_M, datum_shift
from leakgeo.reason import Reason
from leakgeo.wording.quantities import axis_unit, two_figures

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from leakgeo.deliver.views.line_view import Row
    from leakgeo.result import Result
    from leakgeo.wording import Wording

Place = tuple[float, float]  # latitude, longitude, WGS 84
_OF_ROUTE = ("address", "work_order")
_POINTS = ("n", "ne", "e", "se", "s", "sw", "w", "nw")


@dataclass(frozen=True, slots=True)
class Tie:
    """A distance to tape from a fixed point to the mark.

    Parameters
    ----------
    fixed_point : str
        Name of the point to tape from.
    buried : bool
        Whether it is a point of the traced route, which is not visible.
    distance_m : float
        Ground distance in metres.
    bearing_deg : float
        Direction from the fixed point to the mark, in degrees clockwise from true north.
    """

    fixed_point: str
    buried: bool
    distance_m: float
    bearing_deg: float

    def texts(self, words: Wording) -> tuple[str, str, str]:
        """Return fixed point, tape distance and direction as texts.

        Examples
        --------
        >>> from leakgeo.wording import wording
        >>> Tie("meter C-1", False, 3.6576, 92.0).texts(wording("us"))
        ('meter C-1', '12 ft', 'E (92 deg true)')
        """
        wind = words.term(_POINTS[round(self.bearing_deg / 45.0) % 8], "wind")
        buried = Reason("tie_buried", point=self.fixed_point)
        name = words.text(buried) if self.buried else self.fixed_point
        # A bearing of 359.6 is printed as 0, not as 360.
        bearing = Reason("tie_bearing", wind=wind, degrees=round(self.bearing_deg) % 360)
        return (name, words.quantities.length(self.distance_m), words.text(bearing))


def ties_text(ties: Iterable[Tie], words: Wording) -> str:
    """Return tie distances as one line of text.

    Examples
    --------
    >>> from leakgeo.wording import wording
    >>> ties_text([Tie("meter C-1", False, 3.6576, 92.0)], wording("us"))
    '12 ft from meter C-1, going E (92 deg true)'
    """
    texts = (tie.texts(words) for tie in ties)
    return "; ".join(words.text(Reason("tie_text", far=far, point=name, way=way))
                     for name, far, way in texts)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Request:
    """Locate request of one hole.

    Parameters
    ----------
    line_id : str
    rank : int
        Of the mark among those of its line.
    corners : tuple of (latitude, longitude)
        White-line rectangle around the whole hole, counterclockwise, WGS 84, six decimals.
    mark : (latitude, longitude) or None
        WGS 84.
    depth_m, length_m, width_m : float or None
        Size of the hole in metres.
    ties : tuple of Tie
        In the order to tape them.
    decimals : (int, int)
        Significant decimals of a degree: of the corners, and of the mark.
    address, work_order : str
        Of the line; empty if not known.
    several : bool
        Whether the line has several marks.
    """

    line_id: str
    rank: int
    corners: tuple[Place, ...]
    mark: Place | None
    depth_m: float | None
    length_m: float | None
    width_m: float | None
    ties: tuple[Tie, ...]
    decimals: tuple[int, int] = (FINE, FINE)
    address: str = ""
    work_order: str = ""
    several: bool = False

    def name(self, words: Wording) -> str:
        """Return the name of the line and, where it has several, of the mark."""
        if not self.several:
            return self.line_id
        return words.text(Reason("mark_of_line", line=self.line_id, rank=self.rank))

    def places(self, words: Wording) -> list[tuple[str, str]]:
        """Return all coordinates as (label, text) pairs, with their significant decimals."""
        corner, mark = self.decimals
        named = [(words.text(Reason("place_corner", number=k)), degrees_text(p, corner))
                 for k, p in enumerate(self.corners, 1)]  # fmt: skip
        if self.mark:
            named.append((words.term("place_mark"), degrees_text(self.mark, mark)))
        return named

    def size(self, words: Wording) -> str:
        """Return length, width and depth of the excavation as a text."""
        return words.text(Reason(
            "hole_size", length_m=self.length_m, width_m=self.width_m, depth_m=self.depth_m,
            known=self.depth_m is not None,
        ))  # fmt: skip


def requests_of(result: Result) -> dict[tuple[str, int], Request]:
    """Return the locate requests of a result by ``line_id`` and rank of the mark.

    Empty if no hole is proposed.

    Parameters
    ----------
    result : Result
        With ``locate_requests``; ``ties`` and ``marks`` may be absent.
    """
    asked = with_geometry(layer(result, "locate_requests"))
    if asked is None:
        return {}
    ties, marks = rows_by_line(layer(result, "ties")), _mark_places(result)
    routes = {text(row, "line_id"): row for row in records(result.job.routes)}
    rings = shapely.orient_polygons(asked.geometry.to_crs(WGS84).to_numpy())
    place = shapely.get_coordinates(rings[0])[0].tolist()
    corner = int(degree_decimals(datum_error_m(result.job.crs, (place[0], place[1]))))
    rows = {mark_of(row): (row, ring) for row, ring in zip(records(asked), rings, strict=True)}
    count, found = Counter(line for line, _ in rows), {}
    for (line, rank), (row, ring) in rows.items():
        mark, decimals = marks.get((line, rank), (None, corner))
        own = [tie for tie in ties.get(line, []) if mark_of(tie) == (line, rank)]
        address, work_order = (text(routes.get(line, {}), column) for column in _OF_ROUTE)
        found[line, rank] = Request(
            line, rank, _corners(ring), mark,
            number(row, "depth_m"), number(row, "length_m"), number(row, "width_m"),
            tuple(_tie(tie) for tie in sorted(own, key=_order)), (corner, decimals),
            address, work_order, count[line] > 1,
        )  # fmt: skip
    return found


def _corners(ring: shapely.Polygon) -> tuple[Place, ...]:
    lonlat = np.round(shapely.get_coordinates(ring.exterior)[:-1], FINE) + 0.0
    return tuple((float(lat), float(lon)) for lon, lat in lonlat)


def _mark_places(result: Result) -> dict[tuple[str, int], tuple[Place, int]]:
    """Return the place of each mark and its significant decimals, by ``line_id`` and rank."""
    marks = with_geometry(layer(result, "marks"))
    if marks is None:
        return {}
    globe, decimals = marks.geometry.to_crs(WGS84), in_degrees(marks)["decimals"]
    return {
        mark_of(row, "rank"): ((round(float(y), FINE) + 0.0, round(float(x), FINE) + 0.0), int(d))
        for row, x, y, d in zip(records(marks), globe.x, globe.y, decimals, strict=True)
    }


def _tie(row: Row) -> Tie:
    return Tie(
        text(row, "fixed_point"), text(row, "fixed_kind") == "route",
        number(row, "distance_m") or 0.0, number(row, "bearing_deg") or 0.0,
    )  # fmt: skip


def _order(row: Row) -> float:
    return number(row, "order") or 0.0


def datum_note(result: Result, requests: Mapping[tuple[str, int], Request], words: Wording) -> str:
    """Return a note on the accuracy of WGS 84 coordinates, or ``""`` if the datum shift is good."""
    if not requests:
        return ""
    lat, lon = next(iter(requests.values())).corners[0]
    shift = datum_shift(result.job.crs, WGS84, (lon, lat))
    if shift.accuracy_m <= MAX_UNREPORTED_M and not shift.guessed:
        return ""
    known = np.isfinite(shift.accuracy_m) and not shift.guessed
    unit, metres = axis_unit(words.units)
    figure = words.number(f"{two_figures(shift.accuracy_m / metres):g}")
    return words.text(Reason("datum_note", known=bool(known), accuracy=f"{figure} {unit}"))
