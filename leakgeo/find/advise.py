"""Where to listen next: the stops that are expected to tell most about the leak's place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd

from leakgeo.find.zones import FOOT_M
from leakgeo.route.lines import lines_in
from leakgeo.sound.constants import constants_in
from leakgeo.sound.spreading import Spreading, relative_level

if TYPE_CHECKING:
    from collections.abc import Iterator

    from leakgeo.arrays import Floats
    from leakgeo.result import Result
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants

# Once the zones are this short, and the mark likely, another reading moves nothing.
SHORT_ENOUGH_M = 0.6
# A stop expected to tell less than this is not worth the walk.
LEAST_BITS = 0.02
# Places less likely than this share of the likeliest are left out; stops go so far beyond the rest.
LEAST_WEIGHT = 1e-4
REACH_M = 6.0
# No finer choice than among so many stops.
MOST_STOPS = 150
_COLUMNS = ("line_id", "order", "chainage_m", "expected_gain_bits", "reason")


def advise(result: Result, *, how_many: int) -> Result:
    """Propose the next stops on each line whose leak isn't narrowed down.

    The information that a reading is expected to give about the place is that of a normal
    channel, half the binary logarithm of one plus the variance of the expected level over the
    variance of the noise (Cover and Thomas, Elements of Information Theory, 2006, chapter 9); stops
    are taken greedily, each given those before it.

    Parameters
    ----------
    result : Result
        With ``lines``, ``profile``, ``search_zones`` and ``readings_on_route``.
    how_many : int
        Stops to propose on a line at the most.

    Returns
    -------
    Result
        With ``next_readings``.
    """
    lines, constants = lines_in(result), constants_in(result)
    tasks = _tasks(result, lines, constants)
    rows = [row for task in tasks for row in _stops(task, constants, how_many)]
    frame = pd.DataFrame(rows, columns=list(_COLUMNS))
    which = lines.index_of(frame["line_id"])
    points = lines.routes.points(which, frame["chainage_m"].to_numpy(dtype=float))
    layer = gpd.GeoDataFrame(frame, geometry=points, crs=result.job.crs)
    return result.adding({"next_readings": layer})


@dataclass(frozen=True)
class _Task:
    """One line to advise on: where the leak may be, and where it was listened."""

    line_id: str
    leak_m: Floats
    weight: Floats
    length_m: float
    heard_m: Floats
    position_sd_m: float
    spreading: Spreading


def _tasks(result: Result, lines: Lines, constants: Constants) -> Iterator[_Task]:
    """Give the lines whose zones are still long."""
    zones = result.layers["search_zones"].groupby("line_id")["length_m"].sum()
    heard = result.layers["readings_on_route"].query("used").groupby("line_id")
    profiles = result.layers["profile"].groupby("line_id")
    for line_id in zones[zones > SHORT_ENOUGH_M].index:
        profile, readings = profiles.get_group(line_id), heard.get_group(line_id)
        leak = profile["chainage_m"].to_numpy()
        weight = profile["leak_density_per_m"].to_numpy() * np.gradient(leak)
        likely = weight > LEAST_WEIGHT * weight.max()
        yield _Task(
            str(line_id),
            leak[likely],
            weight[likely] / weight[likely].sum(),
            float(leak[-1]),
            readings["chainage_m"].to_numpy(),
            float(readings["chainage_sd_m"].median()),
            _spreading(lines.table.loc[line_id], constants),
        )


def _stops(task: _Task, constants: Constants, how_many: int) -> list[tuple[object, ...]]:
    """Choose stops greedily by expected information."""
    begin = max(FOOT_M / 2, task.leak_m[0] - REACH_M)
    end = min(task.length_m, task.leak_m[-1] + REACH_M)
    step = max(FOOT_M, task.position_sd_m, (end - begin) / MOST_STOPS)
    stops: Floats = np.arange(begin, end, step)
    stops = stops if len(stops) else np.array([task.length_m / 2])
    told, noise = _expected(task, stops, constants)
    total: Floats = told + noise
    rows: list[tuple[object, ...]] = []
    taken = np.zeros(len(stops), dtype=bool)
    while len(rows) < how_many:
        gain = np.where(taken, 0.0, 0.5 * np.log2(np.diag(total) / np.diag(noise)))
        best = int(np.argmax(gain))
        if gain[best] < LEAST_BITS:
            break
        why = _reason(stops[best], task)
        rows.append((task.line_id, len(rows) + 1, float(stops[best]), float(gain[best]), why))
        taken[best] = True
        own = constants.noise["reading_db"] ** 2
        total, noise = _given(total, best, own), _given(noise, best, own)
    return rows


def _given(covariance: Floats, known: int, own_variance: float) -> Floats:
    """Covariance of new readings at all stops once there is one at `known`."""
    shared = covariance - own_variance * np.eye(len(covariance))
    left = shared - np.outer(shared[known], shared[known]) / covariance[known, known]
    return np.asarray(left + own_variance * np.eye(len(covariance)))


def _expected(task: _Task, stops: Floats, constants: Constants) -> tuple[Floats, Floats]:
    """Covariance of new levels by the leak's place, and by noise, given the readings there are."""
    noise = constants.noise
    own, shared = noise["reading_db"] ** 2, noise["coupling_db"] ** 2

    def coupling(a: Floats, b: Floats) -> Floats:
        apart = np.abs(a[:, None] - b[None, :])
        return np.asarray(shared * np.exp(-apart / noise["coupling_length_m"]))

    heard = coupling(task.heard_m, task.heard_m) + own * np.eye(len(task.heard_m))
    back = np.linalg.solve(heard, coupling(task.heard_m, stops))
    level = relative_level(task.leak_m[:, None] - stops[None, :], task.spreading)
    level -= relative_level(task.leak_m[:, None] - task.heard_m[None, :], task.spreading) @ back
    away = level - task.weight @ level
    left = coupling(stops, stops) - coupling(stops, task.heard_m) @ back
    return (away * task.weight[:, None]).T @ away, left + own * np.eye(len(stops))


def _spreading(route: pd.Series, constants: Constants) -> Spreading:
    material = constants.materials[route["material"] or "unknown"]
    depth = float(route["depth_m"])
    return Spreading(
        depth if np.isfinite(depth) and depth > 0 else constants.spread["depth_m"],
        material.pipe_decay_db_per_m,
        material.pipe_share,
        floor=10.0 ** (-constants.spread["floor_below_db"] / 10.0),
    )


def _reason(stop: float, task: _Task) -> str:
    before, beyond = task.weight[task.leak_m < stop].sum(), task.weight[task.leak_m > stop].sum()
    if min(before, beyond) < 0.05:
        return "beside the likeliest stretch: fixes how fast the sound dies away"
    return f"splits the likeliest stretch: {before:.0%} lies before it, {beyond:.0%} beyond"
