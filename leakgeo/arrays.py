"""Array types used across the packages, and conversion of columns to arrays."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    import pandas as pd

Floats = NDArray[np.floating[Any]]
Ints = NDArray[np.integer[Any]]
Bools = NDArray[np.bool_]
Objects = NDArray[np.object_]


def floats(frame: pd.DataFrame, column: str, null: float = np.nan) -> Floats:
    """Return a column as a float array; nulls, or all values of a missing column, as `null`.

    Examples
    --------
    >>> import pandas as pd
    >>> floats(pd.DataFrame({"depth_m": [1, None]}), "depth_m", null=0.9)
    array([1. , 0.9])
    """
    if column not in frame:
        return np.full(len(frame), null)
    values = np.array(frame[column], dtype=np.float64)
    values[np.isnan(values)] = null
    return values


def texts(frame: pd.DataFrame, column: str) -> Objects:
    """Return a text column as an object array; nulls, or a missing column, as None.

    Examples
    --------
    >>> import pandas as pd
    >>> texts(pd.DataFrame({"line_id": ["A", None]}), "line_id")
    array(['A', None], dtype=object)
    """
    if column not in frame:
        return np.full(len(frame), None, dtype=object)
    given = frame[column]
    values = np.array(given, dtype=object)
    values[np.asarray(given.isna())] = None
    return values


def median(values: Floats) -> float:
    """Return the median of values that are not NaN; of a few, many times faster than numpy's.

    Examples
    --------
    >>> median(np.array([3.0, 1.0, 2.0])), median(np.array([1.0, 2.0]))
    (2.0, 1.5)
    """
    ordered, n = np.sort(values), len(values)
    return float(0.5 * (ordered[(n - 1) // 2] + ordered[n // 2]))


def numbers_of_groups(*columns: pd.Series[Any]) -> Ints:
    """Return a number for each distinct combination of values, by first appearance.

    It is that of a grouping by the columns, many times faster for texts; nulls are equal.

    Examples
    --------
    >>> import pandas as pd
    >>> line, walk = pd.Series(["B", "A", "B", None]), pd.Series([1, 1, 1, 1])
    >>> numbers_of_groups(line, walk).tolist()
    [0, 1, 0, 2]
    """
    import pandas as pd

    number: Ints = np.zeros(len(columns[0]), dtype=np.int64)
    for column in columns:
        own, distinct = pd.factorize(column)
        number = np.asarray(pd.factorize(number * (len(distinct) + 1) + own + 1)[0])
    return number


def shares(weight: Floats) -> Floats:
    """Return weights divided by their sum.

    Weights whose sum is 1 but for rounding stay as they are, so that a law that is written and read
    again is the same to the last bit.

    Examples
    --------
    >>> shares(np.array([3.0, 1.0])).tolist()
    [0.75, 0.25]
    """
    total = float(weight.sum())
    return weight.copy() if abs(total - 1.0) < 1e-12 else weight / total


def sum_by_line(frame: pd.DataFrame, column: str) -> dict[str, float]:
    """Return the exact sum of a column over the rows of each line, rounded once; NaN is left out.

    A sum of pandas by group depends in its last bit on how many groups there are.

    Examples
    --------
    >>> import pandas as pd
    >>> sum_by_line(pd.DataFrame({"line_id": ["A", "B", "A"], "m": [0.1, 1.0, 0.2]}), "m")["A"]
    0.30000000000000004
    """
    known = frame[frame[column].notna()]
    return {str(name): math.fsum(own) for name, own in known.groupby("line_id", sort=False)[column]}
