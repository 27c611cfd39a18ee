"""Write a file whole or not at all."""

from __future__ import annotations

import importlib
import os
import tempfile
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.errors import OutputError, ParameterError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator


def out_folder(out: Path | None) -> Path:
    """Make the output folder where it is missing.

    Raises
    ------
    ParameterError
        If no folder was given.
    OutputError
        If it can't be made.
    """
    if out is None:
        raise ParameterError("out: name the folder to write into.")
    folder = Path(out)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"{folder}: the folder can't be made ({error}). Name another.") from error
    return folder


@contextmanager
def alone(out: Path) -> Iterator[None]:
    """Hold a folder against other runs: one's map beside another's result would be dug by.

    The hold leaves nothing behind, not even a folder that it made and nothing came into, and ends
    with the process, however that ends. Windows and some file systems know none.

    Parameters
    ----------
    out : pathlib.Path
        Folder; made where it is missing.

    Raises
    ------
    OutputError
        If another run holds it, or it can't be made.
    """
    new = not out.exists()
    handle = None if os.name == "nt" or out.is_file() else _held(out_folder(out))
    try:
        yield
    finally:
        if handle is not None:
            os.close(handle)
        if new:
            with suppress(OSError):  # there is something in it
                out.rmdir()


def _held(folder: Path) -> int | None:
    fcntl = importlib.import_module("fcntl")
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        os.close(handle)
        if not isinstance(error, BlockingIOError):
            return None
        raise OutputError(
            f"{folder}: another run is writing there. Wait for it, or name another folder."
        ) from error
    return handle


def write_whole(path: Path, write: Callable[[Path], None]) -> None:
    """Let `write` fill a file beside `path`, then put it in place in one move.

    Parameters
    ----------
    path : pathlib.Path
        Where the file goes; an older one stays until the new one is complete.
    write : callable
        Called with the path of the file to fill.

    Raises
    ------
    OutputError
        If the file can't be written or moved into place.
    """
    try:
        handle, name = tempfile.mkstemp(
            prefix=f".{path.stem}-", suffix=path.suffix, dir=path.parent
        )
        os.close(handle)
    except OSError as error:
        raise OutputError(f"{path}: can't write there ({error}).") from error
    beside = Path(name)
    try:
        write(beside)
        beside.chmod(0o666 & ~_umask())
        beside.replace(path)
    except OSError as error:
        raise OutputError(
            f"{path}: can't be written ({error}). Close it where it's open."
        ) from error
    finally:
        beside.unlink(missing_ok=True)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
