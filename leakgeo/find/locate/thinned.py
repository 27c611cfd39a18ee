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

#: Tolerance of the level and of its error, as a share of that error.
LEVEL_SHARE = 0.5
#: Tolerance of the density, as a share of its maximum on the line.
DENSITY_SHARE = 0.02
#: Tolerance of the probability from the start of the line up to any point that is kept.
PROBABILITY = 0.02
#: Tolerance of each coordinate, metres: no bend of a trace is cut off.
PLACE_M = 0.05


def thinned(profile: pd.DataFrame) -> pd.DataFrame:
    """Return the points of a profile that are needed, so that straight lines give the others.

    Level and error are within `LEVEL_SHARE` of the error, the density within `DENSITY_SHARE` of
    its maximum, its integral up to each point that is kept within `PROBABILITY`, coordinates within
    `PLACE_M`. The ends of each line and the maxima of level and density are kept.

    Parameters
    ----------
    profile : pandas.DataFrame or geopandas.GeoDataFrame
        Layer ``profile``, in a metre CRS; the rows of a line follow each other by chainage.

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
    size = np.diff(np.append(first, len(line)))
    values, tolerance = _curves(profile, first, size)
    kept, begins = _kept_at_least(values, first, size), np.zeros(len(profile), dtype=bool)
    begins[first] = True
    places = floats(profile, "chainage_m")
    _mark(places, np.nan_to_num(values), tolerance, begins, kept, PROBABILITY)
    return profile[kept].reset_index(drop=True)


def _curves(profile: pd.DataFrame, first: Ints, size: Ints) -> tuple[Floats, Floats]:
    """Return level, error, density and coordinates, and their tolerances; shapes (5, n)."""
    level, sd, density = (
        floats(profile, name)
        for name in ("level_comparable_db", "level_comparable_sd_db", "leak_density_per_m")
    )
    place = np.full((2, len(profile)), np.nan)
    if isinstance(profile, gpd.GeoDataFrame):
        shapes = profile.geometry.to_numpy()
        there = ~(shapely.is_missing(shapes) | shapely.is_empty(shapes))
        place[:, there] = shapely.get_coordinates(shapes[there]).T
    highest = np.maximum.reduceat(np.nan_to_num(density), first)
    of_level = LEVEL_SHARE * np.nan_to_num(sd)
    of_density = DENSITY_SHARE * np.repeat(highest, size)
    of_place = np.full(len(profile), PLACE_M)
    tolerance = np.stack([of_level, of_level, of_density, of_place, of_place])
    return np.stack([level, sd, density, *place]), tolerance


def _kept_at_least(values: Floats, first: Ints, size: Ints) -> Bools:
    """Return the ends and maxima of each line, and all of a line that lacks some values."""
    known = np.add.reduceat(np.isfinite(values), first, axis=1, dtype=np.int64)
    kept = np.repeat(((known > 0) & (known < size)).any(axis=0), size)
    kept[first] = kept[first + size - 1] = True
    own = np.repeat(np.arange(len(first)), size)
    for curve in (values[0], values[2]):
        kept[np.lexsort((-np.nan_to_num(curve), own))[first]] = True
    return np.asarray(kept)


@compiled
def _mark(
    x: Floats, y: Floats, tolerance: Floats, begins: Bools, kept: Bools, probability: float
) -> None:
    """Mark the points to keep beside those that are marked: each as far from the last as it can be.

    A straight line has to meet each point between within its tolerance, which bounds its slope.
    The error of the integral of the density, curve 2, is carried on along the line.
    """
    curves, n = y.shape
    low, high = np.empty(curves), np.empty(curves)
    i, off = 0, 0.0
    while i < n - 1:
        low[:], high[:] = -np.inf, np.inf
        last, off_at_last, area = i + 1, off, 0.0
        for j in range(i + 1, n):
            if begins[j]:
                off_at_last = 0.0
                break
            run = x[j] - x[i]
            area += 0.5 * (x[j] - x[j - 1]) * (y[2, j] + y[2, j - 1])
            off_here = off + 0.5 * run * (y[2, j] + y[2, i]) - area
            slope = (y[:, j] - y[:, i]) / run
            fits = (slope >= low).all() and (slope <= high).all()
            if fits and (j == i + 1 or abs(off_here) <= probability):
                last, off_at_last = j, off_here
            if kept[j]:
                break
            spread = tolerance[:, j] / run
            low = np.maximum(low, slope - spread)
            high = np.minimum(high, slope + spread)
            if (low > high).any():
                break
        kept[last] = True
        i, off = last, off_at_last
