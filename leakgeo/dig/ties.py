"""Tie distances: what to tape from, so that a mark is found again after its paint has gone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from leakgeo.job.crs import ground_scale
from leakgeo.job.north import from_true_north

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from leakgeo.job.model import Job

TAPE_M = 60.0  # a long tape; beyond it a fitting is no longer a handy fixed point
MOST_TIES = 3
FLATTEST = np.sin(np.deg2rad(25.0))  # tapes that cross flatter than this pin a place down poorly
# A point of the traced route can't be seen: it is taken only where fittings are lacking.
_BURIED, _FLAT = 1000.0, 500.0
COLUMNS = ("line_id", "order", "fixed_point", "fixed_kind", "distance_m", "bearing_deg",
           "crossing_deg")  # fmt: skip


def ties(job: Job, marks: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Choose fixed points for each mark, and measure from them.

    Fittings within a long tape's reach go first, and points of the line's own route fill up where
    there are fewer than two. After the nearest, those are preferred at which the tapes cross well.

    Parameters
    ----------
    job : Job
        Its contacts and routes are the fixed points.
    marks : geopandas.GeoDataFrame
        With line_id, in the job's CRS.

    Returns
    -------
    geopandas.GeoDataFrame
        Lines from fixed points to marks, up to three a mark, in the order to tape them in; columns
        as in the contract's ``ties``. Distances are on the ground, and bearings from true north,
        not on the grid.
    """
    spots = marks.geometry.to_numpy()
    placed = np.flatnonzero(shapely.is_geometry(spots) & ~shapely.is_empty(spots))
    pairs = pd.concat(
        [_fitting_pairs(job, spots, placed), _route_pairs(job, marks, placed)], ignore_index=True
    )
    at = np.array(spots, dtype=object)[pairs["dig"].to_numpy(dtype=int)]
    dx, dy = shapely.get_x(at) - pairs["x"], shapely.get_y(at) - pairs["y"]
    pairs = pairs.assign(dx=dx, dy=dy, grid_m=np.hypot(dx, dy))
    chosen = _chosen(pairs.loc[pairs["grid_m"] > 0.0])
    # PROJ refuses to give factors of no places at all.
    scale = ground_scale(job.crs, chosen["x"], chosen["y"]) if len(chosen) else np.empty(0)
    start = chosen[["x", "y"]].to_numpy(dtype=float)
    end = start + chosen[["dx", "dy"]].to_numpy(dtype=float)
    grid = np.rad2deg(np.arctan2(chosen["dx"].to_numpy(float), chosen["dy"].to_numpy(float)))
    table = pd.DataFrame({
        "line_id": marks["line_id"].to_numpy(dtype=object)[chosen["dig"].to_numpy(dtype=int)],
        "order": chosen["order"].to_numpy(dtype=int),
        "fixed_point": chosen["name"].to_numpy(dtype=object),
        "fixed_kind": np.where(chosen["buried"].to_numpy(dtype=bool), "route", "fitting"),
        "distance_m": chosen["grid_m"].to_numpy() / scale,
        "bearing_deg": from_true_north(grid, job.crs, chosen["x"], chosen["y"]),
        "crossing_deg": np.rad2deg(np.arcsin(chosen["sine"].to_numpy(dtype=float).clip(0.0, 1.0))),
    }, columns=list(COLUMNS))  # fmt: skip
    lines = np.array(shapely.linestrings(np.stack([start, end], axis=1)), dtype=object)
    return gpd.GeoDataFrame(table, geometry=lines.reshape(len(table)), crs=job.crs)


def _fitting_pairs(job: Job, spots: NDArray[np.object_], placed: NDArray[np.intp]) -> pd.DataFrame:
    """Pair each mark with the fittings in reach."""
    contacts = job.contacts
    if contacts is None or contacts.empty:
        return _pairs_table([], [], [], [], buried=False)
    shapes = contacts.geometry.to_numpy()
    point = shapely.get_type_id(shapes) == shapely.GeometryType.POINT
    good = contacts.loc[point & ~shapely.is_empty(shapes)]
    mark, fitting = shapely.STRtree(good.geometry.to_numpy()).query(
        np.array(spots, dtype=object)[placed], predicate="dwithin", distance=TAPE_M
    )
    names = pd.Series(_names(good), dtype=object)
    where = good.geometry.to_numpy()[fitting]
    return _pairs_table(
        placed[mark], shapely.get_x(where), shapely.get_y(where),
        names.to_numpy(dtype=object)[fitting], buried=False,
    )  # fmt: skip


def _names(contacts: gpd.GeoDataFrame) -> list[str]:
    """Call each fitting by its kind and identifier; by the latter alone where it tells the kind."""
    kinds = contacts.get("kind", pd.Series("fitting", index=contacts.index)).fillna("fitting")
    out = []
    for kind, name in zip(kinds.astype(str), contacts["contact_id"].astype(str), strict=True):
        out.append(name if kind in name.casefold() else f"{kind.replace('_', ' ')} {name}")
    return out


def _route_pairs(job: Job, marks: gpd.GeoDataFrame, placed: NDArray[np.intp]) -> pd.DataFrame:
    """Pair each mark with the ends and bends of its own route."""
    routes = job.routes.loc[job.routes["line_id"].notna()].drop_duplicates("line_id")
    row = pd.Series(range(len(routes)), index=routes["line_id"]).reindex(
        marks["line_id"].to_numpy()[placed]
    )
    known = row.notna().to_numpy()
    traces = routes.geometry.to_numpy()[row[known].to_numpy(dtype=int)]
    xy, owner = shapely.get_coordinates(shapely.line_merge(traces), return_index=True)
    last = np.append(owner[1:] != owner[:-1], True)[: len(owner)]
    first = np.append(True, owner[1:] != owner[:-1])[: len(owner)]
    place = np.arange(len(owner)) - np.flatnonzero(first)[np.searchsorted(np.unique(owner), owner)]
    bends = [f"bend {k} of the route" for k in place]
    names = np.where(first, "start of the route", np.where(last, "end of the route", bends))
    return _pairs_table(placed[known][owner], xy[:, 0], xy[:, 1], names, buried=True)


def _pairs_table(dig: object, x: object, y: object, name: object, *, buried: bool) -> pd.DataFrame:
    table = pd.DataFrame({"dig": dig, "x": x, "y": y, "name": name})
    kinds = {"dig": int, "x": float, "y": float, "name": object}
    return table.astype(kinds).assign(buried=buried)


def _chosen(pairs: pd.DataFrame) -> pd.DataFrame:
    """Take the nearest fixed point of each dig, then those whose tapes cross the first well."""
    left = pairs.assign(
        cost=pairs["grid_m"] + _BURIED * pairs["buried"], sine=np.nan, order=0
    ).sort_values(["dig", "cost", "name"], kind="stable")
    taken = []
    for order in range(1, MOST_TIES + 1):
        best = left.drop_duplicates("dig").assign(order=order)
        taken.append(best)
        left = left.drop(best.index)
        if order == 1:
            left = _crossing(left, best)
    out = pd.concat(taken).sort_values(["dig", "order"], kind="stable")
    # A buried point is worth taping from only to make up the two that a place needs.
    return out.loc[(out["order"] <= 2) | ~out["buried"].astype(bool)]


def _crossing(left: pd.DataFrame, first: pd.DataFrame) -> pd.DataFrame:
    """Reckon how each further tape crosses the first one of its dig, and put flat ones last."""
    other = first.set_index("dig").loc[left["dig"].to_numpy()]
    cross = left["dx"].to_numpy() * other["dy"].to_numpy()
    cross = cross - left["dy"].to_numpy() * other["dx"].to_numpy()
    sine = np.abs(cross) / (left["grid_m"].to_numpy() * other["grid_m"].to_numpy())
    cost = left["cost"] + _FLAT * (sine < FLATTEST)
    return left.assign(sine=sine, cost=cost).sort_values(["dig", "cost", "name"], kind="stable")
