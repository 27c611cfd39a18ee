"""Layers of an earlier result, to hold what came of it against what it said."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import geopandas as gpd

from leakgeo.errors import JobError, ParameterError
from leakgeo.job.source import open_source, read_layer

if TYPE_CHECKING:
    import pandas as pd
    from pyproj import CRS

NEEDED = ("lines", "marks", "profile")
WELCOME = ("readings_on_route",)


def earlier_layers(path: Path, crs: CRS) -> dict[str, pd.DataFrame]:
    """Read layers of an earlier result.

    Parameters
    ----------
    path : pathlib.Path
        Its ``result.gpkg``, or the folder that holds one.
    crs : pyproj.CRS
        CRS to bring them into: the job's own.

    Returns
    -------
    dict of str to pandas.DataFrame or geopandas.GeoDataFrame
        ``lines``, ``marks`` and ``profile``, and ``readings_on_route`` if it is there.

    Raises
    ------
    ParameterError
        If it can't be read, or is no result of leakgeo.
    """
    file = path / "result.gpkg" if path.is_dir() else path
    try:
        with open_source(file) as opened:
            missing = [name for name in NEEDED if name not in opened.layers]
            if missing:
                raise ParameterError(f"results: {file} has no layer {', '.join(missing)}.")
            names = [*NEEDED, *(name for name in WELCOME if name in opened.layers)]
            tables = {name: read_layer(opened, name).table for name in names}
    except JobError as error:
        raise ParameterError(f"results: {error}") from error
    return {
        name: table.to_crs(crs) if isinstance(table, gpd.GeoDataFrame) and table.crs else table
        for name, table in tables.items()
    }
