"""Sites of the closed loop on streets of the physics of waves, as the situations have them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely import line_locate_point
from shapely.geometry import Point

from tests.benchmarks.closed_loop_sites import KINDS, LINE, RATES, Site, draw_kind, draw_truth
from tests.situations.jobs import CRS, DAY_S, HOUR_S, Record
from tests.situations.physics import Slab, Source

if TYPE_CHECKING:
    from collections.abc import Mapping

    from tests.situations.listening import Street
    from tests.situations.physics import Waves

    Array = np.ndarray

NIGHT_DB = 8.0
PAIRS = 4
# Share of lines whose stops are placed by satellite until somebody tapes them.
BY_SATELLITE = 0.15
# Level over the usual background of each kind of source, where it is loudest on the line, dB.
OVER_DB = (7.0, 24.0)
_BESIDE_M = 2.5
# Columns of a layer without a reading.
_READING = ("reading_id", "line_id", "walk_id", "seq", "sound_level", "sound_unit")
_NIGHT_H = 21.0


@dataclass(frozen=True)
class Quieter:
    """A background that is some decibels lower."""

    waves: Waves
    by_db: float

    def at(self, places: Array) -> Array:
        """Values at places, shape (n,)."""
        return self.waves.at(places) - self.by_db


class StreetSite(Site):
    """A street with its crew; see `tests.situations.jobs.Record`."""

    def __init__(self, seed: tuple[int, ...], kinds: Mapping[str, float] = KINDS) -> None:
        rng = np.random.default_rng(seed)
        self.record = Record(rng)
        truth = draw_truth(rng, draw_kind(rng, kinds), self.record.line.length_m)
        self._sources(rng, truth.kind, truth.place_m)
        self._taped = bool(rng.random() >= BY_SATELLITE)
        self._walks = 0
        super().__init__(np.random.default_rng([*seed, 1]), truth, self.record.line.length_m)
        # The record is listened to with a generator of its own, so that the truth stays.
        self.record.rng = np.random.default_rng([*seed, 2])

    def _sources(self, rng: np.random.Generator, kind: str, at_m: float) -> None:
        job, over = self.record, float(rng.uniform(*OVER_DB))
        beside = kind == "neighbour" or rng.random() < RATES["beside_line"]
        other = job.add_line("S-2", job.line.length_m, (0.0, _BESIDE_M)) if beside else None
        if kind == "leak":
            job.leak(at_m, over, air_db=self._by_air(rng))
        elif kind in ("beyond_start", "beyond_end", "inside"):
            air = self._by_air(rng) if kind != "inside" else 0.0
            end = 0.0 if kind == "beyond_start" else job.line.length_m
            job.heard(job.hiss(at_m, 20.0, air_db=air), end, over)
        elif kind == "fitting":
            job.hiss(at_m, over)
        elif kind == "machine":
            job.machine(at_m, float(rng.choice([-1, 1]) * rng.uniform(1.0, 5.0)), over)
        elif kind == "neighbour" and other is not None:
            job.leak(at_m, over + 6.0, line=other)
        if other is not None:
            job.walk(np.arange(0.5, other.length_m, 1.5), line=other)

    @staticmethod
    def _by_air(rng: np.random.Generator) -> float:
        return float(rng.uniform(4.0, 9.0)) if rng.random() > 0.1 else 0.0

    def point(self, along_m: float) -> Point:
        """Give a place of the trace."""
        return Point(self.record._placed(self.record.line.at(along_m))[0])

    def chainage_m(self, point: Point) -> float:
        """Give the chainage of a place."""
        return float(line_locate_point(self.record._rows["routes"][0]["geometry"], point))

    def now(self) -> pd.Timestamp:
        """Give the time, and let some pass."""
        self.record.seconds += 120.0
        return self.record._time(self.record.seconds)

    def at_fitting(self, along_m: float) -> float:
        """Give the level on a fitting, dB."""
        job, energy = self.record, 1.0
        for source in job.street.sources:
            if isinstance(source, Source) and source.run is job.line.run:
                energy += source.at_fitting(job.pipe_m(along_m))
        return float(20 + 10 * np.log10(energy) + job.rng.normal(0, 1))

    def walk(self, stops_m: Array) -> Array:
        """Listen along the line: the first time in a walk of its own, then in another."""
        self._walks += 1
        name = f"{LINE}-w{min(self._walks, 2)}"
        return np.array([row["sound_level"] for row in self._walk(stops_m, name=name)])

    def _walk(self, stops_m: Array, across_m: Array | float = 0.0, air: Array | None = None,
              name: str = "") -> list[dict]:  # fmt: skip
        job = self.record
        before = {row["reading_id"] for row in job._rows["readings"]}
        return job.walk(np.clip(stops_m, 0.0, self.length_m), across_m, air,
                        walk_id=name or f"{LINE}-x{len(before)}")  # fmt: skip

    def sweep(self, at_m: float, across_m: Array) -> int:
        """Listen across the line."""
        return len(self._walk(np.full(across_m.size, at_m), across_m))

    def air(self, at_m: float, control_m: float) -> int:
        """Read with compressed air off and on in turn."""
        along = np.tile(np.repeat([at_m, control_m], 2), PAIRS)
        return len(self._walk(along, air=np.tile([False, True], along.size // 2)))

    def night(self, stops_m: Array) -> int:
        """Listen when the street is quiet, and without gusts."""
        job, street, crew = self.record, self.record.street, self.record.crew
        days = np.ceil((job.seconds + HOUR_S - _NIGHT_H * HOUR_S) / DAY_S)
        job.seconds = max(days, 0.0) * DAY_S + _NIGHT_H * HOUR_S
        quiet: Street = replace(street, background=Quieter(street.background, NIGHT_DB))
        count = len(self._with(quiet, replace(crew, gusts=0.0), stops_m))
        job.seconds += 5 * HOUR_S
        return count

    def probe(self, stops_m: Array) -> int:
        """Listen under the cover."""
        street, crew = self.record.street, self.record.crew
        coupling = replace(street.coupling, sd_db=0.5 * street.coupling.sd_db)
        bare = replace(street, slab=Slab(0.0), coupling=coupling, cover="soil")
        return len(self._with(bare, replace(crew, sensor="ground_spike"), stops_m))

    def _with(self, street, crew, stops_m: Array) -> list[dict]:
        job = self.record
        kept = job.street, job.crew
        job.street, job.crew = street, crew
        try:
            return self._walk(stops_m)
        finally:
            job.street, job.crew = kept

    def tape(self) -> int:
        """Tape the stops."""
        self._taped = True
        return 0

    def world_layers(self) -> dict[str, pd.DataFrame]:
        """Give the routes and the readings."""
        layers = dict(self.record.case().layers)
        if "readings" not in layers:
            nobody: dict[str, list] = {name: [] for name in (*_READING, "geometry")}
            layers["readings"] = gpd.GeoDataFrame(nobody, geometry="geometry", crs=CRS)
        elif not self._taped:
            own = layers["readings"]["offset_m"].isna()
            layers["readings"] = layers["readings"].assign(
                chainage_m=layers["readings"]["chainage_m"].where(~own)
            )
        return layers


def street_sites(n: int, seed: int, kinds: Mapping[str, float] = KINDS) -> dict[str, Site]:
    """Draw sites, each from its own seed, so that more of them leave the first as they were."""
    return {f"{i:04d}": StreetSite((seed, i), kinds) for i in range(n)}
