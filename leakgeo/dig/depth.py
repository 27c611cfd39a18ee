"""Excavation depth, from the cover on record or from the ground model and the pipe's Z."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely

if TYPE_CHECKING:
    import geopandas as gpd
    from numpy.typing import ArrayLike, NDArray

    from leakgeo.job.model import Job

SPACE_UNDER_PIPE_M = 0.15  # common practice: space to fit a clamp around the pipe
ASSUMED_DIAMETER_M = 0.3  # of a pipe without a diameter: larger than nearly every service line
DEEPEST_M = 50.0  # a greater modelled cover means that heights and pipe Z have different datums
ON_RECORD, BY_GROUND = "cover_on_record", "ground_less_pipe_z"


def pipe_of_line(routes: gpd.GeoDataFrame, line_id: pd.Series) -> pd.DataFrame:
    """Look up cover, diameter, pressure and geometry of each line in the routes.

    Parameters
    ----------
    routes : geopandas.GeoDataFrame
        With line_id; depth_m, diameter_mm, pressure_kpa and reason may be missing.
    line_id : (n,) pandas.Series

    Returns
    -------
    (n,) pandas.DataFrame
        Columns depth_m, diameter_mm and pressure_kpa, NaN where not known, and trace (None where
        not known); index of `line_id`.
    """
    wanted = ["depth_m", "diameter_mm", "pressure_kpa"]
    table = pd.DataFrame(routes.drop(columns=routes.geometry.name)).reindex(
        columns=["line_id", "reason", *wanted]
    )
    table["trace"] = np.array(routes.geometry.array, dtype=object)
    table = table[table["reason"].isna() & table["line_id"].notna()]
    table = table.drop_duplicates("line_id").set_index("line_id")[[*wanted, "trace"]]
    found = table.reindex(line_id.to_numpy())
    found.index = line_id.index
    for name in wanted:
        found[name] = pd.to_numeric(found[name], errors="coerce").astype(float)
    found["trace"] = found["trace"].astype(object).where(found["trace"].notna(), None)
    return found


def cover_m(
    job: Job, pipe: pd.DataFrame, marks: NDArray[np.object_]
) -> tuple[NDArray[np.float64], NDArray[np.object_], NDArray[np.float64]]:
    """Return the cover over the pipe at each mark, and its source.

    The cover on record has priority over the ground model. The pipe Z counts as that of the crown:
    where it is the axis or the invert, the true cover is less, and the hole is planned too deep
    rather than too shallow.

    Parameters
    ----------
    job : Job
    pipe : (n,) pandas.DataFrame
        As `pipe_of_line` returns it.
    marks : (n,) array of shapely Points
        In the job's CRS.

    Returns
    -------
    cover : (n,) numpy.ndarray
        Metres; NaN where not known.
    source : (n,) numpy.ndarray of str or None
    by_ground : (n,) numpy.ndarray
        Cover from the ground model alone, in metres; NaN where not known.
    """
    recorded = pipe["depth_m"].to_numpy(dtype=float)
    recorded = np.where(recorded >= 0, recorded, np.nan)
    modelled = _cover_by_ground(job, pipe["trace"].to_numpy(dtype=object), marks)
    known = np.isfinite(recorded)
    cover = np.where(known, recorded, modelled)
    source = np.full(cover.shape, None, dtype=object)
    source[np.isfinite(cover)] = BY_GROUND
    source[known] = ON_RECORD
    return cover, source, modelled


def _cover_by_ground(
    job: Job, traces: NDArray[np.object_], marks: NDArray[np.object_]
) -> NDArray[np.float64]:
    if job.ground is None:
        return np.full(marks.shape, np.nan)
    x, y = shapely.get_x(marks), shapely.get_y(marks)
    merged = np.array(shapely.line_merge(traces), dtype=object)
    single = shapely.get_type_id(merged) == shapely.GeometryType.LINESTRING
    merged[~(single & shapely.has_z(merged))] = None
    at = shapely.line_locate_point(merged, marks)
    pipe_z = shapely.get_z(shapely.line_interpolate_point(merged, at)) * job.ground.z_unit_m
    cover = job.ground.elevation_at(x, y, job.crs) - pipe_z
    return np.where((cover >= 0) & (cover <= DEEPEST_M), cover, np.nan)


def excavation_depth_m(cover: ArrayLike, diameter_mm: ArrayLike) -> NDArray[np.float64]:
    """Return the depth that gives access all round the pipe: cover, diameter, space under it.

    Parameters
    ----------
    cover : (n,) array_like
        Cover to the crown, in metres; NaN or negative where not known.
    diameter_mm : (n,) array_like
        Pipe diameter, in millimetres; 300 mm where not known.

    Returns
    -------
    (n,) numpy.ndarray
        Metres below ground; NaN where the cover is not known.

    Examples
    --------
    >>> excavation_depth_m([0.9, np.nan], [25.0, 25.0]).round(3).tolist()
    [1.075, nan]
    """
    known, diameter = np.asarray(cover, dtype=float), np.asarray(diameter_mm, dtype=float) / 1000
    diameter = np.where(diameter > 0, diameter, ASSUMED_DIAMETER_M)
    return np.where(known >= 0, known, np.nan) + diameter + SPACE_UNDER_PIPE_M
