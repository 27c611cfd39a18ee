"""Sketch of the ties on the dig sheet: fixed points, mark and taped distances, true north up."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from reportlab.pdfbase import pdfmetrics

from leakgeo.deliver.report.fonts import BOLD
from leakgeo.deliver.report.pen import TAG_SIZE, Pen
from leakgeo.deliver.report.sheet import Ink, Sheet
from leakgeo.deliver.report.sketch import north_arrow
from leakgeo.deliver.views import colours
from leakgeo.deliver.views.rows import number

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.deliver.report.sketch import Size
    from leakgeo.deliver.views.line_view import LineView
    from leakgeo.deliver.views.locate_request import Tie

_SHARES = (0.5, 0.62, 0.74, 0.38)  # of the way to the fixed point, where a distance may stand
# Height of a label with room around it, in points, and how many of them it may stand aside.
_LABEL, _ROWS = 10.0, (1, 2, 3, 4)
# Room for the labels at the edges, and half the length of the pipe drawn, in points.
_SIDE, _ENDS, _PIPE = 48.0, 22.0, 20.0


def tie_sketch(view: LineView, units: str, size: Size) -> Sheet | None:
    """Draw the mark, its fixed points and the taped distances, in their true directions.

    Distances are drawn by their square roots, so that a near and a far point are both legible.

    Parameters
    ----------
    view : LineView
    units : {"si", "us"}
        Units of the distances.
    size : Size
        Size of the drawing.

    Returns
    -------
    Sheet or None
        None for a line without ties. It is drawn when its content is asked for.
    """
    if view.request is None or not view.request.ties:
        return None
    draw = partial(_draw, view, view.request.ties, units, size)
    return Sheet(size.width, size.height, draw)


def _draw(view: LineView, ties: Sequence[Tie], units: str, size: Size, sheet: Sheet) -> None:
    back = np.radians([tie.bearing_deg for tie in ties]) + np.pi
    far = np.sqrt([max(tie.distance_m, 0.01) for tie in ties])
    points = far[:, None] * np.column_stack([np.sin(back), np.cos(back)])
    mark, fixed = _on_paper(points, size)
    sheet.box(0, 0, size.width, size.height, Ink(colours.PIPE, "#faf9f5", 0.7))
    pen = Pen((0, 0, size.width, size.height), (0, 0, size.width, size.height), sheet)
    azimuth = number(view.mark, "azimuth_deg") if view.mark else None
    if azimuth is not None:
        along = _PIPE * np.array([np.sin(np.radians(azimuth)), np.cos(np.radians(azimuth))])
        sheet.path([np.array([mark - along, mark + along])], Ink(stroke=colours.PIPE, width=3))
    for place in fixed:
        sheet.path([np.array([place, mark])], Ink(stroke=colours.INK, width=0.9, dash=(4, 2)))
    for tie, place in zip(ties, fixed, strict=True):
        fill = "#ffffff" if tie.buried else colours.INK
        sheet.box(place[0] - 3, place[1] - 3, 6, 6, Ink(stroke=colours.INK, fill=fill))
    pen.cross(float(mark[0]), float(mark[1]))
    arrow = np.array([size.width - 16.0, size.height - 26.0])
    taken = [
        (arrow, np.array([16.0, 20.0])),
        (mark, np.array([9.0, 9.0])),
        *((place, np.array([3.0, 3.0])) for place in fixed),
    ]
    for tie, place in zip(ties, fixed, strict=True):
        name, distance, _ = tie.texts(view.wording)
        beside = np.sign(place - mark) * (_half(name) + 5.0)
        around = [(0.0, beside[1]), (0.0, -beside[1]), (beside[0], 0.0), (-beside[0], 0.0)]
        _label(pen, name, _spread([place + step for step in around]), taken)
        between = [mark + share * (place - mark) for share in _SHARES]
        _label(pen, distance, [*between, *_beside(between, place - mark, distance)], taken)
    north_arrow(pen, size, 0.0, view.wording)


def _spread(places: list[np.ndarray]) -> list[np.ndarray]:
    """Return places for a label, and farther ones above and below for points in one line."""
    steps = [step * _LABEL for row in _ROWS for step in (row, -row)]
    return [*places, *(place + np.array([0.0, step]) for step in steps for place in places)]


def _beside(places: list[np.ndarray], way: np.ndarray, text: str) -> list[np.ndarray]:
    """Return places for a distance on both sides of its line, never on past the mark."""
    across = np.array([way[1], -way[0]]) / max(float(np.hypot(*way)), 1e-9)
    step = across * (np.abs(across) @ _half(text) + 6.0)
    return [place + side * step for side in (1, -1, 2, -2) for place in places]


def _half(text: str) -> np.ndarray:
    """Return half the width and height of a label, in points."""
    return np.array([3.0 + pdfmetrics.stringWidth(text, BOLD, TAG_SIZE) / 2, 4.5])


def _label(
    pen: Pen, text: str, places: list[np.ndarray], taken: list[tuple[np.ndarray, np.ndarray]]
) -> None:
    """Draw a label at the place where it overlaps the fewest others, the first of several."""
    half = _half(text)
    low, high = half, np.array(pen.paper[2:]) - half
    inside = [np.clip(place, np.minimum(low, high), high) for place in places]
    overlaps = [
        sum(bool(np.all(np.abs(at - other) < half + size)) for other, size in taken)
        for at in inside
    ]
    best = inside[int(np.argmin(overlaps))]
    taken.append((best, half))
    pen.tag(float(best[0]), float(best[1]), text)


def _on_paper(points: np.ndarray, size: Size) -> tuple[np.ndarray, np.ndarray]:
    """Fit the mark, which is the origin, and the fixed points between the margins."""
    every = np.vstack([np.zeros((1, 2)), points])
    low, high = every.min(axis=0), every.max(axis=0)
    room = np.array([size.width - 2 * _SIDE, size.height - 2 * _ENDS])
    scale = float(np.min(room / np.maximum(high - low, 1e-3)))
    middle = np.array([size.width, size.height]) / 2
    placed = middle + (every - (low + high) / 2) * scale
    return placed[0], placed[1:]
