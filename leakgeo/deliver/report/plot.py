"""The profile plot of a line: readings, level curve with its band, and leak density."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from shapely import LineString, Polygon, box

from leakgeo.deliver.report.pen import Pen, nice_step
from leakgeo.deliver.report.sheet import Ink, Sheet
from leakgeo.deliver.report.sketch import Size, reading_fills
from leakgeo.deliver.views import colours
from leakgeo.deliver.views.rows import beside_in_sweep, number
from leakgeo.reason import Reason
from leakgeo.wording.quantities import axis_unit

if TYPE_CHECKING:
    from leakgeo.deliver.views.line_view import LineView
    from leakgeo.deliver.views.profiles import Profile
    from leakgeo.wording import Wording

CURVE = "#2c728e"
LEFT, RIGHT, TOP, BASE, GAP = 34.0, 6.0, 12.0, 26.0, 12.0
LOWER = 0.27  # share of the height for the leak density


@dataclass(frozen=True)
class _Data:
    profile: Profile
    reading_xy: np.ndarray
    fills: list[str]


def profile_plot(view: LineView, units: str, size: Size) -> Sheet | None:
    """Draw sound level and leak density against distance from the start.

    Parameters
    ----------
    view : LineView
    units : {"si", "us"}
        Units of the distance axis.
    size : Size

    Returns
    -------
    Sheet or None
        None if the line has neither a profile nor placed readings. It is drawn when its content is
        asked for.
    """
    data = _gather(view)
    places = np.r_[data.profile.chainage_m, data.reading_xy[:, 0]]
    if places.size < 2 or np.ptp(places) == 0:
        return None
    span = float(places.min()), float(places.max())
    return Sheet(size.width, size.height, partial(_draw, view, data, units, size, span))


def _draw(
    view: LineView, data: _Data, units: str, size: Size, span: tuple[float, float], sheet: Sheet
) -> None:
    upper, lower = _pens(sheet, size, span, data)
    _zones(upper, lower, view)
    _axes(upper, lower, view.wording)
    _curve(upper, data.profile)
    _density(lower, data.profile)
    upper.dots(data.reading_xy, data.fills, "#333333", 2.4)
    _mark(upper, view)


def _gather(view: LineView) -> _Data:
    rows = [
        row
        for row in view.rows("readings_on_route")
        if number(row, "chainage_m") is not None
        and number(row, "level_comparable_db") is not None
        and not beside_in_sweep(row)
    ]
    places = [(number(r, "chainage_m"), number(r, "level_comparable_db")) for r in rows]
    xy = np.reshape(np.array(places, float), (-1, 2))
    return _Data(view.profile, xy, reading_fills(rows))


def _pens(sheet: Sheet, size: Size, span: tuple[float, float], data: _Data) -> tuple[Pen, Pen]:
    level, sd = data.profile.level_comparable_db, np.nan_to_num(data.profile.level_comparable_sd_db)
    levels = np.r_[level - 2 * sd, level + 2 * sd, data.reading_xy[:, 1]]
    levels = levels[np.isfinite(levels)]
    low, high = (float(levels.min()), float(levels.max())) if levels.size else (0.0, 1.0)
    margin = max(high - low, 1.0) * 0.04
    density = data.profile.leak_density_per_m
    peak = float(np.nanmax(density)) if np.isfinite(density).any() else 1.0
    middle = BASE + (size.height - BASE - TOP) * LOWER
    right = size.width - RIGHT
    upper = (span[0], low - margin, span[1], high + margin)
    lower = (span[0], 0.0, span[1], max(peak, 1e-9))
    return (
        Pen(upper, (LEFT, middle + GAP, right, size.height - TOP), sheet),
        Pen(lower, (LEFT, BASE, right, middle), sheet),
    )


def _zones(upper: Pen, lower: Pen, view: LineView) -> None:
    for row in view.zones:
        start, end = number(row, "from_chainage_m"), number(row, "to_chainage_m")
        if start is None or end is None:
            continue
        for pen in (upper, lower):
            shape = box(start, pen.window[1], end, pen.window[3])
            pen.area(shape, colours.zone_colour(int(number(row, "rank") or 99)), 0.4)


def _axes(upper: Pen, lower: Pen, words: Wording) -> None:
    name, metres = axis_unit(words.units)
    x0, y0, x1, y1 = upper.paper
    for value in _ticks(upper.window[1], upper.window[3], 5):
        y = float(upper.points([(upper.window[0], value)])[0, 1])
        upper.sheet.line(x0, y, x1, y, Ink(stroke="#d5d9dd", width=0.5))
        upper.words(x0 - 4, y - 2.5, words.number(f"{value:g}"), 7, "end")
    for value in _ticks(lower.window[0] / metres, lower.window[2] / metres, 8):
        x = float(lower.points([(value * metres, 0)])[0, 0])
        lower.sheet.line(x, BASE, x, BASE - 3, Ink(stroke=colours.INK))
        lower.words(x, BASE - 11, words.number(f"{value:g}"), 7, "middle")
    for x, y, w, h in ((x0, y0, x1 - x0, y1 - y0), (x0, BASE, x1 - x0, lower.paper[3] - BASE)):
        upper.sheet.box(x, y, w, h, Ink(stroke=colours.PIPE, width=0.6))
    upper.words(0, y1 + 4, words.term("report_level_axis"), 7)
    upper.words(x0 + 3, lower.paper[3] + 3, words.term("report_density_axis"), 7)
    axis = words.text(Reason("report_distance_axis", unit=name))
    lower.words((x0 + x1) / 2, 4, axis, 7, "middle")


def _ticks(low: float, high: float, most: int) -> list[float]:
    step = nice_step(high - low, most)
    first, last = int(np.ceil(low / step - 1e-9)), int(np.floor(high / step + 1e-9))
    return [round(k * step, 10) + 0.0 for k in range(first, last + 1)]


def _curve(pen: Pen, profile: Profile) -> None:
    good = np.isfinite(profile.level_comparable_db)
    x, level = profile.chainage_m[good], profile.level_comparable_db[good]
    sd = np.nan_to_num(profile.level_comparable_sd_db[good])
    if x.size < 2:
        return
    edge = np.r_[np.c_[x, level + 2 * sd], np.c_[x, level - 2 * sd][::-1]]
    pen.area(Polygon(edge).buffer(0), CURVE, 0.22)
    pen.line(LineString(np.c_[x, level]), CURVE, 1.3)


def _density(pen: Pen, profile: Profile) -> None:
    good = np.isfinite(profile.leak_density_per_m)
    x, density = profile.chainage_m[good], profile.leak_density_per_m[good]
    if x.size < 2:
        return
    edge = np.r_[np.c_[x, density], [(x[-1], 0.0), (x[0], 0.0)]]
    pen.area(Polygon(edge).buffer(0), colours.ZONES[0], 0.75)


def _mark(upper: Pen, view: LineView) -> None:
    for one in view.by_mark:
        _mark_line(upper, one)


def _mark_line(upper: Pen, view: LineView) -> None:
    at = number(view.mark, "chainage_m") if view.mark else None
    if at is None:
        return
    x = float(upper.points([(at, upper.window[1])])[0, 0])
    ink = Ink(stroke=colours.INK, width=1.2, dash=(4, 2))
    upper.sheet.line(x, BASE, x, upper.paper[3] + 2, ink)
    mark = view.mark_name or view.wording.term("report_drawn_mark")
    word = mark if view.located else view.wording.term("map_likeliest")
    upper.words(x, upper.paper[3] + 4, word, 7, "middle")
