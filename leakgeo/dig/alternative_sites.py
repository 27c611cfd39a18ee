"""Where else inside the 50 % zone a hole would be less in the way, and what odds that costs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from leakgeo.dig.zone import ellipse_with_room

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from leakgeo.dig.facilities import Facilities

ZONE_SHARE = 0.5
APART_M = 0.1  # places closer together than this are one to a shovel
WORTH_MOVING_M = 0.1
_LOOK_M = 1.0  # a hole this far from every tolerance zone is not improved by moving it further
COLUMNS = ("line_id", "chainage_m", "moved_m", "probability", "probability_at_mark",
           "probability_lost", "inside_tolerance", "inside_tolerance_at_mark", "margin_m",
           "margin_at_mark_m")  # fmt: skip


def other_places(
    profile: pd.DataFrame | None,
    digs: pd.DataFrame,
    holes: NDArray[np.object_],
    blocked: NDArray[np.bool_],
    facilities: Facilities,
) -> gpd.GeoDataFrame:
    """Look for a hole of the same size that is less in the way.

    Parameters
    ----------
    profile : geopandas.GeoDataFrame or None
        With line_id, chainage_m, leak_density_per_m and points, as `locate` fills it in.
    digs : (n,) pandas.DataFrame
        With line_id, leak_probability of the line, chainage_m, hole_along_m, hole_across_m
        (semi-axes of the ellipse) and room_m.
    holes : (n,) array of shapely Polygons or None
        Holes at the marks, in a metre CRS.
    blocked : (n,) array of bool
        Digs that a tolerance zone reaches.
    facilities : Facilities

    Returns
    -------
    geopandas.GeoDataFrame
        The best other hole of each dig that has one: in fewer tolerance zones (position error
        included), or else further from them by 0.1 m; columns as in the contract's
        ``dig_alternatives``.
    """
    walk = _walk(profile, digs, blocked)
    spots = walk.loc[walk["inside"]].drop_duplicates(["dig", "place"]).reset_index(drop=True)
    dig = spots["dig"].to_numpy(dtype=int)
    own = digs.iloc[dig]
    middles = np.array(shapely.points(spots[["x", "y"]].to_numpy(dtype=float)), dtype=object)
    there = ellipse_with_room(
        middles, own["hole_along_m"], own["hole_across_m"], spots["azimuth_deg"], own["room_m"]
    )
    there_way, here_way = in_the_way(there, facilities), in_the_way(holes, facilities)
    odds = _odds(walk, spots, own)
    table = pd.DataFrame({
        **odds, "inside_tolerance": there_way[0], "inside_tolerance_at_mark": here_way[0][dig],
        "margin_m": there_way[1], "margin_at_mark_m": here_way[1][dig],
    }, columns=list(COLUMNS))  # fmt: skip
    best = _best(table.assign(dig=dig))
    table = table.loc[best].replace([np.inf], np.nan).reset_index(drop=True)
    return gpd.GeoDataFrame(table, geometry=there[best], crs=facilities.crs)


def _odds(
    walk: pd.DataFrame, spots: pd.DataFrame, own: pd.DataFrame
) -> dict[str, NDArray[np.object_] | NDArray[np.float64]]:
    """Say where each place is on its line, and how likely a leak is in a hole there."""
    dig = spots["dig"].to_numpy(dtype=int)
    half = (own["hole_along_m"] + own["room_m"]).to_numpy(dtype=float)
    at_mark = own["chainage_m"].to_numpy(dtype=float)
    chainage = spots["chainage_m"].to_numpy(dtype=float)
    leak = own["leak_probability"].to_numpy(dtype=float)
    held, held_at_mark = (leak * _held(walk, dig, at, half) for at in (chainage, at_mark))
    return {
        "line_id": own["line_id"].to_numpy(dtype=object),
        "chainage_m": chainage,
        "moved_m": chainage - at_mark,
        "probability": held,
        "probability_at_mark": held_at_mark,
        "probability_lost": held_at_mark - held,
    }


def in_the_way(
    holes: NDArray[np.object_], facilities: Facilities
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Count the tolerance zones that each hole is in, and measure to the edge of the nearest.

    Parameters
    ----------
    holes : (n,) array of shapely Polygons or None
    facilities : Facilities

    Returns
    -------
    count : (n,) numpy.ndarray of int
    margin_m : (n,) numpy.ndarray
        Position error included; negative inside, infinite where none is near.
    """
    reach = facilities.zone_m + facilities.error_95_m
    utility, hole = shapely.STRtree(holes).query(
        facilities.geometry, predicate="dwithin", distance=reach + _LOOK_M
    )
    gap = shapely.distance(holes[hole], facilities.geometry[utility]) - reach[utility]
    margin = np.full(len(holes), np.inf)
    np.minimum.at(margin, hole, gap)
    return np.bincount(hole[gap <= 0], minlength=len(holes)), margin


def _walk(
    profile: pd.DataFrame | None, digs: pd.DataFrame, blocked: NDArray[np.bool_]
) -> pd.DataFrame:
    """Lay the posterior along each blocked line: density, its sum so far, and the 50 % zone."""
    places = pd.Series(np.flatnonzero(blocked), index=digs["line_id"].to_numpy()[blocked])
    names = ["dig", "chainage_m", "density", "x", "y"]
    if profile is None or places.empty or not isinstance(profile, gpd.GeoDataFrame):
        walk = pd.DataFrame(columns=names, dtype=float)
    else:
        near = profile.loc[profile["line_id"].isin(places.index)]
        walk = pd.DataFrame({
            "dig": near["line_id"].map(places), "chainage_m": near["chainage_m"],
            "density": near["leak_density_per_m"], "x": near.geometry.x, "y": near.geometry.y,
        }).astype(float).dropna()  # fmt: skip
    walk = walk.sort_values(["dig", "chainage_m"], ignore_index=True)
    step = walk.groupby("dig")["chainage_m"].diff().fillna(0.0)
    before = walk.groupby("dig")["density"].shift().fillna(0.0)
    piece = step * (walk["density"] + before) / 2
    total = piece.groupby(walk["dig"]).transform("sum")
    weight = walk["density"] * (step + step.groupby(walk["dig"]).shift(-1).fillna(0.0)) / 2
    walk = walk.assign(
        cumulative=piece.groupby(walk["dig"]).cumsum() / total,
        azimuth_deg=_azimuth(walk),
        place=(walk["chainage_m"] / APART_M).round(),
    )
    order = walk.sort_values(["dig", "density"], ascending=[True, False], kind="stable").index
    share = (weight / total).loc[order]
    so_far = share.groupby(walk.loc[order, "dig"]).cumsum() - share
    return walk.assign(inside=(so_far < ZONE_SHARE).reindex(walk.index))


def _azimuth(walk: pd.DataFrame) -> pd.Series:
    """Direction of the line at each place, from its neighbours, clockwise from grid north."""
    by_dig = walk.groupby("dig")
    back, on = by_dig[["x", "y"]].shift(1), by_dig[["x", "y"]].shift(-1)
    here = walk[["x", "y"]]
    turn = on.fillna(here) - back.fillna(here)
    return pd.Series(np.rad2deg(np.arctan2(turn["x"], turn["y"])), index=walk.index)


def _held(
    walk: pd.DataFrame,
    dig: NDArray[np.int64],
    chainage: NDArray[np.float64],
    half: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Probability that the leak is within `half` of a chainage on its line."""
    held, of_dig = np.empty(len(dig)), walk.groupby("dig").indices
    place, cumulative = walk["chainage_m"].to_numpy(), walk["cumulative"].to_numpy()
    # Line by line: on one axis for all, rounding would go by how many lines come before.
    for number, rows in pd.Series(dig).groupby(dig).indices.items():
        axis, total = place[of_dig[number]], cumulative[of_dig[number]]
        at, reach = chainage[rows], half[rows]
        held[rows] = np.interp(at + reach, axis, total) - np.interp(at - reach, axis, total)
    return held


def _best(table: pd.DataFrame) -> NDArray[np.int64]:
    """Rows of the least obstructed place of each dig, where it is better than the mark."""
    better = (table["inside_tolerance"] < table["inside_tolerance_at_mark"]) | (
        (table["inside_tolerance"] == table["inside_tolerance_at_mark"])
        & (table["margin_m"] > table["margin_at_mark_m"] + WORTH_MOVING_M)
    )
    ranked = table.loc[better].sort_values(
        ["dig", "inside_tolerance", "margin_m", "probability"],
        ascending=[True, True, False, False], kind="stable",
    )  # fmt: skip
    return np.asarray(ranked.drop_duplicates("dig").index, dtype=np.int64)
