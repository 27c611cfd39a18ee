"""Direction of flow on a line, by the sides of the meter that its fittings are on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.arrays import texts
from leakgeo.find.survey.line_fittings import NO_FITTINGS, LineFittings, fittings_by_line
from leakgeo.job.checks import FITTING_SD_M

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd
    import shapely

    from leakgeo.job.model import Job

# Fittings that are always on one side of the meter: 1 on the customer's, -1 on the utility's.
_SIDES = {
    "main_valve": -1, "hydrant": -1, "curb_stop": -1, "hose_bib": 1, "sink": 1, "water_heater": 1,
    "stop_valve": 1,
}  # fmt: skip
_SIDE_CODES = {"utility": -1, "customer": 1}


@dataclass(frozen=True, eq=False)
class Contacts:
    """Fittings of each line, and of each contact its recorded side and its point.

    Parameters
    ----------
    by_line : mapping of str to LineFittings
    side : mapping of str to int
        1 on the customer's side of the meter, -1 on the utility's; only where recorded.
    point : mapping of str to shapely.Point
    """

    by_line: Mapping[str, LineFittings]
    side: Mapping[str, int]
    point: Mapping[str, shapely.Point]

    @classmethod
    def of(cls, job: Job, fittings: pd.DataFrame) -> Contacts:
        """Group the contacts of a job; `fittings` are those of `fitting_chainages`."""
        by_line, contacts = fittings_by_line(fittings), job.contacts
        if contacts is None:
            return cls(by_line, {}, {})
        first = contacts.drop_duplicates("contact_id")
        sides = zip(texts(first, "contact_id"), texts(first, "side"), strict=True)
        placed = contacts[contacts.geometry.notna()].drop_duplicates("contact_id")
        points = zip(texts(placed, "contact_id"), placed.geometry.to_numpy(), strict=True)
        codes = {name: _SIDE_CODES[side] for name, side in sides if side in _SIDE_CODES}
        return cls(by_line, codes, dict(points))

    def on(self, line_id: str) -> LineFittings:
        """Return the fittings of a line."""
        return self.by_line.get(line_id, NO_FITTINGS)

    def flow(self, line_id: str, reference_m: float) -> int:
        """Return the direction of flow by the fittings on both sides of a place.

        Returns
        -------
        {-1, 0, 1}
            1 along the route, -1 against it, 0 where not known.
        """
        own = self.on(line_id)
        side = np.array([self.side.get(name, _SIDES.get(kind, 0))
                         for name, kind in zip(own.contact_id, own.kind, strict=True)])  # fmt: skip
        apart = own.chainage_m - reference_m
        votes = side * np.where(np.abs(apart) > FITTING_SD_M, np.sign(apart), 0.0)
        return int(np.sign(votes[own.kind != "meter"].sum()))
