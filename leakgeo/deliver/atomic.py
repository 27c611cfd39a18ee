"""Write a file whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.errors import OutputError, ParameterError

if TYPE_CHECKING:
    from collections.abc import Callable


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
