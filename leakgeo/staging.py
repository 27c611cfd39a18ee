"""The output folder: one run at a time writes there, and all of its files appear, or none.

A run fills a hidden folder inside the output folder, flushes it to disk, and then switches: it
writes a commit record, moves each file to its place, and ``run.json`` with the new run id last. A
run that ends before the record leaves the old result; one that ends after it is completed by the
next program of leakgeo that opens the folder. Signals wait while the files are moved.
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

from leakgeo.errors import OutputError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

#: What names of staging folders begin with.
PREFIX = ".leakgeo-staging-"
#: It carries the run id, so it is moved last.
RECORD = "run.json"
#: Files that every result has.
FILES = ("result.gpkg", "summary.csv", "faults.csv", RECORD)
_COMMIT, _NEW, _OLD = "commit.json", "new", "old"
# Left by a program that has the old file open; beside a new file they would corrupt what it reads.
_SIDECARS = ("-wal", "-shm", "-journal")
# So long a reader waits for a run that is moving its files.
_WAIT_S = 10.0
# Where a folder can't be locked, staging this old is of a run that ended.
_DEAD_S = 86_400.0
# A disk with less room than this when writing failed is full, whatever the library says that wrote.
_FULL_BYTES = 4_194_304
_FULL = "the disk is full."


@contextmanager
def exclusive(out: Path) -> Iterator[None]:
    """Lock a folder against other runs, and clear up what a run that was stopped left there.

    The lock leaves nothing behind, not even a folder that it made and nothing came into, and ends
    with the process, however that ends. Windows and some file systems know no lock of a folder.

    Parameters
    ----------
    out : pathlib.Path
        Folder; made where it is missing.

    Raises
    ------
    OutputError
        If another run holds it, it can't be made, or a switch that was cut short can't be
        completed.
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
            with suppress(OSError):  # there is something in it
                out.rmdir()


def _make_folder(folder: Path) -> Path:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"{folder}: the folder can't be made ({error}). Name another.") from error
    return folder


def _lock(folder: Path, *, wait_s: float = 0.0) -> int | None:
    """Lock a folder; None where that is not possible there.

    Raises
    ------
    OutputError
        If another run holds it for longer than `wait_s` seconds.
    """
    if os.name == "nt":
        return None
    fcntl = importlib.import_module("fcntl")
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return None
    end = time.monotonic() + wait_s
    while True:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            if time.monotonic() < end:
                time.sleep(0.05)
                continue
            os.close(handle)
            raise OutputError(
                f"{folder}: another run is writing there. Wait for it, or name another folder."
            ) from error
        except OSError:
            os.close(handle)
            return None
        return handle


def finish_commit(out: Path) -> None:
    """Complete a switch that was cut short, before a folder is read.

    Parameters
    ----------
    out : pathlib.Path
        Folder of a result; one that is not there, or has nothing to complete, is left as it is.

    Raises
    ------
    OutputError
        If a run holds the folder, or its files can't be moved.
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
    """Complete the switch of a run that was stopped, and remove the staging of dead runs."""
    for staging in out.glob(f"{PREFIX}*"):
        if (staging / _COMMIT).is_file():
            _resume_commit(staging, out)
        elif locked or time.time() - staging.stat().st_mtime > _DEAD_S:
            shutil.rmtree(staging, ignore_errors=True)


def _resume_commit(staging: Path, out: Path) -> None:
    try:
        commit = json.loads((staging / _COMMIT).read_text("utf-8"))
        _move_into_place(staging, out, commit["files"], commit["remove"])
    except OSError as error:
        raise OutputError(
            f"{out}: a run was stopped while it put its files in place, and they can't be moved "
            f"now ({error}). Close them where they are open, and try again."
        ) from error
    shutil.rmtree(staging, ignore_errors=True)


class InterruptedAfterCommit(KeyboardInterrupt):
    """An interrupt that came while files were put in place: all of them are."""


class Staging:
    """Files of one run, filled in a hidden folder and put into their own all at once.

    Parameters
    ----------
    out : pathlib.Path
        The folder that the files are for; it is there already.

    Attributes
    ----------
    path : pathlib.Path
        Where the files are written meanwhile; on the file system of `out`.

    Raises
    ------
    OutputError
        If nothing can be written there.

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
        """Remove it, with what was not committed."""
        if not (self._folder / _COMMIT).exists():
            shutil.rmtree(self._folder, ignore_errors=True)

    def flush(self) -> None:
        """Flush everything to disk; what is left to do then needs no room.

        Raises
        ------
        OutputError
            If it can't be written.
        """
        try:
            for path in (self.path, *self.path.rglob("*")):
                _fsync(path)
        except OSError as error:
            raise OutputError(f"{self.out}: the result can't be written ({error}).") from error

    def commit(self, remove: Iterable[str] = ()) -> list[Path]:
        """Put every file into its place, ``run.json`` last; all of them, or none.

        Parameters
        ----------
        remove : iterable of str
            Names, relative to the folder, of files of an earlier run; those that are not made anew
            go.

        Returns
        -------
        list of pathlib.Path
            The files, in their places.

        Raises
        ------
        OutputError
            If a file can't be replaced; then all are as they were.
        InterruptedAfterCommit
            If an interrupt came meanwhile; the files are in their places.
        """
        in_place = False
        made = [p.relative_to(self.path).as_posix() for p in self.path.rglob("*") if p.is_file()]
        files = sorted(made, key=lambda name: (name == RECORD, name))
        stale = sorted({name for name in remove if _is_inside(name)} - set(files))
        self.flush()
        try:
            with _defer_signals():
                self._keep_old([*files, *stale, *_sidecars_of(files)])
                _write_json(self._folder / _COMMIT, {"files": files, "remove": stale})
                try:
                    _move_into_place(self._folder, self.out, files, stale)
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
        """Hold on to the old files under another name, without taking them away."""
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
                with suppress(OSError):  # one that could not be replaced is the old one still
                    _move(kept, there)


@contextmanager
def staged(folder: Path) -> Iterator[Staging]:
    """Stage the files of a run; messages name the folder that they are for.

    Raises
    ------
    OutputError
        If a file can't be written; that the disk is full is said first.
    """
    with Staging(folder) as staging:
        try:
            yield staging
        except (OutputError, OSError) as error:
            told = str(error).replace(str(staging.path), str(folder))
            # Exports are staged within a run's staging: the inner one has said it.
            if _FULL not in told and _is_full(error, folder):
                raise OutputError(
                    f"{folder}: {_FULL} Free room there, and run again; the results there are as "
                    f"they were. ({told})"
                ) from error
            if isinstance(error, OutputError):
                raise OutputError(told) from error
            raise


def _is_full(error: BaseException, folder: Path) -> bool:
    """Tell whether writing failed for want of room."""
    chain: BaseException | None = error
    while chain is not None:
        if isinstance(chain, OSError) and chain.errno in (errno.ENOSPC, errno.EDQUOT):
            return True
        chain = chain.__cause__ or chain.__context__
    with suppress(OSError):
        return shutil.disk_usage(folder).free < _FULL_BYTES
    return False


def final_folder(folder: Path) -> Path:
    """Give the folder that files are for: the folder itself, unless they are staged in it.

    Examples
    --------
    >>> final_folder(Path("out", ".leakgeo-staging-x", "new")).name
    'out'
    """
    while folder.name == _NEW and folder.parent.name.startswith(PREFIX):
        folder = folder.parent.parent
    return folder


def _move_into_place(staging: Path, out: Path, files: Iterable[str], remove: Iterable[str]) -> None:
    """Move new files over the old ones; what was moved before is passed over."""
    for name in remove:
        (out / name).unlink(missing_ok=True)
        for folder in PurePosixPath(name).parents[:-1]:
            with suppress(OSError):  # not there, or not empty
                (out / folder).rmdir()
    for name in files:
        if (staging / _NEW / name).exists():
            (out / name).parent.mkdir(parents=True, exist_ok=True)
            _move(staging / _NEW / name, out / name, staging / _OLD / name)
    for there in {(out / name).parent for name in files}:
        _fsync(there)


def _sidecars_of(files: Iterable[str]) -> list[str]:
    return [name + end for name in files if name.endswith(".gpkg") for end in _SIDECARS]


def _move(new: Path, there: Path, kept: Path | None = None) -> None:
    """Move a file over another; `kept` is the other under a name of its own."""
    is_database = new.suffix == ".gpkg"
    try:
        new.replace(there)
    except PermissionError:
        if not is_database or not there.exists():
            raise
        if kept is not None and kept.samefile(there):
            kept.unlink()
            shutil.copy2(there, kept)
        _copy_into(new, there)
    else:
        for end in _SIDECARS if is_database else ():
            there.with_name(there.name + end).unlink(missing_ok=True)


def _copy_into(new: Path, there: Path) -> None:
    """Copy a database into one that another program holds open, in one transaction of SQLite.

    Windows replaces no file that is open. Who reads meanwhile sees the old content or the new.
    """
    with closing(sqlite3.connect(new)) as source, closing(sqlite3.connect(there)) as target:
        target.execute(f"PRAGMA busy_timeout = {_WAIT_S * 1000:.0f}")
        try:
            source.backup(target)
        except sqlite3.Error as error:
            raise OSError(0, str(error), str(there)) from error
    new.unlink()


def _is_inside(name: str) -> bool:
    """Tell whether a name of an earlier run's record stays in its folder."""
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
    """Let an interrupt or a request to end wait until the files are in place."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    came: list[int] = []
    before = {
        number: signal.signal(number, lambda caught, _: came.append(caught))
        for number in (signal.SIGINT, signal.SIGTERM)
    }
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, signal.SIG_DFL if handler is None else handler)
        for caught in dict.fromkeys(came):
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
