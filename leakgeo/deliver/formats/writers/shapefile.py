"""Shapefiles: short column names, texts of at most 254 bytes, and a list of what was cut."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import pandas as pd
import pyogrio

from leakgeo.deliver.folder.spreadsheets import write_csv
from leakgeo.deliver.formats.columns import dbf_columns, short_names
from leakgeo.deliver.formats.format import Format

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from leakgeo.result import Result


def _write(layers: Mapping[str, pd.DataFrame], _: Result, folder: Path) -> list[str]:
    lost, columns = [], []
    for name, frame in layers.items():
        columns += [(name, old, new) for old, new in short_names(_plain_names(frame)).items()]
        narrow, cut = dbf_columns(frame)
        lost += [f"{name}: {text}" for text in cut]
        kind = {"geometry_type": _shp_type(frame)} if isinstance(frame, gpd.GeoDataFrame) else {}
        path = folder / f"{name}.{'shp' if kind else 'dbf'}"
        pyogrio.write_dataframe(narrow, path, driver="ESRI Shapefile", encoding="UTF-8", **kind)
    table = pd.DataFrame(columns, columns=["layer", "column", "in_shapefile"])
    write_csv(table, folder / "columns.csv")
    return lost


def _plain_names(frame: pd.DataFrame) -> list[str]:
    shapes = getattr(frame, "_geometry_column_name", None)
    return [str(name) for name in frame if name != shapes]


def _shp_type(frame: gpd.GeoDataFrame) -> str:
    kinds = frame.geometry.geom_type.dropna()
    return str(kinds.iloc[0]) if kinds.size else "Point"


FORMAT = Format("Shapefile", _write, (
    "Names of columns are cut to ten characters (columns.csv lists them in full).",
    "Some programs show empty values as 0.",
    "Times are text; text is cut to 254 bytes, and marked at its end."))  # fmt: skip
