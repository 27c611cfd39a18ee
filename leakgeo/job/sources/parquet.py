"""Read a GeoParquet file, or a Parquet table without geometry, with geopandas."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import pandas as pd
import pyarrow.parquet as pq

from leakgeo.job.sources.layers import RawLayer, unreadable_layer

if TYPE_CHECKING:
    from pathlib import Path


def read_parquet(path: Path) -> RawLayer:
    """Read a GeoParquet or Parquet file.

    Parameters
    ----------
    path : pathlib.Path

    Returns
    -------
    RawLayer
        Without geometry if the file has no GeoParquet metadata.

    Raises
    ------
    JobError
        If the file can't be read.
    """
    try:
        if b"geo" not in (pq.read_schema(path).metadata or {}):
            return RawLayer(pd.read_parquet(path), None)
        table = gpd.read_parquet(path)
    except Exception as error:
        raise unreadable_layer(path.stem.casefold(), error) from error
    return RawLayer(table, table.crs)
