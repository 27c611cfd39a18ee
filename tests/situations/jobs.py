"""The records of a job, filled as a crew works: walks, fittings, meter tests, holes, air."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import LineString, Point, Polygon

from tests.situations.listening import (
    draw_crew,
    draw_source,
    draw_street,
    listen,
    run_of,
    shown,
)
from tests.situations.physics import Machine, Run, Source

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    Array = np.ndarray

FOOT_M = 0.3048
HOUR_S = 3600.0
DAY_S = 24 * HOUR_S
# Where the grid of UTM zone 32 has nearly the scale of the ground; the street is invented.
CRS = "EPSG:25832"
CORNER_M = np.array([678_400.0, 5_321_300.0])
START = pd.Timestamp("2031-06-03 05:00", tz="UTC")
# The pipe goes on before and beyond the traced line.
BEFORE_M, BEYOND_M = 9.0, 9.0
_NO_GEOMETRY = ("meter_tests", "isolation_tests", "closed_valves")


@dataclass(frozen=True)
class Line:
    """A traced line, and the pipe that it stands for.

    Parameters
    ----------
    name : str
    length_m : float
        Length of the trace, m.
    start, ahead : ndarray, shape (2,)
        Where the trace begins in the plan, and its direction.
    run : Run
        The pipe, which may lie elsewhere, and goes on before and beyond the trace.
    """

    name: str
    length_m: float
    start: Array
    ahead: Array
    run: Run

    def at(self, along_m: Array | float, across_m: Array | float = 0.0) -> Array:
        """Give places in the plan, across positive to the left, shape (n, 2)."""
        along, across = np.broadcast_arrays(np.atleast_1d(along_m), np.atleast_1d(across_m))
        left = np.array([-self.ahead[1], self.ahead[0]])
        return self.start + along[:, None] * self.ahead + across[:, None] * left


@dataclass(frozen=True)
class Case:
    """A job of one situation, and what is true there.

    Parameters
    ----------
    layers : dict of str to DataFrame
        As the schemas describe them.
    leaks : dict of str to ndarray, shape (n, 2)
        Places of the leaks of each line, in the CRS of the routes, m.
    decoys : dict of str to ndarray, shape (n, 2)
        Places where a mark would be a known mistake.
    end_m : float
        Chainage of the end of line S-1 that a leak or an outlet is beyond; nan where it is not.
    over_db : callable
        As `Record.over_db`.
    """

    layers: dict[str, pd.DataFrame]
    leaks: dict[str, Array]
    decoys: dict[str, Array]
    end_m: float
    over_db: Callable[..., Array]


class Record:
    """A street with a traced line S-1, and the records that a crew makes there.

    Parameters
    ----------
    rng : numpy.random.Generator
    length_m : tuple of float
        From and to.
    material : str
        One of the schema, `metal`, `plastic`, or empty for any.
    cover : str
        One of grass, asphalt and concrete, or empty for any.
    good : bool
        Good ground, a careful crew and a still day.
    sensor : str
    """

    def __init__(
        self,
        rng: np.random.Generator,
        length_m: tuple[float, float] = (18, 32),
        material: str = "",
        cover: str = "",
        good: bool = False,
        sensor: str = "ground_plate",
    ) -> None:
        self.rng = rng
        self.street = draw_street(rng, material, cover, good)
        self.crew = draw_crew(rng, good, sensor)
        self.depth_m = float(rng.uniform(0.5, 0.9) if good else rng.uniform(0.5, 1.2))
        self.seconds = 2 * HOUR_S
        self._turn = rng.uniform(0, 2 * np.pi)
        self._rows: dict[str, list[dict[str, Any]]] = defaultdict(list)
        self._leaks: dict[str, list[Array]] = defaultdict(list)
        self._decoys: dict[str, list[Array]] = defaultdict(list)
        self._end_m = np.nan
        length = float(np.round(rng.uniform(*length_m), 2))
        self.line = self.add_line("S-1", length, (0.0, 0.0))

    def add_line(
        self,
        name: str,
        length_m: float,
        start: tuple[float, float],
        turn: float = 0.0,
    ) -> Line:
        """Trace a line over its pipe.

        Parameters
        ----------
        name : str
        length_m : float
        start : tuple of float
            Place of its first vertex in the plan, m.
        turn : float
            Direction in the plan, rad.
        """
        ahead = np.array([np.cos(turn), np.sin(turn)])
        first = np.array(start) - BEFORE_M * ahead
        last = first + (BEFORE_M + length_m + BEYOND_M) * ahead
        run = run_of(self.rng, self.street, first, last, self.depth_m)
        line = Line(name, length_m, np.array(start), ahead, run)
        service = self.street.service
        told = max(0.2, round((self.depth_m + self.rng.normal(0, 0.08)) * 20) / 20)
        self._rows["routes"].append(
            {
                "line_id": name,
                "material": service.material,
                "diameter_mm": service.diameter_mm,
                "depth_m": told,
                "pressure_kpa": 10.0 * self.rng.integers(30, 55),
                "position_sd_m": 0.1,
                "installed_year": int(self.rng.integers(1958, 2019)),
                "address": f"{3 + 2 * len(self._rows['routes'])} Quillback Lane, Harrowmere",
                "geometry": LineString(self._placed(line.at(np.array([0, 0.45, 1]) * length_m))),
            }
        )
        return line

    def move_pipe(self, beside_m: float) -> Line:
        """Give S-1 with its pipe some metres to the left of the trace."""
        run, left = self.line.run, np.array([-self.line.ahead[1], self.line.ahead[0]])
        run = replace(run, start=run.start + beside_m * left, end=run.end + beside_m * left)
        return replace(self.line, run=run)

    # What is true

    def pipe_m(self, along_m: float) -> float:
        """Give the chainage on the pipe of a chainage on the trace."""
        return along_m + BEFORE_M

    def leak(
        self,
        at_m: float,
        over_db: float,
        line: Line | None = None,
        direct_db: tuple[float, float] | None = None,
        **changes: Any,
    ) -> Source:
        """Put a leak on a line, or beyond its ends, and keep its place."""
        line = line or self.line
        source = self.hiss(at_m, over_db, line, direct_db, **changes)
        if 0 <= at_m <= line.length_m:
            self._leaks[line.name].append(self._placed(source.run.at(source.at_m))[0])
        return source

    def hiss(
        self,
        at_m: float,
        over_db: float,
        line: Line | None = None,
        direct_db: tuple[float, float] | None = None,
        **changes: Any,
    ) -> Source:
        """Put a source on a line that is no leak: a valve, an outlet."""
        run = (line or self.line).run
        at = self.pipe_m(at_m)
        source = draw_source(self.rng, self.street, run, at, over_db, direct_db)
        source = replace(source, **changes)
        self.street.sources.append(source)
        return source

    def on_other_pipe(
        self, first: Array, last: Array, at_m: float, over_db: float, depth_m: float | None = None
    ) -> Source:
        """Put a source on a pipe that no line of the job stands for."""
        depth = self.depth_m if depth_m is None else depth_m
        run = run_of(self.rng, self.street, first, last, depth)
        source = draw_source(self.rng, self.street, run, at_m, over_db)
        self.street.sources.append(source)
        return source

    def machine(
        self,
        along_m: float,
        across_m: float,
        over_db: float,
        fall_db_m: tuple[float, float] = (0.3, 1.0),
        sounds: Callable[[Array], Array] | None = None,
    ) -> None:
        """Put a machine beside the line, as loud as wanted on the line abreast of it."""
        near, fall = 0.5, self.rng.uniform(*fall_db_m)
        away = max(abs(across_m) - near, 0)
        strength = 10 ** ((over_db + fall * away) / 10) * max(abs(across_m), near) / near
        place = self.line.at(along_m, across_m)[0]
        self.street.sources.append(Machine(place, near, strength, fall, sounds))

    def heard(self, source: Source, along_m: float, over_db: float) -> None:
        """Make a source as loud as wanted over S-1 at a chainage, and not over itself."""
        energy = self.street.slab.averaged(source.energy, self.line.at(along_m))[0]
        by = 10 ** (over_db / 10) / energy
        sources = self.street.sources
        louder = replace(source, in_pipe=source.in_pipe * by, direct=source.direct * by)
        sources[sources.index(source)] = louder

    def over_db(
        self,
        along_m: Array | float,
        across_m: Array | float = 0.0,
        seconds: float = 0.0,
        air: bool = False,
    ) -> Array:
        """Give the level of all sources over the usual background on S-1, without noise, dB."""
        places = self.line.at(along_m, across_m)
        moments = np.full(len(places), seconds)
        energy = self.street.sound(places, moments, np.full(len(places), air))
        return 10 * np.log10(np.maximum(energy, 1e-9))

    def decoy(self, *along_m: float, line: Line | None = None) -> None:
        """Keep places where a mark would be a known mistake."""
        line = line or self.line
        self._decoys[line.name] += list(self._placed(line.at(np.array(along_m))))

    def beyond(self, end_m: float) -> None:
        """Keep which end of the line the source is beyond."""
        self._end_m = end_m

    # What the crew records

    def survey(
        self,
        fine_at: Sequence[float] = (),
        walks: int = 1,
        from_m: float = 0.0,
        to_m: float | None = None,
        line: Line | None = None,
    ) -> None:
        """Walk a line in steps of 1.5 m, then in steps of a foot about the loudest stop.

        Parameters
        ----------
        fine_at : sequence of float
            Chainages to walk in steps of a foot instead.
        walks : int
            How many times over, half an hour apart.
        from_m, to_m : float
            Stretch that is walked.
        line : Line, optional
            S-1 if none is given.
        """
        line = line or self.line
        to_m = line.length_m if to_m is None else to_m
        for _ in range(walks):
            stops = np.arange(from_m + self.rng.uniform(0, 0.4), to_m, self.rng.uniform(1.4, 1.6))
            rows = self.walk(np.append(stops, to_m), line=line)
            about = fine_at or (self._loudest(rows),)
            for place in about:
                self._fine(place, from_m, to_m, line)
            self.seconds += HOUR_S / 2

    def _fine(self, about_m: float, from_m: float, to_m: float, line: Line) -> None:
        stops = about_m + FOOT_M * np.arange(-7, 8)
        rows = self.walk(stops[(stops >= from_m) & (stops <= to_m)], line=line)
        at = self._loudest(rows)
        if abs(at - about_m) > 5.5 * FOOT_M:
            # The level still rises where the walk ends, so the crew goes on.
            stops = at + FOOT_M * np.arange(1, 8) * np.sign(at - about_m)
            stops = stops[(stops >= from_m) & (stops <= to_m)]
            if stops.size:
                self.walk(stops, line=line, walk_id=rows[0]["walk_id"])

    @staticmethod
    def _loudest(rows: list[dict[str, Any]]) -> float:
        return float(max(rows, key=lambda row: row["sound_level"])["chainage_m"])

    def walk(
        self,
        along_m: Array,
        across_m: Array | float = 0.0,
        air: Array | None = None,
        line: Line | None = None,
        walk_id: str = "",
    ) -> list[dict[str, Any]]:
        """Read at stops in one go, and record them.

        Parameters
        ----------
        along_m, across_m : ndarray
            Stops as taped from the trace's start, and across to the left, m.
        air : ndarray of bool, optional
            Whether compressed air was on; not recorded if none is given.
        line : Line, optional
            S-1 if none is given.
        walk_id : str
            Walk that goes on; a new one if none is given.
        """
        line, rng, crew = line or self.line, self.rng, self.crew
        taped = np.round(np.atleast_1d(along_m), 2)
        across = np.broadcast_to(np.round(across_m, 2), taped.shape)
        beside = crew.tape_m * (rng.normal() + rng.normal(size=taped.size)) / np.sqrt(2)
        places = line.at(taped + beside, across + rng.normal(0, 0.05, taped.size))
        seconds = self.seconds + np.cumsum(rng.integers(20, 45, taped.size))
        with_air = np.zeros(taped.size, bool) if air is None else air
        energy = listen(rng, self.street, crew, places, seconds, with_air)
        before = [row for row in self._rows["readings"] if row["walk_id"] == walk_id]
        walk_id = walk_id or f"{line.name}-{1 + len(self._walks())}"
        gain = before[0]["gain_db"] if before else 5.0 * rng.integers(-1, 3)
        level, gain, unit = shown(rng, crew, energy, gain)
        fixes = places + crew.fix_m * (rng.normal(size=2) + rng.normal(size=places.shape)) / 1.414
        rows = [
            {
                "reading_id": f"{walk_id}-{len(before) + i + 1:02d}",
                "line_id": line.name,
                "walk_id": walk_id,
                "seq": len(before) + i + 1,
                "sound_level": level[i],
                "sound_unit": unit,
                "gain_db": gain,
                "sensor": crew.sensor,
                "surface": self.street.cover,
                "chainage_m": taped[i],
                "chainage_sd_m": 0.05,
                "offset_m": across[i] if np.any(across) else np.nan,
                "position_sd_m": round(crew.fix_m, 2),
                "air": None if air is None else ("on" if air[i] else "off"),
                "air_kpa": self._pressure(line) + 30 if air is not None and air[i] else np.nan,
                "time": self._time(seconds[i]),
                "geometry": Point(place),
            }
            for i, place in enumerate(self._placed(fixes))
        ]
        self._rows["readings"] += rows
        self.seconds = float(seconds[-1]) + 180
        return rows

    def _walks(self) -> set[str]:
        return {row["walk_id"] for row in self._rows["readings"]}

    def _pressure(self, line: Line) -> float:
        return next(
            row["pressure_kpa"] for row in self._rows["routes"] if row["line_id"] == line.name
        )

    def sweep(self, along_m: Sequence[float], across_m: Array) -> None:
        """Read across the line at some chainages, in one walk."""
        along = np.repeat(np.asarray(along_m, float), across_m.size)
        self.walk(along, np.tile(across_m, len(along_m)))

    def air_pairs(self, *along_m: float, pairs: int = 5) -> None:
        """Read at some places with compressed air off and on in turn."""
        along = np.tile(np.repeat(along_m, 2), pairs)
        self.walk(along, air=np.tile([False, True], along.size // 2))

    def contact(
        self,
        name: str,
        kind: str,
        at_m: float,
        own_over_db: float | None = None,
        side: str | None = None,
        line: Line | None = None,
    ) -> None:
        """Listen at a fitting: what its pipe brings, and what it makes itself."""
        line = line or self.line
        energy = 1.0 if own_over_db is None else 10 ** (own_over_db / 10)
        for source in self.street.sources:
            if isinstance(source, Source) and source.run is line.run:
                energy += source.at_fitting(self.pipe_m(at_m))
        level = 20 + 10 * np.log10(energy) + self.rng.normal(0, 1)
        self._rows["contacts"].append(
            {
                "contact_id": name,
                "line_id": line.name,
                "kind": kind,
                "side": side,
                "sound_level": round(level),
                "sound_unit": "db",
                "gain_db": 0.0,
                "time": self._time(HOUR_S + 120 * len(self._rows["contacts"])),
                "geometry": Point(self._placed(line.at(at_m))[0]),
            }
        )

    def valve(self, name: str, kind: str, at_m: float, leaks_by: bool | None = None) -> None:
        """Record a valve."""
        self._rows["valves"].append(
            {
                "valve_id": name,
                "line_id": self.line.name,
                "kind": kind,
                "normally_closed": False,
                "leaks_by": leaks_by,
                "geometry": Point(self._placed(self.line.at(at_m))[0]),
            }
        )

    def meter(
        self,
        loss_l_h: float,
        hours: float = 3.0,
        start_h: float = -12.0,
        water_used: bool | None = False,
        house_valve: str | None = None,
        resolution_l: float = 0.1,
    ) -> None:
        """Read the meter before and after some hours; `start_h` counts from the first survey."""
        first = self.rng.uniform(200_000, 900_000)
        read = np.floor(np.array([first, first + loss_l_h * hours]) / resolution_l) * resolution_l
        self._rows["meter_tests"].append(
            {
                "line_id": self.line.name,
                "start_reading": round(read[0], 3),
                "end_reading": round(read[1], 3),
                "volume_unit": "l",
                "start_time": self._time(start_h * HOUR_S),
                "end_time": self._time((start_h + hours) * HOUR_S),
                "water_used": water_used,
                "house_valve": house_valve,
                "resolution": resolution_l,
            }
        )

    def isolated(self, at: str, valves: Sequence[str], before_kpa: float, after_kpa: float) -> None:
        """Record the pressure before and after valves were shut, twenty minutes apart."""
        name = f"T{1 + len(self._rows['isolation_tests'])}"
        self._rows["isolation_tests"].append(
            {
                "test_id": name,
                "measured_at": at,
                "measure": "pressure",
                "before": before_kpa,
                "after": after_kpa,
                "unit": "kpa",
                "start_time": self._time(-2 * HOUR_S),
                "end_time": self._time(-2 * HOUR_S + 1200),
                "settled": True,
            }
        )
        self._rows["closed_valves"] += [{"test_id": name, "valve_id": valve} for valve in valves]

    def dig(
        self,
        at_m: float,
        found: str,
        days: float,
        wide_m: float = 0.8,
        repaired: bool | None = None,
        note: str | None = None,
    ) -> None:
        """Record a hole some days from the first survey."""
        reached = found != "pipe_not_reached"
        self._rows["dig_outcomes"].append(
            {
                "line_id": self.line.name,
                "found": found,
                "exposed_from_m": round(at_m - wide_m / 2, 2) if reached else np.nan,
                "exposed_to_m": round(at_m + wide_m / 2, 2) if reached else np.nan,
                "repaired": repaired,
                "time": self._time(days * DAY_S),
                "note": note,
                "geometry": Point(self._placed(self.line.at(at_m))[0]),
            }
        )

    def past(self, kind: str, at_m: float, years: float) -> None:
        """Record a leak, a repair or an excavation of years ago."""
        self._rows["history"].append(
            {
                "line_id": self.line.name,
                "kind": kind,
                "date": (START - pd.Timedelta(days=365 * years)).date(),
                "geometry": Point(self._placed(self.line.at(at_m))[0]),
            }
        )

    def utility(self, name: str, kind: str, corners: Array, depth_m: float) -> None:
        """Map another facility, by its places in the plan."""
        placed = self._placed(np.asarray(corners, float))
        self._rows["utilities"].append(
            {
                "utility_id": name,
                "kind": kind,
                "owner": "Harrowmere (invented)",
                "depth_m": depth_m,
                "quality_level": "B",
                "geometry": Point(placed[0]) if len(placed) == 1 else LineString(placed),
            }
        )

    def surface(self, from_m: float, to_m: float, cover: str) -> None:
        """Map a cover over a stretch of the street."""
        corners = [(from_m, -6.0), (to_m, -6.0), (to_m, 6.0), (from_m, 6.0)]
        area = Polygon(self._placed(np.array(corners)))
        self._rows["surfaces"].append({"surface": cover, "geometry": area})

    def case(self) -> Case:
        """Give the job as recorded so far."""
        layers = {name: self._layer(name, rows) for name, rows in self._rows.items()}
        layers["routes"]["installed_year"] = layers["routes"]["installed_year"].astype("Int64")
        leaks = {name: np.array(places) for name, places in self._leaks.items()}
        decoys = {name: np.array(places) for name, places in self._decoys.items()}
        return Case(layers, leaks, decoys, self._end_m, self.over_db)

    def _layer(self, name: str, rows: list[dict[str, Any]]) -> pd.DataFrame:
        if name in _NO_GEOMETRY:
            return pd.DataFrame(rows)
        return gpd.GeoDataFrame(rows, geometry="geometry", crs=CRS)

    def _placed(self, plan: Array) -> Array:
        cos, sin = np.cos(self._turn), np.sin(self._turn)
        return CORNER_M + plan @ np.array([[cos, sin], [-sin, cos]])

    def _time(self, seconds: float) -> pd.Timestamp:
        return (START + pd.Timedelta(seconds=float(seconds))).round("s")
