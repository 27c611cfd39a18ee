"""Levels that can be compared: display values to decibels, gain taken out, walks kept apart."""

from __future__ import annotations

import numpy as np
import pandas as pd

from leakgeo.arrays import floats
from leakgeo.sound.decibels import scale_rounding_db, scale_to_db

# Readings that differ in any of these don't compare directly: each combination is a group. A filter
# band shares the gain of its walk, and differs from other bands by a step of its own.
GROUP_BY = ("line_id", "walk_id", "sensor", "air", "sound_unit")
# Whole decibels: a uniform error of one decibel, 1/sqrt(12).
WHOLE_DB_SD = 12.0**-0.5
# A linear display at zero hides a level somewhere below half a unit: a soft bound, in decibels.
ZERO_DB, ZERO_SD_DB = -9.0, 5.0


def levels_without_gain(readings: pd.DataFrame) -> pd.DataFrame:
    """Bring readings to decibels without gain, and say which compare directly.

    Readings of one walk share sensor, band and gain. Gains that are known are taken out; readings
    of a walk whose gain isn't known form a group apart from those whose gain is.

    Parameters
    ----------
    readings : pandas.DataFrame
        Columns ``line_id, walk_id, sensor, band, air, sound_unit, sound_level, gain_db``.

    Returns
    -------
    pandas.DataFrame
        Same index; ``level_db`` (NaN where a linear display is below zero), ``rounding_sd_db``
        (large where a linear display stands at zero), ``walk`` (integer code of the group) and
        ``gain_known`` (bool).

    Examples
    --------
    >>> walk = pd.DataFrame({
    ...     "line_id": ["A", "A"], "walk_id": ["1", "1"], "sensor": ["ground_plate"] * 2,
    ...     "band": [None, None], "air": [None, None], "sound_unit": ["db", "db"],
    ...     "sound_level": [40.0, 46.0], "gain_db": [10.0, 16.0]})
    >>> levels_without_gain(walk)["level_db"].tolist()
    [30.0, 30.0]
    """
    scale = (readings["sound_unit"] == "scale").to_numpy()
    shown = floats(readings, "sound_level")
    zero = scale & (shown == 0.0)
    level = np.where(scale, scale_to_db(shown), shown)
    rounding = np.where(scale, scale_rounding_db(shown), WHOLE_DB_SD)
    level, rounding = np.where(zero, ZERO_DB, level), np.where(zero, ZERO_SD_DB, rounding)
    gain = floats(readings, "gain_db")
    known = np.isfinite(gain)
    keys = [*(readings[c].fillna("") for c in GROUP_BY), pd.Series(known, index=readings.index)]
    return pd.DataFrame(
        {
            "level_db": level - np.where(known, gain, 0.0),
            "rounding_sd_db": rounding,
            "walk": readings.groupby(keys, sort=True).ngroup().to_numpy(),
            "gain_known": known,
        },
        index=readings.index,
    )
