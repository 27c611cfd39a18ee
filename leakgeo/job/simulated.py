"""Whether a job, or a result of one, says of itself that it is simulated."""

from __future__ import annotations

from pathlib import Path

import pyogrio

from leakgeo.job.address import is_database

KEY = "leakgeo"


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
        layers = [str(name) for name, _ in pyogrio.list_layers(source)]
        info = [pyogrio.read_info(source, layer=name) for name in layers[:1]]
    except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError):
        return ""
    return str((info[0].get("layer_metadata") or {}).get(KEY, "")) if info else ""
