"""A world of listening surveys over buried water services, made from the physics of waves.

It exists to judge the locator, and is never used to tune it: nothing in the package may be fitted
to it, and nothing in it is taken from the package's own simulator or model of sound. It is fixed
by what is known of the physics, not by how well anything does on it.

Each line is a service of copper, galvanised steel, cast iron, polyethylene or PVC, 15 to 40 m
long and 0.4 to 1.5 m deep. Seven in ten leak. From 200 to 2000 Hz, at three frequencies in every
third-octave:

- The leak sends a wave into the water of the pipe. Its speed and decay follow from wall, soil,
  friction and fittings (`wave_pipe`), and both ends of the pipe send it back.
- The pipe is a line source with phase. Each wavenumber along it makes P and S waves in the soil.
- The leak itself is a point source, a pulsating volume with forces up and along the line, with P
  and S waves and near field (`wave_soil`). What of it interferes with the sound of the pipe, and
  how much it is louder, is drawn. Forces bend the hump to one side, or into two.
- Soil is lossy, with speeds drawn for the line. Over it lie grass on a soft top, asphalt on base,
  or concrete; slabs bend and spread the sound, and the sensor resonates on each (`wave_surface`).
- Background has its own spectrum, rises toward the street, steps where the cover changes, and
  has a machine beside some lines (`wave_sound`).
- A crew walks the line in steps of 1.5 m, and around the loudest in steps of a foot, with errors
  of tape, position, coupling, contact and rounding (`wave_crew`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import LineString

from tests.worlds.wave_crew import draw_crew, survey
from tests.worlds.wave_ground import draw_service
from tests.worlds.wave_sound import draw_sound
from tests.worlds.world import World

if TYPE_CHECKING:
    from tests.worlds.wave_ground import Service

# Where the grid of UTM zone 32 has nearly the scale of the ground.
CRS = "EPSG:25832"
CORNER_M = np.array([678_000.0, 5_320_000.0])
APART_M = 90.0
ACROSS = 40


def draw(lines: int, seed: int) -> World:
    """Draw surveys of some lines.

    Parameters
    ----------
    lines : int
        Number of lines.
    seed : int
        Seed; more lines with the same seed leave the first as they were.

    Returns
    -------
    World
        In UTM zone 32.
    """
    parts = [_line(np.random.default_rng([seed, i]), i) for i in range(lines)]
    routes, readings, truth = zip(*parts, strict=True)
    layers = {
        "routes": gpd.GeoDataFrame(list(routes), geometry="geometry", crs=CRS),
        "readings": _points(pd.concat(readings, ignore_index=True)),
    }
    layers["routes"]["installed_year"] = layers["routes"]["installed_year"].astype("Int64")
    return World(layers, pd.DataFrame(list(truth)).set_index("line_id"))


def _line(rng: np.random.Generator, i: int) -> tuple[dict[str, Any], pd.DataFrame, dict[str, Any]]:
    name = f"W{i + 1:04d}"
    service = draw_service(rng)
    sound = draw_sound(rng, service)
    crew = draw_crew(rng, sound, 25 * i)
    route = _route(rng, service.length_m, i)
    readings = _placed(survey(rng, service, sound, crew), route).assign(line_id=name)
    readings["walk_id"] = name + readings["walk"]
    readings["reading_id"] = readings["walk_id"] + readings["seq"].map("-{:02d}".format)
    readings["band"] = None if sound.band == "wide" else sound.band
    truth = {
        "line_id": name,
        "leak_chainage_m": sound.leak_chainage_m,
        "over_floor_db": sound.over_floor_db,
        "other": sound.other,
    }
    return _known(rng, service) | {"line_id": name, "geometry": route}, readings, truth


def _known(rng: np.random.Generator, service: Service) -> dict[str, Any]:
    # what a crew knows of a service, some of it not at all and depth not exactly
    depth = max(0.2, round((service.depth_m + rng.normal(0, 0.1)) * 20) / 20)
    sure = rng.random(5)
    return {
        "material": service.material if sure[0] < 0.95 else "unknown",
        "diameter_mm": service.diameter_mm if sure[1] < 0.9 else np.nan,
        "wall_mm": service.pipe.wall_m * 1000 if sure[2] < 0.4 else np.nan,
        "depth_m": depth if sure[3] < 0.85 else np.nan,
        "pressure_kpa": 10.0 * rng.integers(28, 65) if sure[4] < 0.7 else np.nan,
        "installed_year": int(rng.integers(1955, 2022)),
        "position_sd_m": 0.1,
    }


def _route(rng: np.random.Generator, length_m: float, i: int) -> LineString:
    # a straight service, or one with a slight bend
    turn = rng.uniform(0, 2 * np.pi) + np.array([0.0, rng.normal(0, 0.1) if i % 3 == 0 else 0.0])
    leg = length_m * np.array([0.5, 0.5])
    ahead = np.column_stack([np.cos(turn), np.sin(turn)]) * leg[:, None]
    start = CORNER_M + APART_M * np.array([i % ACROSS, i // ACROSS])
    return LineString(start + np.vstack([[0, 0], np.cumsum(ahead, axis=0)]))


def _placed(rows: pd.DataFrame, route: LineString) -> pd.DataFrame:
    # positions by satellite, from distances along and across the route
    at, across = rows["x_m"].to_numpy(), rows["y_m"].to_numpy()
    ends = np.array(route.coords)
    leg = np.where(at < route.length / 2, 0, 1)
    ahead = np.diff(ends, axis=0)[leg] / (route.length / 2)
    left = np.column_stack([-ahead[:, 1], ahead[:, 0]])
    along = (at - leg * route.length / 2)[:, None] * ahead
    x, y = (ends[leg] + along + across[:, None] * left).T
    return rows.assign(x_m=x, y_m=y)


def _points(rows: pd.DataFrame) -> gpd.GeoDataFrame:
    places = gpd.points_from_xy(rows["x_m"], rows["y_m"])
    rows = rows.assign(sound_unit="db", sensor="ground_plate", chainage_sd_m=0.05)
    return gpd.GeoDataFrame(rows.drop(columns=["x_m", "y_m", "walk"]), geometry=places, crs=CRS)
