"""Readings with compressed air off and on at the loudest place of a simulated line."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.simulate.noise import display

if TYPE_CHECKING:
    import geopandas as gpd

    from leakgeo.simulate.field import Field

# What air does to the level of a leak, in decibels: an assumption.
AIR_GAIN_DB = (6.0, 12.0)
PAIRS = 4


def air_readings(
    rng: np.random.Generator, field: Field, readings: gpd.GeoDataFrame
) -> gpd.GeoDataFrame:
    """Repeat the loudest taped stop, four times with air off and four with it on, by turns.

    Parameters
    ----------
    rng : numpy.random.Generator
    field : Field
        A line with a leak, read in whole decibels.
    readings : geopandas.GeoDataFrame
        Its readings, in the contract's form.

    Returns
    -------
    geopandas.GeoDataFrame
        Further readings, of one walk of their own.
    """
    fine = np.flatnonzero(field.walk == field.walk.max())
    row = int(fine[np.argmax(field.level[fine])])
    stop = field.true_chainage_m[row : row + 1]
    quiet = 10 ** (field.truth.level_db(0, stop, None)[0] / 10)
    whole = 10 ** (field.truth.level_db(0, stop, field.truth.leak_chainage_m)[0] / 10)
    louder = 10 ** (rng.uniform(*AIR_GAIN_DB) / 10)
    on = np.arange(2 * PAIRS) % 2 == 1
    power = quiet + (whole - quiet) * np.where(on, louder, 1.0)
    offset = field.survey.gain_db[-1] + field.survey.sensor_offset_db
    level = 10 * np.log10(power) + offset + rng.normal(0, field.truth.noise.reading_sd_db, on.size)
    line = str(readings["line_id"].iloc[0])
    again = readings.iloc[[row] * on.size].reset_index(drop=True)
    seconds = pd.to_timedelta(3600 + 20 * np.arange(on.size), unit="s")
    return again.assign(
        reading_id=[f"{line}/air{i + 1}" for i in range(on.size)],
        walk_id=f"{line}/air",
        seq=np.arange(1, on.size + 1),
        sound_level=display(level, "db", 0.0),
        air=np.where(on, "on", "off"),
        time=again["time"] + seconds,
    )
