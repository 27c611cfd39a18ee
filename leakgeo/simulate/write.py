"""Write a simulated job as a GeoPackage, the same bytes of content for the same seed."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

import geopandas as gpd
import pyogrio
from pyproj import CRS

from leakgeo.deliver.atomic import write_whole
from leakgeo.deliver.geopackage import shaped
from leakgeo.errors import OutputError
from leakgeo.job.schema import load_schemas
from leakgeo.simulate.job import SIMULATED

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    import pandas as pd


def write_job(layers: Mapping[str, pd.DataFrame], path: Path) -> None:
    """Write layers in the contract's form into a new GeoPackage, each marked as simulated.

    Parameters
    ----------
    layers : mapping of str to geopandas.GeoDataFrame or pandas.DataFrame
    path : pathlib.Path
        Replaced whole if it is there.

    Raises
    ------
    OutputError
        If it can't be written.
    """
    order = load_schemas("input")
    names = sorted(layers, key=lambda n: list(order).index(n) if n in order else len(order))

    def write(draft: Path) -> None:
        draft.unlink()  # GDAL makes a GeoPackage, it does not fill an empty file.
        for name in names:
            _append(draft, name, layers[name])

    with _fixed_date():
        write_whole(path, write)


@contextmanager
def _fixed_date() -> Iterator[None]:
    """Let GDAL stamp the layers with one date, and leave flushing to the end."""
    options = {"OGR_CURRENT_DATE": "2025-05-06T00:00:00.000Z", "OGR_SQLITE_SYNCHRONOUS": "OFF"}
    before = {name: pyogrio.get_gdal_config_option(name) for name in options}
    pyogrio.set_gdal_config_options(options)
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options(before)


def _append(path: Path, name: str, layer: pd.DataFrame) -> None:
    schema = load_schemas("input").get(name)
    crs = CRS(layer.crs if isinstance(layer, gpd.GeoDataFrame) else 4326)  # No matter for a table.
    frame = shaped(layer, schema, crs)
    about = "" if schema is None else schema.description
    try:
        pyogrio.write_dataframe(
            frame,
            path,
            layer=name,
            driver="GPKG",
            append=path.exists(),
            geometry_type=_geometry_type(frame),
            layer_options={"DESCRIPTION": f"{SIMULATED} {about}".strip()},
            layer_metadata={"leakgeo": SIMULATED},
        )
    except RuntimeError as error:
        raise OutputError(f"{path.name}, layer {name}: can't be written ({error}).") from error


def _geometry_type(frame: pd.DataFrame) -> str | None:
    """Name the type if all shapes share it; the general one if they don't."""
    if not isinstance(frame, gpd.GeoDataFrame):
        return None
    kinds = frame.geometry.geom_type.dropna().unique()
    return str(kinds[0]) if len(kinds) == 1 else "Unknown"
