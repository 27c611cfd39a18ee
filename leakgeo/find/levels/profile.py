"""The profile: readings on their pipe, at comparable levels, and the level in between."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import celerite2
import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from celerite2 import terms

from leakgeo.arrays import floats, texts
from leakgeo.find.levels.kriging import Kriged, krige
from leakgeo.find.levels.readings import readings_by_line
from leakgeo.job.checks import NO_SD_M, IssueCollector
from leakgeo.job.model import NOT_SELECTED
from leakgeo.reason import Reason, columns_of, reasons_in
from leakgeo.route.lines import lines_of
from leakgeo.route.place import place_on_routes
from leakgeo.route.tape import TAPE_NOT_USED, tape_faults
from leakgeo.sound.compare import levels_without_gain
from leakgeo.sound.constants import load_constants
from leakgeo.sound.suspect import suspect_walks

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from leakgeo.arrays import Floats, Objects
    from leakgeo.faults import Fault
    from leakgeo.find.levels.readings import Readings
    from leakgeo.result import Result
    from leakgeo.route.lines import Lines

# Lengths over which the level is taken to vary; each line's readings choose.
LENGTHS_M = (0.7, 1.5, 3.0)
# A line with more pairs of reading and target than this is kriged in blocks of so many targets,
# each from the readings within this distance.
MOST_PAIRS, BLOCK, BEARING_M = 2_000_000, 400, 15.0
# The length that comes first in a reason.
_A_LENGTH = re.compile(r"(?<= )\d+\.\d+(?= m)")
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
    readings, by_tape = _on_route(result, lines, reading_sd_m, tape_sd_m)
    assumed = load_constants(constants)
    levelled = readings["level_db"].to_numpy(copy=True)
    pieces = [
        _line_profile(line, own, float(lines.length_m[line]), step_m, levelled)
        for line, own in readings_by_line(readings, lines, assumed)
    ]
    layers = {
        "readings_on_route": readings.assign(level_comparable_db=levelled).drop(columns="line"),
        "profile": _profile_layer(result, lines, pieces),
    }
    suspect = suspect_walks(readings, floats(result.job.readings, "sound_level"))
    told = [*((f.feature, f) for f in by_tape), *_reading_faults(result, readings),
            *((f.feature, f) for f in suspect)]  # fmt: skip
    return result.adding(layers, [*lines.faults, *_by_line(lines, told)])


def _on_route(
    result: Result, lines: Lines, reading_sd_m: float, tape_sd_m: float
) -> tuple[gpd.GeoDataFrame, list[Fault]]:
    """Every reading of the job, placed and levelled, with why it is not used; faults of tapes."""
    readings = result.job.readings.reset_index(drop=True)
    placed = place_on_routes(readings, lines, reading_sd_m=reading_sd_m, tape_sd_m=tape_sd_m)
    tape_m = floats(readings, "tape_m")
    faults, unlike = tape_faults(placed, tape_m, texts(readings, "walk_id"), lines)
    levelled = levels_without_gain(readings.assign(line_id=placed["line_id"]))
    reason = placed.pop("reason").mask(unlike, TAPE_NOT_USED)
    fine = reason.isna() | (reason == NOT_SELECTED)
    reason = reason.mask(fine & levelled["level_db"].isna(), Reason("display_below_zero"))
    reason = reason.mask(fine & (readings["set_aside"] == True), Reason("set_aside"))  # noqa: E712
    kept = readings[[c for c in KEPT if c in readings]]
    placed = placed.drop(columns=["map_m", "map_sd_m"])
    frame = pd.concat([kept, placed, levelled], axis=1)
    frame["level_comparable_db"] = levelled["level_db"]
    frame = frame.assign(used=reason.isna(), **columns_of("reason", reason.to_numpy()))
    return gpd.GeoDataFrame(
        frame, geometry=_points(readings, frame, lines), crs=readings.crs
    ), faults


def _points(readings: gpd.GeoDataFrame, placed: pd.DataFrame, lines: Lines) -> Objects:
    """Where each reading was taken; those that have a tape alone stand where it says."""
    points: Objects = readings.geometry.to_numpy().copy()
    sd, line = floats(readings, "position_sd_m"), np.asarray(placed["line"])
    at = np.flatnonzero((sd >= NO_SD_M) & (line >= 0))
    chainage, aside = floats(placed, "chainage_m"), floats(readings, "offset_m", null=0.0)
    points[at] = lines.routes.points(line[at], chainage[at])
    off = at[aside[at] != 0.0]
    along = np.radians(lines.routes.grid_azimuth_deg(line[off], chainage[off]))
    left = np.column_stack([-np.cos(along), np.sin(along)]) * aside[off, None]
    points[off] = shapely.points(shapely.get_coordinates(points[off]) + left)
    return points


def _by_line(lines: Lines, told: Sequence[tuple[str, Fault]]) -> list[Fault]:
    """Put faults in the order of their lines: so they are the same where a job is cut in parts."""
    place = lines.index_of(np.array([line for line, _ in told], dtype=object))
    return [told[k][1] for k in np.argsort(place, kind="stable")]


def _reading_faults(result: Result, readings: pd.DataFrame) -> list[tuple[str, Fault]]:
    """Tell each reading that is left out here, beside its line; others are told already.

    Readings of a line that are left out for the same code are reported together, or a walk in
    another CRS would take a sentence for each reading.
    """
    fresh = ~readings["used"] & result.job.readings["reason"].isna().to_numpy()
    own = readings[fresh & (readings["reason_code"] != TAPE_NOT_USED.code)]
    own = own.assign(line_id=own["line_id"].fillna(""))
    told: list[tuple[str, Fault]] = []
    for (line, _), alike in own.groupby(["line_id", "reason_code"], sort=False):
        issues = IssueCollector("readings", texts(alike, "reading_id"))
        why = [reason for reason in reasons_in(alike, "reason") if reason is not None]
        issues.report(np.ones(len(alike), dtype=bool), why)
        told += [(str(line), fault) for fault in issues.faults]
    return told


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
        "level_comparable_db": level, "level_comparable_sd_db": deviation,
        "leak_density_per_m": np.nan,
    }  # fmt: skip
    points = lines.routes.points(which, chainage)
    return gpd.GeoDataFrame(columns, geometry=points, crs=result.job.crs)
