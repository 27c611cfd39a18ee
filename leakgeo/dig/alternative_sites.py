"""Alternative dig sites inside the 50 % zone, farther from utilities, with the probability lost."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from leakgeo.dig.zone import hole_polygons

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from leakgeo.dig.facilities import Facilities

ZONE_SHARE = 0.5
SPACING_M = 0.1  # sites closer together than this count as one
MIN_GAIN_M = 0.1
_SEARCH_M = 1.0  # a hole this far from every tolerance zone gains nothing by moving farther
COLUMNS = ("line_id", "mark_rank", "chainage_m", "moved_m", "probability",
           "probability_at_mark", "probability_lost", "inside_tolerance",
           "inside_tolerance_at_mark", "margin_m", "margin_at_mark_m")  # fmt: skip


def alternative_sites(
    profile: pd.DataFrame | None,
    digs: pd.DataFrame,
    holes: NDArray[np.object_],
    blocked: NDArray[np.bool_],
    facilities: Facilities,
) -> gpd.GeoDataFrame:
    """Return the least obstructed hole of the same size for each blocked dig.

    Parameters
    ----------
    profile : geopandas.GeoDataFrame or None
        With line_id, chainage_m, leak_density_per_m and points, as `locate` returns it.
    digs : (n,) pandas.DataFrame
        With line_id, mark_rank, leak_probability of the line, chainage_m, hole_along_m,
        hole_across_m (semi-axes of the ellipse) and working_width_m.
    holes : (n,) array of shapely Polygons or None
        Holes at the marks, in a metre CRS.
    blocked : (n,) array of bool
        Digs that a tolerance zone reaches.
    facilities : Facilities

    Returns
    -------
    geopandas.GeoDataFrame
        One row for each dig with a better hole than the one at the mark: in fewer tolerance zones
        (position error included), or at least 0.1 m farther from them. Columns as in the data
        contract's ``dig_alternatives``.
    """
    cells = _posterior_cells(profile, digs, blocked)
    sites = cells.loc[cells["inside"]].drop_duplicates(["dig", "place"]).reset_index(drop=True)
    dig = sites["dig"].to_numpy(dtype=int)
    own = digs.iloc[dig]
    middles = np.array(shapely.points(sites[["x", "y"]].to_numpy(dtype=float)), dtype=object)
    site_holes = hole_polygons(
        middles,
        own["hole_along_m"],
        own["hole_across_m"],
        sites["grid_azimuth_deg"],
        own["working_width_m"],
    )
    at_site, at_mark_hole = obstruction(site_holes, facilities), obstruction(holes, facilities)
    odds = _probabilities(cells, sites, own)
    table = pd.DataFrame({
        **odds, "inside_tolerance": at_site[0], "inside_tolerance_at_mark": at_mark_hole[0][dig],
        "margin_m": at_site[1], "margin_at_mark_m": at_mark_hole[1][dig],
    }, columns=list(COLUMNS))  # fmt: skip
    best = _best(table.assign(dig=dig))
    table = table.loc[best].replace([np.inf], np.nan).reset_index(drop=True)
    return gpd.GeoDataFrame(table, geometry=site_holes[best], crs=facilities.crs)


def _probabilities(
    cells: pd.DataFrame, sites: pd.DataFrame, own: pd.DataFrame
) -> dict[str, NDArray[np.object_] | NDArray[np.float64]]:
    """Compute chainage, shift and leak probability of a hole at each site and at the mark."""
    dig = sites["dig"].to_numpy(dtype=int)
    half = (own["hole_along_m"] + own["working_width_m"]).to_numpy(dtype=float)
    at_mark = own["chainage_m"].to_numpy(dtype=float)
    chainage = sites["chainage_m"].to_numpy(dtype=float)
    leak = own["leak_probability"].to_numpy(dtype=float)
    held, held_at_mark = (
        leak * _probability_within(cells, dig, at, half) for at in (chainage, at_mark)
    )
    return {
        "line_id": own["line_id"].to_numpy(dtype=object),
        "mark_rank": own["mark_rank"].to_numpy(),
        "chainage_m": chainage,
        "moved_m": chainage - at_mark,
        "probability": held,
        "probability_at_mark": held_at_mark,
        "probability_lost": held_at_mark - held,
    }


def obstruction(
    holes: NDArray[np.object_], facilities: Facilities
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Count the tolerance zones that each hole enters, and measure to the edge of the nearest.

    Parameters
    ----------
    holes : (n,) array of shapely Polygons or None
    facilities : Facilities

    Returns
    -------
    count : (n,) numpy.ndarray of int
    margin_m : (n,) numpy.ndarray
        Distance to the zone edge, position error included; negative inside, infinite where no
        zone is near.
    """
    reach = facilities.zone_m + facilities.error_95_m
    utility, hole = shapely.STRtree(holes).query(
        facilities.geometry, predicate="dwithin", distance=reach + _SEARCH_M
    )
    gap = shapely.distance(holes[hole], facilities.geometry[utility]) - reach[utility]
    margin = np.full(len(holes), np.inf)
    np.minimum.at(margin, hole, gap)
    return np.bincount(hole[gap <= 0], minlength=len(holes)), margin


def _posterior_cells(
    profile: pd.DataFrame | None, digs: pd.DataFrame, blocked: NDArray[np.bool_]
) -> pd.DataFrame:
    """Return the posterior along each blocked line: density, cumulative share, in the 50 % zone.

    Of a line with several marks, each dig has the part that is nearest to its mark.
    """
    names = ["dig", "chainage_m", "density", "x", "y"]
    if profile is None or not blocked.any() or not isinstance(profile, gpd.GeoDataFrame):
        cells = pd.DataFrame(columns=names, dtype=float)
    else:
        near = profile.loc[profile["line_id"].isin(digs["line_id"].to_numpy()[blocked])]
        cells = pd.DataFrame({
            "dig": _nearest_dig(near, digs, blocked), "chainage_m": near["chainage_m"],
            "density": near["leak_density_per_m"], "x": near.geometry.x, "y": near.geometry.y,
        }).astype(float).dropna()  # fmt: skip
    cells = cells.sort_values(["dig", "chainage_m"], ignore_index=True)
    step = cells.groupby("dig")["chainage_m"].diff().fillna(0.0)
    before = cells.groupby("dig")["density"].shift().fillna(0.0)
    piece = step * (cells["density"] + before) / 2
    # Dig by dig, as sums of pandas by group depend on how many groups there are.
    along = [np.cumsum(own.to_numpy()) for _, own in piece.groupby(cells["dig"])]
    total = np.concatenate([np.full(len(own), own[-1]) for own in along] or [piece.to_numpy()])
    weight = cells["density"] * (step + step.groupby(cells["dig"]).shift(-1).fillna(0.0)) / 2
    cells = cells.assign(
        cumulative=np.concatenate(along or [piece.to_numpy()]) / total,
        grid_azimuth_deg=_grid_azimuth_deg(cells),
        place=(cells["chainage_m"] / SPACING_M).round(),
    )
    order = cells.sort_values(["dig", "density"], ascending=[True, False], kind="stable").index
    share = (weight / total).loc[order]
    so_far = share.groupby(cells.loc[order, "dig"]).cumsum() - share
    return cells.assign(inside=(so_far < ZONE_SHARE).reindex(cells.index))


def _nearest_dig(
    near: pd.DataFrame, digs: pd.DataFrame, blocked: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """Return the blocked dig of each point of the profile; NaN nearest to another mark."""
    found = np.full(len(near), np.nan)
    digs_of = pd.Series(range(len(digs))).groupby(digs["line_id"].to_numpy()).indices
    place, mark = near["chainage_m"].to_numpy(float), digs["chainage_m"].to_numpy(float)
    for line, rows in near.groupby("line_id").indices.items():
        own = digs_of[line]
        nearest = own[np.argmin(np.abs(place[rows, None] - mark[own]), axis=1)]
        found[rows] = np.where(blocked[nearest], nearest, np.nan)
    return found


def _grid_azimuth_deg(cells: pd.DataFrame) -> pd.Series:
    """Compute the line's direction at each cell from its neighbours, clockwise from grid north."""
    by_dig = cells.groupby("dig")
    back, on = by_dig[["x", "y"]].shift(1), by_dig[["x", "y"]].shift(-1)
    here = cells[["x", "y"]]
    turn = on.fillna(here) - back.fillna(here)
    return pd.Series(np.rad2deg(np.arctan2(turn["x"], turn["y"])), index=cells.index)


def _probability_within(
    cells: pd.DataFrame,
    dig: NDArray[np.int64],
    chainage: NDArray[np.float64],
    half: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Compute the probability that the leak is within `half` of each chainage."""
    held, of_dig = np.empty(len(dig)), cells.groupby("dig").indices
    place, cumulative = cells["chainage_m"].to_numpy(), cells["cumulative"].to_numpy()
    # Line by line: on one common axis, rounding would depend on the lines before it.
    for number, rows in pd.Series(dig).groupby(dig).indices.items():
        axis, total = place[of_dig[number]], cumulative[of_dig[number]]
        at, reach = chainage[rows], half[rows]
        held[rows] = np.interp(at + reach, axis, total) - np.interp(at - reach, axis, total)
    return held


def _best(table: pd.DataFrame) -> NDArray[np.int64]:
    """Return the row of the least obstructed site of each dig, where it is better than the mark."""
    better = (table["inside_tolerance"] < table["inside_tolerance_at_mark"]) | (
        (table["inside_tolerance"] == table["inside_tolerance_at_mark"])
        & (table["margin_m"] > table["margin_at_mark_m"] + MIN_GAIN_M)
    )
    ranked = table.loc[better].sort_values(
        ["dig", "inside_tolerance", "margin_m", "probability"],
        ascending=[True, True, False, False], kind="stable",
    )  # fmt: skip
    return np.asarray(ranked.drop_duplicates("dig").index, dtype=np.int64)
