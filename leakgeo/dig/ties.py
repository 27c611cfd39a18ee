"""Tie distances: fixed points to tape from, to find a mark again when its paint has gone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from leakgeo.find.survey.from_fitting import END, START
from leakgeo.job.crs import ground_scale
from leakgeo.job.north import from_true_north
from leakgeo.reason import Reason, columns_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from leakgeo.job.model import Job

TAPE_M = 60.0  # reach of a long tape
MAX_TIES = 3
MIN_CROSSING_SINE = np.sin(
    np.deg2rad(25.0)
)  # tapes that cross at a flatter angle fix a point poorly
_FLAT_COST_M = 500.0  # added to the distance of a fixed point whose tape crosses at a flat angle
# A route point can't be seen on the ground: it comes after every fitting.
_PREFERENCE = ["dig", "buried", "cost", "name"]
COLUMNS = ("line_id", "mark_rank", "order", "fixed_point_code", "fixed_point_values",
           "fixed_kind", "distance_m", "bearing_deg", "crossing_deg")  # fmt: skip


def ties(job: Job, marks: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Choose fixed points for each mark, and measure from them.

    Fittings within reach of a long tape have priority; points of the line's own route make up for
    them where there are fewer than two. After the nearest, fixed points whose tapes cross at a
    good angle are preferred.

    Parameters
    ----------
    job : Job
        Its contacts and routes supply the fixed points.
    marks : geopandas.GeoDataFrame
        With line_id and rank, in the job's CRS.

    Returns
    -------
    geopandas.GeoDataFrame
        Lines from fixed points to marks, up to three per mark, in taping order; columns as in the
        data contract's ``ties``. Distances are ground distances, bearings are from true north.
    """
    spots = marks.geometry.to_numpy()
    placed = np.flatnonzero(shapely.is_geometry(spots) & ~shapely.is_empty(spots))
    found = [_route_pairs(job, marks, placed)]
    if job.contacts is not None:
        found.append(_fitting_pairs(job.contacts, spots, placed))
    pairs = pd.concat(found, ignore_index=True)
    at = np.array(spots, dtype=object)[pairs["dig"].to_numpy(dtype=int)]
    dx, dy = shapely.get_x(at) - pairs["x"], shapely.get_y(at) - pairs["y"]
    pairs = pairs.assign(dx=dx, dy=dy, grid_m=np.hypot(dx, dy))
    chosen = _chosen(pairs.loc[pairs["grid_m"] > 0.0])
    # PROJ raises an error for empty input.
    scale = ground_scale(job.crs, chosen["x"], chosen["y"]) if len(chosen) else np.empty(0)
    start = chosen[["x", "y"]].to_numpy(dtype=float)
    end = start + chosen[["dx", "dy"]].to_numpy(dtype=float)
    grid = np.rad2deg(np.arctan2(chosen["dx"].to_numpy(float), chosen["dy"].to_numpy(float)))
    table = pd.DataFrame({
        "line_id": marks["line_id"].to_numpy(dtype=object)[chosen["dig"].to_numpy(dtype=int)],
        "mark_rank": marks["rank"].to_numpy()[chosen["dig"].to_numpy(dtype=int)],
        "order": chosen["order"].to_numpy(dtype=int),
        **columns_of("fixed_point", chosen["point"]),
        "fixed_kind": np.where(chosen["buried"].to_numpy(dtype=bool), "route", "fitting"),
        "distance_m": chosen["grid_m"].to_numpy() / scale,
        "bearing_deg": from_true_north(grid, job.crs, chosen["x"], chosen["y"]),
        "crossing_deg": np.rad2deg(np.arcsin(chosen["sine"].to_numpy(dtype=float).clip(0.0, 1.0))),
    }, columns=list(COLUMNS))  # fmt: skip
    lines = np.array(shapely.linestrings(np.stack([start, end], axis=1)), dtype=object)
    return gpd.GeoDataFrame(table, geometry=lines.reshape(len(table)), crs=job.crs)


def _fitting_pairs(
    contacts: gpd.GeoDataFrame, spots: NDArray[np.object_], placed: NDArray[np.intp]
) -> pd.DataFrame:
    """Pair each mark with the fittings within reach of a tape."""
    shapes = contacts.geometry.to_numpy()
    point = shapely.get_type_id(shapes) == shapely.GeometryType.POINT
    good = contacts.loc[point & ~shapely.is_empty(shapes)]
    mark, fitting = shapely.STRtree(good.geometry.to_numpy()).query(
        np.array(spots, dtype=object)[placed], predicate="dwithin", distance=TAPE_M
    )
    points = np.array(_points(good), dtype=object)
    where = good.geometry.to_numpy()[fitting]
    return _pairs_table(
        placed[mark], shapely.get_x(where), shapely.get_y(where),
        points[fitting], buried=False,
    )  # fmt: skip


def _points(contacts: gpd.GeoDataFrame) -> list[Reason]:
    """Name each fitting by kind and identifier, or identifier alone where it contains the kind."""
    kinds = contacts.get("kind", pd.Series("fitting", index=contacts.index)).fillna("fitting")
    return [
        Reason("fitting_alone", contact=name)
        if kind in name.casefold()
        else Reason("fitting", kind=kind, contact=name)
        for kind, name in zip(kinds.astype(str), contacts["contact_id"].astype(str), strict=True)
    ]


def _route_pairs(job: Job, marks: gpd.GeoDataFrame, placed: NDArray[np.intp]) -> pd.DataFrame:
    """Pair each mark with the ends and bends of its own route."""
    routes = job.routes.loc[job.routes["line_id"].notna()].drop_duplicates("line_id")
    row = pd.Series(range(len(routes)), index=routes["line_id"]).reindex(
        marks["line_id"].to_numpy()[placed]
    )
    known = row.notna().to_numpy()
    traces = routes.geometry.to_numpy()[row[known].to_numpy(dtype=int)]
    xy, owner = shapely.get_coordinates(shapely.line_merge(traces), return_index=True)
    vertices = pd.Series(owner).groupby(owner)
    place, to_end = vertices.cumcount(), vertices.cumcount(ascending=False)
    points = [
        START if at == 0 else END if left == 0 else Reason("trace_bend", number=at)
        for at, left in zip(place.tolist(), to_end.tolist(), strict=True)
    ]
    return _pairs_table(placed[known][owner], xy[:, 0], xy[:, 1], points, buried=True)


def _pairs_table(
    dig: object, x: object, y: object, points: Iterable[Reason], *, buried: bool
) -> pd.DataFrame:
    point = np.array([*points, None], dtype=object)[:-1]  # an empty one too is of objects
    name = [repr(each) for each in point]  # to sort by
    table = pd.DataFrame({"dig": dig, "x": x, "y": y, "name": name, "point": point})
    kinds = {"dig": int, "x": float, "y": float, "name": object, "point": object}
    return table.astype(kinds).assign(buried=buried)


def _chosen(pairs: pd.DataFrame) -> pd.DataFrame:
    """Select the nearest fixed point of each dig, then those whose tapes cross the first well."""
    left = pairs.assign(cost=pairs["grid_m"], sine=np.nan).sort_values(_PREFERENCE, kind="stable")
    taken = []
    for order in range(1, MAX_TIES + 1):
        best = left.drop_duplicates("dig").assign(order=order)
        taken.append(best)
        left = left.drop(best.index)
        if order == 1:
            left = _crossing(left, best)
    out = pd.concat(taken).sort_values(["dig", "order"], kind="stable")
    # A buried point is used only to make up the two that fix a position.
    return out.loc[(out["order"] <= 2) | ~out["buried"].astype(bool)]


def _crossing(left: pd.DataFrame, first: pd.DataFrame) -> pd.DataFrame:
    """Compute how each other tape crosses the first one of its dig, and put flat angles last."""
    other = first.set_index("dig").loc[left["dig"].to_numpy()]
    cross = left["dx"].to_numpy() * other["dy"].to_numpy()
    cross = cross - left["dy"].to_numpy() * other["dx"].to_numpy()
    sine = np.abs(cross) / (left["grid_m"].to_numpy() * other["grid_m"].to_numpy())
    cost = left["cost"] + _FLAT_COST_M * (sine < MIN_CROSSING_SINE)
    return left.assign(sine=sine, cost=cost).sort_values(_PREFERENCE, kind="stable")
