"""The profile of each line as arrays, thinned for plots without losing a density peak."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

MAX_POINTS = 240  # of a line
COLUMNS = ["chainage_m", "level_comparable_db", "level_comparable_sd_db", "leak_density_per_m"]


@dataclass(frozen=True)
class Profile:
    """The profile of one line in order of chainage; each array has shape (n,).

    Parameters
    ----------
    chainage_m, level_comparable_db, level_comparable_sd_db, leak_density_per_m : numpy.ndarray
        Columns of the data contract (m, dB, dB, 1/m); all NaN if the layer lacks the column.
    x_m, y_m : numpy.ndarray
        Coordinates in the job's metre CRS; NaN where the layer has no point.
    """

    chainage_m: np.ndarray
    level_comparable_db: np.ndarray
    level_comparable_sd_db: np.ndarray
    leak_density_per_m: np.ndarray
    x_m: np.ndarray
    y_m: np.ndarray


NO_PROFILE = Profile(*(np.empty(0) for _ in range(6)))


def profiles_by_line(frame: pd.DataFrame | None, most: int = MAX_POINTS) -> dict[str, Profile]:
    """Split the ``profile`` layer by line and thin each part.

    Parameters
    ----------
    frame : pandas.DataFrame or None
        The ``profile`` layer.
    most : int
        Maximum number of points of a line; default 240.

    Returns
    -------
    dict of str to Profile

    Examples
    --------
    >>> table = pd.DataFrame({"line_id": "a", "chainage_m": [0.0, 1.0, 2.0, 3.0]})
    >>> thin = profiles_by_line(table.assign(leak_density_per_m=[1, 9, 2, 3]), most=2)["a"]
    >>> thin.chainage_m.tolist(), thin.leak_density_per_m.tolist()
    ([0.5, 2.5], [9.0, 3.0])
    """
    if frame is None or frame.empty or not {"line_id", "chainage_m"} <= set(frame.columns):
        return {}
    codes, names = pd.factorize(frame["line_id"])
    values = _values(frame)
    good = (codes >= 0) & np.isfinite(values[0])
    order = np.lexsort((values[0], codes))
    order = order[good[order]]
    starts = np.flatnonzero(np.r_[True, np.diff(codes[order]) > 0])
    parts = np.split(values[:, order], starts[1:], axis=1)
    keys = names[codes[order][starts]] if order.size else []
    return {str(k): Profile(*_thin(part, most)) for k, part in zip(keys, parts, strict=False)}


def _values(frame: pd.DataFrame) -> np.ndarray:
    """Return the columns and the coordinates as rows of one array, shape (6, n)."""
    table = frame.reindex(columns=COLUMNS).to_numpy(float, na_value=np.nan)
    places = np.full((len(frame), 2), np.nan)
    if isinstance(frame, gpd.GeoDataFrame):
        shapes = frame.geometry.to_numpy()
        points = (shapely.get_type_id(shapes) == 0) & ~shapely.is_empty(shapes)
        places[points] = shapely.get_coordinates(shapes[points])
    values: np.ndarray = np.column_stack([table, places]).T
    return values


def _thin(values: np.ndarray, most: int) -> np.ndarray:
    """Average over bins, but keep the highest density and the first coordinates of each bin."""
    count = values.shape[1]
    if count <= most:
        return values
    starts = np.linspace(0, count, most, endpoint=False).astype(int)
    thin: np.ndarray = np.add.reduceat(values, starts, axis=1) / np.diff(np.r_[starts, count])
    thin[3] = np.maximum.reduceat(values[3], starts)
    thin[4:] = values[4:, starts]
    return thin
