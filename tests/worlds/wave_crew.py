"""What a crew does on one line: a coarse walk, a fine one at the loudest, and its records."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.signal import lfilter

from tests.worlds.wave_sound import STEP_M

if TYPE_CHECKING:
    from tests.worlds.wave_ground import Service
    from tests.worlds.wave_sound import Sound

FOOT_M = 0.3048


@dataclass(frozen=True)
class Crew:
    """How one crew measures on one line.

    Parameters
    ----------
    coupling_db : ndarray, shape (n,)
        How well the sensor couples to the ground at each place of the sound, dB.
    noise_db : float
        Noise of a reading, dB.
    flicker_db : float
        How much the background changes between readings, dB.
    tape_m : float
        Error of the tape, m, half of its variance shared by a walk.
    satellite_m : float
        Error of a satellite position in each direction, m, half of its variance shared by a walk.
    base_db : float
        What the sensor shows for the usual background without gain, dB.
    start : Timestamp
        When the crew starts.
    """

    coupling_db: np.ndarray
    noise_db: float
    flicker_db: float
    tape_m: float
    satellite_m: float
    base_db: float
    start: pd.Timestamp


def draw_crew(rng: np.random.Generator, sound: Sound, minute: int) -> Crew:
    """Draw a crew and the place-to-place coupling of its sensor."""
    spread_db, over_m = rng.uniform(1, 2.5), rng.uniform(0.3, 1.5)
    like = np.exp(-STEP_M / over_m)
    white = rng.normal(size=sound.at_m.size) * np.sqrt(1 - like**2)
    white[0] /= np.sqrt(1 - like**2)
    return Crew(
        coupling_db=spread_db * lfilter([1], [1, -like], white),
        noise_db=rng.uniform(0.4, 1.0),
        flicker_db=rng.uniform(0.5, 1.8),
        tape_m=rng.uniform(0.03, 0.08),
        satellite_m=rng.uniform(0.02, 0.06) if rng.random() < 0.6 else rng.uniform(0.3, 0.8),
        base_db=rng.uniform(15, 40),
        start=pd.Timestamp("2031-05-05 07:00", tz="UTC") + pd.Timedelta(minutes=minute),
    )


def survey(rng: np.random.Generator, service: Service, sound: Sound, crew: Crew) -> pd.DataFrame:
    """Give the readings of both walks, with `x_m` along and `y_m` across the route by satellite."""
    length = service.length_m
    gain = 5.0 * rng.integers(0, 7)
    spacing = rng.uniform(1.4, 1.6)
    coarse = np.round(np.arange(rng.uniform(0, 0.5), length, spacing), 2)
    first = _walk(rng, service, sound, crew, coarse, gain)
    loudest = float(first["chainage_m"].iloc[first["sound_level"].argmax()])
    fine_gain = gain if rng.random() < 0.5 else gain + 5.0 * rng.integers(-2, 2)
    around = loudest + FOOT_M * np.arange(-6, 7)
    second = _walk(rng, service, sound, crew, _on_line(around, length), fine_gain)
    at = float(second["chainage_m"].iloc[second["sound_level"].argmax()])
    if abs(at - loudest) > 4.5 * FOOT_M:
        # The level still rises where the walk ends, so the crew goes on.
        around = around + np.sign(at - loudest) * 5 * FOOT_M
        around = np.union1d(np.round(around, 2), second["chainage_m"])
        second = _walk(rng, service, sound, crew, _on_line(around, length), fine_gain)
    return _recorded(rng, crew, first, second)


def _on_line(at_m: np.ndarray, length_m: float) -> np.ndarray:
    return np.round(at_m[(at_m >= 0) & (at_m <= length_m)], 2)


def _walk(
    rng: np.random.Generator,
    service: Service,
    sound: Sound,
    crew: Crew,
    taped_m: np.ndarray,
    gain_db: float,
) -> pd.DataFrame:
    n, half = taped_m.size, np.sqrt(0.5)
    # The tape says where the crew means to be, and the sensor stands a little beside that.
    beside = crew.tape_m * half * (rng.normal() + rng.normal(size=n))
    true_m = np.clip(taped_m + beside, 0, service.length_m)
    satellite = crew.satellite_m * half * (rng.normal(size=2) + rng.normal(size=(n, 2)))
    shown = np.round(_levels(rng, sound, crew, true_m) + gain_db)
    return pd.DataFrame(
        {
            "chainage_m": taped_m,
            "x_m": true_m + satellite[:, 0],
            "y_m": rng.normal(0, 0.08, n) + satellite[:, 1],
            "sound_level": shown,
            "gain_db": gain_db,
            "surface": [_cover_at(service, at) for at in true_m],
        }
    )


def _levels(rng: np.random.Generator, sound: Sound, crew: Crew, true_m: np.ndarray) -> np.ndarray:
    def at(of: np.ndarray) -> np.ndarray:
        return np.interp(true_m, sound.at_m, of)

    flicker = 10 ** (crew.flicker_db * rng.normal(size=(2, true_m.size)) / 10)
    # One reading in 70 is taken with a foot that hardly touches the ground.
    bad = np.where(rng.random(true_m.size) < 1 / 70, rng.uniform(6, 15, true_m.size), 0)
    foot = 10 ** ((at(crew.coupling_db) - bad) / 10)
    energy = (at(sound.leak) + at(sound.ground) * flicker[0]) * foot + at(sound.air) * flicker[1]
    return crew.base_db + 10 * np.log10(energy) + crew.noise_db * rng.normal(size=true_m.size)


def _cover_at(service: Service, at_m: float) -> str:
    return next(c.kind for c in service.covers if c.from_m <= at_m < c.to_m)


def _recorded(
    rng: np.random.Generator, crew: Crew, first: pd.DataFrame, second: pd.DataFrame
) -> pd.DataFrame:
    walks = [
        walk.assign(walk=name, seq=range(1, len(walk) + 1))
        for name, walk in (("A", first), ("B", second))
    ]
    rows = pd.concat(walks, ignore_index=True)
    seconds = np.cumsum(rng.integers(20, 45, len(rows))) + 180 * (rows["walk"] == "B")
    rows["time"] = crew.start + pd.to_timedelta(seconds, unit="s")
    rows["position_sd_m"] = round(crew.satellite_m, 2)
    return rows
