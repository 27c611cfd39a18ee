"""Places of fittings that were opened to a trickle while a reading was taken."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from leakgeo.arrays import texts

if TYPE_CHECKING:
    from leakgeo.job.checks.layer import CheckedLayer


def with_tap_points(readings: CheckedLayer, contacts: CheckedLayer | None) -> CheckedLayer:
    """Add ``tap_x`` and ``tap_y``: where the fitting is that ``tap_open`` names.

    A part of a job has them without the layer of the fittings.

    Parameters
    ----------
    readings : CheckedLayer
    contacts : CheckedLayer or None
        In the CRS of `readings`, the local one; fittings of any sound level.

    Returns
    -------
    CheckedLayer
        Both are NaN for readings without an open tap, and for fittings without a position.
    """
    named = texts(readings.table, "tap_open")
    xy = np.full((len(named), 2), np.nan)
    at = np.array([name is not None for name in named], dtype=bool)
    if at.any() and contacts is not None:
        placed = contacts.table[contacts.table.geometry.notna()].drop_duplicates("contact_id")
        points = dict(zip(texts(placed, "contact_id"), placed.geometry, strict=True))
        at &= np.array([name in points for name in named], dtype=bool)
        xy[at] = shapely.get_coordinates([points[name] for name in named[at]])
    return replace(readings, table=readings.table.assign(tap_x=xy[:, 0], tap_y=xy[:, 1]))
