"""Readings of air tests: compared with air off at their place, and used nowhere else."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import texts
from leakgeo.find.evidence.air import places_of

if TYPE_CHECKING:
    from leakgeo.arrays import Bools

# Why a reading is used for its air test alone.
COMPARED = "air_compared"
# A line with air on at more places than this was walked with air on.
MOST_PLACES = 3


def of_air_tests(readings: pd.DataFrame, taken: Bools) -> Bools:
    """Return which readings with air on belong to an air test alone.

    Air makes the leak louder and leaves the noise around as it is, so that levels at a few places
    with air on do not follow the law of those without. Each is compared with air off at its place.

    Parameters
    ----------
    readings : pandas.DataFrame
        With ``line_id, stop_id, chainage_m, chainage_sd_m, sensor, band, sound_unit, air``.
    taken : ndarray of bool, shape (n,)
        Readings that are used along their line.

    Returns
    -------
    ndarray of bool, shape (n,)

    Examples
    --------
    >>> table = pd.DataFrame({
    ...     "line_id": "a", "stop_id": None, "chainage_m": [3.0, 3.0, 9.0], "chainage_sd_m": 0.1,
    ...     "sensor": "plate", "band": "wide", "sound_unit": "db", "air": ["off", "on", "on"]})
    >>> of_air_tests(table, np.ones(3, dtype=bool)).tolist()
    [False, True, False]
    """
    found = np.zeros(len(readings), dtype=bool)
    air = texts(readings, "air")
    line = texts(readings, "line_id")
    with_air = pd.unique(line[taken & (air == "on")])
    rows = np.flatnonzero(taken & np.isin(air, ["on", "off"]) & np.isin(line, with_air))
    if not len(rows):
        return found
    own = readings.iloc[rows]
    kind = [own[name].fillna("") for name in ("sensor", "band", "sound_unit")]
    on = pd.Series(air[rows] == "on", own.index)
    place = pd.Series(places_of(own), own.index)
    both = on.groupby([own["line_id"], place, *kind]).transform("nunique") == 2
    places = place.where(on).groupby(own["line_id"]).transform("nunique")
    found[rows] = on & both & (places <= MOST_PLACES)
    return found
