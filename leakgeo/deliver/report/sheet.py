"""A drawing on a page of the report: lines, areas, circles and texts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from reportlab.graphics.shapes import Circle, Drawing, Path, Rect, String
from reportlab.lib.colors import HexColor

from leakgeo.deliver.views.colours import INK

if TYPE_CHECKING:
    from collections.abc import Iterable

# Path operators of ReportLab.
_MOVE, _LINE = 0, 1


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

    @property
    def look(self) -> dict[str, Any]:
        """Keyword arguments for shapes of ReportLab."""
        return {
            "strokeColor": HexColor(self.stroke) if self.stroke else None,
            "strokeWidth": self.width, "strokeDashArray": list(self.dash) or None,
            "fillColor": HexColor(self.fill) if self.fill else None, "fillOpacity": self.opacity,
        }  # fmt: skip


@dataclass(frozen=True, eq=False)
class Words:
    """Text at a point of the paper; `anchor` is "start", "middle" or "end"."""

    x: float
    y: float
    text: str
    font: str
    size: float
    anchor: str = "start"


class Sheet(Drawing):  # type: ignore[misc]
    """A drawing of a fixed size in points; later objects cover earlier ones."""

    def path(self, pieces: Iterable[np.ndarray], ink: Ink) -> None:
        """Add lines or areas, each of shape (n, 2), in points; areas are closed."""
        kept = [piece for piece in pieces if len(piece) > 1]
        if kept:
            flat = np.concatenate(kept).ravel().tolist()
            steps = [step for piece in kept for step in (_MOVE, *[_LINE] * (len(piece) - 1))]
            self.add(Path(flat, steps, autoclose="pdf", **ink.look))

    def circles(self, centres: np.ndarray, radius: float, ink: Ink) -> None:
        """Add circles with centres of shape (n, 2)."""
        for x, y in np.asarray(centres, float).tolist():
            self.add(Circle(x, y, radius, **ink.look))

    def line(self, x0: float, y0: float, x1: float, y1: float, ink: Ink) -> None:
        """Add a straight line."""
        self.path([np.array([(x0, y0), (x1, y1)])], ink)

    def box(self, x: float, y: float, width: float, height: float, ink: Ink) -> None:
        """Add a rectangle with its lower left corner at `x`, `y`."""
        self.add(Rect(x, y, width, height, **ink.look))

    def words(self, words: Words) -> None:
        """Add a text."""
        self.add(String(
            words.x, words.y, words.text, fontName=words.font, fontSize=words.size,
            textAnchor=words.anchor, fillColor=HexColor(INK),
        ))  # fmt: skip
