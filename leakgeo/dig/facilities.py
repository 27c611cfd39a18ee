"""Utilities prepared for `clearance`: width, position error and extent of the tolerance zone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import shapely

from leakgeo.arrays import texts
from leakgeo.faults import Fault
from leakgeo.reason import Reason

if TYPE_CHECKING:
    import geopandas as gpd
    from numpy.typing import NDArray
    from pyproj import CRS

    from leakgeo.dig.rules import Assumptions, Rule
    from leakgeo.job.model import Job

TEXT = ("utility_id", "kind", "owner", "quality_level", "response", "ticket",
        "ticket_kind", "private", "reason")  # fmt: skip
TIMES = ("response_time", "notified_time")
NUMBERS = ("width_m", "depth_m", "position_sd_m", "tolerance_m")
OWN_TOLERANCE = "tolerance_m on record"
# 95 % factors of a normal error across a line and a circular normal error around a point.
SD_TO_95_LINE, SD_TO_95_POINT = 1.959964, 2.447747


@dataclass(frozen=True)
class Facilities:
    """Utilities ready for distance measurement; all arrays have one entry per utility.

    Parameters
    ----------
    table : pandas.DataFrame
        Cleaned columns of the data contract; blank text is null, ``level`` is A to D, or ``""``.
    geometry : (n,) array of shapely geometries
        Valid and two-dimensional, in the job's metre CRS; None where the position is unusable.
    half_width_m : array of float
        Distance from the geometry to the outside edge of the facility; 0 for polygons.
    zone_m : array of float
        Distance from the geometry to the edge of its tolerance zone, without position error.
    error_95_m : array of float
        95 % horizontal position error.
    search_m : array of float
        Distance from the geometry beyond which the utility does not affect a dig.
    unplaced : array of bool
        The position is unusable: the utility could be anywhere.
    repaired : array of bool
        The input geometry was invalid and has been repaired.
    width_unknown : array of bool
        A line or point without a width.
    rule : array of str
        Source of the tolerance: name of the rule, or ``tolerance_m on record``.
    rule_case : array of str
        ``single mark``, ``size marked``, ``size assumed`` or ``outside marks``.
    crs : pyproj.CRS or None
        CRS of the job.
    """

    table: pd.DataFrame
    geometry: NDArray[np.object_]
    half_width_m: NDArray[np.float64]
    zone_m: NDArray[np.float64]
    error_95_m: NDArray[np.float64]
    search_m: NDArray[np.float64]
    unplaced: NDArray[np.bool_]
    repaired: NDArray[np.bool_]
    width_unknown: NDArray[np.bool_]
    rule: NDArray[np.object_]
    rule_case: NDArray[np.object_]
    crs: CRS | None = None


def prepare_facilities(utilities: gpd.GeoDataFrame, rule: Rule, assumed: Assumptions) -> Facilities:
    """Compute width, error and tolerance zone of each utility under a rule.

    Parameters
    ----------
    utilities : geopandas.GeoDataFrame
        As in the data contract, in a metre CRS; columns and values may be missing.
    rule : Rule
    assumed : Assumptions

    Returns
    -------
    Facilities

    Notes
    -----
    A missing quality level counts as D. A given ``position_sd_m`` can only increase the error of
    its level: a precise coordinate of a poorly located pipe is still a poor position.
    """
    table = clean_columns(utilities)
    geometry, unplaced, repaired = measurable_geometry(utilities.geometry.to_numpy())
    dimension = shapely.get_dimensions(geometry)
    given = _where_above_zero(table["width_m"])
    unknown = np.isnan(given) & (dimension < 2)
    half = np.where(dimension == 2, 0.0, np.where(unknown, assumed.width_m, given) / 2)
    error = _error_95(table, dimension, assumed)
    own = _where_above_zero(table["tolerance_m"])
    tolerance = np.where(np.isnan(own), rule.tolerance_m, own)
    single_mark = unknown & (rule.unknown_width == "mark")
    looked_for = np.where(unknown, assumed.widest_m / 2, half)
    beyond = tolerance + max(assumed.reach_m, rule.caution_m)
    return Facilities(
        table=table,
        geometry=geometry,
        half_width_m=half,
        zone_m=np.where(single_mark, 0.0, half) + tolerance,
        error_95_m=error,
        search_m=looked_for + beyond + error,
        unplaced=unplaced,
        repaired=repaired,
        width_unknown=unknown,
        rule=np.where(np.isnan(own), rule.name, OWN_TOLERANCE).astype(object),
        rule_case=_rule_case(dimension, unknown, single_mark),
        crs=utilities.crs,
    )


def _rule_case(
    dimension: NDArray[np.signedinteger[Any]],
    unknown: NDArray[np.bool_],
    single: NDArray[np.bool_],
) -> NDArray[np.object_]:
    cases = [dimension == 2, single, unknown]
    names = ["outside marks", "single mark", "size assumed"]
    return np.select(cases, names, default="size marked").astype(object)


def clean_columns(utilities: gpd.GeoDataFrame) -> pd.DataFrame:
    """Convert the contract's columns to plain types: blank text to null, invalid numbers to NaN."""
    raw = pd.DataFrame(utilities.drop(columns=utilities.geometry.name))
    out = pd.DataFrame(index=pd.RangeIndex(len(raw)))
    for name in TEXT:
        # Plain Python: a chunk has few rows, and pandas takes a millisecond a column.
        stripped = [None if v is None else str(v).strip() for v in texts(raw, name)]
        out[name] = pd.Series([text or None for text in stripped], dtype=object)
    for name in NUMBERS:
        column = raw.get(name, pd.Series(np.nan, index=raw.index))
        out[name] = pd.to_numeric(column, errors="coerce").astype(float).to_numpy()
    nothing = pd.Series(None, index=raw.index, dtype=object)
    for name, value in (("notified", True), ("mark_seen", True), ("mark_missed", False)):
        column = raw.get("mark_seen" if name == "mark_missed" else name, nothing)
        out[name] = column.isin([value]).to_numpy()
    for name in TIMES:
        out[name] = pd.to_datetime(raw.get(name, nothing), errors="coerce", utc=True).array
    level = out["quality_level"].astype("string").str.upper()
    out["level"] = level.where(level.isin(list("ABCD")), "").fillna("").astype(object)
    out["private"] = out["private"].where(out["private"].isin(["no", "yes"]), "unknown")
    out["response"] = out["response"].astype("string").str.lower().astype(object)
    out["emergency"] = out["ticket_kind"].eq("emergency").to_numpy()
    return out


def measurable_geometry(
    shapes: NDArray[np.object_],
) -> tuple[NDArray[np.object_], NDArray[np.bool_], NDArray[np.bool_]]:
    """Return valid 2D geometries, and flags for unusable positions and repaired geometries.

    Examples
    --------
    >>> bow_tie = shapely.Polygon([(0, 0), (1, 1), (1, 0), (0, 1)])
    >>> shape, unplaced, repaired = measurable_geometry(np.array([bow_tie, None], dtype=object))
    >>> unplaced.tolist(), repaired.tolist()
    ([False, True], [True, False])
    """
    out = np.array(shapely.force_2d(shapes), dtype=object)
    xy, owner = shapely.get_coordinates(out, return_index=True)
    infinite = np.zeros(out.shape, dtype=bool)
    infinite[owner[~np.isfinite(xy).all(axis=1)]] = True
    unplaced = shapely.is_missing(out) | shapely.is_empty(out) | infinite
    out[unplaced] = None
    repaired = ~unplaced & ~shapely.is_valid(out)
    out[repaired] = shapely.make_valid(out[repaired])
    return out, unplaced, repaired


def _where_above_zero(column: pd.Series) -> NDArray[np.float64]:
    value = column.to_numpy(dtype=float)
    return np.where(np.isfinite(value) & (value > 0), value, np.nan)


def _error_95(
    table: pd.DataFrame, dimension: NDArray[np.signedinteger[Any]], assumed: Assumptions
) -> NDArray[np.float64]:
    """Return the 95 % error of the quality level, or of ``position_sd_m`` if larger."""
    floor = table["level"].map(dict(assumed.quality_level_95_m)).astype(float).to_numpy()
    floor = np.where(np.isnan(floor), assumed.quality_level_95_m["D"], floor)
    sd = _where_above_zero(table["position_sd_m"])
    stated = sd * np.where(dimension == 0, SD_TO_95_POINT, SD_TO_95_LINE)
    return np.fmax(floor, stated)


def layer_hold(job: Job, facilities: Facilities) -> Reason | None:
    """Return the fault of the utilities layer that puts a hold on every dig, or None."""
    if job.utilities is None:
        return Reason("no_utilities_layer")
    if not job.counts.get("utilities", len(job.utilities)):
        return Reason("no_utilities_rows")
    if lost := int(facilities.unplaced.sum()):
        return Reason("utilities_without_position", records=lost)
    return None


def facility_faults(facilities: Facilities) -> list[Fault]:
    """Report utilities that pass the job's checks but have an unusable or invalid geometry."""
    table, fresh = facilities.table, facilities.table["reason"].isna().to_numpy()
    lost, bent = facilities.unplaced & fresh, facilities.repaired & fresh
    name = table["utility_id"].fillna("row " + (table.index + 1).astype(str).to_series(table.index))
    return [
        *(Fault("utilities", Reason("utility_without_position"), str(who)) for who in name[lost]),
        *(Fault("utilities", Reason("utility_shape_repaired"), str(who), effect="noted")
          for who in name[bent]),
    ]  # fmt: skip
