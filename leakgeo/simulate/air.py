"""Readings with compressed air off and on, at places of a simulated line."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.simulate.noise import display

if TYPE_CHECKING:
    from collections.abc import Sequence

    import geopandas as gpd
    from numpy.typing import NDArray

    from leakgeo.simulate.field import Recorded
    from leakgeo.simulate.spread import Floats

# What air does to the level of a leak, in decibels: an assumption.
AIR_GAIN_DB = (6.0, 12.0)
PAIRS = 4


def air_readings(
    rng: np.random.Generator, field: Recorded, readings: gpd.GeoDataFrame
) -> gpd.GeoDataFrame:
    """Repeat the loudest taped stop, four times with air off and four with it on, by turns.

    Parameters
    ----------
    rng : numpy.random.Generator
    field : Recorded
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
    louder_db = float(rng.uniform(*AIR_GAIN_DB))
    level = _levels(rng, field, field.true_chainage_m[row], louder_db)
    again = readings.iloc[[row] * level.size].reset_index(drop=True)
    return _recorded(again, level, "air")


def air_test(
    rng: np.random.Generator, field: Recorded, readings: gpd.GeoDataFrame,
    places_m: Sequence[float], air_kpa: float,
) -> gpd.GeoDataFrame:  # fmt: skip
    """Listen by turns with air off and on, four times each, at places of one's own choice.

    Parameters
    ----------
    rng : numpy.random.Generator
    field : Recorded
        A line that was taped and read in whole decibels, with or without a leak.
    readings : geopandas.GeoDataFrame
        Its readings, in the contract's form.
    places_m : sequence of float
        Chainages, such as that of the mark and of a control point.
    air_kpa : float
        Pressure that the air is injected at.

    Returns
    -------
    geopandas.GeoDataFrame
        Further readings, a walk for each place.
    """
    louder_db = float(rng.uniform(*AIR_GAIN_DB))
    parts = []
    for i, place in enumerate(places_m, start=1):
        level = _levels(rng, field, place, louder_db)
        nearest = int(np.argmin(np.abs(field.chainage_m - place)))
        again = readings.iloc[[nearest] * level.size].reset_index(drop=True)
        told = _recorded(again, level, f"air{i}-")
        parts.append(told.assign(chainage_m=place, air_kpa=np.where(_on(), air_kpa, np.nan)))
    return pd.concat(parts, ignore_index=True)


def _on() -> NDArray[np.bool_]:
    return np.asarray(np.arange(2 * PAIRS) % 2 == 1)


def _levels(rng: np.random.Generator, field: Recorded, stop_m: float, louder_db: float) -> Floats:
    """Levels at one place behind the display, air off and on by turns."""
    stop, leak = np.array([stop_m]), field.truth.leak_chainage_m
    quiet = 10 ** (field.truth.level_db(0, stop, None)[0] / 10)
    whole = quiet if leak is None else 10 ** (field.truth.level_db(0, stop, leak)[0] / 10)
    power = quiet + (whole - quiet) * np.where(_on(), 10 ** (louder_db / 10), 1.0)
    offset = field.survey.gain_db[-1] + field.survey.sensor_offset_db
    noise = rng.normal(0, field.truth.noise.reading_sd_db, power.size)
    return np.asarray(10 * np.log10(power) + offset + noise)


def _recorded(again: gpd.GeoDataFrame, level: Floats, name: str) -> gpd.GeoDataFrame:
    """Write the levels down in rows of a reading at the place."""
    line = str(again["line_id"].iloc[0])
    count = np.arange(1, level.size + 1)
    return again.assign(
        reading_id=[f"{line}/{name}{i}" for i in count],
        walk_id=f"{line}/{name.rstrip('-')}",
        seq=count,
        sound_level=display(level, "db", 0.0),
        air=np.where(_on(), "on", "off"),
        time=again["time"] + pd.to_timedelta(3600 + 20 * (count - 1), unit="s"),
    )
