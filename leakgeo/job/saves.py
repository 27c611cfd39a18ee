"""Notice that another program saved a job, by looking at its files many times a second."""

from __future__ import annotations

import threading
import time
import zlib
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.errors import JobError
from leakgeo.faults import Fault, job_error
from leakgeo.job.guards import READABLE, SIDECARS, SQLITE, looks_whole
from leakgeo.job.sources import (
    BUSY,
    FIELD_JOB,
    LOGS,
    display_address,
    has_open_journal,
    is_local,
)
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

#: Seconds between two looks, and without a change before a save is reported.
POLL_S, QUIET_S = 0.025, 0.1
# SQLite is never read half-written, and a copy that is not whole is told by its header.
_SQLITE_QUIET_S = 0.05
# A program that is not done: an open transaction, which leaves the file as it was before, or a file
# that ends too early. After so long a change is reported all the same, and the reader says what is
# wrong.
_PATIENCE_S = 2.0
# Some network drives keep times of two seconds: until then contents are compared as well.
_COARSE_S = 3.0
# Of a longer file, both ends are compared.
_PART = 1 << 16
_RASTERS = frozenset((".tif", ".tiff"))

_State = dict[Path, tuple[int, ...]]


def is_busy(error: JobError) -> bool:
    """Return whether a job could not be read only because it was being saved just then.

    Examples
    --------
    >>> is_busy(JobError("not now", [Fault("job", Reason("saved_while_read"))]))
    True
    """
    return any(fault.code in BUSY for fault in error.faults)


@dataclass
class _Contents:
    """Checksums of files, made again while their times may be too coarse to show a change."""

    known: dict[Path, tuple[tuple[int, ...], float, int]] = field(default_factory=dict)

    def of(self, file: Path, stamp: tuple[int, ...]) -> int:
        """Return the checksum of a file of this size, time and number."""
        known, now = self.known.get(file), time.monotonic()
        since = known[1] if known is not None and known[0] == stamp else now
        if known is not None and known[0] == stamp and now - since > _COARSE_S:
            return known[2]
        self.known[file] = stamp, since, _checksum(file)
        return self.known[file][2]


def _checksum(file: Path) -> int:
    with file.open("rb") as opened:
        start = opened.read(_PART)
        opened.seek(max(_PART, file.stat().st_size - _PART))
        return zlib.crc32(opened.read(_PART), zlib.crc32(start))


class SaveWatch:
    r"""Tells when another program saved a job.

    Make it before the job is first read: a save that comes while the job is read is then reported
    by the next `wait`. Nothing is locked, and no file of the job is written or opened as SQLite
    opens it.

    Parameters
    ----------
    source : str or pathlib.Path
        A file, with the logs that SQLite keeps beside it; a folder of files; or the folder of a
        field project.
    also : sequence of pathlib.Path
        Further files that count, such as that of a mapping.
    poll_s, quiet_s : float
        Seconds between two looks; seconds without a change before a save is reported.

    Raises
    ------
    JobError
        If the source is a database, or tables in memory: no file of these shows a change.

    Notes
    -----
    A save is reported when all files are quiet, none ends too early, and no transaction of a
    rollback journal is open; a file that stays so for two seconds is reported, and reading it says
    what is wrong. A CSV file shows no end, so it is enough that it is quiet. Programs that fold
    their log into a GeoPackage change its files, not its rows: such a save is reported too.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder) / "routes.csv"
    ...     _ = file.write_text("line_id\nA\n")
    ...     watch = SaveWatch(folder)
    ...     nothing = watch.wait(timeout_s=0.1)
    ...     _ = file.write_text("line_id\nB\n")
    ...     print(nothing, watch.wait(timeout_s=9.0))
    False True
    """

    def __init__(
        self, source: object, also: Sequence[Path] = (), *, poll_s: float = POLL_S,
        quiet_s: float = QUIET_S,
    ) -> None:  # fmt: skip
        if not is_local(source):
            reason = Reason("watch_needs_files")
            raise job_error(display_address(source), Fault("job", reason, effect="stops"))
        self._source, self._also = Path(str(source)), tuple(also)
        self._poll_s, self._quiet_s = poll_s, quiet_s
        self._contents = _Contents()
        self._reported, self._seen = self._state(), False

    def is_newer(self) -> bool:
        """Return whether files have changed since the last report, without a wait.

        The next `wait` reports a change that was seen here, even one that was undone meanwhile.
        """
        self._seen |= _saved(self._state()) != _saved(self._reported)
        return self._seen

    def wait(self, stop: threading.Event | None = None, timeout_s: float | None = None) -> bool:
        """Wait until the job has been saved since the last report, or since the watch was made.

        Parameters
        ----------
        stop : threading.Event, optional
            Ends the wait when it is set. Ctrl-C ends it in any case.
        timeout_s : float, optional
            Longest wait in seconds; without end if None.

        Returns
        -------
        bool
            Whether the job was saved; False if the wait was ended.
        """
        stop, begin = stop or threading.Event(), time.monotonic()
        last, since, first = self._state(), begin, begin
        while not stop.is_set():
            now, clock = self._state(), time.monotonic()
            if now != last:
                last, since = now, clock
            if _saved(now) == _saved(self._reported) and not self._seen:
                first = clock
            elif self._is_ready(now, clock - since, clock - first):
                self._reported, self._seen = now, False
                return True
            if timeout_s is not None and clock - begin >= timeout_s:
                return False
            stop.wait(self._poll_s)
        return False

    def _is_ready(self, now: _State, quiet_s: float, changed_s: float) -> bool:
        if quiet_s >= _PATIENCE_S:
            return True
        main = list(self._main())
        sqlite = all(file.suffix.casefold() in SQLITE for file in main)
        needed = min(self._quiet_s, _SQLITE_QUIET_S) if sqlite else self._quiet_s
        # One that is never quiet need not be waited for.
        if quiet_s < needed and not (sqlite and changed_s >= _PATIENCE_S):
            return False
        gone = any(file not in now for file in self._reported if not _is_log(file))
        return not gone and not any(map(_is_unfinished, main))

    def _state(self) -> _State:
        """Return what shows a change of each file that is there."""
        found: _State = {}
        for file in self._files():
            try:
                stat = file.stat()
                stamp = (stat.st_size, stat.st_mtime_ns, stat.st_ino)
                found[file] = (*stamp, self._contents.of(file, stamp))
            except OSError:  # not there, or just being replaced
                continue
        return found

    def _main(self) -> Iterator[Path]:
        return (file for file in self._files() if not _is_log(file) and file.is_file())

    def _files(self) -> Iterator[Path]:
        path = self._source
        inside = path / FIELD_JOB
        if path.is_dir() and not inside.is_file():
            yield from _of_folder(path)
        else:
            yield from _of_file(inside if inside.is_file() else path)
        yield from self._also


def _of_folder(folder: Path) -> list[Path]:
    """Return the files of a folder that may be part of a job."""
    kinds, within = READABLE | SIDECARS | _RASTERS, folder.suffix.casefold() == ".gdb"
    try:
        files = sorted(file for file in folder.iterdir() if file.is_file())
    except OSError:
        return []
    return [file for file in files if within or (_kind(file) in kinds
            and not file.name.startswith((".", "~$")))]  # fmt: skip


def _kind(file: Path) -> str:
    """Return the suffix of a file, and of a log that of its file."""
    name = file.name
    for ending in LOGS:
        name = name.removesuffix(ending)
    return Path(name).suffix.casefold()


def _of_file(path: Path) -> Iterator[Path]:
    real = path.resolve()  # SQLite has its logs beside the target of a link
    yield real
    yield from (real.with_name(real.name + ending) for ending in LOGS)
    yield from (real.with_suffix(suffix) for suffix in sorted(SIDECARS))
    yield from (path.with_name(f"{path.stem}_ground{suffix}") for suffix in sorted(_RASTERS))


def _is_log(file: Path) -> bool:
    return file.name.endswith(LOGS)


def _saved(state: _State) -> _State:
    """Return a state without what says nothing new: empty logs, and journals.

    A journal holds what a file was before.
    """
    return {
        file: own
        for file, own in state.items()
        if not file.name.endswith("-journal") and not (_is_log(file) and own[0] == 0)
    }


def _is_unfinished(file: Path) -> bool:
    return has_open_journal(file) or not looks_whole(file)
