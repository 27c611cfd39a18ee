"""What a crew does on a line: two walks with a ground microphone, tape, receiver and display."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import shapely

from tests.worlds import field_noise
from tests.worlds.underground import power_sum

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.worlds.line import Line

    Tape = Callable[[np.ndarray], np.ndarray]

FOOT_M = 0.3048


@dataclass(frozen=True)
class Walked:
    """Readings of a line, and where the sensor truly stood."""

    readings: pd.DataFrame
    stops_m: np.ndarray


@dataclass(frozen=True)
class Display:
    """How a level is shown: in decibels, or as an amplitude of up to 1000; in whole units."""

    linear: bool

    @property
    def unit(self) -> str:
        """As the schema names it."""
        return "scale" if self.linear else "db"

    def gain_db(self, loudest_db: float) -> float:
        """Gain, in steps, that shows a level well below the end of the display."""
        step, shown = (6.0, 46.0) if self.linear else (5.0, 70.0)
        return float(step * np.round((shown - loudest_db) / step))

    def show(self, level_db: np.ndarray) -> np.ndarray:
        """Round a level, with its gain, to what the display shows."""
        if self.linear:
            return np.minimum(np.round(10 ** (level_db / 20)), 1000)
        return np.round(level_db)


@dataclass
class Visit:
    """A visit to a line: the noise that goes by time, and the clock."""

    line: Line
    rng: np.random.Generator

    def __post_init__(self) -> None:
        noise = self.line.noise
        self.instrument = field_noise.drift(noise.drift_sd_db, self.rng)
        self.outdoors = field_noise.drift(1.5 * noise.drift_sd_db, self.rng)
        self.cars = field_noise.cars(noise.cars_per_hour, self.rng)
        self.own_db = self.line.ambient_db - self.rng.uniform(18, 28)
        self.now_s = 0.0

    def pause(self, seconds: float) -> None:
        """Let time pass."""
        self.now_s += seconds

    def listen(
        self, stop_m: np.ndarray, seconds: tuple[float, float]
    ) -> tuple[np.ndarray, np.ndarray]:
        """Listen at stops one after the other.

        Parameters
        ----------
        stop_m : ndarray, shape (n,)
            Where the sensor stands, in the order of the walk.
        seconds : tuple of float
            Shortest and longest time from stop to stop.

        Returns
        -------
        level_db : ndarray, shape (n,)
            Levels that reach the instrument, without gain.
        time_s : ndarray, shape (n,)
            Since the visit began.
        """
        line, noise, rng = self.line, self.line.noise, self.rng
        count = stop_m.size
        time_s = self.now_s + np.cumsum(rng.uniform(*seconds, count))
        self.now_s = float(time_s[-1])
        outdoors_db = (
            line.traffic_db(stop_m)
            + self.outdoors.at(time_s)
            + self.cars.rise_db(time_s, np.abs(stop_m - line.street_m))
            - field_noise.contact(count, noise.flicker_db, 1.5, rng)
        )
        arriving_db = power_sum(line.leak_db(stop_m), line.machine_db(stop_m), outdoors_db)
        felt_db = (
            arriving_db
            + line.ground_db(stop_m)
            + field_noise.contact(count, noise.contact_sd_db, noise.skew, rng)
            + field_noise.dropouts(count, noise.dropout_chance, rng)
        )
        own_db = np.full(count, self.own_db)
        return power_sum(felt_db, own_db) + self.instrument.at(time_s), time_s


def survey(line: Line, begin: pd.Timestamp, rng: np.random.Generator) -> Walked:
    """Walk a line coarsely, then in steps of a foot around the loudest stop.

    Parameters
    ----------
    line : Line
    begin : Timestamp
        Of the visit, with a time zone.
    rng : Generator

    Returns
    -------
    Walked
    """
    visit = Visit(line, rng)
    display = Display(bool(rng.random() < 1 / 8))
    tape = _tape(rng.uniform(0.03, 0.08), line.pipe.length_m, rng)
    coarse = _coarse(visit, display, tape)
    visit.pause(rng.uniform(60, 600))
    fine = _fine(visit, display, tape, coarse)
    walks = [coarse, fine]
    if rng.random() < 1 / 8:
        walks[int(rng.integers(2))]["gain_db"] = np.nan
    rows = pd.concat(walks, ignore_index=True)
    stops_m = rows.pop("stop_m").to_numpy()
    rows["surface"] = line.surface.at(stops_m) if rng.random() < 0.95 else None
    rows["time"] = (begin + pd.to_timedelta(rows.pop("time_s"), "s")).dt.floor("s")
    rows["reading_id"] = rows["walk_id"] + "/" + rows["seq"].astype(str).str.zfill(3)
    return Walked(
        rows.assign(
            line_id=line.line_id,
            sound_unit=display.unit,
            sensor="ground_plate",
            band="low" if rng.random() < 0.15 else None,
            **_positions(line, stops_m, rng),
        ),
        stops_m,
    )


def _coarse(visit: Visit, display: Display, tape: Tape) -> pd.DataFrame:
    """Walk the whole line, from either end, in steps of about 1.5 m."""
    line, rng = visit.line, visit.rng
    spacing_m = rng.uniform(1.35, 1.65)
    planned = np.arange(rng.uniform(0, 0.6), line.pipe.length_m, spacing_m)
    stops = _set_down(planned, 0.12, line, rng)
    stops = stops[::-1] if rng.random() < 0.3 else stops
    level, time = visit.listen(stops, (18, 40))
    gain = display.gain_db(float(level.max()))
    return _walk(line, "coarse", (stops, tape(stops), time), display.show(level + gain), gain)


def _fine(visit: Visit, display: Display, tape: Tape, coarse: pd.DataFrame) -> pd.DataFrame:
    """Walk in feet around the loudest stop, and on while the loudest is at the edge."""
    line, rng = visit.line, visit.rng
    loudest = int(coarse["sound_level"].argmax())
    centre, gain = coarse["chainage_m"].iloc[loudest], float(coarse["gain_db"].iloc[0])
    # A linear display needs room above; with decibels a crew may leave the gain.
    gain -= 6.0 if display.linear else float(rng.choice([0, 0, 5, 10]))
    half = int(rng.integers(6, 10))
    feet = np.arange(-half, half + 1)
    stops, level, time = [np.empty(0)] * 3
    for _ in range(3):
        planned = centre + feet * FOOT_M
        planned = planned[(planned >= 0) & (planned <= line.pipe.length_m)]
        if planned.size == 0:
            break
        more = _set_down(planned, 0.03, line, rng)
        heard, at = visit.listen(more, (10, 22))
        stops, level, time = (
            np.concatenate(p) for p in ((stops, more), (level, heard), (time, at))
        )
        step = _beyond(stops, level)
        if step == 0:
            break
        edge = stops.min() if step < 0 else stops.max()
        centre, feet = edge, step * np.arange(1, 7)
    shown = display.show(level + gain)
    return _walk(line, "fine", (stops, tape(stops), time), shown, gain)


def _beyond(stops: np.ndarray, level: np.ndarray) -> int:
    """Side on which the loudest of a fine walk is within two feet of the edge, or 0."""
    loudest = stops[int(np.argmax(level))]
    if loudest - stops.min() < 2.5 * FOOT_M:
        return -1
    return 1 if stops.max() - loudest < 2.5 * FOOT_M else 0


def _walk(
    line: Line,
    name: str,
    stops: tuple[np.ndarray, np.ndarray, np.ndarray],
    shown: np.ndarray,
    gain_db: float,
) -> pd.DataFrame:
    """Write down a walk; `stops` are where the sensor stood, what was taped, and when."""
    stop_m, chainage_m, time_s = stops
    return pd.DataFrame(
        {
            "walk_id": f"{line.line_id}/{name}",
            "seq": np.arange(1, shown.size + 1),
            "sound_level": shown,
            "gain_db": gain_db,
            "chainage_m": chainage_m,
            "stop_m": stop_m,
            "time_s": time_s,
        }
    )


def _set_down(
    planned_m: np.ndarray, sd_m: float, line: Line, rng: np.random.Generator
) -> np.ndarray:
    """The sensor is set down about where it was meant, on the line."""
    return np.clip(planned_m + rng.normal(0, sd_m, planned_m.size), 0, line.pipe.length_m)


def _tape(sd_m: float, length_m: float, rng: np.random.Generator) -> Tape:
    """A tape whose start and each of whose readings are somewhat wrong; to the centimetre."""
    start = rng.normal(0, 0.6 * sd_m)

    def read(stop_m: np.ndarray) -> np.ndarray:
        wrong = start + rng.normal(0, 0.8 * sd_m, stop_m.size)
        # No crew writes down more than the length of its line.
        return np.clip(np.round(stop_m + wrong, 2), 0, np.floor(length_m * 100) / 100)

    return read


def _positions(line: Line, stops_m: np.ndarray, rng: np.random.Generator) -> dict[str, Any]:
    """Points from a good receiver or a plain one, over the pipe as the crew follows it."""
    sd = 0.03 if rng.random() < 0.6 else float(rng.uniform(0.5, 1.5))
    xy = shapely.get_coordinates(shapely.line_interpolate_point(line.course, stops_m))
    # Followed to a decimetre; a plain receiver's error stays for the visit, and flutters little.
    wander = rng.normal(0, 0.1, xy.shape)
    error = 0.8 * rng.normal(0, sd, 2) + 0.6 * rng.normal(0, sd, xy.shape)
    return {
        "position_sd_m": round(sd, 2),
        "geometry": shapely.points(xy + wander + error),
    }
