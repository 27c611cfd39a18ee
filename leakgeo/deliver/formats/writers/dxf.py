"""DXF: geometry and layer names, for drawing programs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely

from leakgeo.deliver.formats.format import TABLES_BESIDE, Format, with_shapes

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from pyproj import CRS

    from leakgeo.result import Result

# Size of a mark's cross and ring, metres: about a foot, to be visible at street scale.
ARM_M, RING_M = 0.5, 0.3
_PREFIX = "LEAK_"


def _write(layers: Mapping[str, pd.DataFrame], result: Result, folder: Path) -> list[str]:
    """Write one drawing in the output CRS, or in the job's CRS if the output is in degrees."""
    crs = result.job.output_crs if result.job.output_crs.is_projected else result.job.crs
    shapes = drawing(dict(with_shapes(layers, folder)), crs)
    pyogrio.write_dataframe(shapes, folder / "result.dxf", driver="DXF")
    unit = crs.axis_info[0].unit_name if crs.axis_info else "unknown"
    (folder / "result.prj").write_text(crs.to_wkt("WKT1_ESRI") + "\n", encoding="utf-8")
    return [f"It knows no CRS: coordinates are {crs.name}, in {unit} (result.prj says so to GIS)."]


def drawing(layers: Mapping[str, gpd.GeoDataFrame], crs: CRS) -> gpd.GeoDataFrame:
    """Return all geometries in one table with the names of their layers.

    Parameters
    ----------
    layers : mapping of str to geopandas.GeoDataFrame
        In any CRS.
    crs : pyproj.CRS
        Projected CRS of the drawing.

    Returns
    -------
    geopandas.GeoDataFrame
        With a column ``Layer``; areas are replaced by their outlines.
    """
    unit = crs.axis_info[0].unit_conversion_factor
    parts = [_part(name, frame.to_crs(crs), unit) for name, frame in layers.items()]
    if not parts:
        return gpd.GeoDataFrame({"Layer": pd.Series([], dtype="str")}, geometry=[], crs=crs)
    return gpd.GeoDataFrame(pd.concat(parts, ignore_index=True), crs=crs)


def _part(name: str, frame: gpd.GeoDataFrame, unit: float) -> gpd.GeoDataFrame:
    shapes = frame.geometry.to_numpy()
    good = shapely.is_geometry(shapes) & ~shapely.is_empty(shapes)
    shapes = shapes[good]
    areas = shapely.get_dimensions(shapes) == 2
    shapes[areas] = shapely.boundary(shapes[areas])
    if name == "marks" and len(shapes):
        located = (frame["status"] == "located").to_numpy(bool, na_value=False)[good]
        rings, crosses = _rings(shapes, unit), _crosses(shapes[located], unit)
        return gpd.GeoDataFrame(
            {"Layer": [f"{_PREFIX}MARKS" if yes else f"{_PREFIX}NO_MARK_YET" for yes in located]
             + [f"{_PREFIX}MARKS"] * len(crosses)},
            geometry=np.r_[rings, crosses], crs=frame.crs,
        )  # fmt: skip
    shapes = shapely.get_parts(shapes)
    return gpd.GeoDataFrame({"Layer": [_PREFIX + name.upper()] * len(shapes)},
                            geometry=shapes, crs=frame.crs)  # fmt: skip


def _rings(points: np.ndarray, unit: float) -> np.ndarray:
    rings: np.ndarray = shapely.boundary(shapely.buffer(points, RING_M / unit))
    return rings


def _crosses(points: np.ndarray, unit: float) -> np.ndarray:
    xy = shapely.get_coordinates(points)
    steps = np.array([(ARM_M / unit, 0.0), (0.0, ARM_M / unit)])[:, None, :]
    ends = np.stack([xy - steps, xy + steps], axis=2).reshape(-1, 2, 2)
    lines: np.ndarray = np.array(list(shapely.linestrings(ends)), dtype=object)  # type: ignore[arg-type]
    return lines


FORMAT = Format("DXF", _write, (
    TABLES_BESIDE, "Columns are not in it: shapes, and the name of their layer, are all.",
    "Areas are outlines; a mark is a cross, a likeliest place a ring."))  # fmt: skip
