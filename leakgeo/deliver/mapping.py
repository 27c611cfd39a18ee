"""Write the draft of a mapping; a file that is there is never replaced."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.errors import OutputError

if TYPE_CHECKING:
    from pathlib import Path


def write_mapping(text: str, path: Path) -> Path:
    """Write a draft.

    Parameters
    ----------
    text : str
        As `leakgeo.job.mapping.draft.draft_mapping` gives it.
    path : pathlib.Path
        File to make.

    Returns
    -------
    pathlib.Path

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
    return path
