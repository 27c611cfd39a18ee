"""Conflicts between dig zones and utilities: distance, severity and action of each pair."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely

from leakgeo.reason import Reason, columns_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from leakgeo.dig.facilities import Facilities
    from leakgeo.dig.rules import Assumptions, Rule

INSIDE, NEAR, UNKNOWN = "inside_tolerance", "near", "unknown_position"


def find_conflicts(
    zones: NDArray[np.object_],
    depth_m: NDArray[np.float64],
    facilities: Facilities,
    rule: Rule,
    assumed: Assumptions,
) -> pd.DataFrame:
    """Pair each dig zone with every utility within search distance.

    Parameters
    ----------
    zones : (n,) array of shapely Polygons or None
        Dig zones in the job's metre CRS.
    depth_m : (n,) array
        Depth of each hole, in metres; NaN where not known.
    facilities : Facilities
        In the same CRS.
    rule : Rule
    assumed : Assumptions

    Returns
    -------
    pandas.DataFrame
        One row per pair: ``zone`` and ``utility`` (row numbers), the utility's columns,
        clearance_m (horizontal, from the dig zone to the outside edge of the facility; 0 where
        they overlap), margin_m (to the edge of its tolerance zone, error included; negative
        inside), tolerance_m and error_95_m as used, severity, in_caution_zone, depth_gap_m,
        action, rule, rule_case, and ``geometry``: the tolerance zone, error included, clipped to
        the neighbourhood of the dig.

    Notes
    -----
    Depth is for information: a gap in depth does not remove a conflict.
    """
    utility, zone = shapely.STRtree(zones).query(
        facilities.geometry, predicate="dwithin", distance=facilities.search_m
    )
    order = np.lexsort((utility, zone))
    utility, zone = utility[order], zone[order]
    pairs: pd.DataFrame = facilities.table.iloc[utility].reset_index(drop=True)
    distance = shapely.distance(zones[zone], facilities.geometry[utility])
    half, reach = facilities.half_width_m[utility], facilities.zone_m[utility]
    pairs = pairs.assign(
        zone=zone,
        utility=utility,
        clearance_m=np.maximum(distance - half, 0.0),
        tolerance_m=reach - half,
        error_95_m=facilities.error_95_m[utility],
        width_unknown=facilities.width_unknown[utility],
        repaired=facilities.repaired[utility],
        in_caution_zone=(rule.caution_m > 0)
        & (distance - half - facilities.error_95_m[utility] <= rule.caution_m),
        margin_m=distance - reach - facilities.error_95_m[utility],
        depth_gap_m=pairs["depth_m"].to_numpy() - depth_m[zone],
        rule=facilities.rule[utility],
        rule_case=facilities.rule_case[utility],
    )
    pairs["severity"] = _severity(pairs)
    columns = (pairs[c] for c in ("severity", "depth_m", "depth_gap_m"))
    actions = [_action(*row) for row in zip(*columns, strict=True)]
    pairs = pairs.assign(**columns_of("action", actions))
    pairs["geometry"] = _tolerance_polygons(zones, facilities, zone, utility, assumed)
    return pairs


def _severity(pairs: pd.DataFrame) -> NDArray[np.object_]:
    lost = pairs["level"].isin(["", "D"]) | pairs["reason"].notna()
    inside = pairs["margin_m"] <= 0
    return np.where(lost, UNKNOWN, np.where(inside, INSIDE, NEAR)).astype(object)


def _action(severity: str, depth_m: float, gap_m: float) -> Reason:
    """Return the action for a pair; the depth on record is for information only."""
    if not depth_m >= 0:
        depth = Reason("utility_depth_unknown")
    elif gap_m > 0:
        depth = Reason("utility_below_hole", depth_m=depth_m, gap_m=gap_m)
    else:
        depth = Reason(
            "utility_depth" if np.isnan(gap_m) else "utility_within_hole", depth_m=depth_m
        )
    return Reason(f"action_{severity}", depth)


def _tolerance_polygons(
    zones: NDArray[np.object_],
    facilities: Facilities,
    zone: NDArray[np.int64],
    utility: NDArray[np.int64],
    assumed: Assumptions,
) -> NDArray[np.object_]:
    """Buffer utilities by tolerance and error, clipped to the dig (before, as it is cheaper)."""
    margin = assumed.reach_m + assumed.widest_m / 2 + 0.5
    around = shapely.bounds(zones) + margin * np.array([-1.0, -1.0, 1.0, 1.0])
    cut = np.array(shapely.box(*around.T), dtype=object)
    width = (facilities.zone_m + facilities.error_95_m)[utility]
    bounds = around[zone] + width[:, None] * np.array([-1.01, -1.01, 1.01, 1.01])
    near = shapely.intersection(facilities.geometry[utility], shapely.box(*bounds.T))
    polygons = shapely.intersection(shapely.buffer(near, width, quad_segs=16), cut[zone])
    return np.asarray(polygons, dtype=object)
