"""Atomic writing into the output folder: one run at a time, and all of its files or none.

A run writes into a hidden staging folder inside the output folder and flushes it to disk. It then
writes a commit record, and moves the files into place, ``run.json`` with the new run id last. If it
is stopped before the record is written, the old result stays; if after that, the next leakgeo
program that opens the folder finishes the move. Signals are deferred during the move.

An earlier result that is to be kept is linked into the staging folder before, and moved to the
folder ``superseded`` last: until the new result is in place, nothing calls it superseded.
"""

from __future__ import annotations

import errno
import importlib
import json
import os
import shutil
import signal
import sqlite3
import tempfile
import threading
import time
from contextlib import closing, contextmanager, suppress
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from leakgeo.errors import FolderInUseError, OutputError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

#: Prefix of the names of staging folders.
PREFIX = ".leakgeo-staging-"
#: File with the run id; moved last.
RECORD = "run.json"
#: Files that every result has.
FILES = ("result.gpkg", "result.qgz", "summary.csv", "faults.csv", RECORD)
#: Folder, inside that of a result, of the results that it superseded.
SUPERSEDED = "superseded"
_COMMIT, _NEW, _OLD = "commit.json", "new", "old"
_WINDOWS, _LOCK = os.name == "nt", ".leakgeo-lock"
# SQLite files of a program that has the old file open; next to the new file they would corrupt it.
_SIDECARS = ("-wal", "-shm", "-journal")
# A reader waits this long for a run that is moving its files.
_WAIT_S = 10.0
# Where folders can't be locked, a staging folder older than this belongs to a run that ended.
_DEAD_S = 86_400.0
# If writing fails with less free space than this, the disk is full, whatever the error.
_FULL_BYTES = 4_194_304
_FULL = "the disk is full."


@contextmanager
def exclusive(out: Path) -> Iterator[None]:
    """Lock a folder against other runs, and clean up after a run that was stopped.

    The lock leaves no file behind, and ends with the process in any case. A folder that was created
    and stayed empty is removed. Some file systems can't lock.

    Parameters
    ----------
    out : pathlib.Path
        Folder; created if missing.

    Raises
    ------
    OutputError
        If another run has locked it, it can't be created, or an interrupted move of files can't be
        finished.
    """
    new = not out.exists()
    handle = None if out.is_file() else _lock(_make_folder(out))
    try:
        if out.is_dir():
            _clear_up(out, locked=handle is not None)
        yield
    finally:
        if handle is not None:
            os.close(handle)
        if new:
            with suppress(OSError):  # not empty
                out.rmdir()


def _make_folder(folder: Path) -> Path:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"{folder}: the folder can't be made ({error}). Name another.") from error
    return folder


def _lock(folder: Path, *, wait_s: float = 0.0) -> int | None:
    """Lock a folder; return the handle of the lock, or None if locking is not possible.

    Raises
    ------
    OutputError
        If another run keeps it locked for longer than `wait_s` seconds.
    """
    try:
        handle = _open_to_lock(folder)
    except OSError:
        return None
    end = time.monotonic() + wait_s
    while True:
        try:
            _try_lock(handle)
        except BlockingIOError as error:
            if time.monotonic() < end:
                time.sleep(0.05)
                continue
            os.close(handle)
            raise FolderInUseError(
                f"{folder}: another run is writing there. Wait for it, or name another folder."
            ) from error
        except OSError:
            os.close(handle)
            return None
        return handle


def _open_to_lock(folder: Path) -> int:
    """Open what is locked: the folder; on Windows a file in it, which goes with its last handle."""
    if not _WINDOWS:
        return os.open(folder, os.O_RDONLY)
    temporary: int = getattr(os, "O_TEMPORARY")  # noqa: B009 - missing on POSIX
    return os.open(folder / _LOCK, os.O_RDWR | os.O_CREAT | temporary)


def _try_lock(handle: int) -> None:
    """Lock at once, or raise a BlockingIOError if another process has the lock."""
    if not _WINDOWS:
        fcntl = importlib.import_module("fcntl")
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        return
    msvcrt = importlib.import_module("msvcrt")
    try:
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
    except PermissionError as error:
        raise BlockingIOError from error


def finish_commit(out: Path) -> None:
    """Finish an interrupted move of files, before a folder is read.

    Parameters
    ----------
    out : pathlib.Path
        Folder of a result; without an interrupted move, nothing is done.

    Raises
    ------
    OutputError
        If a run has locked the folder, or its files can't be moved.
    """
    if not any(out.glob(f"{PREFIX}*/{_COMMIT}")):
        return
    handle = _lock(out, wait_s=_WAIT_S)
    try:
        for commit in out.glob(f"{PREFIX}*/{_COMMIT}"):
            _resume_commit(commit.parent, out)
    finally:
        if handle is not None:
            os.close(handle)


def _clear_up(out: Path, *, locked: bool) -> None:
    """Finish the interrupted move of a run, and remove staging folders of runs that ended."""
    for staging in out.glob(f"{PREFIX}*"):
        if (staging / _COMMIT).is_file():
            _resume_commit(staging, out)
        elif locked or time.time() - staging.stat().st_mtime > _DEAD_S:
            shutil.rmtree(staging, ignore_errors=True)


def _resume_commit(staging: Path, out: Path) -> None:
    try:
        commit = json.loads((staging / _COMMIT).read_text("utf-8"))
        _move_into_place(staging, out, commit["files"], commit["remove"])
        _keep_superseded(staging, out, commit.get(SUPERSEDED))
    except OSError as error:
        raise OutputError(
            f"{out}: a run was stopped while it put its files in place, and they can't be moved "
            f"now ({error}). Close them where they are open, and try again."
        ) from error
    shutil.rmtree(staging, ignore_errors=True)


class InterruptedAfterCommit(KeyboardInterrupt):
    """Interrupt that was deferred while files were moved; all of them are in place."""


class Staging:
    """Files of one run, written to a hidden folder and then moved into place together.

    Parameters
    ----------
    out : pathlib.Path
        Output folder; it must exist.

    Attributes
    ----------
    path : pathlib.Path
        Folder to write the files into; on the file system of `out`.

    Raises
    ------
    OutputError
        If `out` is not writable.

    Examples
    --------
    >>> import tempfile
    >>> out = Path(tempfile.mkdtemp())
    >>> with Staging(out) as staging:
    ...     _ = (staging.path / "map.html").write_text("new")
    ...     [p.name for p in staging.commit()]
    ['map.html']
    >>> [p.name for p in out.iterdir()]
    ['map.html']
    """

    def __init__(self, out: Path) -> None:
        self.out = out
        try:
            self._folder = Path(tempfile.mkdtemp(prefix=PREFIX, dir=out))
            self.path = self._folder / _NEW
            self.path.mkdir()
        except OSError as error:
            raise OutputError(
                f"{out}: nothing can be written there ({error.strerror}). Name another folder."
            ) from error

    def __enter__(self) -> Staging:
        return self

    def __exit__(self, *_: object) -> None:
        """Remove the staging folder with all files that were not committed."""
        if not (self._folder / _COMMIT).exists():
            shutil.rmtree(self._folder, ignore_errors=True)

    def flush(self) -> None:
        """Flush all files to disk; the commit then needs no further disk space.

        Raises
        ------
        OutputError
            If a file can't be written.
        """
        try:
            for folder in (self.path, self._folder / SUPERSEDED):
                for path in (folder, *folder.rglob("*")) if folder.exists() else ():
                    _fsync(path)
        except OSError as error:
            raise OutputError(f"{self.out}: the result can't be written ({error}).") from error

    def superseding(self, files: Iterable[str]) -> Path:
        """Link or copy files of the earlier result, to be kept when the commit replaces them.

        Parameters
        ----------
        files : iterable of str
            Names relative to the folder; those that are not there are left out.

        Returns
        -------
        pathlib.Path
            Folder with them, in the staging folder; more files may be put into it. `commit` moves
            it.

        Raises
        ------
        OutputError
            If a file can't be linked or copied.
        """
        kept = self._folder / SUPERSEDED
        try:
            kept.mkdir()
            for name in sorted({name for name in files if _is_inside(name)}):
                if (self.out / name).is_file():
                    _keep(self.out / name, kept / name)
        except (OSError, sqlite3.Error) as error:
            raise OutputError(
                f"{self.out}: the earlier result can't be kept ({error}). Free disk space, or "
                "close its files where they are open; the results there are as they were."
            ) from error
        return kept

    def commit(self, remove: Iterable[str] = (), superseded: str = "") -> list[Path]:
        """Move every file into place, ``run.json`` last; all of them, or none.

        Parameters
        ----------
        remove : iterable of str
            Names, relative to the folder, of files of an earlier run, to remove unless this run
            has made them again.
        superseded : str
            Name for the files that `superseding` keeps, in the folder ``superseded``; ``""``, the
            default, if none are kept.

        Returns
        -------
        list of pathlib.Path
            Paths of the files in place.

        Raises
        ------
        OutputError
            If a file can't be replaced; all files are then restored.
        InterruptedAfterCommit
            If an interrupt was deferred; the files are in place.
        """
        in_place = False
        made = [p.relative_to(self.path).as_posix() for p in self.path.rglob("*") if p.is_file()]
        files = sorted(made, key=lambda name: (name == RECORD, name))
        stale = sorted({name for name in remove if _is_inside(name)} - set(files))
        kept = _free_name(self.out / SUPERSEDED, superseded) if superseded else ""
        self.flush()
        try:
            with _defer_signals():
                self._keep_old([*files, *stale, *_sidecars_of(files)])
                commit = {"files": files, "remove": stale, SUPERSEDED: kept}
                _write_json(self._folder / _COMMIT, commit)
                try:
                    _move_into_place(self._folder, self.out, files, stale)
                    _keep_superseded(self._folder, self.out, kept)
                    in_place = True
                except OSError:
                    self._restore_old([*files, *stale, *_sidecars_of(files)])
                    raise
                finally:
                    shutil.rmtree(self._folder, ignore_errors=True)
        except OSError as error:
            name = Path(getattr(error, "filename2", None) or error.filename or self.out).name
            raise OutputError(
                f"{self.out}: {name} can't be replaced ({error.strerror or error}). Close it where "
                "it is open, and run again; the files there are as they were."
            ) from error
        except KeyboardInterrupt:
            if in_place:
                raise InterruptedAfterCommit from None
            raise
        return [self.out / name for name in files]

    def _keep_old(self, names: Iterable[str]) -> None:
        """Link the old files under another name, to restore them on failure."""
        for name in names:
            if (self.out / name).is_file():
                kept = self._folder / _OLD / name
                kept.parent.mkdir(parents=True, exist_ok=True)
                try:
                    kept.hardlink_to(self.out / name)
                except OSError:  # a file system without hard links
                    shutil.copy2(self.out / name, kept)

    def _restore_old(self, names: Iterable[str]) -> None:
        (self._folder / _COMMIT).unlink(missing_ok=True)
        for name in names:
            kept, there = self._folder / _OLD / name, self.out / name
            if not kept.exists():
                there.unlink(missing_ok=True)
            elif not (there.exists() and kept.samefile(there)):
                with suppress(OSError):  # a file that could not be replaced is still the old one
                    there.parent.mkdir(parents=True, exist_ok=True)
                    _move(kept, there)


@contextmanager
def staged(folder: Path) -> Iterator[Staging]:
    """Stage the files of a run; messages name the output folder, not the staging folder.

    Raises
    ------
    OutputError
        If a file can't be written; the message says first if the disk is full.
    """
    with Staging(folder) as staging:
        try:
            yield staging
        except (OutputError, OSError) as error:
            message = str(error).replace(str(staging.path), str(folder))
            # Exports are staged inside the staging of a run; the inner one has reported it.
            if _FULL not in message and _is_full(error, folder):
                raise OutputError(
                    f"{folder}: {_FULL} Free some space, and run again; the results there are as "
                    f"they were. ({message})"
                ) from error
            if isinstance(error, OutputError):
                raise OutputError(message) from error
            raise


def _is_full(error: BaseException, folder: Path) -> bool:
    """Return whether writing failed because the disk is full."""
    chain: BaseException | None = error
    while chain is not None:
        if isinstance(chain, OSError) and chain.errno in (errno.ENOSPC, errno.EDQUOT):
            return True
        chain = chain.__cause__ or chain.__context__
    with suppress(OSError):
        return shutil.disk_usage(folder).free < _FULL_BYTES
    return False


def final_folder(folder: Path) -> Path:
    """Return the output folder of a staging folder; another folder itself.

    Examples
    --------
    >>> final_folder(Path("out", ".leakgeo-staging-x", "new")).name
    'out'
    """
    while folder.name == _NEW and folder.parent.name.startswith(PREFIX):
        folder = folder.parent.parent
    return folder


def _move_into_place(staging: Path, out: Path, files: Iterable[str], remove: Iterable[str]) -> None:
    """Move new files over the old ones, except those that were moved before."""
    for name in remove:
        (out / name).unlink(missing_ok=True)
        for folder in PurePosixPath(name).parents[:-1]:
            with suppress(OSError):  # missing, or not empty
                (out / folder).rmdir()
    for name in files:
        if (staging / _NEW / name).exists():
            (out / name).parent.mkdir(parents=True, exist_ok=True)
            links = (staging / _OLD / name, staging / SUPERSEDED / name)
            _move(staging / _NEW / name, out / name, links)
    for there in {(out / name).parent for name in files}:
        _fsync(there)


def _sidecars_of(files: Iterable[str]) -> list[str]:
    return [name + end for name in files if name.endswith(".gpkg") for end in _SIDECARS]


def _keep_superseded(staging: Path, out: Path, name: str | None) -> None:
    """Move the earlier result to its name, unless it was moved before; it is one operation."""
    kept = staging / SUPERSEDED
    if not (name and kept.is_dir() and _is_inside(name)):
        return
    (out / SUPERSEDED).mkdir(exist_ok=True)
    kept.replace(out / SUPERSEDED / name)
    with suppress(OSError):  # in place; a folder that can't be flushed is no reason to undo that
        _fsync(out / SUPERSEDED)


def is_superseded(path: Path) -> bool:
    """Return whether a path, relative to the folder of a result, is of one that it superseded.

    Examples
    --------
    >>> is_superseded(Path("superseded", "undated-unknown", "map.html"))
    True
    """
    return bool(path.parts) and path.parts[0] == SUPERSEDED


def _free_name(folder: Path, name: str) -> str:
    """Return a name that nothing in a folder has yet: two results may have one second and run."""
    names = (name, *(f"{name}-{k}" for k in range(2, 10_000)))
    return next(one for one in names if not (folder / one).exists())


def _keep(there: Path, kept: Path) -> None:
    """Link a file, or copy it where the file system has no hard links.

    A database that another program has open is copied: pages may be outside of its file.
    """
    kept.parent.mkdir(parents=True, exist_ok=True)
    if any(there.with_name(there.name + end).exists() for end in _SIDECARS):
        with closing(sqlite3.connect(there)) as source, closing(sqlite3.connect(kept)) as target:
            source.backup(target)
        return
    try:
        kept.hardlink_to(there)
    except OSError:
        shutil.copy2(there, kept)


def _move(new: Path, there: Path, links: Iterable[Path] = ()) -> None:
    """Move a file over another; `links` may be links to the old one."""
    is_database = new.suffix == ".gpkg"
    try:
        new.replace(there)
    except PermissionError:
        if not is_database or not there.exists():
            raise
        for link in links:
            if link.exists() and link.samefile(there):
                link.unlink()
                shutil.copy2(there, link)
        _copy_into(new, there)
    else:
        for end in _SIDECARS if is_database else ():
            there.with_name(there.name + end).unlink(missing_ok=True)


def _copy_into(new: Path, there: Path) -> None:
    """Copy a database into one that another program has open, in one SQLite transaction.

    Windows can't replace an open file. A reader sees either the old or the new content.
    """
    with closing(sqlite3.connect(new)) as source, closing(sqlite3.connect(there)) as target:
        target.execute(f"PRAGMA busy_timeout = {_WAIT_S * 1000:.0f}")
        try:
            source.backup(target)
        except sqlite3.Error as error:
            raise OSError(0, str(error), str(there)) from error
    new.unlink()


def _is_inside(name: str) -> bool:
    """Return whether a name in the record of an earlier run is inside the folder."""
    path = PurePosixPath(name)
    return not path.is_absolute() and ".." not in path.parts and not set("\\:") & set(name)


def _write_json(path: Path, content: object) -> None:
    draft = path.with_suffix(".draft")
    draft.write_text(json.dumps(content), encoding="utf-8")
    _fsync(draft)
    draft.replace(path)
    if os.name == "posix":
        _fsync(path.parent)


@contextmanager
def _defer_signals() -> Iterator[None]:
    """Defer SIGINT and SIGTERM until the files are in place."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    received: list[int] = []
    before = {
        number: signal.signal(number, lambda caught, _: received.append(caught))
        for number in (signal.SIGINT, signal.SIGTERM)
    }
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, signal.SIG_DFL if handler is None else handler)
        for caught in dict.fromkeys(received):
            signal.raise_signal(caught)


def _fsync(path: Path) -> None:
    folder = path.is_dir()
    if folder and os.name != "posix":
        return
    handle = os.open(path, os.O_RDONLY if folder else os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
