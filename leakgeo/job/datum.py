"""Find the accuracy of the datum shift from a layer to the routes, and report poor ones."""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from pyproj.transformer import AreaOfInterest, TransformerGroup

from leakgeo.job.crs import base_geographic, horizontal
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from pyproj import CRS

    from leakgeo.job.checks import CheckedLayer

#: Datum shifts of a larger stated accuracy are reported, in metres.
MAX_UNREPORTED_M = 0.5
_MARGIN_DEG = 0.01


@dataclass(frozen=True)
class DatumShift:
    """Datum shift between two CRSs.

    Parameters
    ----------
    accuracy_m : float
        Stated accuracy in metres; 0 without a datum shift, NaN if not stated.
    guessed : bool
        Whether two different known datums are treated as equal because a grid file is missing.
    """

    accuracy_m: float
    guessed: bool


# A run asks a dozen times about a few pairs.
@lru_cache(maxsize=256)
def datum_shift(source: CRS, target: CRS, position: tuple[float, float]) -> DatumShift:
    """Return the datum shift from `source` to `target` at a position.

    Parameters
    ----------
    source, target : pyproj.CRS
    position : tuple of float
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
        return DatumShift(0.0, guessed=False)
    # Some versions of PROJ find nothing for an area without extent.
    west, south, east, north = np.add(
        (*position, *position), (-_MARGIN_DEG, -_MARGIN_DEG, _MARGIN_DEG, _MARGIN_DEG)
    )
    area = AreaOfInterest(west, south, east, north)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a missing grid is reported by its accuracy
        group = TransformerGroup(source, target, always_xy=True, area_of_interest=area)
    if not group.transformers:
        return DatumShift(math.nan, guessed=True)
    best = group.transformers[0]
    known = not any(_has_unknown_datum(c) for c in (source, target))
    guessed = "ballpark" in best.description.casefold() and known
    return DatumShift(best.accuracy if best.accuracy >= 0 else math.nan, guessed)


def _has_unknown_datum(crs: CRS) -> bool:
    """Return whether a CRS states an ellipsoid without a datum, as hand-written CRSs do."""
    datum = base_geographic(crs).datum
    return datum is None or datum.name.casefold().startswith("unknown")


def report_shift(
    checked: CheckedLayer, source: CRS, target: CRS, shift: DatumShift
) -> CheckedLayer:
    """Report a poor datum shift; reject all rows of the layer if the shift is guessed."""
    issues = checked.issues()
    theirs, ours = base_geographic(horizontal(source)).name, base_geographic(target).name
    datums = {"datum": theirs, "routes_datum": ours}
    if shift.guessed:
        every = np.ones(len(checked.table), dtype=bool)
        issues.report(every, Reason("datum_guessed", **datums), column="geometry")
    elif math.isnan(shift.accuracy_m):
        issues.report_layer(Reason("datum_shift_unknown", **datums), column="geometry")
    elif shift.accuracy_m > MAX_UNREPORTED_M:
        poor = Reason("datum_shift_poor", accuracy_m=shift.accuracy_m, **datums)
        issues.report_layer(poor, column="geometry")
    return checked.with_issues(issues)
