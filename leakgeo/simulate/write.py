"""Writing of a simulated job as a GeoPackage, byte-identical for the same seed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
from pyproj import CRS

from leakgeo.deliver.folder.atomic import write_atomic
from leakgeo.deliver.geopackage.layers import UNFLUSHED, append_layer
from leakgeo.deliver.geopackage.typed import to_schema
from leakgeo.job.schema import drawn_layers, load_schemas
from leakgeo.process_settings import gdal_options
from leakgeo.simulate.job import SIMULATED

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    import pandas as pd


# GDAL writes the current time into layers; a fixed one keeps the bytes the same.
STAMP = "2025-05-06T00:00:00.000Z"


def write_job(layers: Mapping[str, pd.DataFrame], path: Path) -> None:
    """Write layers of the data contract into a new GeoPackage, each marked as simulated.

    Parameters
    ----------
    layers : mapping of str to geopandas.GeoDataFrame or pandas.DataFrame
    path : pathlib.Path
        Output file; an existing file is replaced.

    Raises
    ------
    OutputError
        If it can't be written.
    """
    layers = _split_by_geometry(layers)
    order = drawn_layers()
    names = sorted(layers, key=lambda n: list(order).index(n) if n in order else len(order))

    def write(draft: Path) -> None:
        draft.unlink()  # GDAL can't write into an empty file.
        for name in names:
            _append(draft, name, layers[name])

    with gdal_options({**UNFLUSHED, "OGR_CURRENT_DATE": STAMP}):
        write_atomic(path, write)


def _split_by_geometry(layers: Mapping[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    """Split layers of mixed geometry types into layers that a GIS can draw."""
    split: dict[str, pd.DataFrame] = {}
    for name, layer in layers.items():
        schema = load_schemas("input").get(name)
        parts = schema.parts() if schema is not None else ()
        for part in parts if isinstance(layer, gpd.GeoDataFrame) else ():
            own = layer[layer.geometry.geom_type.isin(part.geometry_types)]
            split |= {part.name: own} if len(own) else {}
        split |= {} if parts else {name: layer}
    return split


def _append(path: Path, name: str, layer: pd.DataFrame) -> None:
    schema = drawn_layers().get(name)
    crs = CRS(layer.crs if isinstance(layer, gpd.GeoDataFrame) else 4326)  # No matter for a table.
    frame = to_schema(layer, schema, crs)
    about = "" if schema is None else schema.description
    options = {"DESCRIPTION": f"{SIMULATED} {about}".strip()}
    append_layer(path, name, frame, _geometry_type(frame), options, {"leakgeo": SIMULATED})


def _geometry_type(frame: pd.DataFrame) -> str | None:
    """Return the common geometry type, ``Unknown`` if there are several."""
    if not isinstance(frame, gpd.GeoDataFrame):
        return None
    kinds = frame.geometry.geom_type.dropna().unique()
    return str(kinds[0]) if len(kinds) == 1 else "Unknown"
