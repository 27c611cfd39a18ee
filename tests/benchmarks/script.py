"""The same job as a geopandas and scikit-learn script would do it, to time leakgeo against."""

from __future__ import annotations

import warnings
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely import ops

if TYPE_CHECKING:
    from pathlib import Path

    from pyproj import CRS

GRID_M = 0.05
HALF_WIDTH_M = 1.0


def script(job: Path, out: Path) -> None:
    """Read a job, smooth each line's levels, and write profile, marks and zones.

    The zone is every place where the loudest level could be: its mean plus 1.645 deviations comes
    up to the peak.
    """
    routes = gpd.read_file(job, layer="routes").set_index("line_id")
    readings = gpd.read_file(job, layer="readings")
    profiles, marks, zones = [], [], []
    for line_id, own in readings.groupby("line_id"):
        line = routes.geometry[line_id]
        along = np.where(
            own["chainage_m"].notna(), own["chainage_m"], line.project(own.geometry)
        ).astype(float)
        grid = np.arange(0.0, line.length, GRID_M)
        mean, sd = _smooth(along, _levels(own), grid)
        peak = int(np.argmax(mean))
        points = shapely.line_interpolate_point(line, grid)
        crs = routes.crs
        profiles.append(_frame(line_id, points, crs, chainage_m=grid, level_db=mean, sd_db=sd))
        marks.append(_frame(line_id, points[[peak]], crs, chainage_m=grid[[peak]]))
        zones.append(_zones(line_id, line, crs, grid, mean + 1.645 * sd >= mean[peak]))
    for name, parts in (("profile", profiles), ("marks", marks), ("zones", zones)):
        pd.concat(parts, ignore_index=True).to_file(out, layer=name, driver="GPKG")


def _levels(own: pd.DataFrame) -> np.ndarray:
    shown = own["sound_level"].to_numpy(dtype=float)
    scale = (own["sound_unit"] == "scale").to_numpy()
    level = np.where(scale, 20 * np.log10(np.maximum(shown, 0.5) / 100), shown)
    return level - own["gain_db"].fillna(0.0).to_numpy(dtype=float)


def _smooth(along: np.ndarray, level: np.ndarray, grid: np.ndarray) -> tuple[np.ndarray, ...]:
    from sklearn.exceptions import ConvergenceWarning
    from sklearn.gaussian_process import GaussianProcessRegressor
    from sklearn.gaussian_process.kernels import ConstantKernel, Matern, WhiteKernel

    kernel = ConstantKernel(1.0, (1e-2, 1e2)) * Matern(2.0, (0.2, 50.0), nu=1.5)
    model = GaussianProcessRegressor(kernel + WhiteKernel(0.1, (1e-3, 1e1)), normalize_y=True)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ConvergenceWarning)
        model.fit(along[:, None], level)
    return model.predict(grid[:, None], return_std=True)


def _frame(line_id: str, shapes: np.ndarray, crs: CRS, **columns: np.ndarray) -> gpd.GeoDataFrame:
    columns = {"line_id": np.full(len(shapes), line_id, dtype=object), **columns}
    return gpd.GeoDataFrame(columns, geometry=list(shapes), crs=crs)


def _zones(
    line_id: str, line: shapely.LineString, crs: CRS, grid: np.ndarray, inside: np.ndarray
) -> gpd.GeoDataFrame:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], inside, [0]])))
    begin, end = grid[edges[::2]], np.minimum(grid[edges[1::2] - 1] + GRID_M, line.length)
    shapes = [
        ops.substring(line, a, b).buffer(HALF_WIDTH_M) for a, b in zip(begin, end, strict=True)
    ]
    return _frame(line_id, np.array(shapes), crs, from_chainage_m=begin, to_chainage_m=end)
