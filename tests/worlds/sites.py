"""Lines of worlds of physics of their own, walked at any stops, again and again.

As `leakgeo.simulate.site` does for the simulator: the ground and the errors of each reading are
drawn beforehand, so that readings at the first stops are the same whatever stops follow.
"""

from __future__ import annotations

import copy
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from tests.situations.jobs import Record
from tests.worlds import crew as rough_crew
from tests.worlds import rough_noise, waves
from tests.worlds.line import draw_line
from tests.worlds.wave_crew import _walk as wave_walk
from tests.worlds.wave_crew import draw_crew as draw_wave_crew
from tests.worlds.wave_ground import draw_service
from tests.worlds.wave_sound import draw_sound

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from tests.worlds.crew import Display
    from tests.worlds.line import Line

# Errors are drawn for this many readings of a line.
MOST = 160
_APART_M = 150.0


@dataclass(frozen=True)
class Heard:
    """Readings of a line and its route, as the schemas describe them, and its leak."""

    route: dict[str, Any]
    readings: gpd.GeoDataFrame
    leak_chainage_m: float | None

    @property
    def leaks(self) -> bool:
        """Whether the line leaks."""
        return self.leak_chainage_m is not None

    @property
    def level(self) -> np.ndarray:
        """Levels of the readings without gain, shape (n,)."""
        rows = self.readings
        shown = rows["sound_level"].to_numpy(dtype=float)
        linear = (rows["sound_unit"] == "scale").to_numpy()
        db = np.where(linear, 20.0 * np.log10(np.maximum(shown, 0.5)), shown)
        return np.asarray(db - rows["gain_db"].to_numpy(dtype=float))


@dataclass(frozen=True)
class WorldSite:
    """A line that `listen` gives the readings of: stops and their walks in, rows out."""

    route: dict[str, Any]
    length_m: float
    leak_m: float
    listen: Callable[[np.ndarray, np.ndarray], gpd.GeoDataFrame]

    def field(self, stop_m: np.ndarray, walk: np.ndarray) -> Heard:
        """Simulate readings at stops in the given order, as `leakgeo.simulate.site.Site` does."""
        rows = self.listen(np.asarray(stop_m, float), np.asarray(walk, int))
        leak = float(self.leak_m) if np.isfinite(self.leak_m) else None
        return Heard(self.route, rows.iloc[: len(stop_m)], leak)


def layers_of(heard: Mapping[str, Heard]) -> dict[str, gpd.GeoDataFrame]:
    """Return the layers of a job of some lines, by the names that they are to have."""
    routes, readings = [], []
    for k, (name, line) in enumerate(heard.items()):
        east = _APART_M * k
        rows = line.readings
        walk = name + "/" + rows["walk"].astype(str)
        own = rows.drop(columns="walk").assign(
            line_id=name, walk_id=walk, seq=np.arange(1, len(rows) + 1),
            reading_id=[f"{name}-{i:03d}" for i in range(len(rows))],
            geometry=rows.geometry.translate(east),
        )  # fmt: skip
        place = shapely.transform(line.route["geometry"], lambda xy, e=east: xy + [e, 0.0])
        routes.append(line.route | {"line_id": name, "geometry": place})
        readings.append(own)
    crs = next(iter(heard.values())).readings.crs
    table = gpd.GeoDataFrame(pd.concat(readings, ignore_index=True), geometry="geometry", crs=crs)
    return {"routes": gpd.GeoDataFrame(routes, geometry="geometry", crs=crs), "readings": table}


def _padded(stop_m: np.ndarray, walk: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Fill up to the number of readings that errors are drawn for, so that draws don't differ."""
    more = MOST - len(stop_m)
    if more < 0:
        raise ValueError(f"{len(stop_m)} stops given, but errors were drawn for {MOST} only.")
    pad = stop_m[-1] if len(stop_m) else 1.0
    return np.append(stop_m, np.full(more, pad)), np.append(walk, np.ones(more, int))


def rough_noise_site(seed: int, k: int) -> WorldSite:
    """Draw a line of the world of rough noise."""
    rng = np.random.default_rng([seed, k])
    line = draw_line(f"line-{k:04d}", rough_noise.ORIGIN_M, rng)
    display = rough_crew.Display(bool(rng.random() < 1 / 8))
    satellite = 0.03 if rng.random() < 0.6 else float(rng.uniform(0.5, 1.5))
    own_seed = int(rng.integers(2**32))

    def listen(stop_m: np.ndarray, walk: np.ndarray) -> gpd.GeoDataFrame:
        return _rough_rows(line, display, satellite, own_seed, *_padded(stop_m, walk))

    return WorldSite(line.known, line.pipe.length_m, line.leak_m, listen)


def _rough_rows(
    line: Line, display: Display, satellite_m: float, seed: int, planned: np.ndarray,
    walk: np.ndarray,
) -> gpd.GeoDataFrame:  # fmt: skip
    rng = np.random.default_rng(seed)
    visit = rough_crew.Visit(line, rng)
    tape = rough_crew._tape(rng.uniform(0.03, 0.08), line.pipe.length_m, rng)
    stride = np.where(walk == 0, 0.12, 0.03) * rng.normal(size=len(planned))
    stops = np.clip(planned + stride, 0.0, line.pipe.length_m)
    level, time_s = visit.listen(stops, (14, 30))
    first = walk == 0
    gain = np.full(len(stops), display.gain_db(float(level[first].max()) if first.any() else 40.0))
    gain -= np.where(display.linear & ~first, 6.0, 0.0)
    xy = shapely.get_coordinates(shapely.line_interpolate_point(line.course, stops))
    error = 0.8 * rng.normal(0, satellite_m, 2) + 0.6 * rng.normal(0, satellite_m, xy.shape)
    begin = pd.Timestamp("2024-04-08 07:00", tz="UTC")
    columns = {
        "walk": walk,
        "sound_level": display.show(level + gain),
        "gain_db": gain,
        "chainage_m": tape(stops),
        "surface": line.surface.at(stops),
        "time": (begin + pd.to_timedelta(time_s, "s")).floor("s"),
        "sound_unit": display.unit,
        "sensor": "ground_plate",
        "position_sd_m": round(satellite_m, 2),
    }
    places = shapely.points(xy + rng.normal(0, 0.1, xy.shape) + error)
    return gpd.GeoDataFrame(columns, geometry=places, crs=rough_noise.CRS)


def wave_site(seed: int, k: int) -> WorldSite:
    """Draw a line of the world of waves."""
    rng = np.random.default_rng([seed, k])
    service = draw_service(rng)
    sound = draw_sound(rng, service)
    crew = draw_wave_crew(rng, sound, 0)
    place = waves._route(rng, service.length_m, 0)
    route = waves._known(rng, service) | {"geometry": place}
    gain, own_seed = 5.0 * rng.integers(0, 7), int(rng.integers(2**32))

    def listen(stop_m: np.ndarray, walk: np.ndarray) -> gpd.GeoDataFrame:
        taped, walks = _padded(np.round(stop_m, 2), walk)
        one = np.random.default_rng(own_seed)
        rows = waves._placed(wave_walk(one, service, sound, crew, taped, gain), place)
        seconds = np.cumsum(one.integers(20, 45, len(rows)))
        rows = rows.assign(
            walk=walks, time=crew.start + pd.to_timedelta(seconds, unit="s"),
            position_sd_m=round(crew.satellite_m, 2),
            band=None if sound.band == "wide" else sound.band,
        )  # fmt: skip
        return waves._points(rows).assign(walk=walks)

    return WorldSite(route, service.length_m, sound.leak_chainage_m, listen)


def situation_site(seed: int, k: int) -> WorldSite:
    """Draw a plain line of the street of the situations: seven in ten leak, some faintly."""
    rng = np.random.default_rng([seed, k])
    job = Record(rng, length_m=(15, 40))
    length, leak_m = job.line.length_m, np.nan
    if rng.random() < 0.7:
        leak_m = float(rng.uniform(0.5, length - 0.5))
        job.leak(leak_m, rng.uniform(0.0, 28.0))
    job.rng = np.random.default_rng(int(rng.integers(2**32)))

    def listen(stop_m: np.ndarray, walk: np.ndarray) -> gpd.GeoDataFrame:
        own = copy.deepcopy(job)
        stops, walks = _padded(stop_m, walk)
        rows = own._layer("readings", own.walk(stops))
        return rows.drop(columns=["air", "air_kpa", "offset_m"]).assign(walk=walks)

    route = dict(job._rows["routes"][0]) | {"installed_year": pd.NA}
    route.pop("installed_year")
    return WorldSite(route, length, leak_m, listen)


SITES: dict[str, Callable[[int, int], WorldSite]] = {
    "rough noise": rough_noise_site,
    "waves": wave_site,
    "situations": situation_site,
}
