"""The step that draws the dig zones and lists what still holds each dig. It never clears one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from leakgeo.dig.conflicts import find_conflicts
from leakgeo.dig.facilities import Facilities, prepare
from leakgeo.dig.holds import cautions, dig_holds, joined, utility_holds
from leakgeo.dig.rules import assumptions, pick_rule
from leakgeo.dig.zone import ellipse_with_room, excavation_depth_m, pipe_of_line
from leakgeo.faults import Fault

if TYPE_CHECKING:
    from leakgeo.job.model import Job
    from leakgeo.result import Result

HOLD, READY = "hold", "ready_for_hand_dig"
ZONE_COLUMNS = ("line_id", "depth_m", "length_m", "width_m", "area_m2", "conflicts", "dig_status",
                "holds", "cautions", "rule")  # fmt: skip
CONFLICT_COLUMNS = ("line_id", "utility_id", "kind", "owner", "clearance_m", "severity", "action",
                    "response", "rule", "tolerance_m", "error_95_m", "depth_m", "quality_level",
                    "notified", "response_time")  # fmt: skip


def clearance(result: Result, *, rule: str, working_width_m: float) -> Result:
    """Draw the hole at each mark, and list the utilities and answers that still hold it.

    Parameters
    ----------
    result : Result
        With the layers ``marks`` and ``lines``; utilities and routes come from its job.
    rule : str
        Name of a tolerance rule, or ``FILE.toml#NAME``; local law governs.
    working_width_m : float
        Working room on every side of the mark's 95 % ellipse, in metres.

    Returns
    -------
    Result
        With ``dig_zones`` and ``conflicts`` added, and ``conflicts`` and ``dig_status`` of
        ``lines`` filled in. ``dig_status`` is ``hold`` wherever anything is missing; a line
        without a mark is on hold.

    Raises
    ------
    ParameterError
        If the rule is not known.
    """
    picked, assumed, job = pick_rule(rule), assumptions(), result.job
    digs = _digs(result, working_width_m)
    zones = np.asarray(digs.pop("zone_shape"), dtype=object)
    utilities = job.routes.iloc[:0] if job.utilities is None else job.utilities
    facilities = prepare(utilities, picked, assumed)
    pairs = find_conflicts(zones, facilities, picked, assumed)
    near = np.bincount(pairs["zone"], minlength=len(digs))
    said = [*dig_holds(digs, near, _layer_hold(job, facilities)), *utility_holds(pairs)]
    digs["holds"] = joined(said, len(digs)).to_numpy()
    digs["cautions"] = joined(cautions(digs, pairs, picked), len(digs)).to_numpy()
    digs["dig_status"] = np.where(digs["holds"] == "", READY, HOLD)
    digs["rule"], digs["conflicts"] = picked.name, near
    pairs["line_id"] = digs["line_id"].to_numpy()[pairs["zone"]]
    layers = {
        "dig_zones": gpd.GeoDataFrame(digs[list(ZONE_COLUMNS)], geometry=zones, crs=job.crs),
        "conflicts": gpd.GeoDataFrame(
            pairs[list(CONFLICT_COLUMNS)], geometry=pairs["geometry"].to_numpy(), crs=job.crs
        ),
        "lines": _lines(result.layers["lines"], digs, near),
    }
    return result.adding(layers, _faults(facilities))


def _digs(result: Result, working_width_m: float) -> pd.DataFrame:
    """One row a mark: its columns, the hole and its size, and what is known of the pipe."""
    job, marks = result.job, result.layers["marks"]
    lines = result.layers["lines"].drop_duplicates("line_id").set_index("line_id")
    digs = pd.DataFrame(marks.drop(columns=marks.geometry.name)).reset_index(drop=True)
    along, across = _numbers(digs, "along_95_m"), _numbers(digs, "across_95_m")
    azimuth = _numbers(digs, "azimuth_deg")
    shape = ellipse_with_room(marks.geometry.to_numpy(), along, across, azimuth, working_width_m)
    pipe = pipe_of_line(job.routes, digs["line_id"])
    with_air = job.readings.loc[job.readings["air"] == "on", "line_id"]
    return digs.assign(
        zone_shape=shape,
        drawn=~shapely.is_missing(shape),
        depth_m=excavation_depth_m(pipe["depth_m"], pipe["diameter_mm"]),
        pressure_kpa=pipe["pressure_kpa"],
        length_m=2 * (along + working_width_m),
        width_m=2 * (across + working_width_m),
        area_m2=shapely.area(shape),
        azimuth_known=np.isfinite(azimuth),
        air_on=digs["line_id"].isin(with_air.dropna()),
        status=digs["line_id"].map(lines["status"]),
    )


def _numbers(digs: pd.DataFrame, column: str) -> pd.Series:
    """Read a column as numbers; NaN where it is missing or is none."""
    given = digs.get(column, pd.Series(np.nan, index=digs.index))
    return pd.to_numeric(given, errors="coerce").astype(float)


def _layer_hold(job: Job, facilities: Facilities) -> str | None:
    """Say what is wrong with the utilities layer as a whole; it then holds every dig."""
    if job.utilities is None:
        return "there is no utilities layer: absence of data holds the dig, it clears nothing"
    if not len(job.utilities):
        return "the utilities layer has no rows: absence of data holds the dig, it clears nothing"
    if lost := int(facilities.unplaced.sum()):
        return (
            f"{lost} utility records have no usable position and could be anywhere (correct them)"
        )
    return None


def _lines(lines: pd.DataFrame, digs: pd.DataFrame, near: np.ndarray) -> pd.DataFrame:
    """Give the lines table its counts and its status; a line without a mark is on hold."""
    count = pd.Series(near, index=digs["line_id"]).groupby(level=0).sum()
    held = (digs["dig_status"] != READY).groupby(digs["line_id"].to_numpy()).any()
    conflicts = lines["line_id"].map(count).fillna(0).astype(int)
    ready = lines["line_id"].map(~held).eq(True)
    return lines.assign(conflicts=conflicts, dig_status=np.where(ready, READY, HOLD))


def _faults(facilities: Facilities) -> list[Fault]:
    """Report utilities that the job's own checks let by but that can't be measured as they are."""
    table, fresh = facilities.table, facilities.table["reason"].isna().to_numpy()
    lost, bent = facilities.unplaced & fresh, facilities.repaired & fresh
    name = table["utility_id"].fillna("row " + (table.index + 1).astype(str).to_series(table.index))
    return [
        *(Fault("utilities", "It has no usable position, and could be anywhere.",
                "Give it a geometry; until then it holds every dig.", str(who))
          for who in name[lost]),
        *(Fault("utilities", "Its shape is invalid, and was repaired to measure from.",
                "Correct the shape; until then it holds the digs near it.", str(who),
                effect="noted")
          for who in name[bent]),
    ]  # fmt: skip
