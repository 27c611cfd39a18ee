"""Hashes of the rows of layers, and sums of them over groups of rows in order."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import shapely

from leakgeo.job.digest import hash_sums, mixed

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from leakgeo.arrays import Ints, Objects

_STEP = np.uint64(0x9E3779B97F4A7C15)  # odd, of irregular bits


def row_hashes(layer: pd.DataFrame) -> NDArray[np.uint64]:
    """Return a hash of each row of a layer: of names and values of its columns, in any order.

    A value that is missing does not enter, so a column without values changes no hash.

    Parameters
    ----------
    layer : pandas.DataFrame or geopandas.GeoDataFrame

    Returns
    -------
    ndarray of uint64, shape (n,)

    Examples
    --------
    >>> one = row_hashes(pd.DataFrame({"a": [1.0, 2.0], "b": ["x", None]}))
    >>> other = row_hashes(pd.DataFrame({"b": ["x", None], "c": [None, None], "a": [1.0, 3.0]}))
    >>> (one == other).tolist()
    [True, False]
    """
    return hash_sums(layer, _of_values, _of_shapes, missing=False)


def sums_in_order(hashes: NDArray[np.uint64], group: Ints, count: int) -> NDArray[np.uint64]:
    """Return a sum of the hashes of each group that depends on the order of its rows.

    Parameters
    ----------
    hashes : ndarray of uint64, shape (n,)
    group : ndarray of int, shape (n,)
        Group of each row, from 0; rows with -1 belong to none.
    count : int
        Number of groups.

    Returns
    -------
    ndarray of uint64, shape (count,)
        0 for a group without rows.

    Examples
    --------
    >>> hashes = np.array([5, 7, 7, 5], dtype=np.uint64)
    >>> one, other, none = sums_in_order(hashes, np.array([0, 0, 1, 1]), 3).tolist()
    >>> one == other, none
    (False, 0)
    """
    rows = np.flatnonzero(group >= 0)
    rows = rows[np.argsort(group[rows], kind="stable")]
    own = group[rows]
    first = np.searchsorted(own, own, side="left")
    turn = (np.arange(len(own)) - first).astype(np.uint64)
    total = np.zeros(count, dtype=np.uint64)
    np.add.at(total, own, mixed(hashes[rows] + (turn + np.uint64(1)) * _STEP))
    return total


def _of_values(column: pd.Series[Any]) -> NDArray[np.uint64]:
    if column.dtype == object:
        values: Objects = np.array(column, dtype=object)
        values[pd.isna(values)] = None
        return np.array(pd.util.hash_array(values, categorize=True))
    return np.array(pd.util.hash_pandas_object(column, index=False).to_numpy())


def _of_shapes(shapes: Objects) -> NDArray[np.uint64]:
    """Return hashes of the coordinates of points, which are frequent, and of the WKB of others."""
    points = (shapely.get_type_id(shapes) == 0) & ~shapely.has_z(shapes)
    hashes = np.zeros(len(shapes), dtype=np.uint64)
    places = pd.DataFrame({"x": shapely.get_x(shapes[points]), "y": shapely.get_y(shapes[points])})
    hashes[points] = pd.util.hash_pandas_object(places, index=False).to_numpy()
    others = pd.Series(shapely.to_wkb(shapes[~points]), dtype=object)
    hashes[~points] = _of_values(others)
    return hashes
