"""Readings of the sweeps across each line, and the mapped lines within their reach."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely

from leakgeo.arrays import floats, texts
from leakgeo.find.weights import load_weights

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.arrays import Floats, Ints, Objects
    from leakgeo.job.model import Job
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants

# Kinds of utilities that sound like a leaking line.
_SOUNDING = ("potable_water", "reclaimed_water", "sewer_drain")
# Distance between places along a mapped line that runs across the line swept.
_ALONG_M = 0.5


@dataclass(frozen=True)
class Sweep:
    """Readings across a line at one place.

    Parameters
    ----------
    chainage_m : float
    offset_m : ndarray of float, shape (n,)
        Distance across, positive to the left.
    level_db, rounding_sd_db, smear_m, soil_times : ndarray of float, shape (n,)
        Level, error of rounding, lateral smear of the surface, and factor of the decay in the soil
        of the filter band.
    group : ndarray of int, shape (n,)
        Codes of readings with directly comparable levels.
    """

    chainage_m: float
    offset_m: Floats
    level_db: Floats
    rounding_sd_db: Floats
    smear_m: Floats
    soil_times: Floats
    group: Ints


@dataclass(frozen=True)
class Neighbour:
    """A mapped line near a sweep.

    Parameters
    ----------
    name : str
    offset_m : ndarray of float, shape (m,)
        Places where it crosses the line of the sweep, prolonged.
    sd_m : float
        Trace error.
    """

    name: str
    offset_m: Floats
    sd_m: float


def sweeps_by_line(
    readings: pd.DataFrame, lines: Lines, constants: Constants
) -> dict[int, list[Sweep]]:
    """Return the sweeps across each selected line, in order of chainage.

    Parameters
    ----------
    readings : pandas.DataFrame
        ``readings_on_route``.
    lines : Lines
    constants : Constants
    """
    used = np.asarray(readings["used"], dtype=bool)
    own = readings[used & np.isfinite(floats(readings, "sweep_m"))]
    # Sorted by place and id, so that sums do not depend on the order of the rows to the last bit.
    own = own.sort_values(["offset_m", "reading_id"], kind="stable")
    line, at = lines.index_of(texts(own, "line_id")), floats(own, "sweep_m")
    found: dict[int, list[Sweep]] = {}
    for k, place in np.unique(np.column_stack([line, at]), axis=0).tolist():
        if lines.selected[int(k)]:
            rows = own[(line == k) & (at == place)]
            found.setdefault(int(k), []).append(_sweep(place, rows, constants))
    return found


def _sweep(at: float, rows: pd.DataFrame, constants: Constants) -> Sweep:
    surface = pd.Series(texts(rows, "surface")).fillna("unknown")
    band = pd.Series(texts(rows, "band")).fillna("wide")
    walk = np.asarray(rows["walk"], dtype=np.int64)
    return Sweep(
        at, floats(rows, "offset_m"), floats(rows, "level_db"), floats(rows, "rounding_sd_db"),
        np.array(surface.map(constants.smear_m), dtype=float),
        np.array([constants.bands[each].soil_times for each in band]),
        pd.MultiIndex.from_arrays([walk, band]).factorize(sort=True)[0],
    )  # fmt: skip


def neighbours_of(sweep: Sweep, line: int, lines: Lines, job: Job) -> tuple[Neighbour, ...]:
    """Return the mapped lines that a sweep, prolonged to its reach, crosses.

    Parameters
    ----------
    sweep : Sweep
    line : int
        Index of the line swept in `lines`.
    lines : Lines
    job : Job
        Its utilities that carry water count too, unless one lies where the line itself does.

    Returns
    -------
    tuple of Neighbour
        In order of their names.
    """
    reach = reach_of(sweep)
    at, which = np.array([sweep.chainage_m]), np.array([line])
    foot = shapely.get_coordinates(lines.routes.points(which, at))[0]
    along = np.radians(lines.routes.grid_azimuth_deg(which, at)[0])
    left = np.array([-np.cos(along), np.sin(along)])
    across = shapely.LineString([foot - reach * left, foot + reach * left])
    others = np.arange(len(lines.length_m)) != line
    sd, own_sd = lines.trace_sd_m, float(lines.trace_sd_m[line])
    names = lines.table.index.to_numpy(dtype=object)
    found = _crossing(across, names[others], lines.routes.lines[others], sd[others], reach)
    for each in _utilities(across, job, reach):
        if np.abs(each.offset_m).min() > 2.0 * np.hypot(each.sd_m, own_sd):
            found.append(each)
    return tuple(found)


def _utilities(across: shapely.LineString, job: Job, reach: float) -> list[Neighbour]:
    layer = job.utilities
    if layer is None or layer.empty:
        return []
    kept = layer[layer["kind"].isin(_SOUNDING) & layer.geometry.notna()]
    sd = floats(kept, "position_sd_m", null=load_sweep_weights()["place"]["utility_sd_m"])
    return _crossing(across, texts(kept, "utility_id"), kept.geometry.to_numpy(), sd, reach)


def _crossing(
    across: shapely.LineString, names: Objects, shapes: Objects, sd_m: Floats, reach: float
) -> list[Neighbour]:
    near = np.flatnonzero(shapely.intersects(shapes, across))
    found = []
    for k in sorted(near.tolist(), key=lambda k: (str(names[k]), k)):
        met = shapely.segmentize(shapely.intersection(shapes[k], across), _ALONG_M)
        offset = shapely.line_locate_point(across, shapely.points(shapely.get_coordinates(met)))
        found.append(Neighbour(str(names[k]), np.unique(offset - reach), float(sd_m[k])))
    return found


def reach_of(sweep: Sweep) -> float:
    """Return how far to each side of the trace a source is considered."""
    place = load_sweep_weights()["place"]
    return max(place["reach_m"], float(np.abs(sweep.offset_m).max()) + place["beyond_m"])


def load_sweep_weights() -> Mapping[str, Mapping[str, float]]:
    """Load the prior weights; ``sweep.toml`` explains them."""
    return load_weights("leakgeo.find.evidence", "sweep")
