"""The plan sketch of a line: pipe, readings, zones, mark, dig zone, utilities and conflicts."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from leakgeo.deliver.report.pen import Pen, nice_step
from leakgeo.deliver.report.sheet import Ink, Sheet
from leakgeo.deliver.views import colours
from leakgeo.deliver.views.places import error_ellipse
from leakgeo.deliver.views.rows import flag, number, records, with_geometry
from leakgeo.dig.cautions import SPOIL_BACK_M
from leakgeo.wording.quantities import axis_unit

if TYPE_CHECKING:
    import geopandas as gpd

    from leakgeo.deliver.views.line_view import LineView, Row
    from leakgeo.wording import Wording


@dataclass(frozen=True, eq=False)
class Buried:
    """All utilities of a job, with a spatial index.

    Parameters
    ----------
    rows : list of dict
        Utilities with a geometry, in the job's metre CRS.
    tree : shapely.STRtree
        Index of their geometries, in the same order.
    """

    rows: list[Row]
    tree: shapely.STRtree

    @classmethod
    def of(cls, utilities: gpd.GeoDataFrame | None) -> Buried:
        """Return the index of the utilities of a job; empty for None."""
        good = with_geometry(utilities)
        shapes = np.empty(0, object) if good is None else good.geometry.to_numpy()
        return cls(records(good), shapely.STRtree(shapes))

    def within(self, box: shapely.Geometry) -> list[Row]:
        """Return the utilities that intersect a box, in the order of the layer."""
        return [self.rows[place] for place in np.sort(self.tree.query(box, "intersects"))]


@dataclass(frozen=True)
class Size:
    """Width and height of a drawing, in points."""

    width: float
    height: float


def plan_sketch(
    view: LineView, utilities: Buried, units: str, size: Size, around: LineView | None = None
) -> Sheet:
    """Draw the plan around a line's mark or zones, grid north up.

    Parameters
    ----------
    view : LineView
        In a metre CRS.
    utilities : Buried
        All utilities of the job, in the same CRS.
    units : {"si", "us"}
        Units of the scale bar.
    size : Size
        Size of the drawing.
    around : LineView or None
        The view of one of its marks, whose dig, zones and mark the plan shows; of all if None.

    Returns
    -------
    Sheet
        It is drawn when its content is asked for: a page is tried in several scales of type.
    """
    draw = partial(_draw, view, utilities, units, size, around or view)
    return Sheet(size.width, size.height, draw)


def _draw(
    view: LineView, utilities: Buried, units: str, size: Size, around: LineView, sheet: Sheet
) -> None:
    sheet.box(0, 0, size.width, size.height, Ink(colours.PIPE, "#faf9f5", 0.7))
    window = _window(around, size)
    if window is None:
        return
    pen = Pen(window, (0, 0, size.width, size.height), sheet)
    _conflicts(pen, view)
    _request(pen, view)
    _dig(pen, view)
    _utilities(pen, utilities)
    pen.line(view.route.get("geometry"), colours.PIPE, 2.6)  # type: ignore[arg-type]
    _zones(pen, view)
    _readings(pen, view)
    _start(pen, view)
    _next(pen, view)
    _mark(pen, view)
    north_arrow(pen, size, view.convergence_deg, view.wording)
    _scale_bar(pen, view.wording)


def _shapes(rows: list[Row]) -> list[Any]:
    return [g for row in rows if isinstance(g := row.get("geometry"), shapely.Geometry)]


def _window(view: LineView, size: Size) -> tuple[float, float, float, float] | None:
    """Return the extent of dig zone, zones and mark with a margin, in the paper's proportions."""
    names = ("dig_zones", "search_zones", "marks") if view.located else ("search_zones", "marks")
    shapes = [g for name in names for g in _shapes(view.rows(name))] or _shapes([view.route])
    shapes = [g for g in shapes if not g.is_empty]
    if not shapes:
        return None
    x0, y0, x1, y1 = shapely.total_bounds(shapes)
    scale = max(max(x1 - x0, 3.0) / size.width, max(y1 - y0, 3.0) / size.height) * 1.35
    half = np.array([size.width, size.height]) * scale / 2
    low, high = np.array([x0 + x1, y0 + y1]) / 2 - half, np.array([x0 + x1, y0 + y1]) / 2 + half
    return (float(low[0]), float(low[1]), float(high[0]), float(high[1]))


def _dig(pen: Pen, view: LineView) -> None:
    step = (pen.window[2] - pen.window[0]) / 45
    for shape in _shapes(view.rows("dig_zones")):
        pen.area(shape, colours.EXCAVATION, 0.6)
        if not view.located:
            pen.line(shape, colours.PIPE, 0.8, (1, 3))
            continue
        pen.hatch(shape, "#b9bec4", step)
        pen.line(shape, colours.INK, 1.4)


def _request(pen: Pen, view: LineView) -> None:
    """Draw the white line, the limit of the spoil pile, and alternative sites for the hole."""
    for shape in _shapes(view.rows("locate_requests")):
        pen.line(shape, colours.INK, 2.2, (7, 4))
        pen.line(shape, colours.EXCAVATION, 1.2, (7, 4))
    for shape in _shapes(view.rows("dig_zones")) if view.located else ():
        pen.line(shapely.buffer(shape, SPOIL_BACK_M), colours.PIPE, 0.7, (1, 2))
    for shape in _shapes(view.rows("dig_alternatives")):
        pen.area(shape, colours.EXCAVATION, 0.35)
        pen.line(shape, colours.INK, 0.8, (2, 2))


def _utilities(pen: Pen, utilities: Buried) -> None:
    box = shapely.box(*pen.window)
    x0, y0, x1, y1 = pen.window
    # Letters keep clear of the edges and of the scale bar.
    clear = shapely.box(x0 + 0.04 * (x1 - x0), y0 + 0.08 * (y1 - y0), x1 - 0.04 * (x1 - x0), y1)
    for place, row in enumerate(utilities.within(box)):
        look, shape = colours.utility_look(row.get("kind")), row["geometry"]
        pen.line(shape, colours.INK, 2.7)  # type: ignore[arg-type]
        pen.line(shape, look.colour, 1.7, look.dash)  # type: ignore[arg-type]
        inside = shapely.intersection(shape, clear)  # type: ignore[call-overload]
        if inside.is_empty:
            inside = shapely.intersection(shape, box)  # type: ignore[call-overload]
        parts = shapely.get_parts(inside)
        spot = (
            shapely.line_interpolate_point(parts[0], 0.08 + 0.07 * (place % 6), normalized=True)
            if parts.size and parts[0].geom_type == "LineString"
            else inside.centroid
        )
        letter = colours.utility_letter(row.get("kind"), row.get("quality_level"))
        pen.tag(spot.x, spot.y, letter, look.colour)


def _zones(pen: Pen, view: LineView) -> None:
    for row in reversed(view.zones):
        for shape in _shapes([row]):
            pen.area(shape, colours.zone_colour(int(number(row, "rank") or 99)), 0.55)
            pen.line(shape, "#5b0145", 0.6)


def _conflicts(pen: Pen, view: LineView) -> None:
    step = (pen.window[2] - pen.window[0]) / 24
    for row in view.rows("conflicts"):
        colour = colours.utility_look(row.get("kind")).colour
        unknown = row.get("severity") == "unknown_position"
        for shape in _shapes([row]) if unknown else ():
            pen.area(shape, colour, 0.1)
            pen.line(shape, colour, 1.2, (1, 3))
        for shape in () if unknown else _shapes([row]):
            pen.area(shape, colour, 0.06)
            pen.hatch(shape, colour, step, back=True)
            pen.line(shape, colour, 0.9, (4, 2))


def _readings(pen: Pen, view: LineView) -> None:
    rows = [r for r in view.rows("readings_on_route") if r.get("geometry") is not None]
    if not rows:
        return
    xy = shapely.get_coordinates(_shapes(rows))
    if len(xy) != len(rows):  # an empty point has no coordinates
        return
    pen.dots(xy, reading_fills(rows), "#333333", 2.2)


def _start(pen: Pen, view: LineView) -> None:
    """Label the start of the line, or the first visible point of the line on the way to it."""
    x, y = view.profile.x_m, view.profile.y_m
    x0, y0, x1, y1 = pen.window
    margin = (x1 - x0) * 0.05
    seen = (x > x0 + margin) & (x < x1 - margin) & (y > y0 + margin) & (y < y1 - margin)
    if seen.any():
        first = int(seen.argmax())
        code = "report_start" if first == 0 else "report_to_start"
        pen.tag(float(x[first]), float(y[first]), view.wording.term(code))


def reading_fills(rows: list[Row]) -> list[str]:
    """Return the colour of each reading on the scale of its line; unused readings are white."""
    used = [number(r, "level_comparable_db") for r in rows if flag(r, "used")]
    levels = [v for v in used if v is not None] or [0.0]
    low, high = min(levels), max(levels)
    return [
        colours.level_colour(number(r, "level_comparable_db") or float("nan"), low, high)
        if flag(r, "used") else "#ffffff"
        for r in rows
    ]  # fmt: skip


def _next(pen: Pen, view: LineView) -> None:
    for row in view.rows("next_readings"):
        for shape in _shapes([row]):
            if not shape.is_empty and pen.holds(shape.x, shape.y):
                order = number(row, "order")
                label = "" if order is None else f"{order:.0f}"
                pen.tag(shape.x, shape.y, label, colours.SURVEY, round_=True)


def _mark(pen: Pen, view: LineView) -> None:
    for one in view.by_mark:
        _cross(pen, one)


def _cross(pen: Pen, view: LineView) -> None:
    """Draw a mark with its error, and the rank of one of several."""
    row = view.mark
    shapes = _shapes([row]) if row else []
    if row is None or not shapes or shapes[0].is_empty:
        return
    spot = shapes[0]
    if not pen.holds(spot.x, spot.y):
        return
    along, across = number(row, "along_95_m"), number(row, "across_95_m")
    if along is not None and across is not None:
        azimuth = number(row, "azimuth_deg")
        grid = None if azimuth is None else azimuth - view.convergence_deg
        ring = error_ellipse(spot.x, spot.y, along, across, grid)
        pen.line(ring, colours.INK, 1.1, (3, 2))
    pen.cross(spot.x, spot.y, arms=view.located)
    if view.mark_name:
        away = (pen.window[2] - pen.window[0]) / 18
        pen.tag(spot.x, spot.y + away, view.mark_name)


def north_arrow(pen: Pen, size: Size, convergence_deg: float, words: Wording) -> None:
    """Draw an arrow to true north; the plan itself has grid north up."""
    if not np.isfinite(convergence_deg):
        return
    turn = np.radians(convergence_deg)
    ahead, right = np.array([-np.sin(turn), np.cos(turn)]), np.array([np.cos(turn), np.sin(turn)])
    middle = np.array([size.width - 16, size.height - 23])
    tail, notch, tip = (middle + ahead * step for step in (-11, 1, 11))
    barbs = [middle - 3 * ahead + side * right for side in (-5, 5)]
    pen.sheet.path([np.array([tip, barbs[0], notch, barbs[1]])], Ink(fill=colours.INK))
    pen.sheet.path([np.array([tail, notch])], Ink(stroke=colours.INK, width=1.2))
    pen.words(middle[0], middle[1] - 19, words.term("report_true_north"), 7, "middle")


def _scale_bar(pen: Pen, words: Wording) -> None:
    name, metres = axis_unit(words.units)
    across = pen.window[2] - pen.window[0]
    step = nice_step(across / metres, 4)
    length = step * metres / across * (pen.paper[2] - pen.paper[0])
    pen.sheet.box(8, 8, length, 3.5, Ink(fill=colours.INK))
    pen.words(8 + length + 4, 7, f"{words.number(f'{step:g}')} {name}", 7)
