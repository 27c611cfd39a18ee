"""The profile: readings on their pipe, at comparable levels, and the level in between."""

from __future__ import annotations

from typing import TYPE_CHECKING

import celerite2
import geopandas as gpd
import numpy as np
import pandas as pd
from celerite2 import terms

from leakgeo.arrays import texts
from leakgeo.find.kriging import Kriged, krige
from leakgeo.find.readings import readings_by_line
from leakgeo.job.findings import Findings
from leakgeo.job.model import NOT_ASKED
from leakgeo.route.lines import lines_of
from leakgeo.route.place import place_on_routes
from leakgeo.sound.compare import comparable_levels
from leakgeo.sound.constants import load_constants

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from leakgeo.arrays import Floats
    from leakgeo.faults import Fault
    from leakgeo.find.readings import Readings
    from leakgeo.result import Result
    from leakgeo.route.lines import Lines

# Lengths over which the level is taken to vary; each line's readings choose.
LENGTHS_M = (0.7, 1.5, 3.0)
# A line with more pairs of reading and target than this is kriged in blocks of so many targets,
# each from the readings within this distance.
MOST_PAIRS, BLOCK, BEARING_M = 2_000_000, 400, 15.0
KEPT = ("reading_id", "walk_id", "seq", "stop_id", "sensor", "band", "surface", "air",
        "sound_unit")  # fmt: skip


def profile(
    result: Result, *, route_sd_m: float, reading_sd_m: float, tape_sd_m: float,
    constants: Path | None, step_m: float,
) -> Result:  # fmt: skip
    """Put readings on their pipe, make their levels comparable, and interpolate between.

    Parameters
    ----------
    result : Result
        A job is enough; no layer is needed.
    route_sd_m, reading_sd_m, tape_sd_m : float
        Errors where the data give none (1-sigma).
    constants : pathlib.Path or None
        File with assumptions put over the shipped ones.
    step_m : float
        Spacing of the interpolated profile.

    Returns
    -------
    Result
        With ``readings_on_route`` and ``profile``.
    """
    lines = lines_of(result.job, route_sd_m)
    readings = _on_route(result, lines, reading_sd_m, tape_sd_m)
    assumed = load_constants(constants)
    levelled = readings["level_db"].to_numpy(copy=True)
    pieces = [
        _line_profile(line, own, float(lines.length_m[line]), step_m, levelled)
        for line, own in readings_by_line(readings, lines, assumed)
    ]
    layers = {
        "readings_on_route": readings.assign(sound_level_db=levelled).drop(columns="line"),
        "profile": _profile_layer(result, lines, pieces),
    }
    return result.adding(layers, [*lines.faults, *_reading_faults(result, readings)])


def _on_route(
    result: Result, lines: Lines, reading_sd_m: float, tape_sd_m: float
) -> gpd.GeoDataFrame:
    """Every reading of the job, placed and levelled, with why it is not used."""
    readings = result.job.readings.reset_index(drop=True)
    placed = place_on_routes(readings, lines, reading_sd_m=reading_sd_m, tape_sd_m=tape_sd_m)
    levelled = comparable_levels(readings.assign(line_id=placed["line_id"]))
    reason = placed.pop("reason")
    fine = reason.isna() | (reason == NOT_ASKED)
    reason = reason.mask(fine & levelled["level_db"].isna(), "has a display below zero")
    reason = reason.mask(fine & (readings["usable"] == False), "is marked as not usable")  # noqa: E712
    kept = readings[[c for c in KEPT if c in readings]]
    frame = pd.concat([kept, placed, levelled], axis=1)
    frame["sound_level_db"] = levelled["level_db"]
    frame["used"], frame["reason"] = reason.isna(), reason
    return gpd.GeoDataFrame(frame, geometry=readings.geometry.to_numpy(), crs=readings.crs)


def _reading_faults(result: Result, readings: pd.DataFrame) -> list[Fault]:
    """Tell each reading that is left out here; those the checks left out are told already."""
    fresh = np.array(~readings["used"] & result.job.readings["reason"].isna().to_numpy())
    found = Findings("readings", texts(readings, "reading_id"))
    why = texts(readings, "reason")
    for reason in pd.unique(why[fresh]):
        found.tell(fresh & (why == reason), f"It {reason}.", "Correct the reading or its line.")
    return found.faults


def _line_profile(
    line: int, own: Readings, length_m: float, step_m: float, levelled: Floats
) -> Floats:
    """Line, chainage, level and its deviation, shape (4, m); fills in `levelled`."""
    target = np.linspace(0.0, length_m, max(int(np.ceil(length_m / step_m)), 1) + 1)
    parts = []
    for goals, heard in _blocks(target, own.chainage_m):
        kriged = _krige_line(own, heard, goals)
        step_db = own.steps.indicators()[heard] @ kriged.drift[1:]
        levelled[own.row[heard]] = own.level_db[heard] - step_db
        deviation = np.sqrt(kriged.variance)
        parts.append(np.stack([np.full(len(goals), line), goals, kriged.estimate, deviation]))
    return np.concatenate(parts, axis=1)


def _blocks(target: Floats, x: Floats) -> Iterator[tuple[Floats, slice]]:
    """Cut a long line into blocks of targets, each with the readings that bear on it."""
    if len(target) * len(x) <= MOST_PAIRS:
        yield target, slice(0, len(x))
        return
    for part in np.array_split(target, max(len(target) // BLOCK, 1)):
        begin = np.searchsorted(x, part[0] - BEARING_M)
        end = np.searchsorted(x, part[-1] + BEARING_M)
        # Where nobody listened, the nearest reading speaks, with a deviation that says how little.
        nearest = min(int(begin), len(x) - 1)
        yield part, slice(int(begin), int(end)) if end > begin else slice(nearest, nearest + 1)


def _krige_line(own: Readings, heard: slice, target: Floats) -> Kriged:
    """Krige levels along the pipe with the length that explains them best."""
    # Stops at one place are kept apart by a hair, which the fast solver needs.
    x = own.chainage_m[heard]
    x = x + 1e-9 * np.arange(len(x))
    level = own.level_db[heard]
    noise = own.noise_sd_db**2 + own.rounding_sd_db[heard] ** 2
    sill = max(float(np.var(level)), 4.0)
    processes = [_process(x, noise, sill, length) for length in LENGTHS_M]
    away = level - level.mean()
    process = max(processes, key=lambda gp: gp.log_likelihood(away))
    cross = process.kernel.get_value(x[:, None] - target[None, :])
    drift = np.hstack([np.ones((len(x), 1)), own.steps.indicators()[heard]])
    ahead = np.tile(np.eye(1, drift.shape[1]), (len(target), 1))
    precision = np.append(0.0, own.steps.sizes_db**-2.0)
    return krige(process.apply_inverse, level, cross, sill, drift, ahead, precision)


def _process(x: Floats, noise: Floats, sill: float, length_m: float) -> celerite2.GaussianProcess:
    process = celerite2.GaussianProcess(terms.Matern32Term(sigma=sill**0.5, rho=length_m))
    process.compute(x, diag=noise)
    return process


def _profile_layer(result: Result, lines: Lines, pieces: list[Floats]) -> gpd.GeoDataFrame:
    """All profiles as one layer of points, the leak density not known yet."""
    line, chainage, level, deviation = np.concatenate([np.empty((4, 0)), *pieces], axis=1)
    which = line.astype(np.int64)
    columns = {
        "line_id": lines.table.index.to_numpy(dtype=object)[which], "chainage_m": chainage,
        "sound_level_db": level, "sound_level_sd_db": deviation, "leak_density_per_m": np.nan,
    }  # fmt: skip
    points = lines.routes.points(which, chainage)
    return gpd.GeoDataFrame(columns, geometry=points, crs=result.job.crs)
