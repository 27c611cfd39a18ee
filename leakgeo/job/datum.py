"""How well a layer can be carried over to the job's datum."""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from pyproj.transformer import AreaOfInterest, TransformerGroup

from leakgeo.job.crs import base_geographic, horizontal

if TYPE_CHECKING:
    from pyproj import CRS

    from leakgeo.job.checks import CheckedLayer

#: A datum shift no better than this is told: it is as large as what is looked for.
WORTH_TELLING_M = 0.5
_AROUND = 0.01


@dataclass(frozen=True)
class Shift:
    """How coordinates get from one CRS to another.

    Parameters
    ----------
    accuracy_m : float
        Stated accuracy of the datum shift in metres; 0 where there is none, NaN where not stated.
    guessed : bool
        Whether two different known datums are taken for one, for want of a grid file.
    """

    accuracy_m: float
    guessed: bool


def datum_shift(source: CRS, target: CRS, place: tuple[float, float]) -> Shift:
    """Find how well coordinates can be taken from `source` to `target`.

    Parameters
    ----------
    source, target : pyproj.CRS
    place : tuple of float
        Longitude and latitude of the job, degrees.

    Returns
    -------
    Shift

    Examples
    --------
    >>> import pyproj
    >>> datum_shift(pyproj.CRS(4326), pyproj.CRS(32633), (14.4, 50.1)).accuracy_m
    0.0
    """
    if source == target or base_geographic(source) == base_geographic(target):
        return Shift(0.0, guessed=False)
    # Some versions of PROJ find nothing for an area without extent.
    west, south, east, north = np.add((*place, *place), (-_AROUND, -_AROUND, _AROUND, _AROUND))
    area = AreaOfInterest(west, south, east, north)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a missing grid shows in the accuracy
        group = TransformerGroup(source, target, always_xy=True, area_of_interest=area)
    if not group.transformers:
        return Shift(math.nan, guessed=True)
    best = group.transformers[0]
    known = not any(_nameless(c) for c in (source, target))
    guessed = "ballpark" in best.description.casefold() and known
    return Shift(best.accuracy if best.accuracy >= 0 else math.nan, guessed)


def _nameless(crs: CRS) -> bool:
    """Tell whether a CRS states an ellipsoid and no datum, as hand-written ones do."""
    datum = base_geographic(crs).datum
    return datum is None or datum.name.casefold().startswith("unknown")


def report_shift(checked: CheckedLayer, source: CRS, target: CRS, shift: Shift) -> CheckedLayer:
    """Tell of a poor datum shift; reject the layer's rows where it is no more than a guess."""
    issues = checked.issues()
    ours, theirs = base_geographic(target).name, base_geographic(horizontal(source)).name
    if shift.guessed:
        issues.report(
            np.ones(len(checked.table), dtype=bool),
            f"Its datum ({theirs}) can't be carried over to that of the routes ({ours}) on this "
            "machine; it could be tens of metres off.",
            "Bring the layer into the routes' CRS in a GIS, or install PROJ's grid files.",
            column="geometry",
        )
    elif not shift.accuracy_m <= WORTH_TELLING_M:
        known = math.isfinite(shift.accuracy_m)
        good = f"good to about {shift.accuracy_m:g} m" if known else "of unknown accuracy"
        issues.report_layer(
            f"Carrying it over from {theirs} to the routes' {ours} is {good}.",
            "Bring the layer into the routes' CRS in a GIS with the right grid, if that matters.",
            "geometry",
        )
    return checked.with_issues(issues)
