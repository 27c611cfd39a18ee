"""Drawing in plane coordinates on a sheet: transformation, clipping and symbols."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from reportlab.pdfbase import pdfmetrics
from shapely.geometry.base import BaseGeometry

from leakgeo.deliver.report.fonts import BOLD, LEAST_SIZE, REGULAR, drawn, fitted
from leakgeo.deliver.report.sheet import Ink, Sheet, Words
from leakgeo.deliver.views.colours import INK

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import ArrayLike

WHITE = "#ffffff"
TAG_SIZE = LEAST_SIZE


@dataclass
class Pen:
    """Draws a window of plane coordinates into a rectangle of the paper.

    Parameters
    ----------
    window : tuple of float
        ``(x0, y0, x1, y1)`` in the unit of the coordinates; geometries are clipped to it.
    paper : tuple of float
        ``(x0, y0, x1, y1)`` of the rectangle, in points.
    sheet : Sheet
        Drawing to add to.
    """

    window: tuple[float, float, float, float]
    paper: tuple[float, float, float, float]
    sheet: Sheet
    _box: BaseGeometry = field(init=False)

    def __post_init__(self) -> None:
        self._box = shapely.box(*self.window)
        low, high = np.reshape(self.window, (2, 2))
        self._low, self._start = low, np.reshape(self.paper, (2, 2))[0]
        space = np.reshape(self.paper, (2, 2))[1] - self._start
        self._scale = space / np.where(high > low, high - low, 1.0)

    def points(self, xy: ArrayLike) -> np.ndarray:
        """Transform coordinates, shape (n, 2), to points on paper."""
        out: np.ndarray = self._start + (np.asarray(xy, float) - self._low) * self._scale
        return out

    def holds(self, x: float, y: float) -> bool:
        """Return whether a place is inside the window."""
        x0, y0, x1, y1 = self.window
        return bool(x0 <= x <= x1 and y0 <= y <= y1)

    def _inside(self, shape: BaseGeometry, kind: int) -> list[Any]:
        """Return the non-empty parts of a geometry in the window that have one type id."""
        parts = shapely.get_parts(_intersection(shape, self._box))
        good = (shapely.get_type_id(parts) == kind) & ~shapely.is_empty(parts)
        return list(parts[good])

    def _paper_points(self, part: BaseGeometry) -> np.ndarray:
        """Return the vertices of a part on paper, clipped, as GEOS may round out of the window."""
        low, high = np.reshape(self.window, (2, 2))
        return self.points(np.clip(shapely.get_coordinates(part), low, high))

    def line(self, shape: BaseGeometry, colour: str, width: float, dash: Any = None) -> None:
        """Draw a line, or the outline of an area, inside the window."""
        if shape is None or shape.is_empty:
            return
        if shape.geom_type.endswith("Polygon"):
            shape = shape.boundary
        parts = [self._paper_points(p) for p in self._inside(shape, 1)]
        self.sheet.path(parts, Ink(stroke=colour, width=width, dash=tuple(dash or ())))

    def area(self, shape: BaseGeometry, fill: str, opacity: float) -> None:
        """Fill an area, as far as it is inside the window; holes are filled too."""
        if shape is None or shape.is_empty:
            return
        parts = [self._paper_points(p.exterior) for p in self._inside(shape, 3)]
        self.sheet.path(parts, Ink(fill=fill, opacity=opacity))

    def hatch(self, shape: BaseGeometry, colour: str, step: float, *, back: bool = False) -> None:
        """Hatch an area with slanted lines, `step` apart in the unit of the window."""
        if shape is None or shape.is_empty:
            return
        shape = _intersection(shape, self._box)
        if shape.is_empty:
            return
        x0, y0, x1, y1 = shape.bounds
        rise = y1 - y0
        # A common origin makes the hatches of adjacent areas meet.
        left = np.arange(np.floor((x0 - rise) / step), np.ceil(x1 / step)) * step
        foot, head = (left + rise, left) if back else (left, left + rise)
        ends = [np.column_stack([x, np.full(x.size, y)]) for x, y in ((foot, y0), (head, y1))]
        strokes: Any = shapely.linestrings(np.stack(ends, axis=1))
        inside = _intersection(shapely.multilinestrings(strokes), shape)
        parts = [self._paper_points(p) for p in self._inside(inside, 1)]
        self.sheet.path(parts, Ink(stroke=colour, width=0.5))

    def dots(self, xy: np.ndarray, fills: Iterable[str], edge: str, radius: float) -> None:
        """Draw circles at those coordinates, shape (n, 2), that are inside the window."""
        for place, point, fill in zip(xy, self.points(xy), fills, strict=True):
            if self.holds(*place):
                self.sheet.circles(point[None], radius, Ink(stroke=edge, fill=fill, width=0.6))

    def cross(self, x: float, y: float, radius: float = 8, *, arms: bool = True) -> None:
        """Draw a mark: a cross in a ring with a white halo; only the ring without `arms`."""
        spot = self.points([(x, y)])
        tips = np.array([(radius, 0), (0, radius)]) if arms else np.empty((0, 2))
        for colour, width in ((WHITE, 4.0), (INK, 1.8)):
            ink = Ink(stroke=colour, width=width)
            self.sheet.path([np.array([spot[0] - tip, spot[0] + tip]) for tip in tips], ink)
            self.sheet.circles(spot, radius * 0.6, ink)

    def tag(self, x: float, y: float, text: str, edge: str = INK, *, round_: bool = False) -> None:
        """Draw a short text in a white box, or in a ring with `round_`."""
        px, py = self.points([(x, y)])[0].tolist()
        text = fitted(text, BOLD, TAG_SIZE, 90)
        if round_:
            ink = Ink(stroke=edge, fill=WHITE, width=1.2)
            self.sheet.circles(np.array([(px, py)]), 5.2, ink)
        else:
            half = 3.0 + pdfmetrics.stringWidth(text, BOLD, TAG_SIZE) / 2
            left, bottom, right, top = self.paper
            px, py = min(max(px, left + half), right - half), min(max(py, bottom + 4.5), top - 4.5)
            self.sheet.box(px - half, py - 4.5, 2 * half, 9, Ink(stroke=edge, fill=WHITE))
        self.sheet.words(Words(px, py - 2.3, text, BOLD, TAG_SIZE, "middle"))

    def words(
        self, px: float, py: float, text: str, size: float = 7, anchor: str = "start"
    ) -> None:
        """Draw a text at a point of the paper."""
        self.sheet.words(Words(px, py, drawn(text), REGULAR, size, anchor))


def nice_step(span: float, most: int) -> float:
    """Return a step of 1, 2 or 5 times a power of ten that divides `span` into at most `most`.

    Examples
    --------
    >>> nice_step(30, 6), nice_step(0.7, 5)
    (5.0, 0.2)
    """
    rough = max(span, 1e-9) / most
    ten = 10.0 ** np.floor(np.log10(rough))
    return float(next(k * ten for k in (1, 2, 5, 10) if k * ten >= rough * (1 - 1e-9)))


def _intersection(shape: Any, other: Any) -> Any:
    """Return the intersection of two geometries, without GEOS's warnings on tiny segments."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        return shapely.intersection(shape, other)
