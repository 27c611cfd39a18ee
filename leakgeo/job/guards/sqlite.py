"""Check the content of an SQLite file, such as a GeoPackage: damage, and SQL that is not safe."""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING

from leakgeo.reason import Reason

if TYPE_CHECKING:
    from pathlib import Path

# Virtual tables, also of SpatiaLite, that access nothing outside the file.
_ALLOWED_MODULES = re.compile(
    r"rtree|rtree_i32|fts[345](?:vocab|aux)?|virtual(?:spatialindex|elementary|knn2?|xpath|bbox)",
    re.IGNORECASE,
)
_COMMENTS = re.compile(r"/\*.*?(?:\*/|$)|--[^\n]*", re.DOTALL)
_MODULE = re.compile(r"\busing\s+([\w\"'\[\]`]+)", re.IGNORECASE)
# Functions allowed in views: they give the same values on every machine and in every library.
_FUNCTIONS = frozenset((
    "count", "sum", "total", "min", "max", "avg", "abs", "round", "coalesce", "ifnull", "nullif",
    "lower", "upper", "trim", "ltrim", "rtrim", "substr", "substring", "length", "iif", "instr",
    "like", "glob", "typeof", "row_number", "rank", "first_value", "last_value", "lag", "lead",
))  # fmt: skip
_ACTIONS = (sqlite3.SQLITE_SELECT, sqlite3.SQLITE_READ)
# Limits of a view: instructions of SQLite's virtual machine, rows, and bytes of a value.
_STEPS, _ROWS, _BYTES = 30_000_000, 2_000_000, 100_000_000


def sqlite_refusal(file: Path) -> Reason | None:
    """Return why the content of an SQLite file is refused; None if it is not.

    Parameters
    ----------
    file : pathlib.Path
        Without a log or journal, see `leakgeo.job.sources.read_only_copy`; it is only read.

    Returns
    -------
    Reason or None
    """
    uri = f"{file.resolve().as_uri()}?mode=ro&immutable=1"
    try:
        with closing(sqlite3.connect(uri, uri=True)) as base:
            base.text_factory = _text
            return _unsafe_schema(base) or _integrity_error(base)
    except (sqlite3.Error, OverflowError, MemoryError, UnicodeError) as error:
        return Reason("database_file_damaged", error=str(error).rstrip("."))


def _text(raw: bytes) -> str:
    return raw.decode("utf-8", "replace")


def _integrity_error(base: sqlite3.Connection) -> Reason | None:
    """Run SQLite's integrity check: GDAL returns some rows of a damaged table without an error.

    Check constraints are ignored because they are SQL from the file.
    """
    base.execute("PRAGMA ignore_check_constraints = ON")
    found = [str(row[0]) for row in base.execute("PRAGMA quick_check(20)")]
    # Nulls and duplicates that break a constraint are not damage; the checks of rows report them.
    found = [text for text in found if text != "ok" and not text.startswith(("NULL value in",
             "non-unique entry", "CHECK constraint"))]  # fmt: skip
    if not found:
        return None
    first = " ".join(found[0].replace("***", "").split())[:80].rstrip(". ")
    return Reason("database_file_damaged", error=first)


def _unsafe_schema(base: sqlite3.Connection) -> Reason | None:
    base.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, _BYTES)
    rows = base.execute("select type, name, sql from sqlite_master").fetchall()
    for kind, name, sql in rows:
        if kind == "view" and (code := _view_error(base, name)):
            return Reason(code, view=name)
        if kind == "table" and _is_virtual(str(sql)):
            if not _is_allowed_module(str(sql)):
                return Reason("table_reaches_out", table=name)
        elif kind == "table" and _has_generated_columns(base, name):
            return Reason("table_computed", table=name)
    return None


def _plain(sql: str) -> str:
    return " ".join(_COMMENTS.sub(" ", sql).split())


def _is_virtual(sql: str) -> bool:
    return _plain(sql).casefold().startswith("create virtual ")


def _is_allowed_module(sql: str) -> bool:
    module = _MODULE.search(_plain(sql))
    return module is not None and _ALLOWED_MODULES.fullmatch(module[1].strip("\"'[]`")) is not None


def _quoted(name: str) -> str:
    doubled = name.replace('"', '""')
    return f'"{doubled}"'


def _has_generated_columns(base: sqlite3.Connection, table: str) -> bool:
    """Return whether a table has a virtual generated column (``hidden`` is 2 in table_xinfo)."""
    return any(row[6] == 2 for row in base.execute(f"PRAGMA table_xinfo({_quoted(table)})"))


def _view_error(base: sqlite3.Connection, view: str) -> str | None:
    """Run a view within the limits; return a message code if it fails or exceeds them."""
    left = iter(range(100))
    base.set_authorizer(_authorize)
    base.set_progress_handler(lambda: next(left, None) is None, _STEPS // 100)
    try:
        rows = base.execute(f"select * from {_quoted(view)}")
        for count, _ in enumerate(rows):
            if count > _ROWS:
                return "view_too_long"
    except sqlite3.OperationalError as error:
        return "view_too_slow" if "interrupted" in str(error) else "view_not_run"
    except (sqlite3.Error, OverflowError, MemoryError, UnicodeError):
        return "view_not_run"
    finally:
        base.set_progress_handler(None, 0)
        base.set_authorizer(None)
    return None


def _authorize(action: int, _: str | None, name: str | None, *__: object) -> int:
    if action == sqlite3.SQLITE_FUNCTION:
        good = str(name).casefold() in _FUNCTIONS
    else:
        good = action in _ACTIONS
    return sqlite3.SQLITE_OK if good else sqlite3.SQLITE_DENY
