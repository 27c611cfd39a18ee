"""Lines of the worlds with a tap opened to a trickle at one end, and a walk beside it.

The tap sends its sound into the pipe, and little or none straight into the ground; in rough noise
its loss along the pipe differs from that of the leak's sound, and its spectrum does among waves. As
the worlds themselves, it only judges: nothing is tuned to it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from tests.worlds import rough_noise, wave_crew, wave_sound, waves
from tests.worlds.crew import Display, Visit, _positions, _set_down, _tape, survey
from tests.worlds.line import Line, draw_line
from tests.worlds.underground import Pipe, power_sum, source_level
from tests.worlds.wave_ground import draw_service
from tests.worlds.wave_pipe import buried_wavenumber, pressure, radiated
from tests.worlds.wave_surface import at_top, contact
from tests.worlds.world import World

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.worlds.wave_ground import Service
    from tests.worlds.wave_sound import Sound

STOPS, STEP_M = 8, 1.0
# The tap's sound over the background, beside it.
OVER_DB = (15.0, 30.0)
# The fitting is a little way from the end of the line.
FROM_END_M = 0.8


@dataclass(frozen=True)
class Trickling(Line):
    """A line with a tap open: its sound comes by the pipe, which loses some at each metre."""

    tap_m: float = 0.0
    tap_db: float = 0.0
    tap_pipe: Pipe | None = None

    def machine_db(self, stop_m: np.ndarray) -> np.ndarray:
        """Level of the machine, and of the tap."""
        assert self.tap_pipe is not None
        # A soil that takes nearly all: the straight path is as good as absent.
        deaf = source_level(stop_m, self.tap_m, self.tap_db, self.soil, self.tap_pipe)
        straight = self.tap_db - self.soil.loss_db(stop_m - self.tap_m, self.pipe.depth_m)
        piped = 10 * np.log10(np.maximum(10 ** (deaf / 10) - 0.9 * 10 ** (straight / 10), 1e-30))
        return power_sum(super().machine_db(stop_m), piped)


def tapped_rough_noise(lines: int, seed: int) -> World:
    """Draw `tests.worlds.rough_noise` with a trickle walk on each line; the rest is as it was."""
    world = rough_noise.draw(lines, seed)
    walks, taps = [], []
    for k in range(lines):
        rng = np.random.default_rng([seed, k])
        place = (
            rough_noise.ORIGIN_M[0] + rough_noise.APART_M * (k % 10),
            rough_noise.ORIGIN_M[1] + rough_noise.APART_M * (k // 10),
        )
        line = draw_line(f"line-{k + 1:04d}", place, rng)
        begin = pd.Timestamp("2024-04-08 07:00", tz="UTC") + pd.Timedelta(k, "h")
        walked = survey(line, begin, rng)
        own = np.random.default_rng([seed, k, 1])
        tap_m = _far_end(walked.readings, line.pipe.length_m)
        taps.append(_contact(line.line_id, shapely.line_interpolate_point(line.course, tap_m)))
        walks.append(_rough_walk(line, tap_m, walked.readings, begin, own))
    return _world(world, walks, taps, rough_noise.CRS)


def _rough_walk(
    line: Line, tap_m: float, quiet: pd.DataFrame, begin: pd.Timestamp, rng: np.random.Generator
) -> pd.DataFrame:
    pipe = replace(line.pipe, loss_db_per_m=line.pipe.loss_db_per_m * rng.lognormal(0, 0.2))
    # The hum beside the tap is this much above the background.
    over = rng.uniform(*OVER_DB)
    open_ = Trickling(**vars(line), tap_m=tap_m, tap_db=0.0, tap_pipe=pipe)
    beside = float(open_.machine_db(np.array([tap_m]))[0])
    open_ = replace(open_, tap_db=line.ambient_db + over - beside)
    first = quiet.iloc[0]
    display = Display(first["sound_unit"] == "scale")
    visit = Visit(open_, rng)
    stops = _set_down(_planned(tap_m, line.pipe.length_m), 0.05, line, rng)
    level, time_s = visit.listen(stops, (12, 25))
    gain = display.gain_db(float(level.max()))
    rows = {
        "walk_id": f"{line.line_id}/tap", "seq": np.arange(1, stops.size + 1),
        "sound_level": display.show(level + gain), "gain_db": gain,
        "chainage_m": _tape(0.05, line.pipe.length_m, rng)(stops),
        "surface": line.surface.at(stops) if pd.notna(first["surface"]) else None,
        "time": (begin + pd.Timedelta("50min") + pd.to_timedelta(time_s, "s")).floor("s"),
    }  # fmt: skip
    table = pd.DataFrame(rows).assign(
        line_id=line.line_id, sound_unit=display.unit, sensor=first["sensor"], band=first["band"],
        **_positions(line, stops, rng),
    )  # fmt: skip
    return table.assign(reading_id=table["walk_id"] + "/" + table["seq"].astype(str))


def tapped_waves(lines: int, seed: int) -> World:
    """Draw `tests.worlds.waves` with a trickle walk on each line; the rest is as it was."""
    world = waves.draw(lines, seed)
    walks, taps = [], []
    for k in range(lines):
        rng = np.random.default_rng([seed, k])
        service = draw_service(rng)
        sound = wave_sound.draw_sound(rng, service)
        crew = wave_crew.draw_crew(rng, sound, 25 * k)
        route = waves._route(rng, service.length_m, k)
        name, own = f"W{k + 1:04d}", np.random.default_rng([seed, k, 1])
        quiet = world.layers["readings"].query("line_id == @name")
        tap_m = _far_end(quiet, service.length_m)
        open_ = replace(sound, ground=sound.ground + _tap_energy(own, service, sound, tap_m))
        stops = np.round(_planned(tap_m, service.length_m), 2)
        gain = float(quiet["gain_db"].min()) - 5.0
        walk = wave_crew._walk(own, service, open_, crew, stops, gain)
        walk = waves._placed(walk, route).assign(
            line_id=name, walk_id=f"{name}T", walk="T", seq=range(1, stops.size + 1),
            band=quiet["band"].iloc[0], position_sd_m=round(crew.satellite_m, 2),
            time=crew.start + pd.Timedelta("24min"),
        )  # fmt: skip
        walk["reading_id"] = walk["walk_id"] + walk["seq"].map("-{:02d}".format)
        walks.append(waves._points(walk))
        taps.append(_contact(name, route.interpolate(tap_m)))
    return _world(world, walks, taps, waves.CRS)


def _tap_energy(
    rng: np.random.Generator, service: Service, sound: Sound, tap_m: float
) -> np.ndarray:
    """Energy of a tap that sounds in the water of the pipe alone, along the line."""
    pipe, soil, deep, hz = service.pipe, service.soil, service.axis_m, wave_sound.HZ
    k = buried_wavenumber(pipe, soil, hz)
    spectrum = wave_sound._spectrum(rng, service.metal)[:, None]
    inside = pressure(k, service.ends, tap_m, sound.at_m) * spectrum
    by_pipe = radiated(pipe, soil, hz, inside, wave_sound.STEP_M, deep)
    sensor = wave_sound._sensor(rng, sound.band) * hz
    energy = np.zeros(sound.at_m.size)
    for cover in service.covers:
        heard = at_top(cover, hz, by_pipe, sound.at_m, 2 * deep)
        part = ((sensor * contact(cover, hz))[:, None] * np.abs(heard) ** 2).sum(axis=0)
        under = (sound.at_m >= cover.from_m) & (sound.at_m < cover.to_m)
        energy += np.where(under, part, 0.0)
    beside = int(np.argmin(np.abs(sound.at_m - tap_m)))
    loud = sound.background[beside] * 10 ** (rng.uniform(*OVER_DB) / 10)
    return np.asarray(energy / energy[beside] * loud)


def _far_end(quiet: pd.DataFrame, length_m: float) -> float:
    """Chainage of the fitting near the end that is farther from the loudest reading."""
    level = quiet["sound_level"] - quiet["gain_db"].fillna(0.0)
    loudest = float(quiet["chainage_m"].iloc[int(level.argmax())])
    return FROM_END_M if loudest > length_m / 2 else length_m - FROM_END_M


def _planned(tap_m: float, length_m: float) -> np.ndarray:
    side = 1.0 if tap_m < length_m / 2 else -1.0
    stops = tap_m + side * STEP_M * np.arange(STOPS)
    return stops[(stops >= 0) & (stops <= length_m)]


def _contact(line_id: str, point: shapely.Point) -> dict[str, Any]:
    return {"contact_id": f"{line_id}-tap", "line_id": line_id, "kind": "hose_bib",
            "sound_level": 30.0, "sound_unit": "db", "geometry": point}  # fmt: skip


def _world(world: World, walks: list[pd.DataFrame], taps: list[dict[str, Any]], crs: str) -> World:
    more = pd.concat(walks, ignore_index=True)
    more["tap_open"] = more["line_id"] + "-tap"
    rows = pd.concat([world.layers["readings"].assign(tap_open=None), more], ignore_index=True)
    readings = gpd.GeoDataFrame(rows, geometry="geometry", crs=crs)
    contacts = gpd.GeoDataFrame(taps, geometry="geometry", crs=crs)
    return World({**world.layers, "readings": readings, "contacts": contacts}, world.truth)


WORLDS: dict[str, Callable[[int, int], World]] = {
    "rough noise": tapped_rough_noise,
    "waves": tapped_waves,
}
