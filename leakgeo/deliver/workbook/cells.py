"""Cells of a workbook: text that is never a formula, names of sheets, and a file without times."""

from __future__ import annotations

import io
import re
import zipfile
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

# Longest text of a cell, and of the name of a sheet, and what such a name may not have.
_LONGEST, _NAME_LENGTH = 32_000, 31
_NOT_IN_NAMES = re.compile(r"[\[\]:*?/\\'\x00-\x1f]")
_MODIFIED = re.compile(rb"(<dcterms:(created|modified)[^>]*>)[^<]*")
_EPOCH = (1980, 1, 1, 0, 0, 0)


def put(page: Worksheet, row: int, column: int, value: object, **look: Any) -> None:
    """Write a number as a number, and any other value as a text that no program takes as a formula.

    Parameters
    ----------
    page : openpyxl.worksheet.worksheet.Worksheet
    row, column : int
        From 1.
    value : object
        None leaves the cell empty.
    **look
        ``bold``, ``size``, ``colour`` and ``fill`` (hex colours).
    """
    # Imported here: it takes a sixth of the start of a run, and few jobs need a workbook.
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
    from openpyxl.styles import Alignment, Font, PatternFill

    cell: Any = page.cell(row, column)
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        cell.value = value
    elif value is not None:
        cell.value = ILLEGAL_CHARACTERS_RE.sub("", str(value))[:_LONGEST]
        cell.data_type, cell.quotePrefix = "s", True
    cell.alignment = Alignment(wrap_text=True, vertical="top")
    if look:
        fill = look.pop("fill", None)
        cell.font = Font(bold=look.get("bold", False), size=look.get("size", 11),
                         color=look.get("colour"))  # fmt: skip
        if fill is not None:
            cell.fill = PatternFill("solid", fgColor=fill)


def put_rows(
    page: Worksheet, row: int, heads: Sequence[str], rows: Iterable[Sequence[object]]
) -> int:
    """Write a table with its heads; return the row after it."""
    for column, head in enumerate(heads, start=1):
        put(page, row, column, head, bold=True, fill="DDE3E8")
    for row, values in enumerate(rows, start=row + 1):  # noqa: B020, PLR1704 - the row after it
        for column, value in enumerate(values, start=1):
            put(page, row, column, value)
    return row + 1


def sheet_name(wanted: str, taken: Iterable[str]) -> str:
    """Return a name of a sheet that a workbook takes, and that no other sheet has.

    Examples
    --------
    >>> sheet_name("M-1/a:b", []), sheet_name("lines", ["Lines"])
    ('M-1 a b', 'lines (2)')
    """
    plain = _NOT_IN_NAMES.sub(" ", wanted).strip()[:_NAME_LENGTH] or "line"
    known, name, number = {each.casefold() for each in taken}, plain, 1
    while name.casefold() in known:
        number += 1
        end = f" ({number})"
        name = plain[: _NAME_LENGTH - len(end)] + end
    return name


def saved(book: Workbook) -> bytes:
    """Return the file of a workbook; the same content gives the same bytes, at any time."""
    draft, out = io.BytesIO(), io.BytesIO()
    book.save(draft)
    with zipfile.ZipFile(draft) as made, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name in made.namelist():
            content = made.read(name)
            if name == "docProps/core.xml":
                content = _MODIFIED.sub(rb"\g<1>2000-01-01T00:00:00Z", content)
            packed.writestr(zipfile.ZipInfo(name, _EPOCH), content, zipfile.ZIP_DEFLATED)
    return out.getvalue()
