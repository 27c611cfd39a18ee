"""Chainages as a crew tapes them: from the nearest fitting on the line."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Ints

START = "start of the route"


def from_fitting(stops: pd.DataFrame, ranking: pd.DataFrame) -> pd.DataFrame:
    """Nearest fitting of each stop, and the way from it.

    Parameters
    ----------
    stops : pandas.DataFrame
        ``line_id`` and ``chainage_m`` of the stops.
    ranking : pandas.DataFrame
        ``contact_ranking``: where the fittings are on their lines.

    Returns
    -------
    pandas.DataFrame
        Index of `stops`; ``from_fitting`` and ``from_fitting_m``, which is positive towards the end
        of the route. Where a line has no fitting, from the start of the route.

    Examples
    --------
    >>> stops = pd.DataFrame({"line_id": ["A", "A", "B"], "chainage_m": [3.0, 9.0, 5.0]})
    >>> ranking = pd.DataFrame({
    ...     "line_id": ["A", "A"], "chainage_m": [4.0, 20.0], "contact_id": ["C-1", "C-2"],
    ...     "kind": ["meter", "hydrant"],
    ... })
    >>> from_fitting(stops, ranking).to_numpy().tolist()
    [['meter C-1', -1.0], ['meter C-1', 5.0], ['start of the route', 5.0]]
    """
    known = ranking[ranking["chainage_m"].notna() & ranking["line_id"].notna()]
    at, line = floats(known, "chainage_m"), texts(known, "line_id")
    kind = pd.Series(texts(known, "kind")).fillna("fitting").str.replace("_", " ")
    name = np.array([f"{k} {i}" for k, i in zip(kind, texts(known, "contact_id"), strict=True)])
    places = dict(list(pd.DataFrame({"at": at, "name": name}).groupby(line)))
    named = np.full(len(stops), START, dtype=object)
    way = floats(stops, "chainage_m").copy()
    for own, rows in stops.reset_index(drop=True).groupby("line_id").groups.items():
        if own in places:
            near = _nearest(way[rows], places[own]["at"].to_numpy())
            named[rows] = places[own]["name"].to_numpy()[near]
            way[rows] -= places[own]["at"].to_numpy()[near]
    columns = {"from_fitting": named, "from_fitting_m": way.round(2)}
    return pd.DataFrame(columns, index=stops.index)


def _nearest(stop_m: Floats, at_m: Floats) -> Ints:
    return np.asarray(np.argmin(np.abs(stop_m[:, None] - at_m), axis=1), dtype=np.int64)
