"""Write an empty workbook for a crew without a GIS."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from leakgeo.job.new_file import write_new_file
from leakgeo.job.schema import load_schema
from leakgeo.job.workbook.names import (
    LATITUDE,
    LONGITUDE,
    REQUIRED_SIGN,
    SHEETS,
    header,
)
from leakgeo.job.workbook.words import EXAMPLE, EXAMPLE_TITLE, HOW_TO, PROMPTS

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

    from leakgeo.job.schema import Field
    from leakgeo.job.workbook.names import Sheet

_ROWS = 500
_CODES, _FIRST = "Codes", "How to"
#: Sheets of the empty workbook that are never read, in lower case.
OWN_SHEETS = frozenset(title.casefold() for title in (_CODES, _FIRST, EXAMPLE_TITLE))
_HEAD, _NEEDED, _EXAMPLE_INK = "DDE3E8", "F6D7A7", "7A7A7A"
# A spreadsheet would turn 21-5 into a date, and 0012 into 12.
_AS_TEXT = frozenset(("tape", "tape_from_previous", "contact_id", "line_id", "reading_id",
                      "chainage_from", "chainage_toward", "tap_open", "work_order"))  # fmt: skip


def write_workbook(path: str | Path) -> Path:
    """Write an empty workbook with a sheet for each table that a crew without a GIS needs.

    Headers are words, not names of columns; required columns are marked, codes are lists to choose
    from, and a sheet that is not read has a worked example.

    Parameters
    ----------
    path : str or pathlib.Path
        Workbook to create; it must not exist.

    Returns
    -------
    pathlib.Path
        The file written.

    Raises
    ------
    OutputError
        If the file exists, its name does not end in ``.xlsx``, or its folder can't be written.

    Examples
    --------
    >>> import tempfile
    >>> from leakgeo.job.sources import layer_names
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     made = write_workbook(f"{folder}/job.xlsx")
    ...     layer_names(made, made)[:4]
    ['How to', 'Lines', 'Fittings', 'Stops']
    """
    return write_new_file(Path(path), "a workbook", ".xlsx", lambda draft: _workbook().save(draft))


def _workbook() -> Workbook:
    from openpyxl import Workbook

    book = Workbook()
    first: Any = book.active
    _how_to(first)
    codes = _Codes(book)
    for sheet in SHEETS:
        _empty(book.create_sheet(sheet.title), sheet, codes)
    _example(book.create_sheet(EXAMPLE_TITLE))
    codes.write()
    return book


class _Codes:
    """Lists of codes on a hidden sheet, which lists to choose from refer to."""

    def __init__(self, book: Workbook) -> None:
        self.book = book
        self.columns: list[tuple[str, ...]] = []

    def reference(self, field: Field) -> str:
        """Return the range of the codes of a column."""
        from openpyxl.utils import get_column_letter

        values = ("yes", "no") if field.type == "boolean" else field.codes
        if values not in self.columns:
            self.columns.append(values)
        letter = get_column_letter(self.columns.index(values) + 1)
        return f"={_CODES}!${letter}$1:${letter}${len(values)}"

    def write(self) -> None:
        sheet = self.book.create_sheet(_CODES)
        for column, values in enumerate(self.columns, start=1):
            for row, value in enumerate(values, start=1):
                sheet.cell(row, column, value)
        sheet.sheet_state = "hidden"


def _empty(page: Worksheet, sheet: Sheet, codes: _Codes) -> None:
    """Write the headers of a sheet, with their lists of codes and what to enter."""
    from openpyxl.utils import get_column_letter

    fields = [load_schema(sheet.layer).field(name) for name in sheet.columns]
    heads = [header(sheet, field.name) for field in fields]
    heads += [LONGITUDE, LATITUDE] if sheet.layer == "contacts" else []
    for column, words in enumerate(heads, start=1):
        _head(page.cell(1, column, words), needed=words.endswith(REQUIRED_SIGN))
        page.column_dimensions[get_column_letter(column)].width = max(11, min(len(words) + 3, 26))
    for column, field in enumerate(fields, start=1):
        letter = get_column_letter(column)
        _rules(page, field, f"{letter}2:{letter}{_ROWS}", codes)
        if field.name in _AS_TEXT:
            page.column_dimensions[letter].number_format = "@"
    page.row_dimensions[1].height = 32
    page.freeze_panes = "B2"


def _rules(page: Worksheet, field: Field, cells: str, codes: _Codes) -> None:
    """Add the list of codes of a column, and what is shown when one of its cells is chosen."""
    from openpyxl.worksheet.datavalidation import DataValidation

    choices = bool(field.codes) or field.type == "boolean"
    rule = DataValidation(
        type="list" if choices else None, formula1=codes.reference(field) if choices else None,
        allow_blank=True, showErrorMessage=choices, showInputMessage=True,
    )  # fmt: skip
    rule.promptTitle = field.title[:32]
    rule.prompt = PROMPTS.get(field.name, field.description)[:250]
    rule.error = "Choose one from the list."
    rule.add(cells)
    page.add_data_validation(rule)


def _head(cell: Any, *, needed: bool) -> None:
    from openpyxl.styles import Alignment, Font, PatternFill

    cell.font = Font(bold=True)
    cell.fill = PatternFill("solid", fgColor=_NEEDED if needed else _HEAD)
    cell.alignment = Alignment(wrap_text=True, vertical="center")


def _how_to(page: Worksheet) -> None:
    from openpyxl.styles import Alignment, Font

    page.title = _FIRST
    page.column_dimensions["A"].width = 100
    for row, text in enumerate(HOW_TO, start=1):
        cell = page.cell(row, 1, text)
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        if row == 1:
            cell.font = Font(bold=True, size=14)


def _example(page: Any) -> None:
    """Write the worked example, in grey, with a banner: no reader looks for this sheet."""
    from openpyxl.styles import Font

    row = 1
    page.cell(row, 1, EXAMPLE_TITLE.upper() + ": an invented street. This sheet is never read.")
    page.cell(row, 1).font = Font(bold=True, color="B00020", size=12)
    for sheet in SHEETS:
        row += 2
        page.cell(row, 1, f"On the sheet {sheet.title}:").font = Font(bold=True)
        columns, rows = EXAMPLE[sheet.title]
        row += 1
        for column, name in enumerate(columns, start=1):
            _head(page.cell(row, column, header(sheet, name)), needed=name in sheet.required)
        for values in rows:
            row += 1
            for column, value in enumerate(values, start=1):
                page.cell(row, column, value).font = Font(italic=True, color=_EXAMPLE_INK)
    for letter in "ABCDEFGHIJ":
        page.column_dimensions[letter].width = 19
