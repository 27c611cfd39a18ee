"""A drawing on a page of the report: lines, areas, circles and texts."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
from reportlab.lib.colors import HexColor
from reportlab.lib.rl_accel import fp_str
from reportlab.platypus import Flowable

from leakgeo.deliver.views.colours import INK

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from reportlab.pdfgen.canvas import Canvas

# Operators of PDF: each part of a path begins with the first, and goes on with the second. A
# hundredth of a point is finer than any printer.
_MOVE, _LINE, _CURVE = "%.2f %.2f m", " %.2f %.2f l", " %.2f %.2f %.2f %.2f %.2f %.2f c"
_CLOSE, _BOX = " h", "%.2f %.2f %.2f %.2f re"
# Operators that draw a path, by whether it has a stroke and a fill (even-odd).
_PAINT = {(True, False): "S", (False, True): "f*", (True, True): "B*", (False, False): "n"}
# Control points of a quarter of a circle, as a share of the radius.
_KAPPA = 0.5522847498


@dataclass(frozen=True, eq=False)
class Ink:
    """Stroke and fill of a drawn object.

    Parameters
    ----------
    stroke, fill : str or None
        Hex colours; None draws no stroke or fill.
    width : float
        Width of the stroke, in points.
    dash : tuple of float
        On and off lengths, in points.
    opacity : float
        Opacity of the fill, 0 to 1.
    """

    stroke: str | None = None
    fill: str | None = None
    width: float = 1.0
    dash: tuple[float, ...] = ()
    opacity: float = 1.0


@dataclass(frozen=True, eq=False)
class Words:
    """Text at a point of the paper; `anchor` is "start", "middle" or "end"."""

    x: float
    y: float
    text: str
    font: str
    size: float
    anchor: str = "start"


@dataclass(frozen=True, eq=False)
class Lines:
    """Lines, or areas where the ink has a fill, each as a list of (x, y)."""

    pieces: list[list[list[float]]]
    ink: Ink

    def operators(self) -> str:
        """Return the path in operators of PDF."""
        close = _CLOSE if self.ink.fill else ""
        return " ".join(
            (_MOVE + _LINE * (len(piece) - 1) + close) % tuple(v for xy in piece for v in xy)
            for piece in self.pieces
        )


@dataclass(frozen=True, eq=False)
class Circle:
    """A circle around a point."""

    x: float
    y: float
    radius: float
    ink: Ink

    def operators(self) -> str:
        """Return the path in operators of PDF."""
        x, y, r, k = self.x, self.y, self.radius, self.radius * _KAPPA
        return (_MOVE + 4 * _CURVE + _CLOSE) % (
            x + r, y,
            x + r, y + k, x + k, y + r, x, y + r,
            x - k, y + r, x - r, y + k, x - r, y,
            x - r, y - k, x - k, y - r, x, y - r,
            x + k, y - r, x + r, y - k, x + r, y,
        )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Box:
    """A rectangle with its lower left corner at a point."""

    x: float
    y: float
    width: float
    height: float
    ink: Ink

    def operators(self) -> str:
        """Return the path in operators of PDF."""
        return _BOX % (self.x, self.y, self.width, self.height)


Shape = Lines | Circle | Box | Words


class Sheet(Flowable):  # type: ignore[misc]
    """A drawing of a fixed size in points; later objects cover earlier ones.

    Parameters
    ----------
    width, height : float
        Size in points.
    fill : callable, optional
        Draws on the sheet when its content is asked for, so that a sheet whose place is measured
        alone costs nothing.
    """

    def __init__(
        self, width: float, height: float, fill: Callable[[Sheet], None] | None = None
    ) -> None:
        super().__init__()
        self.width, self.height, self.hAlign = width, height, "LEFT"
        self._shapes: list[Shape] = []
        self._fill = fill

    @property
    def contents(self) -> list[Shape]:
        """All that is drawn, in order."""
        fill, self._fill = self._fill, None
        if fill is not None:
            fill(self)
        return self._shapes

    def path(self, pieces: Iterable[np.ndarray], ink: Ink) -> None:
        """Add lines or areas, each of shape (n, 2), in points; areas are closed."""
        kept = [piece.tolist() for piece in pieces if len(piece) > 1]
        if kept:
            self._shapes.append(Lines(kept, ink))

    def circles(self, centres: np.ndarray, radius: float, ink: Ink) -> None:
        """Add circles with centres of shape (n, 2)."""
        places = np.asarray(centres, float).tolist()
        self._shapes += [Circle(x, y, radius, ink) for x, y in places]

    def line(self, x0: float, y0: float, x1: float, y1: float, ink: Ink) -> None:
        """Add a straight line."""
        self._shapes.append(Lines([[[x0, y0], [x1, y1]]], ink))

    def box(self, x: float, y: float, width: float, height: float, ink: Ink) -> None:
        """Add a rectangle with its lower left corner at `x`, `y`."""
        self._shapes.append(Box(x, y, width, height, ink))

    def words(self, words: Words) -> None:
        """Add a text."""
        self._shapes.append(words)

    def wrap(self, *_: float) -> tuple[float, float]:
        """Return the size in points, whatever room there is."""
        return self.width, self.height

    def draw(self) -> None:
        """Draw all on the page; ReportLab calls this."""
        brush = _Brush(self.canv)
        for shape in self.contents:
            brush.words(shape) if isinstance(shape, Words) else brush.path(shape)


@cache
def _colour(code: str) -> str:
    """Return a hex colour as the numbers of an operator of PDF."""
    return str(fp_str(HexColor(code).rgb()))


class _Brush:
    """Draws shapes on a page, and sets of its state only what changes."""

    def __init__(self, canvas: Canvas) -> None:
        self._canvas = canvas
        self._state: dict[str, Any] = {}

    def path(self, shape: Lines | Circle | Box) -> None:
        ink, page = shape.ink, self._canvas
        if ink.stroke is not None:
            if self._changes("stroke", ink.stroke):
                page.addLiteral(f"{_colour(ink.stroke)} RG")
            if self._changes("width", ink.width):
                page.setLineWidth(ink.width)
            if self._changes("dash", ink.dash):
                page.setDash(list(ink.dash))
        if ink.fill is not None:
            self._set_fill(ink.fill, ink.opacity)
        paint = _PAINT[ink.stroke is not None, ink.fill is not None]
        page.addLiteral(f"{shape.operators()} {paint}")

    def words(self, words: Words) -> None:
        page = self._canvas
        self._set_fill(INK, 1.0)
        page.setFont(words.font, words.size)
        draw = {"start": page.drawString, "middle": page.drawCentredString,
                "end": page.drawRightString}[words.anchor]  # fmt: skip
        draw(words.x, words.y, words.text)

    def _set_fill(self, fill: str, opacity: float) -> None:
        if self._changes("fill", (fill, opacity)):
            self._canvas.addLiteral(f"{_colour(fill)} rg")
            self._canvas.setFillAlpha(opacity)

    def _changes(self, name: str, value: object) -> bool:
        before = self._state.get(name)
        self._state[name] = value
        return before != value
