"""Whether a job, or a result of one, says of itself that it is simulated."""

from __future__ import annotations

import warnings
from pathlib import Path

from leakgeo.job.guards import gdal
from leakgeo.job.sources.address import is_database
from leakgeo.job.sources.source import open_source

SIMULATED_KEY = "leakgeo"


def simulated_note(source: str | Path) -> str:
    """Give the sentence by which a file says that it is simulated.

    Parameters
    ----------
    source : str or pathlib.Path
        As ``Job.source`` has it: what the job was read from.

    Returns
    -------
    str
        ``""`` where it says nothing of the kind, or isn't a file of layers that can be read.

    Examples
    --------
    >>> simulated_note("no such file.gpkg")
    ''
    """
    if is_database(source) or not Path(source).is_file():
        return ""
    try:
        with open_source(source) as opened, warnings.catch_warnings():
            warnings.simplefilter("ignore")
            file, layer = next(iter(opened.layers.values()))
            info = gdal.layer_info(Path(str(file)), layer)
    # A file that can't be read says nothing; what is wrong with it is told where the job is read.
    except Exception:  # noqa: BLE001
        return ""
    return str((info.get("layer_metadata") or {}).get(SIMULATED_KEY, ""))
