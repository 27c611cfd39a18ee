"""Stops as distances to tape: from the nearest fitting on the line toward the next."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats
from leakgeo.find.survey.line_fittings import fittings_by_line
from leakgeo.reason import Reason, columns_of

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Objects

#: Ends of a route as points to tape from, by themselves.
START, END = Reason("trace_start"), Reason("trace_end")
_START, _END = Reason("start_of_route"), Reason("end_of_route")
# A place this near a fitting is at it.
_AT_M = 0.05


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
        Index of `stops`; codes and values of ``from_fitting``, ``from_fitting_m`` in metres, and
        codes and values of ``toward_fitting``. Lines without a fitting are taped from the start of
        the route.

    Examples
    --------
    >>> stops = pd.DataFrame({"line_id": ["A", "A", "B"], "chainage_m": [3.0, 9.0, 5.0]})
    >>> fittings = pd.DataFrame({
    ...     "line_id": ["A", "A"], "chainage_m": [4.0, 20.0], "contact_id": ["C-1", "C-2"],
    ...     "kind": ["meter", "hydrant"],
    ... })
    >>> from leakgeo.wording import with_texts, wording
    >>> told = with_texts(from_fitting(stops, fittings), wording())
    >>> for row in told[["from_fitting", "from_fitting_m", "toward_fitting"]].to_numpy().tolist():
    ...     print(row)
    ['meter C-1', 1.0, 'start of the route']
    ['meter C-1', 5.0, 'hydrant C-2']
    ['start of the route', 5.0, 'end of the route']
    """
    places = _places(stops, fittings)
    return pd.DataFrame(
        {
            **columns_of("from_fitting", map(_alone, places["fitting"])),
            "from_fitting_m": places["by_m"].to_numpy(),
            **columns_of("toward_fitting", map(_alone, places["toward"])),
        },
        index=stops.index,
    )


def tape_from_fitting(stops: pd.DataFrame, fittings: pd.DataFrame) -> list[Reason]:
    """Place of each stop as a crew tapes it, for a sentence.

    Parameters
    ----------
    stops, fittings : pandas.DataFrame
        As `from_fitting` takes them.

    Returns
    -------
    list of Reason
        ``taped_place`` with ``by_m`` in metres, ``fitting`` and ``toward``, or ``at_fitting``.

    Examples
    --------
    >>> stops = pd.DataFrame({"line_id": ["A"], "chainage_m": [3.0]})
    >>> fittings = pd.DataFrame({"line_id": ["A"], "chainage_m": [4.0], "contact_id": ["C-1"],
    ...                          "kind": ["curb_stop"]})
    >>> tape_from_fitting(stops, fittings)[0].code
    'taped_place'
    """
    return [
        Reason("at_fitting", fitting=fitting)
        if by_m < _AT_M
        else Reason("taped_place", by_m=by_m, fitting=fitting, toward=toward)
        for fitting, by_m, toward in _places(stops, fittings).itertuples(index=False)
    ]


def _alone(place: Reason) -> Reason:
    """Return a place as it stands by itself, outside a sentence."""
    return {_START: START, _END: END}.get(place, place)


def _places(stops: pd.DataFrame, fittings: pd.DataFrame) -> pd.DataFrame:
    """Nearest fitting of each stop, the distance along the line, and the next one on its side."""
    by_line = fittings_by_line(fittings)
    by_m = floats(stops, "chainage_m").copy()
    fitting, toward = np.full((2, len(stops)), _START, dtype=object)
    toward[:] = _END
    for line, rows in stops.reset_index(drop=True).groupby("line_id").groups.items():
        if own := by_line.get(str(line)):
            order = np.argsort(own.chainage_m, kind="stable")
            name = np.array([own.name(k) for k in order.tolist()], dtype=object)
            fitting[rows], by_m[rows], toward[rows] = _between(
                by_m[rows], own.chainage_m[order], name
            )
    # To the centimetre, so that layers and sentences give one figure.
    return pd.DataFrame({"fitting": fitting, "by_m": by_m.round(2), "toward": toward})


def _between(stop_m: Floats, at_m: Floats, name: Objects) -> tuple[Objects, Floats, Objects]:
    """Return nearest fitting, distance, and next fitting on that side; `at_m` is ascending."""
    near = np.argmin(np.abs(stop_m[:, None] - at_m), axis=1)
    way = stop_m - at_m[near]
    side = np.where(way >= 0, 1, -1)
    ends = np.array([_START, *name, _END], dtype=object)
    return name[near], np.abs(way), ends[near + 1 + side]
