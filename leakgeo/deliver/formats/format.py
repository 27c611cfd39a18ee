"""The definition of an export format, and helpers for its writers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import geopandas as gpd
from pyproj import CRS

from leakgeo.deliver.folder.spreadsheets import write_csv

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping
    from pathlib import Path

    import pandas as pd

    from leakgeo.result import Result

WGS84 = CRS.from_epsg(4326)
IN_WGS84 = "Coordinates are in WGS 84; a datum shift and its accuracy are not recorded."
TABLES_BESIDE = "Layers without shapes are CSV files beside it."


@dataclass(frozen=True)
class Format:
    """One format to export results in.

    Parameters
    ----------
    title : str
        Common name of the format.
    write : callable
        Takes the layers by name, in the output CRS, the result, and a folder; returns what these
        layers lost besides `loses`, as sentences.
    loses : tuple of str
        What the format always loses, as sentences.
    """

    title: str
    write: Callable[[Mapping[str, pd.DataFrame], Result, Path], list[str]]
    loses: tuple[str, ...] = ()


def with_shapes(
    layers: Mapping[str, pd.DataFrame], folder: Path
) -> Iterator[tuple[str, gpd.GeoDataFrame]]:
    """Yield the layers with geometry; write the others as CSV into `folder`."""
    for name, frame in layers.items():
        if isinstance(frame, gpd.GeoDataFrame):
            yield name, frame
        else:
            write_csv(frame, folder / f"{name}.csv")


def with_places(name: str, frame: gpd.GeoDataFrame) -> tuple[gpd.GeoDataFrame, list[str]]:
    """Return the rows with a geometry, and a sentence about the others."""
    kept = frame.loc[frame.geometry.notna() & ~frame.geometry.is_empty]
    left = len(frame) - len(kept)
    return kept, [f"{name}: {left} rows without a place are not in it."] if left else []
