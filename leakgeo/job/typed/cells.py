"""Cells of a typed file, whatever its encoding and delimiter, with the number of each line."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING

from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

#: A sheet of a day has a few kilobytes; a larger file is none.
MAX_BYTES = 5_000_000
_DELIMITERS = (",", ";", "\t")
_DECLARED = re.compile(r"sep=(.)\r?\n", re.IGNORECASE)
# Lines at the beginning by which the delimiter is chosen.
_FIRST = 40
_LINE_END = re.compile(r"\r\n|\r|\n")


@dataclass(frozen=True)
class Record:
    """The cells of one record, stripped, and the number of its first line, from 1."""

    line: int
    cells: tuple[str, ...]


def read_text(path: Path) -> str | Reason:
    """Return the text of a file in UTF-8 with or without BOM, UTF-16 with BOM, or cp1252.

    Parameters
    ----------
    path : pathlib.Path

    Returns
    -------
    str or Reason
        Why the file can't be read, if it can't.
    """
    if not path.is_file():
        return Reason("typed_file_not_found")
    try:
        content = path.read_bytes() if path.stat().st_size <= MAX_BYTES else None
    except OSError as error:
        return Reason("typed_file_unreadable", error=error.strerror or str(error))
    if content is None:
        return Reason("typed_file_too_large", limit_mb=MAX_BYTES / 1e6)
    return _decoded(content)


def _decoded(content: bytes) -> str | Reason:
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):  # as spreadsheets save "Unicode text"
        return content.decode("utf-16", "replace")
    if b"\0" in content or content[:2] == b"PK":
        return Reason("typed_file_not_text")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", "replace")


def records(text: str, known: Callable[[Sequence[str]], int]) -> list[Record]:
    r"""Return the records of a text that are not empty.

    Parameters
    ----------
    text : str
    known : callable
        Number of known headers among some cells; the delimiter is the one that gives the most.

    Returns
    -------
    list of Record

    Examples
    --------
    >>> read = records("line;tape\n\nA 1;'4,5'\n\";5,5", known=len)
    >>> [(one.line, one.cells) for one in read]
    [(1, ('line', 'tape')), (3, ('A 1', "'4,5'")), (4, ('"', '5,5'))]
    """
    skipped = 0
    if declared := _DECLARED.match(text):
        text, skipped = text[declared.end() :], 1
    delimiter = max(_DELIMITERS, key=lambda each: sum(
        known(one.cells) for one in islice(_split(text, each), _FIRST)
    ))  # fmt: skip
    return [Record(one.line + skipped, one.cells) for one in _split(text, delimiter)
            if any(one.cells)]  # fmt: skip


def _split(text: str, delimiter: str) -> Iterator[Record]:
    """Yield the records of a text; a quotation mark alone in its cell stands for itself.

    The csv module would take such a ditto mark for the beginning of a quoted cell, and everything
    up to the next one for its content.
    """
    end = rf"(?={re.escape(delimiter)}|\r|\n|\Z)"
    ditto = re.compile(rf'[^\S\r\n\t]*"[^\S\r\n\t]*{end}')
    quoted = re.compile(rf'[^\S\r\n\t]*"((?:[^"]|"")*)"[^\S\r\n\t]*{end}')
    plain = re.compile(rf"[^{re.escape(delimiter)}\r\n]*")
    at, line, first, cells = 0, 1, 1, list[str]()
    while at <= len(text):
        if found := ditto.match(text, at):
            cells.append('"')
        elif found := quoted.match(text, at):
            cells.append(found[1].replace('""', '"').strip())
        elif found := plain.match(text, at):
            cells.append(found[0].strip())
        assert found is not None
        line += len(_LINE_END.findall(found[0]))
        at = found.end()
        if text.startswith(delimiter, at):
            at += 1
            continue
        yield Record(first, tuple(cells))
        ended = _LINE_END.match(text, at)
        at = ended.end() if ended else len(text) + 1
        line, cells = line + 1, []
        first = line
