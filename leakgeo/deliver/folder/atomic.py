"""Write a file whole or not at all."""

from __future__ import annotations

import json
import os
import tempfile
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

from leakgeo.errors import OutputError, ParameterError
from leakgeo.staging import RECORD

if TYPE_CHECKING:
    from collections.abc import Callable


def out_folder(out: Path | None, run_id: str = "") -> Path:
    """Make the output folder where it is missing.

    Parameters
    ----------
    out : pathlib.Path or None
    run_id : str
        Of the result that a file is to be made of. A folder that holds the result of another run
        takes none: its files would be of two runs.

    Raises
    ------
    ParameterError
        If no folder was given.
    OutputError
        If it can't be made, or holds the result of another run.
    """
    if out is None:
        raise ParameterError.of("out", "name the folder to write into.")
    folder = Path(out)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"{folder}: the folder can't be made ({error}). Name another.") from error
    there = run_there(folder)
    if run_id and there and there != run_id:
        raise OutputError(
            f"{folder}: it holds the result of run {there}, and this is run {run_id}. Write this "
            "result there first, or name another folder."
        )
    return folder


def run_there(folder: Path) -> str:
    """Give the id of the run whose result a folder holds; ``""`` where there is none."""
    try:
        record = json.loads((folder / RECORD).read_text("utf-8"))
    except (OSError, ValueError):
        return ""
    return str(record.get("run_id", "")) if isinstance(record, dict) else ""


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
            f"{path}: can't be written ({error.strerror or error}). Close it where it is open."
        ) from error
    finally:
        beside.unlink(missing_ok=True)


# Read by setting it: two threads at once could leave it at nought.
_UMASK = Lock()


def _umask() -> int:
    with _UMASK:
        mask = os.umask(0)
        os.umask(mask)
    return mask


def write_new(text: str, path: Path) -> None:
    """Write a text into a new file; a file that is there is never replaced.

    Parameters
    ----------
    text : str
    path : pathlib.Path
        File to make.

    Raises
    ------
    OutputError
        If there is such a file already, or it can't be written.
    """
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError as error:
        raise OutputError(f"{path} is there already; give another name.") from error
    except OSError as error:
        raise OutputError(f"{path} can't be written: {error.strerror or error}.") from error
