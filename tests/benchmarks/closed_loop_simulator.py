"""Sites of the closed loop on lines of the simulator, with other outcomes drawn from rates."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely import LineString, Point, line_locate_point

from leakgeo.simulate import Conditions
from leakgeo.simulate.job import FIRST_READING, fields_to_layers
from leakgeo.simulate.site import GRID_M, draw_site
from tests.benchmarks.closed_loop_sites import (
    KINDS,
    LINE,
    Site,
    draw_kind,
    draw_truth,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.simulate.site import Site as Ground

    Array = np.ndarray

NIGHT_DB = 8.0
PAIRS = 4
# Increase of the level of a leak by air, from and to, and share of leaks that show none, dB.
AIR_DB, AIR_FAILS = (5.0, 10.0), 0.12
# What a contact shows over the ground above it, dB.
_CONTACT_DB = 6.0
# What is listened to besides walks, longest, by the errors that are drawn for readings.
_MOST = 400


class SimulatorSite(Site):
    """A line of the simulator; see `leakgeo.simulate.site`."""

    def __init__(self, seed: tuple[int, ...], kinds: Mapping[str, float] = KINDS) -> None:
        rng = np.random.default_rng(seed)
        # A line of the simulator has no neighbour.
        kind = draw_kind(rng, {**kinds, "neighbour": 0.0})
        conditions = Conditions(
            leak_share=float(kind not in ("none", "machine")),
            other_source_share=float(kind == "machine"), tape_share=1.0, scale_share=0.0,
            unknown_gain_share=0.0, known_gain_share=0.0,
        )  # fmt: skip
        ground = draw_site(rng, conditions, most=_MOST)
        truth = draw_truth(rng, kind, ground.truth.ground.length_m)
        self.ground, place = _placed(ground, kind, truth.place_m)
        truth = replace(truth, place_m=place)
        self._stops, self._walk, self._more = np.empty(0), np.empty(0, dtype=int), []
        self._noise = np.random.default_rng([*seed, 2])
        self._trace = LineString(self.ground.route.trace_xy)
        self._air_db = 0.0
        if kind in ("leak", "beyond_start", "beyond_end") and rng.random() >= AIR_FAILS:
            self._air_db = float(rng.uniform(*AIR_DB))
        self._later = pd.Timedelta(0)
        super().__init__(
            np.random.default_rng([*seed, 1]), truth, self.ground.truth.ground.length_m
        )

    def point(self, along_m: float) -> Point:
        """Give a place of the trace."""
        return self._trace.interpolate(along_m / self.length_m, normalized=True)

    def chainage_m(self, point: Point) -> float:
        """Give the chainage of a place."""
        share = line_locate_point(self._trace, point, normalized=True)
        return float(share * self.length_m)

    def now(self) -> pd.Timestamp:
        """Give the time, and let some pass."""
        self._later += pd.Timedelta(minutes=2)
        return pd.Timestamp(FIRST_READING) + pd.Timedelta(hours=2) + self._later

    def at_fitting(self, along_m: float) -> float:
        """Give the level on a fitting, dB."""
        level = self._level(np.array([np.clip(along_m, 0.0, self._end_m)]))[0]
        return float(level + _CONTACT_DB + self._noise.normal(0, 1))

    @property
    def _end_m(self) -> float:
        return self.ground.truth.ground.length_m

    def walk(self, stops_m: Array) -> Array:
        """Listen along the line: the first time in a walk of its own, then in another."""
        later = np.full(len(stops_m), int(len(self._walk) > 0))
        self._stops = np.append(self._stops, stops_m)
        self._walk = np.append(self._walk, later)
        return self._field().level[-len(stops_m) :]

    def _field(self):
        return self.ground.field(self._stops, self._walk)

    def sweep(self, at_m: float, across_m: Array) -> int:
        """Listen across the line: the sound falls with the distance from its source."""
        truth = self.ground.truth
        beside, sign = truth.other_beside_m, self._noise.choice([-1, 1])
        y = sign * beside if self.truth.kind == "machine" else self._noise.normal(0, 0.2)
        depth = truth.ground.depth_m
        over = 10 ** (self._level(np.array([at_m]))[0] / 10)
        floor = 10 ** (self._level(np.array([at_m]), silent=True)[0] / 10)
        # What is heard at the line is of a source so far across.
        near = (depth**2 + y**2) / (depth**2 + (across_m - y) ** 2)
        level = 10 * np.log10(floor + np.maximum(over - floor, 0) * near)
        level = level + self._noise.normal(0, truth.noise.coupling_sd_db, across_m.size)
        self._add(np.full(across_m.size, at_m), self._noisy(level), offset_m=across_m)
        return across_m.size

    def air(self, at_m: float, control_m: float) -> int:
        """Read with compressed air off and on in turn: at the place, then at the control."""
        on = np.tile([False, True], PAIRS)
        louder = np.where(on, 10 ** (self._air_db / 10), 1.0)
        kpa = round(self.ground.truth.ground.pressure_kpa, -1) + 30
        for place in (at_m, control_m):
            along = np.full(on.size, place)
            silent, heard = (10 ** (self._level(along, silent=s) / 10) for s in (True, False))
            level = 10 * np.log10(silent + np.maximum(heard - silent, 0) * louder)
            self._add(along, self._noisy(level + self._coupling(along)),
                      air=np.where(on, "on", "off"), air_kpa=np.where(on, kpa, np.nan))  # fmt: skip
        return 2 * on.size

    def night(self, stops_m: Array) -> int:
        """Listen when the background is lower."""
        quiet = self._level(stops_m, floor_db=-NIGHT_DB) + self._coupling(stops_m)
        self._later += pd.Timedelta(hours=13)
        self._add(stops_m, self._noisy(quiet))
        return len(stops_m)

    def probe(self, stops_m: Array) -> int:
        """Listen with a probe, whose coupling varies less."""
        level = self._level(stops_m) + 0.5 * self._coupling(stops_m)
        self._add(stops_m, self._noisy(level), sensor="ground_spike")
        return len(stops_m)

    def tape(self) -> int:
        """Nothing is left to tape."""
        return 0

    def _level(self, stops_m: Array, *, silent: bool = False, floor_db: float = 0.0) -> Array:
        """Levels without the errors of readings, of the background alone if `silent`."""
        truth = self.ground.truth
        if silent or floor_db:
            floor = truth.floor * 10 ** (floor_db / 10)
            kept = truth if not silent else replace(truth, other_chainage_m=None)
            truth = replace(kept, floor=floor)
        return np.asarray(truth.level_db(0, stops_m, None if silent else truth.leak_chainage_m))

    def _coupling(self, stops_m: Array) -> Array:
        coupling = self.ground.coupling_db[:, 0]
        return np.interp(stops_m, GRID_M * np.arange(len(coupling)), coupling)

    def _noisy(self, level: Array) -> Array:
        sd = self.ground.truth.noise.reading_sd_db
        return level + self._noise.normal(0, sd, level.size)

    def _add(self, along_m: Array, level: Array, **columns: object) -> None:
        """Record readings in a walk of their own, as the display of the walks shows them."""
        field = self.ground.field(np.array([1.0]), np.array([0]))
        shown = np.round(level + field.survey.sensor_offset_db + field.survey.gain_db[0])
        name = f"{LINE}/more{1 + len(self._more)}"
        stretch = self.ground.truth.ground.stretch(along_m)
        n = len(along_m)
        begin = self.now()
        self._later += pd.Timedelta(seconds=20 * n)
        self._more.append(gpd.GeoDataFrame({
            "reading_id": [f"{name}/{i + 1:03d}" for i in range(n)], "line_id": LINE,
            "walk_id": name, "seq": np.arange(1, n + 1), "sound_level": shown,
            "sound_unit": "db", "gain_db": field.gain_db[0], "sensor": field.sensor,
            "surface": np.array(self.ground.truth.ground.surfaces, dtype=object)[stretch],
            "chainage_m": np.round(along_m, 2), "chainage_sd_m": field.chainage_sd_m[0],
            "position_sd_m": np.round(field.fix_sd_m[0], 3), "set_aside": False,
            "time": begin + pd.to_timedelta(20 * np.arange(n), unit="s"),
            "geometry": [self.point(x) for x in along_m], **columns,
        }))  # fmt: skip

    def world_layers(self) -> dict[str, pd.DataFrame]:
        """Give the route and the readings."""
        layers = fields_to_layers([self._field()], line_ids=[LINE])
        more = [table.set_crs(layers["routes"].crs) for table in self._more]
        if more:
            kept = [part for part in (layers["readings"], *more) if len(part)]
            layers["readings"] = pd.concat(kept, ignore_index=True)
        return {name: table for name, table in layers.items() if name != "truth"}


def _placed(ground: Ground, kind: str, place_m: float) -> tuple[Ground, float]:
    """Move the source of a line to where it is; gives its place."""
    truth = ground.truth
    if kind == "machine":
        return ground, float(truth.other_chainage_m or 0.0)
    if kind == "none":
        return ground, place_m
    if kind == "leak":
        return ground, float(truth.leak_chainage_m or 0.0)
    bare = truth.ground
    if kind != "fitting":
        # The images of a source beyond an end would be on the line.
        bare = replace(bare, reflects=0.0)
    return replace(ground, truth=replace(truth, ground=bare, leak_chainage_m=place_m)), place_m


def simulator_sites(n: int, seed: int, kinds: Mapping[str, float] = KINDS) -> dict[str, Site]:
    """Draw sites, each from its own seed, so that more of them leave the first as they were."""
    return {f"{i:04d}": SimulatorSite((seed, i), kinds) for i in range(n)}
