"""Listening surveys without a tape: every stop has a satellite fix and nothing else.

Lines, sound and noise are those of `tests.worlds.rough_noise`. A crew walks each line in coarse
steps, goes back, and walks on in fine steps around the loudest stop; at times it goes on at an
edge. Steps are paced: each differs a little from the crew's usual one, and the errors add up. Some
crews keep one name for all of it, and some change the plate for the spike where the lawn begins.

The errors of the fixes are of one of these kinds:

- ``white``: each fix has its own.
- ``drift``: a slow drift over the visit, by time, that the fixes of both walks share, and little
  of their own (a first-order Gauss-Markov process).
- ``jumps``: reflected signals shift the fixes of some stops running by metres.
- ``mixture``: on each line one of these, at half to one and a half times the size.

The stated error is wrong by up to a quarter. The figures are a judgement of what a field is like,
made before any locator saw the world, and nothing is tuned to it. All of it is simulated.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from tests.worlds.crew import Display, Visit
from tests.worlds.line import draw_line
from tests.worlds.rough_noise import APART_M, CRS, ORIGIN_M, truth_of
from tests.worlds.world import World

if TYPE_CHECKING:
    from tests.worlds.line import Line

KINDS = ("white", "drift", "jumps")
SIZES_M = (0.5, 1.5, 3.0)
# Of the drift: its share of the variance, and how long it is remembered.
DRIFT_SHARE, MEMORY_S = 0.75, 900.0
# Of jumps: share of the variance without them, chance at a stop, size relative to the whole error.
CALM_SHARE, JUMP_CHANCE, JUMP_TIMES = 0.5, 0.04, 2.5
# Spread of a crew's steps: between lines, and from step to step.
LINE_SPREAD, STEP_SPREAD = 0.04, 0.08
# What a locator may be told of a reading: where it truly was, the part of the visit, the step of
# the crew there, kind and size of the errors, and when.
SECRETS = ("true_m", "part", "step_m", "kind", "size_m", "second")


@dataclass(frozen=True)
class Crew:
    """How a crew walks: its usual coarse and fine steps, in metres."""

    coarse_m: float
    fine_m: float


@dataclass(frozen=True)
class Walk:
    """A crew's visit to one line, in order: true stops, levels, times and steps.

    ``part`` is 0 on the coarse walk and rises by one where the crew turns back or sets out again.
    """

    stop_m: np.ndarray
    level_db: np.ndarray
    time_s: np.ndarray
    part: np.ndarray
    step_m: np.ndarray


def draw(lines: int, seed: int, kind: str, sd_m: float) -> World:
    """Draw a world; see `draw_with_secrets`."""
    return draw_with_secrets(lines, seed, kind, sd_m)[0]


def draw_with_secrets(lines: int, seed: int, kind: str, sd_m: float) -> tuple[World, pd.DataFrame]:
    """Draw a world, and what nobody on it knows.

    Parameters
    ----------
    lines : int
        How many. Each has a seed of its own, so that more lines leave the first as they are.
    seed : int
        Not negative.
    kind : {"white", "drift", "jumps", "mixture"}
        Kind of error of the fixes.
    sd_m : float
        Standard deviation of a fix on each axis.

    Returns
    -------
    world : World
        In UTM zone 33N; `truth` also has ``loudest_m``, the chainage of the loudest reading's fix.
    secrets : DataFrame
        One row a reading, in their order: `SECRETS`.
    """
    rng = np.random.default_rng([seed, 10**6])
    crew = Crew(float(rng.uniform(1.0, 1.7)), float(rng.choice([0.25, 0.3048, 0.3048, 0.4])))
    routes: list[dict[str, Any]] = []
    readings: list[pd.DataFrame] = []
    truth: list[dict[str, Any]] = []
    for k in range(lines):
        rng = np.random.default_rng([seed, k])
        place = (ORIGIN_M[0] + APART_M * (k % 10), ORIGIN_M[1] + APART_M * (k // 10))
        line = draw_line(f"line-{k + 1:04d}", place, rng)
        begin = pd.Timestamp("2024-04-08 07:00", tz="UTC") + pd.Timedelta(k, "h")
        rows, stops_m = survey(line, crew, begin, kind, sd_m, rng)
        routes.append(line.known)
        readings.append(rows)
        truth.append(truth_of(line, stops_m) | {"loudest_m": _loudest(line, rows)})
    rows = pd.concat(readings, ignore_index=True)
    layers = {
        "routes": gpd.GeoDataFrame(routes, geometry="geometry", crs=CRS),
        "readings": gpd.GeoDataFrame(
            rows.drop(columns=list(SECRETS)), geometry="geometry", crs=CRS
        ),
    }
    names = ["reading_id", "line_id", *SECRETS]
    return World(layers, pd.DataFrame(truth).set_index("line_id")), rows[names]


def survey(
    line: Line, crew: Crew, begin: pd.Timestamp, kind: str, sd_m: float, rng: np.random.Generator
) -> tuple[pd.DataFrame, np.ndarray]:
    """Return the readings of a visit, and where the sensor truly stood."""
    visit = Visit(line, rng)
    display = Display(linear=False)
    walk = _walked(line, crew, visit, rng)
    one_name, spike_from = rng.random() < 0.5, _spike_from(line, walk, rng)
    spiked = np.arange(walk.stop_m.size) >= spike_from
    level = walk.level_db + np.where(spiked, rng.normal(0, 4), 0.0)
    gain = display.gain_db(float(level.max()))
    name = np.where(one_name | (walk.part == 0), "a", "b")
    seq = np.arange(1, name.size + 1) - np.where(name == "b", np.sum(name == "a"), 0)
    kind = str(rng.choice(KINDS)) if kind == "mixture" else kind
    size = sd_m * rng.uniform(0.5, 1.5) if kind == "mixture" else sd_m
    error = fix_errors(kind, size, walk.time_s, rng)
    xy = shapely.get_coordinates(shapely.line_interpolate_point(line.course, walk.stop_m))
    wander = rng.normal(0, 0.1, xy.shape)
    return pd.DataFrame({
        "reading_id": [f"{line.line_id}/{i + 1:03d}" for i in range(name.size)],
        "line_id": line.line_id,
        "walk_id": [f"{line.line_id}/{n}" for n in name],
        "seq": seq,
        "sound_level": display.show(level + gain),
        "sound_unit": display.unit,
        "gain_db": gain,
        "sensor": np.where(spiked, "ground_spike", "ground_plate"),
        "surface": line.surface.at(walk.stop_m),
        "position_sd_m": round(size * rng.uniform(0.8, 1.25), 1),
        "time": (begin + pd.to_timedelta(walk.time_s, "s")).floor("s"),
        "geometry": shapely.points(xy + wander + error),
        "true_m": walk.stop_m,
        "part": walk.part,
        "step_m": walk.step_m,
        "kind": kind,
        "size_m": size,
        "second": walk.time_s,
    }), walk.stop_m  # fmt: skip


def _walked(line: Line, crew: Crew, visit: Visit, rng: np.random.Generator) -> Walk:
    """Walk a line coarsely from either end, then finely around the loudest stop."""
    length = line.pipe.length_m
    step = crew.coarse_m * float(np.exp(rng.normal(0, LINE_SPREAD)))
    away = _paced(rng.uniform(0.0, 0.8), step, int(length / step) + 4, rng)
    away = away[away <= length]
    back = rng.random() < 0.3
    stops = [length - away if back else away]
    heard = [visit.listen(stops[0], (18, 40))]
    steps = [step]
    visit.pause(rng.uniform(30, 180))
    loudest = stops[0][int(np.argmax(heard[0][0]))]
    step = crew.fine_m * float(np.exp(rng.normal(0, LINE_SPREAD)))
    half, side = int(rng.integers(5, 9)), float(rng.choice([-1.0, 1.0]))
    more = loudest - side * half * step + rng.normal(0, 0.1)
    fine = more + side * _paced(0.0, step, 2 * half + 1, rng)
    for _ in range(3):
        fine = fine[(fine >= 0) & (fine <= length)]
        if fine.size == 0:
            break
        stops.append(fine)
        heard.append(visit.listen(fine, (10, 22)))
        steps.append(step)
        level = np.concatenate([h[0] for h in heard[1:]])
        at = np.concatenate(stops[1:])
        edge = at[int(np.argmax(level))]
        reach = 2.5 * step
        if edge - at.min() < reach:
            fine = at.min() - _paced(step, step, 6, rng)
        elif at.max() - edge < reach:
            fine = at.max() + _paced(step, step, 6, rng)
        else:
            break
    part = np.repeat(np.arange(len(stops)), [s.size for s in stops])
    return Walk(
        np.concatenate(stops), np.concatenate([h[0] for h in heard]),
        np.concatenate([h[1] for h in heard]), part, np.array(steps)[part],
    )  # fmt: skip


def _paced(first_m: float, step_m: float, count: int, rng: np.random.Generator) -> np.ndarray:
    """Return distances walked in paced steps, whose errors add up."""
    steps = step_m * np.maximum(1.0 + STEP_SPREAD * rng.standard_normal(count - 1), 0.3)
    return first_m + np.concatenate([[0.0], np.cumsum(steps)])


def _spike_from(line: Line, walk: Walk, rng: np.random.Generator) -> int:
    """Return the first stop with the spike: where a lawn begins on the coarse walk, or never."""
    lawn = np.flatnonzero((line.surface.at(walk.stop_m) == "grass") & (walk.part == 0))
    return int(lawn[0]) if lawn.size and rng.random() < 0.4 else walk.stop_m.size


def fix_errors(kind: str, sd_m: float, time_s: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Draw the errors of fixes on both axes, shape (n, 2)."""
    n = time_s.size
    own = rng.standard_normal((n, 2))
    if kind == "white":
        return sd_m * own
    if kind == "drift":
        root = np.linalg.cholesky(drift_correlation(time_s) + 1e-9 * np.eye(n))
        slow = root @ rng.standard_normal((n, 2))
        return sd_m * (DRIFT_SHARE**0.5 * slow + (1.0 - DRIFT_SHARE) ** 0.5 * own)
    error = CALM_SHARE**0.5 * sd_m * own
    for first in np.flatnonzero(rng.random(n) < JUMP_CHANCE):
        turn, run = rng.uniform(0, 2 * np.pi), int(rng.integers(2, 8))
        far = JUMP_TIMES * sd_m * rng.uniform(0.5, 1.2)
        error[first : first + run] += far * np.array([np.cos(turn), np.sin(turn)])
    return error


def drift_correlation(time_s: np.ndarray) -> np.ndarray:
    """Return the correlation of the drift between times, shape (n, n)."""
    return np.asarray(np.exp(-np.abs(time_s[:, None] - time_s) / MEMORY_S))


def _loudest(line: Line, rows: pd.DataFrame) -> float:
    """Return the chainage of the fix of the loudest reading, levels less gain as told."""
    loudest = rows["geometry"].iloc[int(rows["sound_level"].to_numpy().argmax())]
    return float(shapely.line_locate_point(line.known["geometry"], loudest))
