"""Comparable levels: display values in decibels, without gain, grouped by walk."""

from __future__ import annotations

import numpy as np
import pandas as pd

from leakgeo.arrays import floats
from leakgeo.sound.decibels import scale_rounding_db, scale_to_db

# Readings are directly comparable only if all of these are equal. Filter bands of a walk share its
# gain; the offset between bands is modelled separately.
GROUP_BY = ("line_id", "walk_id", "sensor", "air", "sound_unit")
# Rounding to whole decibels: a uniform error of width 1 dB has a deviation of 1/sqrt(12).
WHOLE_DB_SD = 12.0**-0.5
# Level and standard deviation assumed for a linear display at zero, which is below half a unit.
ZERO_DB, ZERO_SD_DB = -9.0, 5.0


def levels_without_gain(readings: pd.DataFrame) -> pd.DataFrame:
    """Convert readings to decibels without gain, and group those that are directly comparable.

    Readings of one walk share sensor and gain. Known gains are subtracted; readings of a walk with
    and without a known gain are separate groups.

    Parameters
    ----------
    readings : pandas.DataFrame
        Columns ``line_id, walk_id, sensor, band, air, sound_unit, sound_level, gain_db``.

    Returns
    -------
    pandas.DataFrame
        Same index; ``level_db`` (NaN for a linear display below zero), ``rounding_sd_db`` (large
        for a linear display at zero), ``walk`` (integer code of the group) and ``gain_known``
        (bool).

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
