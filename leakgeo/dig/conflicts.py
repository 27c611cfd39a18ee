"""Which utilities have a say in which dig, how near they are, and what to do about each."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely

from leakgeo.dig.words import metres

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from leakgeo.dig.facilities import Facilities
    from leakgeo.dig.rules import Assumptions, Rule

INSIDE, NEAR, UNKNOWN = "inside_tolerance", "near", "unknown_position"
_ACTION = {
    INSIDE: "Expose it by hand or vacuum before anything else is dug; "
    "no power tool inside its tolerance zone.",
    NEAR: "Keep power tools out of its tolerance zone, and watch for it.",
    UNKNOWN: "Have its owner locate it, or expose it by hand or vacuum, "
    "before anything else is dug.",
}


def find_conflicts(
    zones: NDArray[np.object_], facilities: Facilities, rule: Rule, assumed: Assumptions
) -> pd.DataFrame:
    """Pair each dig zone with every utility that has a say in it, in one pass.

    Parameters
    ----------
    zones : (n,) array of shapely Polygons or None
        Dig zones in the job's metre CRS.
    facilities : Facilities
        In the same CRS.
    rule : Rule
    assumed : Assumptions

    Returns
    -------
    pandas.DataFrame
        One row a pair: ``zone`` and ``utility`` (positions), the utility's columns, clearance_m
        (horizontally, from the dig zone to the outside edge of the facility, 0 where they
        overlap), tolerance_m and error_95_m as used, severity, in_caution_zone, action, rule, and
        ``geometry``: the tolerance zone, error included, cut to the neighbourhood of the dig.

    Notes
    -----
    Depth is told, and never used: a gap in depth does not remove a conflict.
    """
    utility, zone = shapely.STRtree(zones).query(
        facilities.geometry, predicate="dwithin", distance=facilities.search_m
    )
    order = np.lexsort((utility, zone))
    utility, zone = utility[order], zone[order]
    pairs: pd.DataFrame = facilities.table.iloc[utility].reset_index(drop=True)
    distance = shapely.distance(zones[zone], facilities.geometry[utility])
    half, reach = facilities.half_m[utility], facilities.zone_m[utility]
    pairs = pairs.assign(
        zone=zone,
        utility=utility,
        clearance_m=np.maximum(distance - half, 0.0),
        tolerance_m=reach - half,
        error_95_m=facilities.error_95_m[utility],
        width_unknown=facilities.width_unknown[utility],
        repaired=facilities.repaired[utility],
        in_caution_zone=distance - half - facilities.error_95_m[utility] <= rule.caution_m,
        rule=rule.name,
    )
    pairs["severity"] = _severity(pairs, distance <= reach + facilities.error_95_m[utility])
    pairs["action"] = _actions(pairs)
    pairs["geometry"] = _drawn(zones, facilities, zone, utility, assumed)
    return pairs


def _severity(pairs: pd.DataFrame, inside: NDArray[np.bool_]) -> NDArray[np.object_]:
    lost = pairs["level"].isin(["", "D"]) | pairs["reason"].notna()
    return np.where(lost, UNKNOWN, np.where(inside, INSIDE, NEAR)).astype(object)


def _actions(pairs: pd.DataFrame) -> list[str]:
    return [
        f"{_ACTION[severity]} "
        + (f"Its record says {metres(depth)} deep: do not rely on it." if depth >= 0 else
           "Its depth is not known: expect it at any depth.")
        for severity, depth in zip(pairs["severity"], pairs["depth_m"], strict=True)
    ]  # fmt: skip


def _drawn(
    zones: NDArray[np.object_],
    facilities: Facilities,
    zone: NDArray[np.int64],
    utility: NDArray[np.int64],
    assumed: Assumptions,
) -> NDArray[np.object_]:
    """Tolerance zones with error, cut to the neighbourhood (lines first, as it is cheaper)."""
    margin = assumed.reach_m + assumed.widest_m / 2 + 0.5
    used = np.unique(zone)
    around = np.full(zones.shape, None, dtype=object)
    around[used] = shapely.buffer(zones[used], margin, quad_segs=8)
    width = (facilities.zone_m + facilities.error_95_m)[utility]
    bounds = shapely.bounds(around[zone]) + width[:, None] * np.array([-1.01, -1.01, 1.01, 1.01])
    near = shapely.intersection(facilities.geometry[utility], shapely.box(*bounds.T))
    drawn = shapely.intersection(shapely.buffer(near, width, quad_segs=16), around[zone])
    return np.asarray(drawn, dtype=object)
