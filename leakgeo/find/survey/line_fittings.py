"""Fittings of each line, grouped once for all lines, and the fitting near a place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Container

    from leakgeo.arrays import Floats, Objects


@dataclass(frozen=True, eq=False)
class LineFittings:
    """Fittings of one line whose chainage is known, in the order of their table.

    Parameters
    ----------
    chainage_m : ndarray of float, shape (n,)
    kind, contact_id : ndarray of str or None, shape (n,)
    """

    chainage_m: Floats
    kind: Objects
    contact_id: Objects

    def name(self, k: int) -> Reason:
        """Return a fitting as a part of a message: its kind and its ``contact_id``."""
        return Reason("fitting", kind=self.kind[k] or "fitting", contact=self.contact_id[k])

    def named(self, contact_id: str) -> Reason:
        """Return the fitting of a ``contact_id`` in the same form; its kind may be missing."""
        kind = dict(zip(self.contact_id, self.kind, strict=True)).get(contact_id)
        return Reason("fitting", kind=kind or "fitting", contact=contact_id)

    def near(
        self, chainage_m: float, within_m: float, kinds: Container[str] | None = None
    ) -> Reason | None:
        """Return the fitting nearest to a place, of some kinds or of any; None if none is near."""
        away = np.abs(self.chainage_m - chainage_m)
        if kinds is not None:
            away = np.where([kind in kinds for kind in self.kind], away, np.inf)
        nearest = int(np.argmin(away)) if len(away) else -1
        return self.name(nearest) if nearest >= 0 and away[nearest] <= within_m else None


#: Of a line without fittings.
NO_FITTINGS = LineFittings(np.empty(0), *np.empty((2, 0), dtype=object))


def fittings_by_line(fittings: pd.DataFrame) -> dict[str, LineFittings]:
    """Group the fittings whose line and chainage are known by line.

    Parameters
    ----------
    fittings : pandas.DataFrame
        As `leakgeo.find.survey.fittings.fitting_chainages` returns it.

    Returns
    -------
    dict of str to LineFittings
        By ``line_id``; lines without fittings have no entry.

    Examples
    --------
    >>> table = pd.DataFrame({"line_id": ["A", "B", "A"], "chainage_m": [4.0, 1.0, 9.0],
    ...                       "contact_id": ["C-1", "C-2", "C-3"], "kind": "meter"})
    >>> own = fittings_by_line(table)["A"]
    >>> own.chainage_m.tolist(), own.near(8.5, within_m=1.0)
    ([4.0, 9.0], Reason('fitting', contact='C-3', kind='meter'))
    """
    known = fittings[fittings["chainage_m"].notna() & fittings["line_id"].notna()]
    number, names = pd.factorize(texts(known, "line_id"))
    order = np.argsort(number, kind="stable")
    ends = np.cumsum(np.bincount(number, minlength=len(names)))[:-1]
    columns = floats(known, "chainage_m"), texts(known, "kind"), texts(known, "contact_id")
    parts = (np.split(column[order], ends) for column in columns)
    return {str(name): LineFittings(*own) for name, *own in zip(names, *parts, strict=False)}
