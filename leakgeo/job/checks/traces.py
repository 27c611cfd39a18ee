"""Traces that no pipe has: that cross themselves, or turn straight back."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from leakgeo.job.checks.registry import check

if TYPE_CHECKING:
    import geopandas as gpd
    from numpy.typing import NDArray

    from leakgeo.job.checks.collector import Findings

# A turn this close to straight back, with both legs this long, is a slip of the mouse: a pipe that
# returns does so in two bends.
BACK_DEG, LEG_M = 4.0, 0.3
# Vertices nearer than this are one.
_SAME_M = 1e-6


@check("routes", order=10)
def odd_traces(rows: gpd.GeoDataFrame, findings: Findings) -> None:
    """Tell of traces along which a distance is not what it seems."""
    lines = rows.geometry.to_numpy()
    back = turns_back(lines)
    findings.tell(
        back > 0, "The route turns straight back on itself, {value}: a spike, or a part drawn "
        "twice. Distances along it are too long by that.", "Take the extra vertices out.",
        column="geometry", values=np.where(back == 1, "once", [f"{n} times" for n in back]),
        rejects=False,
    )  # fmt: skip
    there = ~shapely.is_missing(lines) & (back == 0)
    crosses = np.zeros(len(lines), dtype=bool)
    crosses[there] = ~shapely.is_simple(lines[there])
    findings.tell(
        crosses, "The route crosses or touches itself: near there a position alone can't tell "
        "which part it is on.", "Check the trace; if it is right, give taped distances there.",
        column="geometry", rejects=False,
    )  # fmt: skip


def turns_back(lines: NDArray[np.object_]) -> NDArray[np.int64]:
    """Count where each line turns straight back; of routes in several parts none is counted.

    Examples
    --------
    >>> turns_back(shapely.from_wkt(["LINESTRING (0 0, 9 0, 9 5, 9 0, 20 0)"])).tolist()
    [1]
    """
    whole = shapely.get_type_id(lines) == shapely.GeometryType.LINESTRING
    single = lines.copy()
    single[~whole] = None
    xy, owner = shapely.get_coordinates(single, return_index=True)
    step = np.diff(xy, axis=0)
    fresh = np.ones(len(xy), dtype=bool)
    fresh[1:] = (np.diff(owner) != 0) | (np.hypot(*step.T) > _SAME_M)
    xy, owner = xy[fresh], owner[fresh]
    step, joined = np.diff(xy, axis=0), np.diff(owner) == 0
    long = np.hypot(*step.T)
    product = long[:-1] * long[1:]
    cosine = (step[:-1] * step[1:]).sum(axis=1) / np.where(product > 0, product, 1.0)
    back = joined[:-1] & joined[1:] & (cosine < -np.cos(np.radians(BACK_DEG)))
    back &= np.minimum(long[:-1], long[1:]) > LEG_M
    return np.bincount(owner[1:-1][back], minlength=len(lines)).astype(np.int64)
