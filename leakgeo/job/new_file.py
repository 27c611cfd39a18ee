"""Write a file where no file may be: in full, or not at all."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.errors import OutputError

if TYPE_CHECKING:
    from collections.abc import Callable


def write_new_file(path: Path, kind: str, suffix: str, write: Callable[[Path], object]) -> Path:
    """Write a file beside its path, and move it there once it is complete.

    Parameters
    ----------
    path : pathlib.Path
        File to create; it must not exist.
    kind : str
        What the file is, for messages.
    suffix : str
        What its name must end in.
    write : callable
        Writes the file to the path that it is given, which has the same name.

    Returns
    -------
    pathlib.Path
        `path`.

    Raises
    ------
    OutputError
        If the file exists, its name has another end, or its folder can't be written.

    Examples
    --------
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "a.txt"
    ...     write_new_file(path, "a text", ".txt", lambda draft: draft.write_text("a")).read_text()
    'a'
    """
    if path.suffix.casefold() != suffix:
        raise OutputError(f"{path} is not {kind}. Give a name that ends in {suffix}.")
    if path.exists():
        raise OutputError(f"{path} exists. Give another name, or move the file.")
    try:
        with tempfile.TemporaryDirectory(dir=path.parent, prefix=".leakgeo-") as folder:
            draft = Path(folder) / path.name
            write(draft)
            _move(draft, path)
    except FileExistsError as error:
        raise OutputError(f"{path} was created meanwhile. Give another name.") from error
    except OSError as error:
        raise OutputError(f"{path} can't be written: {error.strerror or error}.") from error
    return path


def _move(draft: Path, path: Path) -> None:
    try:
        # Unlike rename, a hard link never replaces a file that was created meanwhile.
        path.hardlink_to(draft)
    except FileExistsError:
        raise
    except OSError:  # a file system without hard links
        draft.rename(path)
