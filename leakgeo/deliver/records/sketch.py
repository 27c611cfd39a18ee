"""The sketch along the pipe of a record: fittings, the pipe that was seen, the leak, the mark."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from reportlab.pdfbase import pdfmetrics

from leakgeo.deliver.report.fonts import BOLD, REGULAR, fitted
from leakgeo.deliver.report.pen import TAG_SIZE, WHITE, Pen, nice_step
from leakgeo.deliver.report.sheet import Ink, Sheet, Words
from leakgeo.deliver.views import colours
from leakgeo.wording.quantities import axis_unit

if TYPE_CHECKING:
    from leakgeo.deliver.records.facts import DigRecord
    from leakgeo.deliver.report.sketch import Size
    from leakgeo.wording import Wording

# Heights in points above the foot of the sketch, and the gap between labels.
_AXIS, _BELOW, _PIPE, _MARK, _ABOVE, _ROW, _GAP = 14.0, 30.0, 52.0, 70.0, 84.0, 11.0, 6.0
_SIDE, _ROWS = 26.0, 2
# Of two places that coincide, one label ends before them and the other begins behind.
_APART = 3.0
_PAD, _LEAST_M = 0.2, 6.0
#: Height of the sketch in points.
HEIGHT = _ABOVE + _ROWS * _ROW


def dig_sketch(record: DigRecord, wording: Wording, size: Size) -> Sheet | None:
    """Return the sketch, to scale along the pipe; None for a line without a known length.

    Parameters
    ----------
    record : DigRecord
    wording : Wording
    size : Size
        Its height is at least `HEIGHT`.
    """
    if not np.isfinite(record.length_m):
        return None
    begin, end = _window(record)
    sheet = Sheet(size.width, size.height)
    paper = (_SIDE, _PIPE, size.width - _SIDE, _PIPE + 1.0)
    pen = Pen((begin, 0.0, end, 1.0), paper, sheet)
    _axis(pen, begin, end, wording)
    _pipe(pen, record, begin, end)
    above = [(at, name) for at, name in record.fittings if begin <= at <= end]
    above += [(at, wording.term(name, "record")) for at, name in ((0.0, "start"),
              (record.length_m, "end")) if begin <= at <= end
              and not any(abs(at - other) < _LEAST_M / 20 for other, _ in above)]  # fmt: skip
    _labels(pen, sorted(above))
    for at, _ in above:
        x = float(pen.points([(at, 0.0)])[0, 0])
        sheet.box(x - 3, _PIPE - 3, 6, 6, Ink(stroke=colours.INK, fill=WHITE))
    _places(pen, record, wording)
    return sheet


def _window(record: DigRecord) -> tuple[float, float]:
    """Return the stretch of the line that is drawn: what was found, and a fitting on each side."""
    own = [record.chainage_m(name) for name in ("leak_chainage_m", "exposed_from_m",
                                                "exposed_to_m")]  # fmt: skip
    own += [record.mark.chainage_m] if record.mark else []
    known = [at for at in own if np.isfinite(at)]
    if not known:
        return 0.0, record.length_m
    low, high = min(known), max(known)
    before = [at for at, _ in record.fittings if at <= low][-1:]
    after = [at for at, _ in record.fittings if at >= high][:1]
    low, high = min([low, *before]), max([high, *after])
    pad = max(_PAD * (high - low), _LEAST_M / 2)
    return max(low - pad, 0.0), min(high + pad, record.length_m)


def _axis(pen: Pen, begin: float, end: float, wording: Wording) -> None:
    unit, length_m = axis_unit(wording.units)
    step = nice_step((end - begin) / length_m, 8) * length_m
    first = int(np.ceil(begin / step - 1e-9))
    for k in range(first, int(np.floor(end / step + 1e-9)) + 1):
        x = float(pen.points([(k * step, 0.0)])[0, 0])
        pen.sheet.line(x, _AXIS, x, _AXIS + 3, Ink(stroke=colours.INK, width=0.6))
        text = wording.number(f"{k * step / length_m:g}")
        pen.sheet.words(Words(x, _AXIS - 9, text, REGULAR, TAG_SIZE, "middle"))
    left, right = pen.paper[0], pen.paper[2]
    pen.sheet.line(left, _AXIS, right, _AXIS, Ink(stroke=colours.INK, width=0.6))
    pen.sheet.words(Words(right + 4, _AXIS - 2, unit, REGULAR, TAG_SIZE))


def _pipe(pen: Pen, record: DigRecord, begin: float, end: float) -> None:
    """Draw the pipe, and the part of it that was seen as a wide white band."""
    left, right = pen.points([(begin, 0.0), (end, 0.0)])[:, 0].tolist()
    pen.sheet.line(left, _PIPE, right, _PIPE, Ink(stroke=colours.INK, width=4.0))
    pen.sheet.line(left, _PIPE, right, _PIPE, Ink(stroke="#c9d3dc", width=2.4))
    seen = np.array([record.chainage_m(name) for name in ("exposed_from_m", "exposed_to_m")])
    if not np.isfinite(seen).all():
        return
    low, high = np.clip(np.sort(seen), begin, end)
    x0, x1 = pen.points([(low, 0.0), (high, 0.0)])[:, 0].tolist()
    pen.sheet.box(x0, _PIPE - 6, max(x1 - x0, 2.0), 12, Ink(stroke=colours.INK, fill=WHITE))
    pen.sheet.line(x0, _PIPE, x1, _PIPE, Ink(stroke="#c9d3dc", width=2.4))


def _places(pen: Pen, record: DigRecord, wording: Wording) -> None:
    """Draw the leak as a dot on the pipe, the mark as a cross above it, and name both below."""
    below: list[tuple[float, str]] = []
    leak = record.chainage_m("leak_chainage_m")
    if record.mark is not None:
        _mark(pen, record.mark.chainage_m)
        below.append((record.mark.chainage_m, _at("the_mark", record.mark.chainage_m, wording)))
    if np.isfinite(leak):
        spot = pen.points([(leak, 0.0)])
        pen.sheet.circles(spot, 4.2, Ink(stroke=WHITE, fill=colours.INK, width=1.0))
        below.append((leak, _at("the_leak", leak, wording)))
    anchors = ("end", "start") if len(below) > 1 else ("middle",)
    for (at, text), anchor in zip(sorted(below), anchors, strict=False):
        x = float(pen.points([(at, 0.0)])[0, 0])
        pen.sheet.line(x, _PIPE - 7, x, _BELOW + 8, Ink(stroke=colours.INK, width=0.5))
        wide = pdfmetrics.stringWidth(text, BOLD, TAG_SIZE)
        left = x + {"end": -_APART - wide, "start": _APART, "middle": -wide / 2}[anchor]
        left = min(max(left, 2.0), pen.paper[2] + _SIDE - wide - 2)
        # A label that is pushed off the edge of the paper stands below the other.
        low = 7.0 if anchor == "start" and left < x - 4.0 else 0.0
        pen.sheet.words(Words(left, _BELOW - low, text, BOLD, TAG_SIZE))


def _mark(pen: Pen, at_m: float) -> None:
    x = float(pen.points([(at_m, 0.0)])[0, 0])
    ink = Ink(stroke=colours.INK, width=1.4)
    pen.sheet.line(x, _PIPE, x, _MARK - 5, Ink(stroke=colours.INK, width=0.5, dash=(2, 1.5)))
    for dx, dy in ((5.0, 0.0), (0.0, 5.0)):
        pen.sheet.line(x - dx, _MARK - dy, x + dx, _MARK + dy, ink)
    pen.sheet.circles(np.array([(x, _MARK)]), 3.2, ink)


def _at(name: str, at_m: float, wording: Wording) -> str:
    return f"{wording.term(name, 'record')} {wording.quantities.length(at_m)}"


def _labels(pen: Pen, places: list[tuple[float, str]]) -> None:
    """Write names of fittings above their places, in rows so that none covers another."""
    taken = [-np.inf] * _ROWS
    for at, name in places:
        x = float(pen.points([(at, 0.0)])[0, 0])
        text = fitted(name, BOLD, TAG_SIZE, 110)
        half = pdfmetrics.stringWidth(text, BOLD, TAG_SIZE) / 2
        centre = min(max(x, half + 2), pen.paper[2] + _SIDE - half - 2)
        row = next((k for k in range(_ROWS) if taken[k] + _GAP <= centre - half), None)
        if row is None:
            continue
        taken[row] = centre + half
        y = _ABOVE + row * _ROW
        pen.sheet.line(x, _PIPE + 4, x, y - 2, Ink(stroke=colours.INK, width=0.4))
        pen.sheet.words(Words(centre, y, text, BOLD, TAG_SIZE, "middle"))
