"""Write result.xlsx: a sheet with the card of each line, and a sheet for each line."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

import pandas as pd

from leakgeo.arrays import texts
from leakgeo.deliver.report.fonts import register_fonts
from leakgeo.deliver.report.pipe_sketch import pipe_sketch
from leakgeo.deliver.report.plot import profile_plot
from leakgeo.deliver.report.sketch import Size
from leakgeo.deliver.views import sentences
from leakgeo.deliver.views.line_view import line_views
from leakgeo.deliver.views.rows import flag, number, text
from leakgeo.deliver.views.top_lines import tally, top_lines
from leakgeo.deliver.workbook.cells import put, put_rows, saved, sheet_name
from leakgeo.deliver.workbook.picture import png_of
from leakgeo.job.checks import is_plain_number
from leakgeo.reason import Reason
from leakgeo.wording import wording

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from openpyxl.worksheet.worksheet import Worksheet

    from leakgeo.deliver.report.sheet import Sheet
    from leakgeo.deliver.views.line_view import LineView, Row
    from leakgeo.result import Result
    from leakgeo.wording import Wording

#: Name of the file.
FILE = "result.xlsx"
#: Most lines with a card, and most with a sheet of their own, the first by priority.
MAX_LINES, MAX_SHEETS = 1000, 100
_CARD = ("line", "address", "status", "holds", "mark", "from_start", "how_sure", "next",
         "all_holds", "cautions", "evidence")  # fmt: skip
_CARD_WIDTHS = (14, 22, 14, 34, 44, 26, 44, 40, 60, 60, 60)
_STOPS = ("stop", "as_taped", "from_start", "from_start_m", "level", "used", "why_not", "walk",
          "surface", "time")  # fmt: skip
_STOP_WIDTHS = (20, 26, 14, 14, 16, 9, 56, 10, 12, 24)
# Pictures, in points of the report: profile, and sketch along the pipe.
_PLOT, _SKETCH = Size(560.0, 230.0), Size(330.0, 300.0)
_HOLD_FILL, _ROW_POINTS = "15171A", 15.0
# Columns that a heading runs across.
_ACROSS = 6


def write_workbook(result: Result, path: Path, units: str, language: str = "en") -> None:
    """Write the workbook of a result.

    Texts are texts, also those that begin like a formula. The same result gives the same bytes.

    Parameters
    ----------
    result : Result
    path : pathlib.Path
    units : {"si", "us"}
        Units of the texts.
    language : str
        Language of the messages; default English.
    """
    from openpyxl import Workbook

    register_fonts()
    views = line_views(top_lines(result, MAX_LINES), units, language)
    book = Workbook()
    front: Any = book.active
    words = wording(units, language)
    front.title = words.term("book_lines")
    _cards(front, result, views, words)
    taped = _as_taped(result, words)
    for view in views[:MAX_SHEETS]:
        name = sheet_name(view.line_id, book.sheetnames)
        _line_sheet(book.create_sheet(name), view, units, taped)
    path.write_bytes(saved(book))


def _cards(page: Worksheet, result: Result, views: Sequence[LineView], say: Wording) -> None:
    put(page, 1, 1, say.term("book_title"), bold=True, size=14)
    run = sentences.of_run(result, say)
    foot = [" ".join(sentences.warnings(say)), result.job.simulated,
            f"{sentences.reading_counts(result, say)}. {run}"]  # fmt: skip
    every = tally(result).lines
    if every > MAX_SHEETS:
        foot.append(say.text(Reason("book_some", lines=every, most=MAX_LINES, sheets=MAX_SHEETS)))
    for row, words in enumerate((words for words in foot if words), start=2):
        put(page, row, 1, words, bold=row == 2)
    _merge(page, 1 + len(foot), sum(_CARD_WIDTHS[:_ACROSS]))
    first = 3 + len(foot)
    put_rows(
        page, first, [say.term(head, "book") for head in _CARD], (_card(view) for view in views)
    )
    for row, view in enumerate(views, start=first + 1):
        if view.card.held:
            put(page, row, 4, view.card.held, bold=True, colour="FFFFFF", fill=_HOLD_FILL)
    _set_widths(page, _CARD_WIDTHS)
    page.freeze_panes = page.cell(first + 1, 2).coordinate


def _card(view: LineView) -> tuple[object, ...]:
    return (
        view.line_id, view.address, view.wording.term(view.status, "status"),
        view.card.held or view.dig_text, view.message, sentences.position(view),
        _lines([sentences.error(view), *sentences.odds(view)]),
        view.card.next, _lines(view.holds), _lines(view.both_cautions),
        _lines(sentences.evidence(view)),
    )  # fmt: skip


def _units(view: LineView) -> str:
    return view.wording.units


def _lines(texts: Sequence[str]) -> str:
    return "\n".join(words for words in texts if words)


def _merge(page: Worksheet, rows: int, letters: int) -> None:
    """Join the first columns of the first rows, high enough for texts of that width to be read."""
    for row in range(1, rows + 1):
        page.merge_cells(start_row=row, end_row=row, start_column=1, end_column=_ACROSS)
        long = len(str(page.cell(row, 1).value or ""))
        page.row_dimensions[row].height = _ROW_POINTS * (1 + long // letters) + (
            6 if row == 1 else 0
        )


def _line_sheet(page: Worksheet, view: LineView, units: str, taped: Mapping[str, str]) -> None:
    """Write the card of a line, its pictures, and its stops with what was used, or why not."""
    put(page, 1, 1, view.line_id, bold=True, size=14)
    shown = view.card
    fill = {"colour": "FFFFFF", "fill": _HOLD_FILL} if shown.held else {}
    put(page, 2, 1, shown.held or view.dig_text, bold=True, **fill)
    texts = [shown.where, shown.next, sentences.error(view), *sentences.odds(view)]
    row = 3
    for words in (words for words in texts if words):
        put(page, row, 1, words)
        row += 1
    _merge(page, row - 1, sum(_STOP_WIDTHS[:_ACROSS]))
    row = _pictures(page, row + 1, view, units)
    heads = [view.wording.term(head, "book") for head in _STOPS]
    put_rows(page, row, heads, _stops(view, taped))
    _set_widths(page, _STOP_WIDTHS)


def _pictures(page: Worksheet, row: int, view: LineView, units: str) -> int:
    """Place the profile and the sketch along the pipe; return the row below them."""
    plot = profile_plot(view, units, _PLOT)
    if plot is None:
        return row
    for sheet in (plot, pipe_sketch(view, units, _SKETCH)):
        _place(page, row, sheet)
        row += int(sheet.height / _ROW_POINTS) + 2
    return row


def _place(page: Worksheet, row: int, sheet: Sheet) -> None:
    from openpyxl.drawing.image import Image

    picture = Image(io.BytesIO(png_of(sheet)))
    # Sizes are in pixels of 96 to the inch.
    picture.width, picture.height = round(sheet.width * 96 / 72), round(sheet.height * 96 / 72)
    page.add_image(picture, page.cell(row, 1).coordinate)


def _as_taped(result: Result, words: Wording) -> dict[str, str]:
    """Return what the tape showed at each stop and where it began, by ``reading_id``."""
    readings = result.job.readings
    columns = (
        texts(readings, name) for name in ("reading_id", "tape", "tape_unit", "chainage_from")
    )
    return {
        str(name): " ".join(str(part) for part in (
            tape, unit if is_plain_number(tape) else None,
            f"{words.term('book_from')} {begin}" if begin else None,
        ) if part)
        for name, tape, unit, begin in zip(*columns, strict=True) if name and tape
    }  # fmt: skip


def _stops(view: LineView, taped: Mapping[str, str]) -> Iterator[tuple[object, ...]]:
    rows, words = sorted(view.rows("readings_on_route"), key=_by_place), view.wording
    for row in rows:
        at, used = number(row, "chainage_m"), flag(row, "used")
        level = number(row, "level_comparable_db")
        yield (
            text(row, "reading_id"), taped.get(text(row, "reading_id")),
            None if at is None else words.quantities.length(at),
            None if at is None else round(at, 3), None if level is None else round(level, 1),
            words.term("book_yes" if used else "book_no"), None if used else text(row, "reason"),
            text(row, "walk_id"),
            _surface(row, words), _minute(row.get("time"), words),
        )  # fmt: skip


def _surface(row: Row, words: Wording) -> str:
    surface = text(row, "surface")
    return words.term(surface, "surface") if surface else ""


def _minute(time: object, words: Wording) -> str | None:
    if time is None or pd.isna(time):  # type: ignore[call-overload]
        return None
    return f"{words.day(f'{time:%Y-%m-%d %H:%M}')} UTC"


def _by_place(row: Row) -> tuple[bool, float]:
    at = number(row, "chainage_m")
    return at is None, at or 0.0


def _set_widths(page: Worksheet, widths: Sequence[int]) -> None:
    from openpyxl.utils import get_column_letter

    for column, width in enumerate(widths, start=1):
        page.column_dimensions[get_column_letter(column)].width = width
