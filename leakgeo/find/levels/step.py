"""The `profile` step: readings on their pipe, comparable levels, and the level in between."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import celerite2
import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from celerite2 import terms

from leakgeo.arrays import floats, texts
from leakgeo.faults import Fault
from leakgeo.find.levels.air_tests import COMPARED, of_air_tests
from leakgeo.find.levels.before_repair import readings_before_repair
from leakgeo.find.levels.crowded import beyond_the_most
from leakgeo.find.levels.declarations import QUESTIONS, doubts_of, missing_errors
from leakgeo.find.levels.kriging import Kriged, krige
from leakgeo.find.levels.readings import tabulate
from leakgeo.find.levels.taps import TEACHES, tap_faults, tap_reasons
from leakgeo.find.levels.walks import unplaced
from leakgeo.job.checks import CHAINAGE_ONLY_SD_M, IssueCollector
from leakgeo.job.model import NOT_SELECTED, without_fault
from leakgeo.reason import Reason, columns_of, reasons_in
from leakgeo.route.lines import kept_lines_of
from leakgeo.route.place import place_on_routes
from leakgeo.route.sweeps import apart, swept_beside, with_sweeps
from leakgeo.route.tape import TAPE_NOT_USED, tape_faults
from leakgeo.route.taps import tapped, with_taps
from leakgeo.sound.compare import levels_without_gain
from leakgeo.sound.constants import load_constants, walks_in
from leakgeo.sound.suspect import suspect_walks

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from leakgeo.arrays import Floats, Objects
    from leakgeo.find.levels.readings import Readings, Table
    from leakgeo.job.model import Job
    from leakgeo.result import Result
    from leakgeo.route.lines import Lines

# Correlation lengths of the level; the likeliest for the readings of a line is used.
LENGTHS_M = (0.7, 1.5, 3.0)
# A line with more pairs of reading and target than this is kriged in blocks of this many targets,
# from the readings within this distance of the block.
MAX_PAIRS, BLOCK_SIZE, BLOCK_REACH_M = 2_000_000, 400, 15.0
# Columns of ``readings`` that ``readings_on_route`` keeps.
KEPT = ("reading_id", "walk_id", "seq", "time", "stop_id", "sensor", "band", "surface", "air",
        "sound_unit", "tap_open")  # fmt: skip


def profile(
    result: Result, *, route_sd_m: float, reading_sd_m: float, tape_sd_m: float,
    constants: Path | None, step_m: float, trust_declarations: bool,
) -> Result:  # fmt: skip
    """Place readings on their pipe, make their levels comparable, and interpolate the level.

    Parameters
    ----------
    result : Result
        Only its job is used.
    route_sd_m, reading_sd_m, tape_sd_m : float
        Standard deviations where the data give none.
    constants : pathlib.Path or None
        TOML file that overrides the shipped constants of sound.
    step_m : float
        Spacing of the interpolated profile.
    trust_declarations : bool
        Whether readings are used though their unit, CRS or tape is probably mis-declared.

    Returns
    -------
    Result
        With ``readings_on_route`` and ``profile``.
    """
    lines = kept_lines_of(result.job, route_sd_m)
    readings, issues = readings_on_route(
        result.job, lines, reading_sd_m, tape_sd_m, trust_declarations=trust_declarations
    )
    assumed = walks_in(result, load_constants(constants))
    levelled = readings["level_comparable_db"].to_numpy(copy=True)
    # Tabulated as the layer that later steps read, so that its table is theirs too.
    layer = readings.drop(columns="line")
    table = tabulate(layer, lines, assumed)
    pieces = [
        _line_profile(line, own, float(lines.length_m[line]), step_m, levelled)
        for line, own in table.by_line(assumed)
    ]
    layer["level_comparable_db"] = levelled
    layers = {
        "readings_on_route": layer, "profile": _profile_layer(result, lines, pieces),
    }  # fmt: skip
    # An air test goes from place to place at once, which is no fault of a walk.
    tested = readings["line_id"].isin(readings.loc[readings["reason_code"] == COMPARED, "line_id"])
    walked = readings.assign(used=readings["used"] & ~(tested & readings["air"].notna()))
    suspect = suspect_walks(walked, floats(result.job.readings, "sound_level"))
    faults = [*((f.feature, f) for f in issues), *_reading_faults(result, readings),
              *_sweep_faults(readings), *tap_faults(readings), *((f.feature, f) for f in suspect),
              *((f.feature, f) for f in _walk_faults(table, lines))]  # fmt: skip
    return result.adding(layers, [*lines.faults, *_by_line(lines, faults)])


def readings_on_route(
    job: Job, lines: Lines, reading_sd_m: float, tape_sd_m: float, *,
    trust_declarations: bool,
) -> tuple[gpd.GeoDataFrame, list[Fault]]:  # fmt: skip
    """Return ``readings_on_route``, with why a reading is not used, and faults of lines.

    Parameters
    ----------
    job : Job
    lines : Lines
    reading_sd_m, tape_sd_m : float
        Standard deviations where the data give none.
    trust_declarations : bool
        As for `profile`.
    """
    readings = job.readings.reset_index(drop=True)
    placed = place_on_routes(readings, lines, reading_sd_m=reading_sd_m, tape_sd_m=tape_sd_m)
    placed = with_taps(with_sweeps(placed, readings, lines, reading_sd_m), readings, lines)
    tape_m = floats(readings, "tape_m")
    faults, unlike = tape_faults(
        placed, tape_m, texts(readings, "walk_id"), lines, tape_m - floats(readings, "chainage_m"),
        job.contacts,
    )  # fmt: skip
    faults += missing_errors(readings, placed, tape_m, lines, reading_sd_m)
    levelled = levels_without_gain(readings.assign(line_id=placed["line_id"]))
    reason = placed.pop("reason").mask(unlike, TAPE_NOT_USED)
    usable = without_fault(reason)
    reason = reason.mask(usable & levelled["level_db"].isna(), Reason("display_below_zero"))
    reason = reason.mask(usable & (readings["set_aside"] == True), Reason("set_aside"))  # noqa: E712
    old = readings_before_repair(
        readings.get("time"), placed["line"].to_numpy(dtype=np.int64), lines
    )
    reason = reason.mask(without_fault(reason) & pd.notna(old), pd.Series(old, index=reason.index))
    if not trust_declarations:
        code = np.array([None if r is None or r == NOT_SELECTED else r.code
                         for r in texts(pd.DataFrame({"reason": reason}), "reason")],
                        dtype=object)  # fmt: skip
        doubts = doubts_of(readings, placed, code, faults, lines, tape_sd_m)
        faults += doubts.faults
        asked = pd.Series(doubts.question, index=reason.index, dtype=object)
        reason = reason.mask(pd.isna(code) & asked.notna(), asked)
    kept = readings[[c for c in KEPT if c in readings]]
    placed = placed.drop(columns=["map_m", "map_sd_m"])
    frame = pd.concat([kept, placed, levelled], axis=1)
    frame["level_comparable_db"] = levelled["level_db"].mask(tapped(readings))
    good = without_fault(reason)
    taps = tap_reasons(frame, good.to_numpy())
    used = reason.isna() & np.array([tap is None or tap.code == TEACHES for tap in taps])
    reason = reason.mask(reason.isna() & pd.notna(taps), pd.Series(taps, index=reason.index))
    frame["sweep_m"] = frame["sweep_m"].where(good & ~tapped(readings))
    beside = swept_beside(frame) & used.to_numpy()
    reason[beside] = [Reason("swept_across", chainage_m=at) for at in frame["sweep_m"][beside]]
    # Those of lines that are not selected too, so that a line has the same neighbours in any chunk.
    heard = used | (reason == NOT_SELECTED)
    heard &= frame["level_comparable_db"].notna() & frame["chainage_m"].notna()
    crowded = beyond_the_most(frame, (heard & frame["sweep_m"].isna()).to_numpy())
    used &= pd.isna(crowded)
    reason = reason.mask(pd.notna(crowded), pd.Series(crowded, index=reason.index))
    compared = of_air_tests(frame, (used & ~apart(frame)).to_numpy())
    reason[compared] = Reason("air_compared")
    frame["level_comparable_db"] = frame["level_comparable_db"].mask(compared)
    frame = frame.assign(used=used, **columns_of("reason", reason.to_numpy()))
    return gpd.GeoDataFrame(
        frame, geometry=_points(readings, frame, lines), crs=readings.crs
    ), faults


def _points(readings: gpd.GeoDataFrame, placed: pd.DataFrame, lines: Lines) -> Objects:
    """Return the point of each reading; without a position, the point of its taped chainage."""
    points: Objects = readings.geometry.to_numpy().copy()
    sd, line = floats(readings, "position_sd_m"), np.asarray(placed["line"])
    at = np.flatnonzero((sd >= CHAINAGE_ONLY_SD_M) & (line >= 0))
    chainage, offset = floats(placed, "chainage_m"), floats(readings, "offset_m", null=0.0)
    points[at] = lines.routes.points(line[at], chainage[at])
    off = at[offset[at] != 0.0]
    along = np.radians(lines.routes.grid_azimuth_deg(line[off], chainage[off]))
    left = np.column_stack([-np.cos(along), np.sin(along)]) * offset[off, None]
    points[off] = shapely.points(shapely.get_coordinates(points[off]) + left)
    return points


def _by_line(lines: Lines, faults: Sequence[tuple[str, Fault]]) -> list[Fault]:
    """Return faults in the order of their lines, so that chunks of a job give the same order."""
    place = lines.index_of(np.array([line for line, _ in faults], dtype=object))
    order = np.argsort(place, kind="stable").tolist()
    return [replace(faults[k][1], line_id=faults[k][0]) for k in order]


def _reading_faults(result: Result, readings: pd.DataFrame) -> list[tuple[str, Fault]]:
    """Return the faults of readings that this step rejects, with their lines.

    Readings of a line that are rejected for the same code share a fault. A walk in the wrong CRS
    would otherwise give one for each reading.
    """
    fresh = ~readings["used"] & result.job.readings["reason"].isna().to_numpy()
    others = (TAPE_NOT_USED.code, NOT_SELECTED.code, *QUESTIONS)
    own = readings[fresh & ~readings["reason_code"].isin(others)]
    own = own.assign(line_id=own["line_id"].fillna(""))
    faults: list[tuple[str, Fault]] = []
    for (line, _), group in own.groupby(["line_id", "reason_code"], sort=False):
        issues = IssueCollector("readings", texts(group, "reading_id"))
        why = [reason for reason in reasons_in(group, "reason") if reason is not None]
        issues.report(np.ones(len(group), dtype=bool), why)
        faults += [(str(line), fault) for fault in issues.faults]
    return faults


def _sweep_faults(readings: pd.DataFrame) -> list[tuple[str, Fault]]:
    """Return a note for each line with sweeps across it, with the line."""
    own = readings[readings["used"] & readings["sweep_m"].notna()]
    own = own.assign(beside=swept_beside(own))
    faults: list[tuple[str, Fault]] = []
    for line, group in own.groupby("line_id", sort=False):
        reason = Reason("sweeps_used", sweeps=group["sweep_m"].nunique(), readings=len(group),
                        beside=int(group["beside"].sum()))  # fmt: skip
        faults.append((str(line), Fault("readings", reason, str(line), "offset_m", effect="noted")))
    return faults


def _walk_faults(table: Table, lines: Lines) -> list[Fault]:
    """Report the walks whose stops stay at their satellite positions, in no order that fits.

    Walks of one line share a fault for one cause: a survey may have hundreds.
    """
    together: dict[tuple[int, str], list[tuple[str, int]]] = {}
    for line, name, code, stops in table.notes:
        together.setdefault((line, code), []).append((name, stops))
    return [
        Fault(
            "readings", unplaced(code, walks), str(lines.table.index[line]), "seq", effect="noted"
        )
        for (line, code), walks in together.items()
    ]


def _line_profile(
    line: int, own: Readings, length_m: float, step_m: float, levelled: Floats
) -> Floats:
    """Return line, chainage, level and its standard deviation, shape (4, m); fills `levelled`."""
    target = np.linspace(0.0, length_m, max(int(np.ceil(length_m / step_m)), 1) + 1)
    parts, offsets = [], own.offsets.indicators()
    for goals, near in _blocks(target, own.chainage_m):
        kriged = _krige_line(own, offsets[near], near, goals)
        offset_db = offsets[near] @ kriged.drift[1:]
        levelled[own.row[near]] = own.level_db[near] - offset_db
        deviation = np.sqrt(kriged.variance)
        parts.append(np.stack([np.full(len(goals), line), goals, kriged.estimate, deviation]))
    return np.concatenate(parts, axis=1)


def _blocks(target: Floats, x: Floats) -> Iterator[tuple[Floats, slice]]:
    """Yield blocks of targets of a long line, each with the readings near it."""
    if len(target) * len(x) <= MAX_PAIRS:
        yield target, slice(0, len(x))
        return
    for part in np.array_split(target, max(len(target) // BLOCK_SIZE, 1)):
        begin = np.searchsorted(x, part[0] - BLOCK_REACH_M)
        end = np.searchsorted(x, part[-1] + BLOCK_REACH_M)
        # Where nobody listened the nearest reading is used; the standard deviation is then large.
        nearest = min(int(begin), len(x) - 1)
        yield part, slice(int(begin), int(end)) if end > begin else slice(nearest, nearest + 1)


def _krige_line(own: Readings, offsets: Floats, near: slice, target: Floats) -> Kriged:
    """Krige levels along the pipe with the likeliest correlation length.

    `offsets` are the indicators of the level offsets of the readings `near`.
    """
    # The solver needs ascending places, so readings at one place are separated minimally.
    x = own.chainage_m[near]
    x = x + 1e-9 * np.arange(len(x))
    level = own.level_db[near]
    noise = own.noise_sd_db**2 + own.rounding_sd_db[near] ** 2
    sill = max(float(level.var()), 4.0)
    processes = [_process(x, noise, sill, length) for length in LENGTHS_M]
    centred = level - level.mean()
    process = max(processes, key=lambda gp: gp.log_likelihood(centred))
    cross = process.kernel.get_value(x[:, None] - target[None, :])
    drift = np.ones((len(x), 1 + offsets.shape[1]))
    drift[:, 1:] = offsets
    target_drift = np.zeros((len(target), drift.shape[1]))
    target_drift[:, 0] = 1.0
    precision = np.append(0.0, own.offsets.sd_db**-2.0)
    return krige(process.apply_inverse, level, cross, sill, drift, target_drift, precision)


def _process(x: Floats, noise: Floats, sill: float, length_m: float) -> celerite2.GaussianProcess:
    process = celerite2.GaussianProcess(terms.Matern32Term(sigma=sill**0.5, rho=length_m))
    process.compute(x, diag=noise)
    return process


def _profile_layer(result: Result, lines: Lines, pieces: list[Floats]) -> gpd.GeoDataFrame:
    """Return the profiles of all lines as one layer of points, without the leak density."""
    line, chainage, level, deviation = np.concatenate([np.empty((4, 0)), *pieces], axis=1)
    which = line.astype(np.int64)
    columns = {
        "line_id": lines.table.index.to_numpy(dtype=object)[which], "chainage_m": chainage,
        "level_comparable_db": level, "level_comparable_sd_db": deviation,
        "leak_density_per_m": np.nan,
    }  # fmt: skip
    points = lines.routes.points(which, chainage)
    return gpd.GeoDataFrame(columns, geometry=points, crs=result.job.crs)
