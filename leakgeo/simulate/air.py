"""Simulated readings with compressed air off and on."""

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

# Increase of the level of a leak by air, in decibels: an assumption.
AIR_GAIN_DB = (6.0, 12.0)
PAIRS = 4


def air_readings(
    rng: np.random.Generator, field: Recorded, readings: gpd.GeoDataFrame
) -> gpd.GeoDataFrame:
    """Simulate four pairs of readings with air off and on at the loudest taped stop.

    Parameters
    ----------
    rng : numpy.random.Generator
    field : Recorded
        A line with a leak, read in whole decibels.
    readings : geopandas.GeoDataFrame
        Its readings, as in the data contract.

    Returns
    -------
    geopandas.GeoDataFrame
        Additional readings, in a separate walk.
    """
    fine = np.flatnonzero(field.walk == field.walk.max())
    row = int(fine[np.argmax(field.level[fine])])
    louder_db = float(rng.uniform(*AIR_GAIN_DB))
    level = _levels(rng, field, field.true_chainage_m[row], louder_db)
    again = readings.iloc[[row] * level.size].reset_index(drop=True)
    return _as_readings(again, level, "air")


def air_test(
    rng: np.random.Generator, field: Recorded, readings: gpd.GeoDataFrame,
    places_m: Sequence[float], air_kpa: float,
) -> gpd.GeoDataFrame:  # fmt: skip
    """Simulate four pairs of readings with air off and on at each of several places.

    Parameters
    ----------
    rng : numpy.random.Generator
    field : Recorded
        A line that was taped and read in whole decibels, with or without a leak.
    readings : geopandas.GeoDataFrame
        Its readings, as in the data contract.
    places_m : sequence of float
        Chainages, such as that of the mark and of a control point.
    air_kpa : float
        Gauge pressure of the injected air.

    Returns
    -------
    geopandas.GeoDataFrame
        Additional readings, one walk for each place.
    """
    louder_db = float(rng.uniform(*AIR_GAIN_DB))
    parts = []
    for i, place in enumerate(places_m, start=1):
        level = _levels(rng, field, place, louder_db)
        nearest = int(np.argmin(np.abs(field.chainage_m - place)))
        again = readings.iloc[[nearest] * level.size].reset_index(drop=True)
        rows = _as_readings(again, level, f"air{i}-")
        parts.append(rows.assign(chainage_m=place, air_kpa=np.where(_on(), air_kpa, np.nan)))
    return pd.concat(parts, ignore_index=True)


def _on() -> NDArray[np.bool_]:
    return np.asarray(np.arange(2 * PAIRS) % 2 == 1)


def _levels(rng: np.random.Generator, field: Recorded, stop_m: float, louder_db: float) -> Floats:
    """Levels at one place before the display rounds them, air off and on in turn."""
    stop, leak = np.array([stop_m]), field.truth.leak_chainage_m
    quiet = 10 ** (field.truth.level_db(0, stop, None)[0] / 10)
    whole = quiet if leak is None else 10 ** (field.truth.level_db(0, stop, leak)[0] / 10)
    power = quiet + (whole - quiet) * np.where(_on(), 10 ** (louder_db / 10), 1.0)
    offset = field.survey.gain_db[-1] + field.survey.sensor_offset_db
    noise = rng.normal(0, field.truth.noise.reading_sd_db, power.size)
    return np.asarray(10 * np.log10(power) + offset + noise)


def _as_readings(again: gpd.GeoDataFrame, level: Floats, name: str) -> gpd.GeoDataFrame:
    """Return readings with these levels, from repeated rows of a reading at the place."""
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
