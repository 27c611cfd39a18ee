"""Rows of a typed file with the heads of their sheets, and with what stands for the value above."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from leakgeo.job.typed.headers import KINDS, ON_PAPER, SheetKind, column_of, known_headers, unit_of
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.job.typed.cells import Record

#: Marks that stand for the value above.
DITTO = frozenset(('"', "''", "\u201d", "\u201c", "\u3003", "\u2033", '-"-', "do", "do.", "ditto",
                   "id.", "ídem", "idem"))  # fmt: skip
# Words that a row of totals has in place of a name.
_TOTALS = frozenset(("total", "totals", "subtotal", "sub-total", "grand total", "sum", "totales",
                     "suma", "total general"))  # fmt: skip
# Columns with names, where a row of totals has its word.
_NAMES = ("line_id", "contact_id", "stop", "chainage_from")
# Columns whose only value in a file holds for all of its lines: one instrument, one tape, one day.
_OF_FILE = ("sound_unit", "tape_unit", "date")
# Columns that a new walk on the same line does not take over from the walk before.
_OF_WALK = ("gain_db", "surface")
# Column of the head that is of the line as a whole, and not of its rows.
_ADDRESS = "address"


def is_total(name: object) -> bool:
    """Return whether a cell has a word for a total in place of a name.

    Examples
    --------
    >>> [is_total(name) for name in ("TOTAL:", "Total Wine", None)]
    [True, False, False]
    """
    return str(name).casefold().rstrip(" :") in _TOTALS


@dataclass
class TypedRow:
    """A row: the number of its line in the file, its cells by column, and what is wrong."""

    line: int
    cells: dict[str, str]
    wrong: Reason | None = None


@dataclass
class TypedSheets:
    """Rows of a typed file.

    Parameters
    ----------
    kind : SheetKind
    rows : list of TypedRow
    filled : dict of str to int
        Empty cells, by column, that took the value above them.
    addresses : dict of str to str
        First address of each line that has one, which goes into the row of a new line.
    unused : dict of str to int
        Cells with a value that a job has no column for, by their header or column.
    wrong : Reason or None
        Why none of the rows can be read.
    """

    kind: SheetKind
    rows: list[TypedRow] = field(default_factory=list)
    filled: dict[str, int] = field(default_factory=dict)
    addresses: dict[str, str] = field(default_factory=dict)
    unused: dict[str, int] = field(default_factory=dict)
    wrong: Reason | None = None


def sheets_of(records: Sequence[Record]) -> TypedSheets:
    r"""Return the rows of the sheets that a file has, one below the other.

    A sheet begins with its head, one or more lines of headers and values in turn, or has the head
    as columns. The line of the headers of the rows follows. An empty cell of a column of the head
    takes the value above it, as long as the line is the same.

    Parameters
    ----------
    records : sequence of Record

    Examples
    --------
    >>> from leakgeo.job.typed.cells import records
    >>> text = "line,from,tape,level,unit\nA-1,H-3,2,40,db\n,,3,41,"
    >>> list(sheets_of(records(text, known_headers)).rows[1].cells.values())
    ['A-1', 'db', 'H-3', '3', '41']
    """
    kind, anywhere = _kind_of(records)
    reader = _Reader(kind, anywhere)
    for record in records:
        if reader.read.wrong is None:
            reader.add(record)
        elif not (_is_headers(record.cells, kind) or _head_of(record.cells, kind)):
            # So that every row is counted, also of a file that can't be read.
            reader.read.rows.append(TypedRow(record.line, {}))
    reader.fill_from_file()
    return reader.read


def _kind_of(records: Sequence[Record]) -> tuple[SheetKind, frozenset[str]]:
    """Return the kind of sheet of which the file has most needed columns, and its columns."""
    there = {kind: _columns_of(records, kind) for kind in KINDS}
    best = min(KINDS, key=lambda kind: len(set(kind.needed) - there[kind]))
    return best, there[best]


def _columns_of(records: Sequence[Record], kind: SheetKind) -> frozenset[str]:
    """Return the columns among all headers of a file, if it were of this kind."""
    found: set[str] = set()
    for record in records:
        if head := _head_of(record.cells, kind):
            found |= head.keys()
        elif known_headers(record.cells) > 1:
            found |= {column for cell in record.cells if (column := column_of(cell, kind))}
    return frozenset(found)


def _is_headers(cells: Sequence[str], kind: SheetKind) -> bool:
    """Return whether cells are the headers of the rows: two of what every sheet has."""
    found = {column_of(cell, kind) for cell in cells}
    return len(found & {kind.tape, "sound_level", "contact_id", "stop", "kind"}) > 1


def _head_of(cells: Sequence[str], kind: SheetKind) -> dict[str, str]:
    """Return the values of a line of headers and values in turn; empty if it is none."""
    last = max((i for i, cell in enumerate(cells) if cell), default=-1)
    columns = [column_of(cell, kind) for cell in cells[: last + 1 : 2]]
    if not columns or any(column not in kind.head for column in columns):
        return {}
    typed = cells[1 : last + 1 : 2]
    # A line of headers alone, of any number; a single value may look like one, as does dB.
    if len(typed) > 1 and all(column_of(value, kind) for value in typed):
        return {}
    values = [*typed, ""][: len(columns)]
    return {str(c): value for c, value in zip(columns, values, strict=True)}


class _Reader:
    """Takes the records of a file in order."""

    def __init__(self, kind: SheetKind, anywhere: frozenset[str]) -> None:
        self.read, self.anywhere = TypedSheets(kind), anywhere
        self.columns: list[str | None] = []
        self.headers: tuple[str, ...] = ()
        self.head: dict[str, str] = {}
        self.address = ""
        self.above: dict[str, str] = {}
        self.unit: str | None = None
        self.begins = False

    def add(self, record: Record) -> None:
        kind = self.read.kind
        if _is_headers(record.cells, kind):
            self._take_headers(record)
        elif head := _head_of(record.cells, kind):
            if not self.begins:
                self.head, self.above, self.address, self.begins = {}, {}, "", True
            self.address = head.get(_ADDRESS, self.address)
            self.head |= {c: value for c, value in head.items() if c not in (*ON_PAPER, _ADDRESS)}
            for column in (c for c in ON_PAPER if head.get(c)):
                self._leave(column)
        elif self.columns and self._is_total(record):
            self.read.rows.append(TypedRow(record.line, {}, Reason("typed_total")))
        elif self.columns:
            self._take_row(record)
        else:
            self._take_headers(record)

    def _take_headers(self, record: Record) -> None:
        kind = self.read.kind
        self.headers, self.begins = record.cells, False
        self.columns = [column_of(cell, kind) for cell in record.cells]
        # A column of the rows overrides what the head says of the same thing.
        self.above = dict(self.head)
        units = [unit_of(h) for h, c in zip(self.headers, self.columns, strict=True)
                 if c == kind.tape]  # fmt: skip
        self.unit = units[0] if units else None
        known = [column for column in self.columns if column]
        twice = sorted({column for column in known if known.count(column) > 1})
        if twice:
            names = [h for h, c in zip(self.headers, self.columns, strict=True) if c == twice[0]]
            self.read.wrong = Reason("typed_headers_alike", headers=names)
        elif lacking := [column for column in kind.needed if column not in self.anywhere]:
            self.read.wrong = Reason("typed_columns_missing", layer=kind.layer,
                                     columns=[Reason(f"header_{c}") for c in lacking])  # fmt: skip

    def _is_total(self, record: Record) -> bool:
        pairs = zip(self.columns, record.cells, strict=False)
        return any(is_total(cell) for column, cell in pairs if column in _NAMES)

    def _take_row(self, record: Record) -> None:
        self.begins = False
        row = TypedRow(record.line, {})
        typed = self._typed(record, row)
        self._begin_block(typed)
        address = typed.pop(_ADDRESS, "")
        for column in dict.fromkeys((*self.read.kind.head, *typed)):
            value = typed.get(column, "")
            if value in DITTO or value.casefold() in DITTO:
                value = self.above.get(column, "")
                if not value and row.wrong is None:
                    named = Reason(f"header_{column}")
                    row.wrong = Reason("typed_ditto_without_value", column=named)
            elif not value and column in self.read.kind.head and self.above.get(column):
                value = self.above[column]
                self._count(column)
            if value and column in ON_PAPER:
                self._leave(column)
            elif value:
                row.cells[column] = value
        self.above |= row.cells
        self._keep_address(row.cells.get("line_id"), address)
        if self.unit and "tape_unit" not in row.cells:
            row.cells["tape_unit"] = self.unit
        self.read.rows.append(row)

    def _keep_address(self, line: str | None, address: str) -> None:
        """Keep the first address of a line, of the row or of the head; count another one."""
        address = address or self.address
        if not line or not address or address.casefold() in DITTO:
            return
        if self.read.addresses.setdefault(line, address) != address:
            self._leave(_ADDRESS)

    def _typed(self, record: Record, row: TypedRow) -> dict[str, str]:
        """Return the cells of a row by column; count those that mean nothing here."""
        width, typed = len(self.columns), dict[str, str]()
        for i, cell in enumerate(record.cells):
            column = self.columns[i] if i < width else None
            if column is not None:
                typed[column] = cell
            elif cell and i < width:
                self._leave(self.headers[i] or f"{i + 1}")
            elif cell:
                row.wrong = Reason("typed_more_cells", cells=len(record.cells), headers=width)
        return typed

    def _begin_block(self, typed: Mapping[str, str]) -> None:
        """Forget what is above where a row begins another line, or another walk on the line."""
        for column, forgotten in (("line_id", set(self.above)), ("walk", set(_OF_WALK))):
            value, known = typed.get(column, ""), self.above.get(column, "")
            if value and known and value != known and value.casefold() not in DITTO:
                self.above = {c: v for c, v in self.above.items() if c not in forgotten}

    def _count(self, column: str) -> None:
        """Count a cell that is filled from above; that a head holds for its rows is plain."""
        if column not in self.head:
            self.read.filled[column] = self.read.filled.get(column, 0) + 1

    def _leave(self, name: str) -> None:
        """Count a cell that stays in the file."""
        self.read.unused[name] = self.read.unused.get(name, 0) + 1

    def fill_from_file(self) -> None:
        """Fill columns that have one value in the whole file."""
        for column in _OF_FILE:
            if column not in self.read.kind.head:
                continue
            given = {row.cells[column] for row in self.read.rows if column in row.cells}
            if len(given) != 1:
                continue
            for row in self.read.rows:
                if column not in row.cells and row.cells:
                    row.cells[column] = next(iter(given))
                    self._count(column)
