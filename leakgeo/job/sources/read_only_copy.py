"""Read an SQLite file that another program has open, without changing any file in its folder."""

from __future__ import annotations

import os
import shutil
import sqlite3
import stat
import tempfile
from contextlib import closing, contextmanager, nullcontext, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.faults import Fault, job_error
from leakgeo.job.guards import DRIVERS, URI_LETTERS
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterator

    from leakgeo.errors import JobError

# Signatures of a database, of write-ahead logging, and of a rollback journal, see
# https://www.sqlite.org/fileformat.html.
_SQLITE, _WRITE_AHEAD, _JOURNAL = (
    b"SQLite format 3\0",
    b"\x02\x02",
    bytes.fromhex("d9d505f920a163d7"),
)
#: Endings of the files that SQLite keeps beside one that is being changed.
LOGS = ("-wal", "-journal")
#: Codes of the faults of a file that another program saves at this moment.
BUSY = ("saved_while_read", "being_written")
_TRIES = 3


@contextmanager
def read_only_copy(path: Path) -> Iterator[tuple[Path, tuple[Fault, ...]]]:
    """Yield a path that can be read without changing the file or its folder.

    An SQLite file is copied if it has a write-ahead log or a rollback journal, which SQLite must
    merge, if a reader would create such a log, or if a GeoPackage counts rows that it does not
    have: GDAL would read as many. All other files are read in place.

    Parameters
    ----------
    path : pathlib.Path
        Any file or folder.

    Yields
    ------
    (pathlib.Path, tuple of Fault)
        Path to read, and notes on it.

    Raises
    ------
    JobError
        If the copy fails, or the file changes while it is read.
    """
    real = path.resolve()  # SQLite looks for logs next to the target of a link
    if _needs_copy(real, path):
        with tempfile.TemporaryDirectory(prefix="leakgeo-") as folder:
            yield _copied(real, Path(folder) / path.name), _notes(real)
        return
    before = file_state(real)
    yield path, ()
    if file_state(real) != before:
        raise _source_error(path, Reason("saved_while_read"))


def _log(file: Path, ending: str) -> Path:
    return file.with_name(file.name + ending)


def file_state(file: Path) -> list[tuple[int, int] | None]:
    """Return size and modification time of a file and of its logs, to detect changes."""
    there = [_stat(p) for p in (file, *(_log(file, ending) for ending in LOGS))]
    return [None if s is None else (s.st_size, s.st_mtime_ns) for s in there]


def _stat(file: Path) -> os.stat_result | None:
    """Return what is known of a file; None without it, as a log may go at any moment."""
    with suppress(FileNotFoundError, NotADirectoryError):
        there = file.stat()
        return there if stat.S_ISREG(there.st_mode) else None
    return None


def _has(file: Path, ending: str) -> bool:
    there = _stat(_log(file, ending))
    return there is not None and there.st_size > 0


def _needs_copy(real: Path, path: Path) -> bool:
    if not real.is_file():
        return False
    with real.open("rb") as file:
        head = file.read(20)
    if not head.startswith(_SQLITE):
        return False
    if any(_has(real, ending) for ending in LOGS):
        return True
    if _miscounted(real):
        return True
    immutable = DRIVERS.get(path.suffix.casefold()) == "GPKG"
    immutable &= not URI_LETTERS & set(str(path.absolute()))
    # GDAL opens a file beside an empty log as a writer would, and so removes the log.
    immutable &= not _log(real, "-wal").exists()
    return head[18:20] == _WRITE_AHEAD and not immutable


def _miscounted(real: Path) -> bool:
    """Return whether a GeoPackage counts other rows than it has; a damaged one is refused later."""
    try:
        uri = f"{real.as_uri()}?mode=ro&immutable=1"
        with closing(sqlite3.connect(uri, uri=True)) as base:
            return bool(_miscounts(base))
    except (sqlite3.Error, OverflowError, UnicodeError):
        return False


def _miscounts(base: sqlite3.Connection) -> list[tuple[str]]:
    """Return the tables whose rows were changed by a program that did not count them.

    Tables alone are asked, as a view would run what it holds.
    """
    base.execute("PRAGMA trusted_schema = OFF")
    tables = {name for name, made in base.execute(
        "select name, sql from sqlite_master where type = 'table'")
        if not str(made).casefold().lstrip().startswith("create virtual")}  # fmt: skip
    if "gpkg_ogr_contents" not in tables:
        return []
    counted = base.execute("select table_name, feature_count from gpkg_ogr_contents "
                           "where feature_count is not null limit 10000")  # fmt: skip
    return [(name,) for name, count in counted.fetchall() if name in tables
            and base.execute(f'select count(*) from "{name.replace(chr(34), chr(34) * 2)}"')
            .fetchone()[0] != count]  # fmt: skip


def _copied(real: Path, copy: Path) -> Path:
    """Copy a file with its logs in a consistent state, and let SQLite merge them in the copy."""
    if _has(real, "-journal") and _has_super_journal(_log(real, "-journal")):
        raise _source_error(real, Reason("several_files_unfinished"))
    try:
        for _ in range(_TRIES):
            before = file_state(real)
            for ending in ("", *LOGS):
                _log(copy, ending).unlink(missing_ok=True)
                with suppress(FileNotFoundError) if ending else nullcontext():
                    if not ending or _has(real, ending):
                        shutil.copyfile(_log(real, ending), _log(copy, ending))
            if file_state(real) == before:
                break
        else:
            raise _source_error(real, Reason("being_written"))
        _merge_logs(copy)
    except sqlite3.Error as error:
        reason = Reason("file_or_log_damaged", error=str(error).rstrip("."))
        raise _source_error(real, reason) from error
    except OSError as error:
        reason = Reason("no_copy", folder=tempfile.gettempdir(), error=error.strerror)
        raise _source_error(real, reason) from error
    return copy


def _merge_logs(copy: Path) -> None:
    """Let SQLite merge the logs of a copy, and drop counts of rows that are wrong."""
    with closing(sqlite3.connect(copy)) as base:
        base.execute("PRAGMA trusted_schema = OFF")
        base.execute("PRAGMA journal_mode = DELETE")
        base.execute("select count(*) from sqlite_master").fetchone()
        if wrong := _miscounts(base):
            base.executemany("delete from gpkg_ogr_contents where table_name = ?", wrong)
            base.commit()


def _has_super_journal(journal: Path) -> bool:
    """Return whether a journal names a super-journal, which SQLite would delete after merging."""
    with suppress(FileNotFoundError), journal.open("rb") as file:
        start = file.read(8)
        file.seek(max(0, os.fstat(file.fileno()).st_size - 8))
        return start == _JOURNAL and file.read(8) == _JOURNAL
    return False


def _notes(real: Path) -> tuple[Fault, ...]:
    if _has(real, "-wal"):
        return (Fault("job", Reason("unmerged_edits"), effect="noted"),)
    if not has_open_journal(real):
        return ()
    return (Fault("job", Reason("unsaved_change", file=real.name), effect="noted"),)


def has_open_journal(file: Path) -> bool:
    """Return whether a transaction of a rollback journal has begun and is not ended."""
    if not _has(file, "-journal"):
        return False
    with suppress(FileNotFoundError), _log(file, "-journal").open("rb") as journal:
        return journal.read(8) == _JOURNAL
    return False


def _source_error(path: Path, reason: Reason) -> JobError:
    return job_error(str(path), Fault("job", reason, value=path.name, effect="stops"))
