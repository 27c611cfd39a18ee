"""Tables, boxes and headings of the report's pages."""

from __future__ import annotations

from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any

from reportlab.lib.colors import HexColor
from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Spacer, Table

from leakgeo.deliver.report.fonts import para
from leakgeo.deliver.views import sentences
from leakgeo.deliver.views.colours import INK

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.deliver.views.line_view import LineView
    from leakgeo.wording import Wording

EDGE, SHADE = HexColor("#b6bcc3"), HexColor("#eceff2")
_PAD = [("LEFTPADDING", (0, 0), (-1, -1), 3), ("RIGHTPADDING", (0, 0), (-1, -1), 3),
        ("TOPPADDING", (0, 0), (-1, -1), 1.5), ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
        ("VALIGN", (0, 0), (-1, -1), "TOP")]  # fmt: skip
TIGHT = [("LEFTPADDING", (0, 0), (-1, -1), 0), ("RIGHTPADDING", (0, 0), (-1, -1), 0),
         ("TOPPADDING", (0, 0), (-1, -1), 0), ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
         ("VALIGN", (0, 0), (-1, -1), "TOP")]  # fmt: skip
_HANG: dict[str, Any] = {"leftIndent": 14, "firstLineIndent": -14, "spaceAfter": 2}
# A cell of many lines may be split over pages, so that any text can be printed.
_LONG: dict[str, Any] = {"splitInRow": 1, "hAlign": "LEFT"}
_SHARES = (0.6, 0.5, 0.42, 0.36)  # of the holds in the width of their box
# Rows lower than this, in points, are on one page of any paper.
_LOWEST_PAGE = 600.0
ROWS_A_TABLE = 40  # a table of thousands of rows is slow to split over pages


class MeasuredTable(Table):  # type: ignore[misc]
    """A table that measures its rows once, as its columns have given widths."""

    _measured: tuple[float, float] | None = None

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Return the size; ReportLab calls this many times."""
        if self._measured is None:
            size: tuple[float, float] = super().wrap(width, height)
            # A table that is too high has rows that were not measured.
            self._measured = None if None in self._rowHeights else size
            return size
        self.availWidth = width
        return self._measured

    def drawOn(self, *place: object, **more: object) -> None:  # noqa: N802 - name of ReportLab
        """Draw the table; it may then be moved to the next page again where it is shared."""
        self.__dict__.pop("_postponed", None)
        super().drawOn(*place, **more)

    def begin_height(self) -> float:
        """Return the height of the repeated heads and the first row below them, in points."""
        self.wrap(0.0, 0.0)
        return float(sum(self._rowHeights[: self.repeatRows + 1]))

    def split(self, width: float, height: float) -> list[Flowable]:
        """Split between rows, and inside a row only if that is higher than a page.

        Nothing below the heads would be on this page alone: they begin the next one.
        """
        if self.repeatRows and height < self.begin_height() <= _LOWEST_PAGE:
            return []
        parts: list[Flowable] = super().split(width, height)
        return parts


def grid(
    heads: Sequence[str], rows: Sequence[Sequence[str]], widths: Sequence[float], size: float = 8
) -> list[Flowable]:
    """Return a table whose header row is repeated on every page.

    Parameters
    ----------
    heads : sequence of str
        Column titles.
    rows : sequence of sequences of str
        Text from the data.
    widths : sequence of float
        Widths of the columns, in points.
    size : float
        Type size in points; default 8.
    """
    if not rows:
        return []
    asked = tuple(heads), tuple(map(tuple, rows)), tuple(widths), size
    return list(_grid(*asked))


@lru_cache(maxsize=32)
def _grid(
    heads: Sequence[str], rows: Sequence[Sequence[str]], widths: Sequence[float], size: float
) -> list[Flowable]:
    """Return the table; a page that is tried with a higher sketch has the same one again."""
    look = [
        *_PAD,
        ("LINEBELOW", (0, 0), (-1, -1), 0.4, EDGE),
        ("BACKGROUND", (0, 0), (-1, 0), SHADE),
    ]
    out: list[Flowable] = []
    for start in range(0, len(rows), ROWS_A_TABLE):
        body = [[para(cell, size) for cell in row] for row in rows[start : start + ROWS_A_TABLE]]
        head = [para(title, size, bold=True) for title in heads]
        out.append(
            MeasuredTable([head, *body], colWidths=list(widths), repeatRows=1, style=look, **_LONG)
        )
    return out


def pairs(
    rows: Sequence[tuple[str, str]], widths: Sequence[float], size: float = 8
) -> list[Flowable]:
    """Return a table of (label, text) rows."""
    if not rows:
        return []
    body = [[para(label, size, bold=True), para(value, size)] for label, value in rows]
    return [MeasuredTable(body, colWidths=list(widths), style=_PAD, **_LONG)]


def heading(title: str, below: Sequence[Flowable] = ()) -> list[Flowable]:
    """Return a heading inside a page, which is on the page of the first row below it."""
    first = next((part.begin_height() for part in below if isinstance(part, MeasuredTable)), 0.0)
    return [
        CondPageBreak(max(60.0, 30.0 + min(first, _LOWEST_PAGE))),
        para(title, 10, bold=True, spaceBefore=6, spaceAfter=3),
    ]


def height_of(parts: Sequence[Flowable], width: float) -> float:
    """Return the total height of parts below each other, in points."""
    total, after = 0.0, 0.0
    for part in parts:
        inside = part._content if isinstance(part, KeepTogether) else [part]
        for one in inside:
            total += one.wrap(width, 1e6)[1] + max(after, one.getSpaceBefore())
            after = one.getSpaceAfter()
    return total


def page_top(title: str, view: LineView, width: float, scale: float = 1.0) -> list[Flowable]:
    """Return the title of a page with status, address and work order, and the card below it.

    Parameters
    ----------
    title : str
    view : LineView
    width : float
        Width of a page between its margins, in points.
    scale : float
        Scale of the type of the card; default 1.
    """
    right = [para(where, 9, alignment=2) for where in (view.address, view.work_order) if where]
    left = [para(title, 15, bold=True), para(view.wording.term(view.status, "status"), 9)]
    columns = [width * 0.6, width * 0.4]
    head = MeasuredTable([[left, right or ""]], colWidths=columns, style=TIGHT, splitInRow=1)
    return [head, Spacer(1, 4), card(view, width, scale)]


def card(view: LineView, width: float, scale: float = 1.0) -> MeasuredTable:
    """Return what holds the dig, the place of the mark, and the next action, in a box.

    The hold is white on black. Without a hold on record the box is white: no colour means "go".
    """
    shown = view.card
    colour = "#ffffff" if shown.held else INK
    lines = [
        para(shown.held or _without_hold(view), 11 * scale, bold=True, textColor=HexColor(colour))
    ]
    if shown.place:
        lines.append(para(shown.place, 10.5 * scale, bold=view.located))
    if shown.next:
        lines.append(para(shown.next, 9.5 * scale))
    look = [
        *_PAD,
        ("BOX", (0, 0), (-1, -1), 1.5, HexColor(INK)),
        ("LEFTPADDING", (0, 0), (-1, -1), 7),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 4),
    ]
    if shown.held:
        look.append(("BACKGROUND", (0, 0), (-1, 0), HexColor(INK)))
    return MeasuredTable([[line] for line in lines], colWidths=[width], style=look, **_LONG)


def _without_hold(view: LineView) -> str:
    """Return the headline of a card without a hold: of the dig, or of a place not located yet."""
    if view.located or view.mark is None:
        return view.dig_text
    return view.wording.term(view.status, "status")


def holds_box(
    holds: Sequence[str], cautions: Sequence[str], words: Wording, width: float, scale: float = 1.0
) -> MeasuredTable:
    """Return a box with the holds of the dig beside its cautions; it may be split over pages."""
    left = [para(f"\u2610  {hold}", 8 * scale, **_HANG) for hold in holds]
    left = left or [para(f"{words.term('no_hold', 'dig_text')}.", 8 * scale)]
    left += [para(sentences.warnings(words)[1], 7.5 * scale, bold=True)]
    right = [para(f"\u2022  {caution}", 7.5 * scale, **_HANG) for caution in cautions]
    names = words.term("report_what_holds"), words.term("report_cautions")
    titles = [para(title, 9.5 * scale, bold=True) for title in names]
    # The share of the holds that makes the box lowest.
    share = min(_SHARES, key=lambda s: max(height_of(left, s * width - 10),
                                           height_of(right, (1 - s) * width - 6)))  # fmt: skip
    columns = [width * share, width * (1 - share)]
    rows: list[list[Any]] = [titles, [left, right]]
    if not right:
        rows, columns = [titles[:1], [left]], [width]
    look = [*_PAD, ("BOX", (0, 0), (-1, -1), 1.5, HexColor(INK)),
            ("LEFTPADDING", (0, 0), (-1, -1), 7), ("TOPPADDING", (0, 0), (-1, 0), 4)]  # fmt: skip
    return MeasuredTable(rows, colWidths=columns, style=look, splitInRow=1)


@cache
def sign_boxes(words: Wording, width: float, scale: float = 1.0) -> MeasuredTable:
    """Return the boxes to fill in by hand before and at the dig."""
    say = words.term
    asks = [
        [say("report_ticket"), say("report_ticket_good"), say("report_set_out")],
        [say("report_locator"), say("report_date_time"), say("report_exposed")],
        [say("report_competent"), say("report_date_time"), say("report_found")],
    ]
    rows = [[para(ask, 7 * scale) for ask in row] for row in asks]
    look = [*_PAD, ("GRID", (0, 0), (-1, -1), 0.7, HexColor(INK))]
    return MeasuredTable(
        rows, colWidths=[width / 3] * 3, rowHeights=[29 * max(scale, 0.9)] * 3, style=look
    )
