"""A street of the simulated town with a line for each kind of evidence besides levels.

Sources and records of the lines are given, as `leakgeo.simulate.stories`; only the noise is drawn.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from leakgeo.simulate.noise import coupling_correlation
from leakgeo.simulate.spread import along_pipe, through_soil
from leakgeo.simulate.stories import COURT, DEPTH_M, LENGTH_M, PRESSURE_KPA, STORIES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pyproj import CRS

    from leakgeo.simulate.spread import Floats
    from leakgeo.simulate.stories import Meter, Source, Story

# All figures of sound, ground and crew are assumed.
GAIN_DB, FLOOR_DB = 20.0, 24.0
_SOIL_DB_M, _RADIATES_DB, _STEP_M = 2.0, -14.0, 0.05
_PIPE_DB_M = MappingProxyType({"copper": 0.5, "pe": 2.0})
_COUPLING_DB, _COUPLING_M, _READING_DB = 1.0, 0.8, 0.6
_TAPE_M, _FIX_M = 0.04, 0.1
_ACROSS_M = np.arange(-3.0, 3.1, 1.0)
_AIR_PAIRS = 4
FIRST_WALK = pd.Timestamp("2025-05-07 08:00", tz="UTC")
_LITRES = 3.785411784  # of a US gallon


def evidence_layers(seed: int, plane: CRS) -> dict[str, pd.DataFrame]:
    """Return the street as layers of the data contract; ``truth`` is not part of a job.

    Parameters
    ----------
    seed : int
        The same seed gives the same noise.
    plane : pyproj.CRS
        CRS in metres of the town's plan.
    """
    made: dict[str, list[dict[str, Any]]] = {}
    readings = []
    for i, story in enumerate(STORIES):
        begin = FIRST_WALK + pd.Timedelta(hours=2 * i)
        readings.append(_readings(np.random.default_rng([seed, i]), story, begin))
        for name, row in _records(story, begin):
            made.setdefault(name, []).append(row)
    layers = {name: _frame(rows, plane) for name, rows in made.items()}
    table = pd.concat(readings, ignore_index=True)
    return {**layers, "readings": gpd.GeoDataFrame(table, geometry="geometry", crs=plane)}


def _frame(rows: list[dict[str, Any]], plane: CRS) -> pd.DataFrame:
    if "geometry" in rows[0]:
        return gpd.GeoDataFrame(rows, geometry="geometry", crs=plane)
    return pd.DataFrame(rows)


def _readings(rng: np.random.Generator, story: Story, begin: pd.Timestamp) -> pd.DataFrame:
    """Return the readings of a line: walks, sweeps across, and places with air off and on."""
    stops = pd.concat(list(_stops(story)), ignore_index=True)
    along, across = stops["along_m"].to_numpy(), stops["across_m"].to_numpy()
    true = along + _TAPE_M * rng.standard_normal(len(stops))
    power = sum((_heard(s, story, true, across, stops["walk"].to_numpy()) for s in story.sources),
                np.ones(len(stops)))  # fmt: skip
    noise = _coupling(rng, true, across) + _READING_DB * rng.standard_normal(len(stops))
    level = FLOOR_DB + 10 * np.log10(power) + noise
    xy = story.at(true, across) + _FIX_M * rng.standard_normal((len(stops), 2))
    seconds = 20.0 * np.arange(len(stops)) + 1800.0 * (stops["walk"] > 0)
    line = story.line_id
    return pd.DataFrame({
        "reading_id": [f"{line}/{i + 1:03d}" for i in range(len(stops))],
        "line_id": line,
        "walk_id": line + "/" + stops["name"],
        "seq": stops.groupby("name").cumcount() + 1,
        "sound_level": np.rint(level),
        "sound_unit": "db",
        "gain_db": GAIN_DB,
        "sensor": "ground_plate",
        "surface": "grass",
        "chainage_m": np.round(along, 2),
        "chainage_sd_m": _TAPE_M,
        "offset_m": np.where(stops["name"] == "across", across, np.nan),
        "position_sd_m": _FIX_M,
        "air": stops["air"],
        "air_kpa": np.where(stops["air"] == "on", PRESSURE_KPA + 50.0, np.nan),
        "set_aside": False,
        "time": begin + pd.to_timedelta(seconds, unit="s"),
        "geometry": shapely.points(xy),
    })  # fmt: skip


def _stops(story: Story) -> Iterator[pd.DataFrame]:
    """Yield the stops of each walk: along, across, walk, its name, and air."""
    coarse = np.arange(0.2, LENGTH_M, 1.5)
    for walk in range(story.walks):
        again = str(walk + 1) if walk else ""
        yield _walk(coarse, 0.0, walk, f"coarse{again}")
        for at in story.fine_m:
            fine: Floats = at + 0.3 * np.arange(-5.0, 6.0)
            yield _walk(fine[(fine > 0) & (fine < LENGTH_M)], 0.0, walk, f"fine{again}")
    for at in story.sweeps_m:
        yield _walk(np.full(_ACROSS_M.size, at), _ACROSS_M, 0, "across")
    for i, at in enumerate(story.air_m, 1):
        air = np.tile(["off", "on"], _AIR_PAIRS)
        yield _walk(np.full(air.size, at), 0.0, 0, f"air{i}").assign(air=air)


def _walk(along_m: Floats, across_m: Floats | float, walk: int, name: str) -> pd.DataFrame:
    return pd.DataFrame({"along_m": along_m, "across_m": across_m, "walk": walk, "name": name,
                         "air": None})  # fmt: skip


def _heard(
    source: Source, story: Story, along_m: Floats, across_m: Floats, walk: np.ndarray
) -> Floats:
    """Return the power of a source at each stop, over the ambient floor."""
    power = _power(source, story, along_m - source.at_m, across_m)
    nearest = np.clip(source.at_m, 0.0, LENGTH_M) - source.at_m
    loudest = _power(source, story, np.array([nearest]), np.zeros(1))[0]
    sounds = np.isin(walk, source.walks) | (not source.walks)
    return np.asarray(10 ** (source.over_db / 10) * power / loudest * sounds)


def _power(source: Source, story: Story, near_m: Floats, across_m: Floats) -> Floats:
    """Return the power at places near a source: through the soil, and radiated by its pipe."""
    power = np.empty(len(near_m))
    table: Floats = _STEP_M * np.arange(-800.0, 801.0)
    for across in np.unique(across_m):
        at = across_m == across
        soil = through_soil(table, float(np.hypot(DEPTH_M, across - source.aside_m)),
                            np.array([_SOIL_DB_M]))  # fmt: skip
        if source.piped:
            pipe = along_pipe(_STEP_M, soil, np.array([_PIPE_DB_M[story.material]]))
            soil = soil + 10 ** (_RADIATES_DB / 10) * pipe
        power[at] = np.interp(near_m[at], table, soil[0])
    return power


def _coupling(rng: np.random.Generator, along_m: Floats, across_m: Floats) -> Floats:
    """Draw the coupling of the ground, similar at stops close together."""
    apart = np.hypot(along_m[:, None] - along_m, across_m[:, None] - across_m)
    correlation = coupling_correlation(apart, _COUPLING_M) + 1e-6 * np.eye(along_m.size)
    root = np.linalg.cholesky(correlation)
    return np.asarray(_COUPLING_DB * root @ rng.standard_normal(along_m.size))


def _records(story: Story, begin: pd.Timestamp) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield layer and row of everything that is known of a line besides its readings."""
    yield "routes", _route(story)
    yield "truth", _truth(story)
    for name, kind, at in _fittings(story):
        yield "contacts", _contact(story, name, kind, at, begin)
    for test in story.meters:
        yield "meter_tests", _meter_test(story, test, begin)
    if story.isolated_kpa:
        yield from _isolation(story, begin)
    for at, found, hours in story.hole:
        yield "dig_outcomes", _hole(story, at, found, begin + pd.Timedelta(hours=hours))
    if np.isfinite(story.neighbour_m):
        yield "utilities", _neighbour(story, begin)


def _route(story: Story) -> dict[str, Any]:
    return {
        "line_id": story.line_id,
        "material": story.material,
        "diameter_mm": 25.0,
        "depth_m": DEPTH_M,
        "pressure_kpa": PRESSURE_KPA,
        "position_sd_m": 0.1,
        "installed_year": 1960 + story.number % 50,
        "address": f"{story.number} {COURT.name}",
        "geometry": shapely.LineString(story.at(np.array([0.0, LENGTH_M]), np.zeros(1))),
    }


def _truth(story: Story) -> dict[str, Any]:
    leaks = bool(np.isfinite(story.leak_m))
    others = [s.at_m for s in story.sources if s.at_m != story.leak_m]
    aside = sum(s.aside_m for s in story.sources if s.at_m == story.leak_m)
    return {
        "line_id": story.line_id,
        "leaks": leaks,
        "chainage_m": story.leak_m,
        "material": story.material,
        "depth_m": DEPTH_M,
        "other_source_chainage_m": others[0] if others else np.nan,
        "geometry": _point(story, story.leak_m, aside) if leaks else None,
    }


def _point(story: Story, along_m: float, across_m: float = 0.0) -> shapely.Point:
    return shapely.Point(story.at(np.array([along_m]), np.array([across_m]))[0])


def _fittings(story: Story) -> list[tuple[str, str, float]]:
    valve = [("stop_valve", "stop_valve", story.stop_valve_m)]
    return [("meter", "meter", 0.0), *(valve if np.isfinite(story.stop_valve_m) else []),
            ("hose_bib", "hose_bib", LENGTH_M)]  # fmt: skip


def _contact(
    story: Story, name: str, kind: str, at_m: float, begin: pd.Timestamp
) -> dict[str, Any]:
    """Return a fitting as heard in the first survey, which its pipe alone brings sound to."""
    decay = _PIPE_DB_M[story.material]
    own = [s.over_db + 12.0 - decay * abs(s.at_m - at_m) for s in story.sources
           if s.piped and not s.aside_m]  # fmt: skip
    return {
        "contact_id": f"{story.line_id}/{name}",
        "line_id": story.line_id,
        "kind": kind,
        "sound_level": float(np.rint(FLOOR_DB + max([0.0, *own]))),
        "sound_unit": "db",
        "gain_db": GAIN_DB,
        "time": begin - pd.Timedelta(hours=1),
        "geometry": _point(story, at_m),
    }


def _meter_test(story: Story, test: Meter, begin: pd.Timestamp) -> dict[str, Any]:
    first = 50_000.0 + 117.3 * story.number
    start = begin + pd.Timedelta(hours=test.start_h)
    return {
        "line_id": story.line_id,
        "start_reading": round(first, 1),
        "end_reading": round(first + test.loss_l_h * test.hours / _LITRES, 1),
        "volume_unit": "gal",
        "start_time": start,
        "end_time": start + pd.Timedelta(hours=test.hours),
        "water_used": False,
        "house_valve": test.house_valve,
        "resolution": 0.1,
    }


def _isolation(story: Story, begin: pd.Timestamp) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield the valves at both ends, and the test in which they were shut for twenty minutes."""
    test, start = f"{story.line_id}/pressure", begin - pd.Timedelta(hours=3)
    before, after = story.isolated_kpa
    for kind, at in (("curb_stop", 0.3), ("house", LENGTH_M - 0.3)):
        valve = f"{story.line_id}/{kind}"
        yield "valves", {"valve_id": valve, "line_id": story.line_id, "kind": kind,
                         "normally_closed": False, "leaks_by": False,
                         "geometry": _point(story, at)}  # fmt: skip
        yield "closed_valves", {"test_id": test, "valve_id": valve}
    yield "isolation_tests", {
        "test_id": test, "measured_at": f"{story.line_id}/house", "measure": "pressure",
        "before": before, "after": after, "unit": "kpa", "start_time": start,
        "end_time": start + pd.Timedelta(minutes=20), "settled": True,
    }  # fmt: skip


def _hole(story: Story, at_m: float, found: str, time: pd.Timestamp) -> dict[str, Any]:
    return {
        "line_id": story.line_id,
        "found": found,
        "exposed_from_m": at_m - 0.5,
        "exposed_to_m": at_m + 0.5,
        "repaired": found == "leak",
        "time": time,
        "geometry": _point(story, at_m),
    }


def _neighbour(story: Story, begin: pd.Timestamp) -> dict[str, Any]:
    ends = story.at(np.array([-2.0, LENGTH_M + 2.0]), np.full(1, story.neighbour_m))
    return {
        "utility_id": "U-21",
        "kind": "potable_water",
        "owner": "Lakebed Landing Water (invented)",
        "width_m": 0.03,
        "depth_m": DEPTH_M,
        "geometry": shapely.LineString(ends),
        "quality_level": "B",
        "position_sd_m": 0.25,
        "notified": True,
        "private": "no",
        "response": "marked",
        "response_time": begin,
    }
