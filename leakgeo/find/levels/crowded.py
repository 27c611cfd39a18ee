"""Lines with more readings than the odds can resolve: which of them are used.

Readings at one place share the coupling of the ground, so that many of them say little more than a
few: a dozen within half a metre bring the noise of a reading well below that coupling.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from leakgeo.arrays import Bools, Ints, Objects

# Lines with fewer readings are never thinned; a survey has some tens, a dense one a few hundred.
FROM_READINGS = 1000
# Most readings within a cell of this length, and most stops of one walk among them. Stops are then
# closer than the finest grid of the posterior, and than the foot that a mark is judged by.
CELL_M, MOST_READINGS, MOST_STOPS = 0.5, 12, 4
# Most walks within a stretch of this length: each has a level offset, and the cost grows with the
# square of these.
STRETCH_M, MOST_WALKS = 40.0, 25
# Most readings of a line of many kilometres: the cells are doubled until there are no more.
MOST_ON_LINE = 20_000


def beyond_the_most(readings: pd.DataFrame, good: Bools) -> Objects:
    """Return why readings of crowded lines are not used, None for the others, shape (n,).

    The walks with the most readings on a stretch are kept, and of a walk stops at even spacing. The
    result does not depend on the order of the rows.

    Parameters
    ----------
    readings : pandas.DataFrame
        With ``reading_id, line, chainage_m, walk`` and, if known, ``stop_id``.
    good : ndarray of bool, shape (n,)
        Which readings would be used along their line.

    Examples
    --------
    >>> n = 2000
    >>> walk = pd.DataFrame({"reading_id": [f"{i:04d}" for i in range(n)], "line": 0, "walk": 0,
    ...                      "chainage_m": np.linspace(0.0, 10.0, n)})
    >>> why = beyond_the_most(walk, np.ones(n, dtype=bool))
    >>> int(pd.isna(why).sum())
    81
    """
    why: Objects = np.full(len(readings), None, dtype=object)
    line = np.where(good, readings["line"].to_numpy(dtype=np.int64), -1)
    crowded = np.bincount(line + 1, minlength=1) > FROM_READINGS
    crowded[0] = False
    rows = np.flatnonzero(crowded[line + 1])
    if len(rows) == 0:
        return why
    rows = rows[np.argsort(texts(readings, "reading_id")[rows].astype(str), kind="stable")]
    own = pd.DataFrame(
        {
            "line": line[rows], "x": floats(readings, "chainage_m")[rows],
            "walk": readings["walk"].to_numpy(dtype=np.int64)[rows],
            "stop": _stops(readings, rows),
        }
    )  # fmt: skip
    own["rank"] = _rank_of_walk(own)
    for k in np.unique(own["line"]):
        on = np.flatnonzero(own["line"] == k)
        ranked = own["rank"].to_numpy()[on] < MOST_WALKS
        cell_m, taken = _spread(own.iloc[on[ranked]])
        count = {"readings": len(on), "kept": len(taken)}
        why[rows[on[~ranked]]] = Reason(
            "more_walks_than_used", walks=MOST_WALKS, stretch_m=STRETCH_M, **count
        )
        left = np.delete(on[ranked], taken)
        why[rows[left]] = Reason(
            "more_readings_than_used", within_m=cell_m, stops=MOST_STOPS, most=MOST_READINGS,
            **count,
        )  # fmt: skip
    return why


def _stops(readings: pd.DataFrame, rows: Ints) -> Ints:
    """Return codes of the stops; a reading without one is its own."""
    named = texts(readings, "stop_id")[rows] if "stop_id" in readings else np.full(len(rows), None)
    code = np.asarray(pd.factorize(named, sort=True)[0], dtype=np.int64)
    return np.where(code < 0, code.max(initial=-1) + 1 + np.arange(len(rows)), code)


def _rank_of_walk(own: pd.DataFrame) -> Ints:
    """Return the rank of the walk of each reading on its stretch: 0 for the most readings."""
    keys = ["line", "stretch"]
    own = own.assign(stretch=np.floor(own["x"] / STRETCH_M))
    size = own.groupby([*keys, "walk"]).size().rename("size").reset_index()
    size = size.sort_values([*keys, "size", "walk"], ascending=[True, True, False, True])
    size["rank"] = size.groupby(keys).cumcount()
    return own.merge(size, how="left", on=[*keys, "walk"])["rank"].to_numpy(dtype=np.int64)


def _spread(own: pd.DataFrame) -> tuple[float, Ints]:
    """Return the length of the cells of a line, and positions of the readings kept in them."""
    cell_m = CELL_M
    while len(taken := _in_cells(own, cell_m)) > MOST_ON_LINE:
        cell_m *= 2.0
    return cell_m, taken


def _in_cells(own: pd.DataFrame, cell_m: float) -> Ints:
    """Return positions of the readings kept in each cell: the first walks, evenly spaced."""
    cell = np.floor(own["x"] / cell_m)
    own = own.assign(cell=cell, at=np.arange(len(own))).sort_values(
        ["cell", "rank", "x", "stop", "at"]
    )
    keys = ["cell", "rank"]
    by_stop = own.drop_duplicates([*keys, "stop"])[[*keys, "stop"]]
    number = by_stop.groupby(keys).cumcount()
    count = number.groupby([by_stop[k] for k in keys]).transform("max") + 1
    # Of m stops the k-th is kept where it begins another of so many equal parts.
    begins = (number * MOST_STOPS) // count > ((number - 1) * MOST_STOPS) // count
    own = own.merge(by_stop[begins | (count <= MOST_STOPS)], on=[*keys, "stop"])
    return own["at"].to_numpy()[np.asarray(own.groupby("cell").cumcount()) < MOST_READINGS]
