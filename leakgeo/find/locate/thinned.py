"""The profile without the points that straight lines between the others give."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from leakgeo.arrays import floats
from leakgeo.compiled import compiled

if TYPE_CHECKING:
    from leakgeo.arrays import Bools, Floats, Ints

# Tolerance of the level and of its error, as a share of that error: 2 % more of it in all.
LEVEL_SHARE = 0.2
# Tolerance of the density, as a share of its maximum on the line.
DENSITY_SHARE = 0.01
# Tolerance of the probability from the start of the line up to any point that is kept.
PROBABILITY = 0.005
# Tolerance of the place, metres: no bend of a trace is cut off.
PLACE_M = 0.05


def thinned(profile: pd.DataFrame) -> pd.DataFrame:
    """Return the points of a profile that are needed, so that straight lines give the others.

    Level and error are within `LEVEL_SHARE` of the error, the density within `DENSITY_SHARE` of
    its maximum, its integral within `PROBABILITY`, places within `PLACE_M`. Both ends of a line and its maxima are kept.

    Parameters
    ----------
    profile : pandas.DataFrame or geopandas.GeoDataFrame
        Layer ``profile`` after `locate`, in a metre CRS; each line in order of chainage.

    Returns
    -------
    pandas.DataFrame or geopandas.GeoDataFrame
        Its rows that are kept, as they are and in their order.

    Examples
    --------
    >>> at = np.arange(5.0)
    >>> table = pd.DataFrame({"line_id": "a", "chainage_m": at, "level_comparable_db": 40.0,
    ...                       "level_comparable_sd_db": 1.0,
    ...                       "leak_density_per_m": [0.0, 0.5, 0.75, 1.0, 0.0]})
    >>> thinned(table)["chainage_m"].tolist()
    [0.0, 1.0, 3.0, 4.0]
    """
    if not len(profile):
        return profile
    line = pd.factorize(profile["line_id"])[0]
    first = np.flatnonzero(np.diff(line, prepend=-2))
    own = np.repeat(np.arange(len(first)), np.diff(np.append(first, len(line))))
    values, tolerance = _curves(profile, first, own)
    forced = _forced(values, first, own)
    kept = np.zeros(len(profile), dtype=bool)
    _keep(floats(profile, "chainage_m"), np.nan_to_num(values), tolerance, forced, kept)
    return profile[kept].reset_index(drop=True)


def _curves(profile: pd.DataFrame, first: Ints, own: Ints) -> tuple[Floats, Floats]:
    """Return level, error, density and coordinates, shape (5, n), and their tolerances."""
    level, sd, density = (
        floats(profile, name)
        for name in ("level_comparable_db", "level_comparable_sd_db", "leak_density_per_m")
    )
    place = np.full((2, len(profile)), np.nan)
    if isinstance(profile, gpd.GeoDataFrame):
        shapes = profile.geometry.to_numpy()
        there = ~(shapely.is_missing(shapes) | shapely.is_empty(shapes))
        place[:, there] = shapely.get_coordinates(shapes[there]).T
    highest = np.maximum.reduceat(np.nan_to_num(density), first)[own]
    about = LEVEL_SHARE * np.nan_to_num(sd)
    near = np.full(len(own), PLACE_M)
    tolerance = np.stack([about, about, DENSITY_SHARE * highest, near, near])
    return np.stack([level, sd, density, *place]), tolerance


def _forced(values: Floats, first: Ints, own: Ints) -> Bools:
    """Return the points that are kept: ends, maxima, and all of a line that lacks some values."""
    known = np.isfinite(values)
    count = np.add.reduceat(known, first, axis=1, dtype=np.int64)
    size = np.diff(np.append(first, len(own)))
    forced = np.asarray(((count > 0) & (count < size)).any(axis=0)[own])
    forced[first] = forced[np.append(first[1:], len(own)) - 1] = True
    for curve in (values[0], values[2]):
        order = np.lexsort((-np.nan_to_num(curve), own))
        forced[order[first]] = True
    return forced


@compiled
def _keep(x: Floats, y: Floats, tolerance: Floats, forced: Bools, kept: Bools) -> None:
    """Mark the points to keep: each is the farthest that a straight line from the last reaches.

    The line has to meet every point between within its tolerance, so its slope is bounded. What the
    integral of the density, curve 2, is off so far counts for the rest of the line.
    """
    curves, n = y.shape
    low, high = np.empty(curves), np.empty(curves)
    i, off = 0, 0.0
    kept[0] = True
    while i < n - 1:
        low[:], high[:] = -np.inf, np.inf
        last, off_then, area = i + 1, off, 0.0
        for j in range(i + 1, n):
            run = x[j] - x[i]
            if run <= 0.0:
                off_then = 0.0  # the next line
                break
            area += 0.5 * (x[j] - x[j - 1]) * (y[2, j] + y[2, j - 1])
            off_there = off + 0.5 * run * (y[2, j] + y[2, i]) - area
            slope = (y[:, j] - y[:, i]) / run
            fits = (slope >= low).all() and (slope <= high).all()
            if fits and (j == i + 1 or abs(off_there) <= PROBABILITY):
                last, off_then = j, off_there
            if forced[j]:
                break
            spread = tolerance[:, j] / run
            low = np.maximum(low, slope - spread)
            high = np.minimum(high, slope + spread)
            if (low > high).any():
                break
        kept[last] = True
        i, off = last, off_then
