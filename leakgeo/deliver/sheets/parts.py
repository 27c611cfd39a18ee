"""Boxes and tables of the paper sheets: black lines on white, with space to write in gloves."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reportlab.lib.colors import HexColor
from reportlab.platypus import Flowable, Spacer, Table

from leakgeo.deliver.report.fonts import para

if TYPE_CHECKING:
    from collections.abc import Sequence

# A copier loses gray, and lines thinner than this.
BLACK, LINE = HexColor("#000000"), 0.8
#: Heights in points: of a box of the head, and of a row to write in.
BOX, ROW = 33.0, 24.5
_LABEL, _HEAD = 8.5, 10.0


def text(words: str, size: float = 9.0, *, bold: bool = False, **more: object) -> Flowable:
    """Return a paragraph in black."""
    return para(words, size, bold=bold, textColor=BLACK, **more)


def boxes(
    rows: Sequence[Sequence[tuple[str, str, float]]], width: float, height: float = BOX
) -> list[Flowable]:
    """Return rows of boxes, each with its label small and at the top, and what is filled in.

    Parameters
    ----------
    rows : sequence of sequences of (str, str, float)
        Label, value, and share of the width of each box.
    width : float
        Width of a page between its margins, in points.
    height : float
        Height of a box, in points.
    """
    return [_row_of_boxes(row, width, height) for row in rows]


def _row_of_boxes(row: Sequence[tuple[str, str, float]], width: float, height: float) -> Flowable:
    cells = [[text(label, _LABEL), *([text(value, 11, bold=True)] if value else [])]
             for label, value, _ in row]  # fmt: skip
    look = [
        ("GRID", (0, 0), (-1, -1), LINE, BLACK), ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("TOPPADDING", (0, 0), (-1, -1), 1), ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
        ("LEFTPADDING", (0, 0), (-1, -1), 4), ("RIGHTPADDING", (0, 0), (-1, -1), 2),
    ]  # fmt: skip
    return Table([cells], colWidths=[share * width for *_, share in row], rowHeights=[height],
                 style=look)  # fmt: skip


def rows_to_fill(
    heads: Sequence[str], shares: Sequence[float], body: Sequence[Sequence[str]], width: float,
    height: float = ROW,
) -> Flowable:  # fmt: skip
    """Return a table of rows to write in; `body` is what is printed in them."""
    head = [text(name, _HEAD, bold=True) for name in heads]
    cells = [[text(cell, 10) if cell else "" for cell in row] for row in body]
    look = [
        ("GRID", (0, 0), (-1, -1), LINE, BLACK), ("LINEBELOW", (0, 0), (-1, 0), 1.8, BLACK),
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
        ("LEFTPADDING", (0, 0), (-1, -1), 4), ("RIGHTPADDING", (0, 0), (-1, -1), 2),
        ("TOPPADDING", (0, 0), (-1, -1), 1), ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
    ]  # fmt: skip
    heights = [head_height(heads, shares, width), *[height] * len(cells)]
    columns = [share * width for share in shares]
    return Table([head, *cells], colWidths=columns, rowHeights=heights, style=look)


def head_height(heads: Sequence[str], shares: Sequence[float], width: float) -> float:
    """Return the height of the headers of a table, in points; the longest may take two lines."""
    cells = [(text(name, _HEAD, bold=True), share * width - 6.0)
             for name, share in zip(heads, shares, strict=True)]  # fmt: skip
    return float(max(cell.wrap(room, 1e6)[1] for cell, room in cells)) + 5.0


def space(height: float) -> Flowable:
    """Return empty space, in points."""
    return Spacer(1, height)
