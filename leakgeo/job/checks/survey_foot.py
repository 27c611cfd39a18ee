"""Tell of a layer in the other foot: US survey and international differ by two parts in a million.

Far from a grid's origin that is one or two metres, which no reading's error explains and nobody
sees on a map.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pyproj
import shapely

from leakgeo.arrays import floats
from leakgeo.job.checks.links import row_of_line
from leakgeo.job.checks.registry import check
from leakgeo.job.crs import horizontal

if TYPE_CHECKING:
    import geopandas as gpd
    from pyproj import CRS

    from leakgeo.arrays import Objects
    from leakgeo.job.checks.collector import Findings

FEET = {0.3048: "international", 1200 / 3937: "US survey"}
# Of this many positions at least that are good to half a metre, the middle one must come nearer to
# its line by half, and by this.
FEWEST, GOOD_M, NEARER_M = 10, 0.5, 0.3
_MOST = 5_000


@check("readings", order=40)
def other_foot(
    rows: gpd.GeoDataFrame, issues: Findings, routes: gpd.GeoDataFrame, crs: CRS, read_crs: CRS
) -> None:
    """Tell of readings that would lie on their lines if their feet were of the other kind."""
    own, other = _feet(read_crs)
    if not other:
        return
    row = row_of_line(rows, routes)
    sure = (row >= 0) & issues.good
    sure &= floats(rows, "position_sd_m", null=np.inf) < GOOD_M
    at = np.flatnonzero(sure)[:_MOST]
    if len(at) < FEWEST:
        return
    points, own_lines = rows.geometry.to_numpy()[at], routes.geometry.to_numpy()[row[at]]
    before = np.median(shapely.distance(points, own_lines))
    after = np.median(shapely.distance(_scaled(points, read_crs, crs, other / own), own_lines))
    if before - after < NEARER_M or after > before / 2:
        return
    issues.tell_layer(
        f"Half of its best positions are {before:.1f} m or more off their lines; it would be "
        f"{after:.1f} m if its feet were {FEET[other]} feet, not {FEET[own]} ones.",
        "Check which foot the layer, and the routes, are in.", "geometry",
    )  # fmt: skip


def _feet(crs: CRS) -> tuple[float, float]:
    """Give the foot of a CRS in metres, and the other one; zeros where it is in no feet.

    Examples
    --------
    >>> _feet(pyproj.CRS(2289)) == (1200 / 3937, 0.3048), _feet(pyproj.CRS(32616))
    (True, (0.0, 0.0))
    """
    unit = horizontal(crs).axis_info[0].unit_conversion_factor
    kinds = sorted(FEET, key=lambda foot: abs(foot - unit))
    return (kinds[0], kinds[1]) if abs(kinds[0] - unit) < 1e-9 else (0.0, 0.0)


def _scaled(points: Objects, theirs: CRS, local: CRS, by: float) -> Objects:
    """Give points, in the local CRS, whose coordinates were so many times larger in their own."""
    back = pyproj.Transformer.from_crs(local, horizontal(theirs), always_xy=True)
    x, y = back.transform(*shapely.get_coordinates(points).T)
    there = pyproj.Transformer.from_crs(horizontal(theirs), local, always_xy=True)
    moved: Objects = shapely.points(*there.transform(x * by, y * by))
    return moved
