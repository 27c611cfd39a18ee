"""Output folders and atomic writing of single files."""

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
    """Return the output folder; create it if it is missing.

    Parameters
    ----------
    out : pathlib.Path or None
        Folder; None is an error.
    run_id : str
        Run id of the result to write; ``""`` skips the check. A folder with the result of another
        run is refused, so that its files never mix two runs.

    Raises
    ------
    ParameterError
        If no folder was given.
    OutputError
        If it can't be created, or holds the result of another run.
    """
    if out is None:
        raise ParameterError.of("out", "name the folder to write into.")
    folder = Path(out)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"{folder}: the folder can't be made ({error}). Name another.") from error
    there = run_in_folder(folder)
    if run_id and there and there != run_id:
        raise OutputError(
            f"{folder}: it holds the result of run {there}, and this is run {run_id}. Write this "
            "result there first, or name another folder."
        )
    return folder


def run_in_folder(folder: Path) -> str:
    """Return the run id of the result in a folder; ``""`` if there is none."""
    try:
        record = json.loads((folder / RECORD).read_text("utf-8"))
    except (OSError, ValueError):
        return ""
    return str(record.get("run_id", "")) if isinstance(record, dict) else ""


def write_atomic(path: Path, write: Callable[[Path], None]) -> None:
    """Write a file atomically: `write` fills a temporary file, which then replaces `path`.

    Parameters
    ----------
    path : pathlib.Path
        File to write; an existing file stays until the new one is complete.
    write : callable
        Called with the path of the temporary file to fill.

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


# The umask can only be read by setting it: two threads at once could leave it at 0.
_UMASK = Lock()


def _umask() -> int:
    with _UMASK:
        mask = os.umask(0)
        os.umask(mask)
    return mask


def write_new(text: str, path: Path) -> None:
    """Write a text into a new file; an existing file is never replaced.

    Parameters
    ----------
    text : str
        Written as UTF-8.
    path : pathlib.Path
        File to create.

    Raises
    ------
    OutputError
        If the file exists already, or can't be written.
    """
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError as error:
        raise OutputError(f"{path} is there already; give another name.") from error
    except OSError as error:
        raise OutputError(f"{path} can't be written: {error.strerror or error}.") from error
