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
from leakgeo.job.crs import horizontal

if TYPE_CHECKING:
    from pyproj import CRS

    from leakgeo.arrays import Objects
    from leakgeo.job.checks.layer import CheckedLayer

FEET = {0.3048: "international", 1200 / 3937: "US survey"}
# Of this many positions at least that are good to half a metre, the middle one must come nearer to
# its line by half, and by this.
FEWEST, GOOD_M, NEARER_M = 10, 0.5, 0.3
_MOST = 5_000


def tell_other_foot(
    readings: CheckedLayer, routes: CheckedLayer, theirs: CRS, local: CRS
) -> CheckedLayer:
    """Tell of readings that would lie on their lines if their feet were of the other kind.

    Parameters
    ----------
    readings, routes : CheckedLayer
        In the local CRS.
    theirs, local : pyproj.CRS
        CRS that the readings came in, and the local one.
    """
    own, other = _feet(theirs)
    if not other:
        return readings
    table, lines = readings.table, routes.table[routes.table["reason"].isna()]
    row = row_of_line(table, lines)
    sure = (row >= 0) & table["reason"].isna().to_numpy()
    sure &= floats(table, "position_sd_m", null=np.inf) < GOOD_M
    at = np.flatnonzero(sure)[:_MOST]
    if len(at) < FEWEST:
        return readings
    points, own_lines = table.geometry.to_numpy()[at], lines.geometry.to_numpy()[row[at]]
    before = np.median(shapely.distance(points, own_lines))
    after = np.median(shapely.distance(_scaled(points, theirs, local, other / own), own_lines))
    if before - after < NEARER_M or after > before / 2:
        return readings
    found = readings.findings()
    found.tell_layer(
        f"Half of its best positions are {before:.1f} m or more off their lines; it would be "
        f"{after:.1f} m if its feet were {FEET[other]} feet, not {FEET[own]} ones.",
        "Check which foot the layer, and the routes, are in.", "geometry",
    )  # fmt: skip
    return readings.with_findings(found)


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
