"""Pictures of drawings of the report, as PNG, for programs that show no PDF."""

from __future__ import annotations

import io
from functools import lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

import numpy as np
from PIL import Image, ImageDraw, ImageFont
from reportlab.graphics.shapes import Circle, Path, Rect, String

if TYPE_CHECKING:
    from collections.abc import Iterator

    from leakgeo.deliver.report.sheet import Sheet

# Pixels per point of the picture; it is drawn larger by the second factor, and then reduced.
PIXELS, _FINER = 2, 2
_MOVE = 0
_ANCHORS = {"start": "ls", "middle": "ms", "end": "rs"}


def png_of(sheet: Sheet) -> bytes:
    """Return a drawing as PNG, `PIXELS` to the point, on white.

    Parameters
    ----------
    sheet : Sheet
        Of paths, circles, rectangles and texts.
    """
    scale = PIXELS * _FINER
    size = round(sheet.width * scale), round(sheet.height * scale)
    painter = _Painter(Image.new("RGB", size, "white"), scale)
    for shape in sheet.contents:
        painter.draw(shape)
    small = painter.image.resize((size[0] // _FINER, size[1] // _FINER), Image.Resampling.BOX)
    out = io.BytesIO()
    small.quantize(128).save(out, "PNG", optimize=True)
    return out.getvalue()


class _Painter:
    """Draws shapes of ReportLab on an image, whose rows count downward."""

    def __init__(self, image: Image.Image, scale: int) -> None:
        self.image, self.scale = image, scale
        self.pen = ImageDraw.Draw(image, "RGBA")

    def draw(self, shape: Any) -> None:
        if isinstance(shape, String):
            self._text(shape)
        elif isinstance(shape, Circle):
            ends = self._pixels([(shape.cx - shape.r, shape.cy + shape.r),
                                 (shape.cx + shape.r, shape.cy - shape.r)])  # fmt: skip
            self.pen.ellipse(ends, _colour(shape.fillColor, shape.fillOpacity),
                             _colour(shape.strokeColor), self._width(shape))  # fmt: skip
        elif isinstance(shape, Rect):
            x, y, x1, y1 = shape.x, shape.y, shape.x + shape.width, shape.y + shape.height
            self._area([(x, y), (x1, y), (x1, y1), (x, y1), (x, y)], shape)
        elif isinstance(shape, Path):
            for piece in _pieces(shape):
                self._area(piece, shape)

    def _area(self, points: list[tuple[float, float]], shape: Any) -> None:
        """Fill an area, and draw its outline; a line is an area without a fill."""
        pixels = self._pixels(points)
        fill, stroke = _colour(shape.fillColor, shape.fillOpacity), _colour(shape.strokeColor)
        if fill is not None and len(pixels) > 2:
            self.pen.polygon(pixels, fill)
        if stroke is not None:
            for dash in _dashes(pixels, shape.strokeDashArray, self.scale):
                self.pen.line(dash, stroke, self._width(shape), joint="curve")

    def _text(self, shape: String) -> None:
        font = _font(shape.fontName, round(shape.fontSize * self.scale))
        ((x, y),) = self._pixels([(shape.x, shape.y)])
        self.pen.text((x, y), shape.text, _colour(shape.fillColor), font,
                      anchor=_ANCHORS[shape.textAnchor])  # fmt: skip

    def _pixels(self, points: list[tuple[float, float]]) -> list[tuple[float, float]]:
        return [(x * self.scale, self.image.height - y * self.scale) for x, y in points]

    def _width(self, shape: Any) -> int:
        return max(round((shape.strokeWidth or 0.0) * self.scale), 1)


def _pieces(path: Path) -> Iterator[list[tuple[float, float]]]:
    """Yield the lines of a path, which has no curves."""
    points = np.reshape(path.points, (-1, 2)).tolist()
    starts = [k for k, step in enumerate(path.operators) if step == _MOVE]
    for begin, end in zip(starts, [*starts[1:], len(points)], strict=True):
        yield [(x, y) for x, y in points[begin:end]]


def _dashes(
    points: list[tuple[float, float]], pattern: list[float] | None, scale: int
) -> Iterator[list[tuple[float, float]]]:
    """Yield the drawn parts of a line, in pixels."""
    if not pattern:
        yield points
        return
    xy = np.asarray(points, float)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
    on, off = (max(float(step), 0.5) * scale for step in pattern[:2])
    for begin in np.arange(0.0, along[-1], on + off):
        at = np.linspace(begin, min(begin + on, along[-1]), 4)
        yield [(float(np.interp(a, along, xy[:, 0])), float(np.interp(a, along, xy[:, 1])))
               for a in at]  # fmt: skip


def _colour(colour: Any, opacity: float | None = 1.0) -> tuple[int, int, int, int] | None:
    if colour is None:
        return None
    red, green, blue = (round(255 * part) for part in colour.rgb())
    return red, green, blue, round(255 * (1.0 if opacity is None else opacity))


@lru_cache(maxsize=16)
def _font(name: str, size: int) -> ImageFont.FreeTypeFont:
    data = (files("leakgeo.deliver") / "assets" / f"{name}.ttf").read_bytes()
    return ImageFont.truetype(io.BytesIO(data), size)
