"""Stops as distances to tape: from the nearest fitting on the line toward the next."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Objects

START, END = "start of the route", "end of the route"


def from_fitting(stops: pd.DataFrame, fittings: pd.DataFrame) -> pd.DataFrame:
    """Return the nearest fitting of each stop, the distance from it, and the next fitting.

    Parameters
    ----------
    stops : pandas.DataFrame
        ``line_id`` and ``chainage_m`` of the stops, in metres.
    fittings : pandas.DataFrame
        Fittings on their lines: ``line_id``, ``chainage_m``, ``contact_id``, ``kind``.

    Returns
    -------
    pandas.DataFrame
        Index of `stops`; ``from_fitting``, ``from_fitting_m`` in metres, and ``toward_fitting``.
        Lines without a fitting are taped from the start of the route.

    Examples
    --------
    >>> stops = pd.DataFrame({"line_id": ["A", "A", "B"], "chainage_m": [3.0, 9.0, 5.0]})
    >>> fittings = pd.DataFrame({
    ...     "line_id": ["A", "A"], "chainage_m": [4.0, 20.0], "contact_id": ["C-1", "C-2"],
    ...     "kind": ["meter", "hydrant"],
    ... })
    >>> for row in from_fitting(stops, fittings).to_numpy().tolist():
    ...     print(row)
    ['meter C-1', 1.0, 'start of the route']
    ['meter C-1', 5.0, 'hydrant C-2']
    ['start of the route', 5.0, 'end of the route']
    """
    known = fittings[fittings["chainage_m"].notna() & fittings["line_id"].notna()]
    kind = pd.Series(texts(known, "kind")).fillna("fitting").str.replace("_", " ")
    name = np.array([f"{k} {i}" for k, i in zip(kind, texts(known, "contact_id"), strict=True)])
    places = pd.DataFrame({"at": floats(known, "chainage_m"), "name": name})
    by_line = {line: own.sort_values("at", kind="stable")
               for line, own in places.groupby(texts(known, "line_id"))}  # fmt: skip
    way = floats(stops, "chainage_m").copy()
    named, toward = np.full((2, len(stops)), START, dtype=object)
    toward[:] = END
    for line, rows in stops.reset_index(drop=True).groupby("line_id").groups.items():
        if line in by_line:
            own = by_line[line]
            named[rows], way[rows], toward[rows] = _between(
                way[rows], own["at"].to_numpy(), own["name"].to_numpy(dtype=object)
            )
    columns = {"from_fitting": named, "from_fitting_m": way.round(2), "toward_fitting": toward}
    return pd.DataFrame(columns, index=stops.index)


def _between(stop_m: Floats, at_m: Floats, name: Objects) -> tuple[Objects, Floats, Objects]:
    """Return nearest fitting, distance, and next fitting on that side; `at_m` is ascending."""
    near = np.argmin(np.abs(stop_m[:, None] - at_m), axis=1)
    way = stop_m - at_m[near]
    side = np.where(way >= 0, 1, -1)
    ends = np.array([START, *name, END], dtype=object)
    return name[near], np.abs(way), ends[near + 1 + side]
