"""Read the note in a job, or in a result, that it is simulated."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.errors import JobError
from leakgeo.job.guards import gdal
from leakgeo.job.sources.address import is_database
from leakgeo.job.sources.source import open_source

if TYPE_CHECKING:
    from leakgeo.job.sources.layers import LayerSource

SIMULATED_KEY = "leakgeo"


def simulated_note(source: str | Path) -> str:
    """Return the statement in a file that it is simulated.

    Parameters
    ----------
    source : str or pathlib.Path
        Source of a job, as in ``Job.source``.

    Returns
    -------
    str
        ``""`` if the file has no such statement, or can't be read as a vector file.

    Examples
    --------
    >>> simulated_note("no such file.gpkg")
    ''
    """
    if is_database(source) or not Path(source).is_file():
        return ""
    try:
        with open_source(source) as opened:
            return simulated_note_of(opened)
    except JobError:  # reported when the job is read
        return ""


def simulated_note_of(opened: LayerSource) -> str:
    """Return the statement in an open file that it is simulated; ``""`` if there is none."""
    file, layer = next(iter(opened.layers.values()), (None, ""))
    if not isinstance(file, Path) or not isinstance(opened.path, Path) or opened.path.is_dir():
        return ""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            info = gdal.layer_info(file, layer)
    # Errors of the file are reported when its layers are read.
    except Exception:  # noqa: BLE001
        return ""
    return str((info.get("layer_metadata") or {}).get(SIMULATED_KEY, ""))
