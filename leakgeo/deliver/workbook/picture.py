"""Pictures of drawings of the report, as PNG, for programs that show no PDF."""

from __future__ import annotations

import io
from functools import lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageColor, ImageDraw, ImageFont

from leakgeo.deliver.report.sheet import Box, Circle, Words
from leakgeo.deliver.views.colours import INK

if TYPE_CHECKING:
    from collections.abc import Iterator

    from leakgeo.deliver.report.sheet import Ink, Shape, Sheet

# Pixels per point of the picture; it is drawn larger by the second factor, and then reduced.
PIXELS, _FINER = 2, 2
_ANCHORS = {"start": "ls", "middle": "ms", "end": "rs"}


def png_of(sheet: Sheet) -> bytes:
    """Return a drawing as PNG, `PIXELS` to the point, on white.

    Parameters
    ----------
    sheet : Sheet
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
    """Draws shapes of a sheet on an image, whose rows count downward."""

    def __init__(self, image: Image.Image, scale: int) -> None:
        self.image, self.scale = image, scale
        self.pen = ImageDraw.Draw(image, "RGBA")

    def draw(self, shape: Shape) -> None:
        if isinstance(shape, Words):
            self._text(shape)
        elif isinstance(shape, Circle):
            x, y, r = shape.x, shape.y, shape.radius
            ends = self._pixels([(x - r, y + r), (x + r, y - r)])
            self.pen.ellipse(ends, _colour(shape.ink.fill, shape.ink.opacity),
                             _colour(shape.ink.stroke), self._width(shape.ink))  # fmt: skip
        elif isinstance(shape, Box):
            x, y, x1, y1 = shape.x, shape.y, shape.x + shape.width, shape.y + shape.height
            self._area([(x, y), (x1, y), (x1, y1), (x, y1), (x, y)], shape.ink)
        else:
            for piece in shape.pieces:
                self._area([(x, y) for x, y in piece], shape.ink)

    def _area(self, points: list[tuple[float, float]], ink: Ink) -> None:
        """Fill an area, and draw its outline; a line is an area without a fill."""
        pixels = self._pixels(points)
        fill, stroke = _colour(ink.fill, ink.opacity), _colour(ink.stroke)
        if fill is not None and len(pixels) > 2:
            self.pen.polygon(pixels, fill)
        if stroke is not None:
            for dash in _dashes(pixels, ink.dash, self.scale):
                self.pen.line(dash, stroke, self._width(ink), joint="curve")

    def _text(self, words: Words) -> None:
        font = _font(words.font, round(words.size * self.scale))
        ((x, y),) = self._pixels([(words.x, words.y)])
        self.pen.text((x, y), words.text, _colour(INK), font, anchor=_ANCHORS[words.anchor])

    def _pixels(self, points: list[tuple[float, float]]) -> list[tuple[float, float]]:
        return [(x * self.scale, self.image.height - y * self.scale) for x, y in points]

    def _width(self, ink: Ink) -> int:
        return max(round(ink.width * self.scale), 1)


def _dashes(
    points: list[tuple[float, float]], pattern: tuple[float, ...], scale: int
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


def _colour(code: str | None, opacity: float = 1.0) -> tuple[int, int, int, int] | None:
    if code is None:
        return None
    red, green, blue = ImageColor.getrgb(code)[:3]
    return red, green, blue, round(255 * opacity)


@lru_cache(maxsize=16)
def _font(name: str, size: int) -> ImageFont.FreeTypeFont:
    data = (files("leakgeo.deliver") / "assets" / f"{name}.ttf").read_bytes()
    return ImageFont.truetype(io.BytesIO(data), size)
