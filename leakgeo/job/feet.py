"""Which foot a CRS has, and how far positions move with the other one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from leakgeo.conversion import FOOT_M, US_SURVEY_FOOT_M
from leakgeo.job.crs import horizontal, transformer

if TYPE_CHECKING:
    from pyproj import CRS

FEET = {FOOT_M: "international", US_SURVEY_FOOT_M: "us_survey"}
# A false origin may be stated with the number of the other foot, 2 parts in a million away.
_MAX_RELATIVE_DIFFERENCE = 1e-5


def foot_units(crs: CRS) -> tuple[float, float]:
    """Return the foot of a CRS in metres, and the other kind of foot; zeros if it has no feet.

    Examples
    --------
    >>> import pyproj
    >>> foot_units(pyproj.CRS(2289)) == (1200 / 3937, 0.3048), foot_units(pyproj.CRS(32616))
    (True, (0.0, 0.0))
    """
    unit = horizontal(crs).axis_info[0].unit_conversion_factor
    kinds = sorted(FEET, key=lambda foot: abs(foot - unit))
    return (kinds[0], kinds[1]) if abs(kinds[0] - unit) < 1e-9 else (0.0, 0.0)


def in_two_feet(one: CRS, other: CRS) -> bool:
    """Return whether two CRSs are the same projection, one in each kind of foot.

    The datum is not compared: another realisation of it doesn't say that the foot is right.

    Examples
    --------
    >>> import pyproj
    >>> ours = pyproj.CRS(2229)
    >>> theirs = pyproj.CRS(ours.to_wkt("WKT1_GDAL").replace("0.304800609601219", "0.3048"))
    >>> in_two_feet(ours, theirs), in_two_feet(ours, ours), in_two_feet(ours, pyproj.CRS(2230))
    (True, False, False)
    """
    feet = foot_units(one)[0], foot_units(other)[0]
    if not all(feet) or feet[0] == feet[1]:
        return False
    ours, theirs = _projection(one), _projection(other)
    return (ours is not None and theirs is not None and ours[0] == theirs[0]
            and len(ours[1]) == len(theirs[1])
            and np.allclose(ours[1], theirs[1], rtol=_MAX_RELATIVE_DIFFERENCE))  # fmt: skip


def _projection(crs: CRS) -> tuple[str, list[float]] | None:
    """Return method and values of a projection, in metres and radians."""
    flat = horizontal(crs)
    # A bound CRS has the projection in its source.
    own = flat.source_crs if flat.is_bound else flat
    done = None if own is None else own.coordinate_operation
    if done is None:
        return None
    # Sorted, as standard parallels come in either order.
    return done.method_name, sorted(float(p.value) * p.unit_conversion_factor for p in done.params)


def moved_by_foot_m(x: float, y: float, theirs: CRS, ours: CRS) -> float:
    """Return how far a position in one CRS moves if its coordinates are of another, in metres.

    Examples
    --------
    >>> import pyproj
    >>> ours = pyproj.CRS(2229)
    >>> theirs = pyproj.CRS(ours.to_wkt("WKT1_GDAL").replace("0.304800609601219", "0.3048")
    ...                     .replace("6561666.667", "6561679.79")
    ...                     .replace("1640416.667", "1640419.948"))
    >>> round(moved_by_foot_m(6_500_000.0, 1_850_000.0, theirs, ours), 1)
    4.1
    """
    there = transformer(horizontal(theirs), horizontal(ours)).transform(x, y)
    unit = horizontal(ours).axis_info[0].unit_conversion_factor
    return float(np.hypot(there[0] - x, there[1] - y) * unit)
