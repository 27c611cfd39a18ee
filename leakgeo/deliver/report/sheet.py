"""A drawing on the report's page: paths, circles and words, kept as arrays and written at once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
from reportlab.lib.colors import HexColor
from reportlab.platypus import Flowable

from leakgeo.deliver.colours import INK

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from reportlab.pdfgen.canvas import Canvas

# A quarter circle is drawn by a cubic curve whose handles are this share of the radius long.
HANDLE = 4 / 3 * (2**0.5 - 1)
_TURN = np.array([
    (1, 0), (1, HANDLE), (HANDLE, 1), (0, 1), (-HANDLE, 1), (-1, HANDLE), (-1, 0), (-1, -HANDLE),
    (-HANDLE, -1), (0, -1), (HANDLE, -1), (1, -HANDLE), (1, 0),
])  # fmt: skip
_CIRCLE = "{} {} m" + 4 * " {} {} {} {} {} {} c"


@dataclass(frozen=True, eq=False)
class Ink:
    """How something is drawn.

    Parameters
    ----------
    stroke, fill : str or None
        Hex colours; None draws none.
    width : float
        Of the stroke, in points.
    dash : tuple of float
        On and off lengths, in points.
    opacity : float
        Of the fill, 0 to 1.
    """

    stroke: str | None = None
    fill: str | None = None
    width: float = 1.0
    dash: tuple[float, ...] = ()
    opacity: float = 1.0


@dataclass(frozen=True, eq=False)
class Words:
    """Text at a place of the paper; `anchor` is its start, middle or end."""

    x: float
    y: float
    text: str
    font: str
    size: float
    anchor: str = "start"


class Sheet(Flowable):  # type: ignore[misc]
    """A drawing of a fixed size; what is added later lies above.

    Parameters
    ----------
    width, height : float
        In points.
    """

    def __init__(self, width: float, height: float) -> None:
        super().__init__()
        self.width, self.height = width, height
        self.parts: list[tuple[Ink, list[np.ndarray], str] | Words] = []

    def path(self, pieces: Iterable[np.ndarray], ink: Ink) -> None:
        """Add lines or areas, each of shape (n, 2), in points; areas are closed."""
        kept = [piece for piece in pieces if len(piece) > 1]
        if kept:
            self.parts.append((ink, kept, "path"))

    def circles(self, centres: np.ndarray, radius: float, ink: Ink) -> None:
        """Add circles about centres of shape (n, 2)."""
        if len(centres):
            rounds = [_TURN * radius + centre for centre in np.asarray(centres, float)]
            self.parts.append((ink, rounds, "circle"))

    def line(self, x0: float, y0: float, x1: float, y1: float, ink: Ink) -> None:
        """Add one straight line."""
        self.path([np.array([(x0, y0), (x1, y1)])], ink)

    def box(self, x: float, y: float, width: float, height: float, ink: Ink) -> None:
        """Add a rectangle by its lower left corner."""
        corners = [(x, y), (x + width, y), (x + width, y + height), (x, y + height), (x, y)]
        self.path([np.array(corners)], ink)

    def words(self, words: Words) -> None:
        """Add text."""
        self.parts.append(words)

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """Give the size, whatever room there is."""
        return self.width, self.height

    def draw(self) -> None:
        """Write everything into the page."""
        canvas: Canvas = self.canv
        canvas.saveState()
        for part in self.parts:
            if isinstance(part, Words):
                _write(canvas, part)
            else:
                _draw(canvas, *part)
        canvas.restoreState()


def _write(canvas: Canvas, words: Words) -> None:
    canvas.setFillAlpha(1.0)
    canvas.addLiteral(f"{_rgb(INK)} rg")
    canvas.setFont(words.font, words.size)
    put = {"middle": canvas.drawCentredString, "end": canvas.drawRightString}
    put.get(words.anchor, canvas.drawString)(words.x, words.y, words.text)


def _draw(canvas: Canvas, ink: Ink, pieces: Sequence[np.ndarray], kind: str) -> None:
    look = []
    if ink.stroke is not None:
        dash = " ".join(f"{d:g}" for d in ink.dash)
        look.append(f"{_rgb(ink.stroke)} RG {ink.width:.2f} w [{dash}] 0 d")
    if ink.fill is not None:
        canvas.setFillAlpha(ink.opacity)
        look.append(f"{_rgb(ink.fill)} rg")
    code = map(_circle if kind == "circle" else _polyline, pieces)
    done = {(True, True): "B", (True, False): "S", (False, True): "f"}
    end = done.get((ink.stroke is not None, ink.fill is not None), "n")
    canvas.addLiteral("\n".join([*look, *code, end]))


def _polyline(piece: np.ndarray) -> str:
    flat = [f"{v:.2f}" for v in piece.ravel().tolist()]
    pairs = [f"{x} {y}" for x, y in zip(flat[::2], flat[1::2], strict=True)]
    return f"{pairs[0]} m {' l '.join(pairs[1:])} l"


def _circle(turn: np.ndarray) -> str:
    return _CIRCLE.format(*(f"{v:.2f}" for v in turn.ravel().tolist()))


@cache
def _rgb(colour: str) -> str:
    solid = HexColor(colour)
    return f"{solid.red:.4g} {solid.green:.4g} {solid.blue:.4g}"
