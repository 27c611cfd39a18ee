"""A small pen over reportlab's drawing shapes: map coordinates in, points on paper out."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from reportlab.graphics.shapes import Circle, Drawing, Line, Path, PolyLine, Rect, String
from reportlab.graphics.shapes import Polygon as Area
from reportlab.lib.colors import Color, HexColor
from reportlab.pdfbase import pdfmetrics
from shapely.geometry.base import BaseGeometry

from leakgeo.deliver.colours import INK
from leakgeo.deliver.report_type import BOLD, REGULAR, drawn, fitted

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import ArrayLike


def tint(colour: str, opacity: float = 1.0) -> Color:
    """Give a hex colour with an opacity."""
    solid = HexColor(colour)
    return Color(solid.red, solid.green, solid.blue, alpha=opacity)


@dataclass
class Pen:
    """Draws in a window of plane coordinates onto a rectangle of paper.

    Parameters
    ----------
    window : tuple of float
        ``(x0, y0, x1, y1)`` of what is drawn; shapes are cut at its edge.
    paper : tuple of float
        ``(x0, y0, x1, y1)`` of the rectangle it goes to, in points.
    drawing : reportlab.graphics.shapes.Drawing
        What is drawn into.
    """

    window: tuple[float, float, float, float]
    paper: tuple[float, float, float, float]
    drawing: Drawing
    _box: BaseGeometry = field(init=False)

    def __post_init__(self) -> None:
        self._box = shapely.box(*self.window)

    def points(self, xy: ArrayLike) -> np.ndarray:
        """Bring coordinates, shape (n, 2), to points on paper."""
        low, high = np.reshape(self.window, (2, 2))
        start, end = np.reshape(self.paper, (2, 2))
        span = np.where(high > low, high - low, 1.0)
        out: np.ndarray = start + (np.asarray(xy, float) - low) / span * (end - start)
        return out

    def holds(self, x: float, y: float) -> bool:
        """Tell whether a place is inside the window."""
        x0, y0, x1, y1 = self.window
        return x0 <= x <= x1 and y0 <= y <= y1

    def _inside(self, shape: BaseGeometry, kind: str) -> list[Any]:
        """Give the parts of a shape in the window that are of one kind, none of them empty."""
        parts = shapely.get_parts(shapely.intersection(shape, self._box))
        return [part for part in parts if part.geom_type == kind and not part.is_empty]

    def line(self, shape: BaseGeometry, colour: str, width: float, dash: Any = None) -> None:
        """Draw a line, or the outline of an area, as far as it is inside the window."""
        if shape is None or shape.is_empty:
            return
        if shape.geom_type.endswith("Polygon"):
            shape = shape.boundary
        for part in self._inside(shape, "LineString"):
            xy = self.points(shapely.get_coordinates(part)).ravel().tolist()
            look = {"strokeWidth": width, "strokeDashArray": list(dash) if dash else None}
            self.drawing.add(PolyLine(xy, strokeColor=tint(colour), **look))

    def area(self, shape: BaseGeometry, fill: str, opacity: float) -> None:
        """Fill an area, as far as it is inside the window; holes are filled too."""
        if shape is None or shape.is_empty:
            return
        for part in self._inside(shape, "Polygon"):
            xy = self.points(shapely.get_coordinates(part.exterior)).ravel().tolist()
            self.drawing.add(Area(xy, fillColor=tint(fill, opacity), strokeColor=None))

    def hatch(self, shape: BaseGeometry, colour: str, step: float, *, back: bool = False) -> None:
        """Hatch an area with slanted lines `step` apart, in the window's unit."""
        if shape is None or shape.is_empty:
            return
        x0, y0, x1, y1 = shape.bounds
        rise = y1 - y0
        left = np.arange(x0 - rise, x1, step)
        foot, head = (left + rise, left) if back else (left, left + rise)
        ends = [np.column_stack([x, np.full(x.size, y)]) for x, y in ((foot, y0), (head, y1))]
        strokes: Any = shapely.linestrings(np.stack(ends, axis=1))
        inside = shapely.intersection(shapely.multilinestrings(strokes), shape)
        path = Path(strokeColor=tint(colour), strokeWidth=0.5, fillColor=None)
        for part in self._inside(inside, "LineString"):
            start, end = self.points(shapely.get_coordinates(part)[[0, -1]]).tolist()
            path.moveTo(*start)
            path.lineTo(*end)
        self.drawing.add(path)

    def dots(self, xy: np.ndarray, fills: Iterable[str], edge: str, radius: float) -> None:
        """Draw circles at coordinates, shape (n, 2), that are inside the window."""
        for place, point, fill in zip(xy, self.points(xy), fills, strict=True):
            if self.holds(*place):
                self.drawing.add(Circle(*point, radius, fillColor=HexColor(fill),
                                        strokeColor=HexColor(edge), strokeWidth=0.6))  # fmt: skip

    def cross(self, x: float, y: float, radius: float = 8, *, arms: bool = True) -> None:
        """Draw the mark: a cross in a ring, white behind; without arms where it isn't one yet."""
        px, py = self.points([(x, y)])[0]
        for colour, width in (("#ffffff", 4.0), (INK, 1.8)):
            ink = HexColor(colour)
            for dx, dy in ((radius, 0), (0, radius)) if arms else ():
                self.drawing.add(Line(px - dx, py - dy, px + dx, py + dy, strokeColor=ink,
                                      strokeWidth=width))  # fmt: skip
            self.drawing.add(Circle(px, py, radius * 0.6, fillColor=None, strokeColor=ink,
                                    strokeWidth=width))  # fmt: skip

    def tag(self, x: float, y: float, text: str, edge: str = INK, *, round_: bool = False) -> None:
        """Write a few letters in a white box, or a number in a ring, at a place."""
        px, py = self.points([(x, y)])[0]
        text = fitted(text, BOLD, 6.5, 90)
        if round_:
            self.drawing.add(Circle(px, py, 5.2, fillColor=HexColor("#ffffff"),
                                    strokeColor=HexColor(edge), strokeWidth=1.2))  # fmt: skip
        else:
            half = 3.0 + pdfmetrics.stringWidth(text, BOLD, 6.5) / 2
            left, _, right, _ = self.paper
            px = min(max(px, left + half), right - half)
            look = {"fillColor": HexColor("#ffffff"), "strokeColor": HexColor(edge)}
            self.drawing.add(Rect(px - half, py - 4.5, 2 * half, 9, rx=1.5, **look))
        self.drawing.add(String(px, py - 2.3, text, fontName=BOLD, fontSize=6.5,
                                textAnchor="middle"))  # fmt: skip

    def words(
        self, px: float, py: float, text: str, size: float = 7, anchor: str = "start"
    ) -> None:
        """Write text at a point of the paper."""
        self.drawing.add(String(px, py, drawn(text), fontName=REGULAR, fontSize=size,
                                textAnchor=anchor, fillColor=HexColor(INK)))  # fmt: skip


def nice_step(span: float, most: int) -> float:
    """Give a step of 1, 2 or 5 times a power of ten that cuts `span` into `most` pieces or fewer.

    Examples
    --------
    >>> nice_step(30, 6), nice_step(0.7, 5)
    (5.0, 0.2)
    """
    rough = max(span, 1e-9) / most
    ten = 10.0 ** np.floor(np.log10(rough))
    return float(next(k * ten for k in (1, 2, 5, 10) if k * ten >= rough * (1 - 1e-9)))
