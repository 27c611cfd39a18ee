"""Lines that a tape alone describes: computed on a trace of their own, never shown on the ground.

Such a line has a straight trace at an easting that no projection has (`NOWHERE_M`), so that
chainage, levels and probabilities are computed as on any line, and nothing joins it or lies beside
it. What is computed on it has no geometry in any layer or file.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import shapely

from leakgeo.arrays import floats, texts
from leakgeo.job.crs import NOWHERE_M

if TYPE_CHECKING:
    import pandas as pd

    from leakgeo.arrays import Bools, Objects
    from leakgeo.job.model import Job
    from leakgeo.result import Result

#: Traces of lines: drawn, a straight line assumed between two fittings, or none.
DRAWN, STRAIGHT, TAPED = "drawn", "straight", "taped"


def is_nowhere(shapes: Objects) -> Bools:
    """Return whether each geometry lies on a line that is not placed on the ground, shape (n,).

    Examples
    --------
    >>> is_nowhere(shapely.points([[NOWHERE_M, 3.0], [500000.0, 3.0]])).tolist()
    [True, False]
    """
    with np.errstate(invalid="ignore"):
        return np.asarray(shapely.bounds(shapes)[:, 2] >= NOWHERE_M)


def unplaced_lines(routes: pd.DataFrame) -> set[str]:
    """Return the ``line_id`` of the routes that are not placed on the ground."""
    names = texts(routes, "line_id")[texts(routes, "trace") == TAPED]
    return {str(name) for name in names}


def has_taped_lists(routes: pd.DataFrame) -> bool:
    """Return whether any line has its trace from a taped list of fittings."""
    return bool(np.isin(texts(routes, "trace").astype(str), (STRAIGHT, TAPED)).any())


def traces_of(routes: pd.DataFrame, names: Objects) -> Objects:
    """Return what is known of the trace of each named line: drawn, straight or taped."""
    rows = zip(texts(routes, "line_id"), texts(routes, "trace"), strict=True)
    known = {name: trace for name, trace in rows if trace is not None}
    return np.array([known.get(name, DRAWN) for name in names], dtype=object)


def without_invented_places(result: Result, job: Job) -> Result:
    """Return a result of `job` whose rows on lines that are not placed have no geometry."""
    if not unplaced_lines(job.routes):
        return result
    layers = {name: _nulled(layer) for name, layer in result.layers.items()}
    return replace(result, job=job, layers=layers)


def on_the_ground(result: Result) -> Result:
    """Return a result whose job has only positions on the ground; see `job_on_the_ground`."""
    job = job_on_the_ground(result.job)
    return result if job is result.job else replace(result, job=job)


def job_on_the_ground(job: Job) -> Job:
    """Return a job with only positions on the ground, for everything that shows them.

    A fitting of a line that is not placed keeps the position that the crew recorded.
    """
    if not unplaced_lines(job.routes):
        return job
    routes, contacts = _nulled(job.routes), job.contacts
    if contacts is not None:
        contacts = _with_recorded_positions(contacts)
    others = {n: _nulled(getattr(job, n)) for n in ("readings", "dig_outcomes")}
    shown: Any = {"routes": routes, "contacts": contacts, **others}
    return replace(job, **shown)


def _nulled(layer: pd.DataFrame) -> Any:
    if not isinstance(layer, gpd.GeoDataFrame):
        return layer
    shapes = np.array(layer.geometry.array, dtype=object)
    nowhere = is_nowhere(shapes)
    if not nowhere.any():
        return layer
    shapes[nowhere] = None
    return layer.set_geometry(gpd.GeoSeries(shapes, index=layer.index, crs=layer.crs))


def _with_recorded_positions(contacts: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    shapes = np.array(_nulled(contacts).geometry.array, dtype=object)
    x, y = floats(contacts, "recorded_x"), floats(contacts, "recorded_y")
    known = np.isfinite(x) & shapely.is_missing(shapes)
    shapes[known] = shapely.points(x[known], y[known])
    return contacts.set_geometry(gpd.GeoSeries(shapes, index=contacts.index, crs=contacts.crs))
