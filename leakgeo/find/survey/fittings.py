"""Fittings that were listened to: position on the network, comparable level and rank."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from leakgeo.arrays import texts
from leakgeo.find.levels.before_repair import readings_before_repair
from leakgeo.job.checks import OFF_LINE_SD
from leakgeo.reason import Reason
from leakgeo.route.assign import DECISIVE
from leakgeo.route.junctions import connected_parts
from leakgeo.route.network import network_of
from leakgeo.route.place import place_on_routes
from leakgeo.sound.compare import levels_without_gain

if TYPE_CHECKING:
    from leakgeo.arrays import Bools, Floats, Ints, Objects
    from leakgeo.route.junctions import Junctions
    from leakgeo.route.lines import Lines

# Position error of fittings on plans; they are often beside the pipe, not on it.
FITTING_SD_M = 1.0
# Fittings at the far end of a building's own pipes.
INDOORS = ("sink", "water_heater")
# Standard deviation of levels at fittings with the same sound: make, wear, contact, water use.
FITTING_DB, INDOORS_DB = 3.5, 6.0
#: Reason of fittings that only give tapes and places; it is no fault.
NOT_LISTENED = Reason("fitting_not_listened")
_ANOTHER_GAIN = Reason("another_gain")
COLUMNS = ("contact_id", "line", "line_id", "kind", "network_part", "rank", "rank_on_line",
           "level_db", "sd_db", "chainage_m", "offset_m", "used", "reason",
           "newly_rejected")  # fmt: skip


def place_fittings(contacts: gpd.GeoDataFrame, lines: Lines, junctions: Junctions) -> pd.DataFrame:
    """Place fittings on their lines; at a junction, on the nearest of the joined lines.

    Parameters
    ----------
    contacts : geopandas.GeoDataFrame
        ``contacts`` of a job, in its CRS.
    lines : Lines
    junctions : Junctions
        Of `lines`.

    Returns
    -------
    pandas.DataFrame
        As `leakgeo.route.place.place_on_routes` returns it, with a row index from 0.
    """
    contacts = contacts.reset_index(drop=True)
    placed = place_on_routes(contacts, lines, reading_sd_m=FITTING_SD_M, tape_sd_m=FITTING_SD_M)
    named = texts(contacts, "line_id")
    tied = placed["reason"].notna() & contacts["reason"].isna() & (placed["line"] < 0)
    tied &= np.array([name is None for name in named], dtype=bool)
    at = np.flatnonzero(tied)
    line = _at_junction(contacts.geometry.to_numpy()[at], lines, junctions)
    if not (line >= 0).any():
        return placed
    ids = lines.table.index.to_numpy(dtype=object)
    named[at[line >= 0]] = ids[line[line >= 0]]
    again = contacts.assign(line_id=named)
    return place_on_routes(again, lines, reading_sd_m=FITTING_SD_M, tape_sd_m=FITTING_SD_M)


def fitting_chainages(
    contacts: gpd.GeoDataFrame | None, lines: Lines, junctions: Junctions
) -> pd.DataFrame:
    """Return ``line_id, chainage_m, contact_id, kind`` of each fitting."""
    if contacts is None or contacts.empty:
        return pd.DataFrame(columns=["line_id", "chainage_m", "contact_id", "kind"])
    placed = place_fittings(contacts, lines, junctions)
    named = contacts[["contact_id", "kind"]].reset_index(drop=True)
    return pd.concat([placed[["line_id", "chainage_m"]], named], axis=1)


def _at_junction(points: Objects, lines: Lines, junctions: Junctions) -> Ints:
    """Return the nearest line if all other likely lines join it close by, else -1."""
    point, line = _likely(points, lines)
    drawn = lines.routes.lines[line]
    away = shapely.distance(points[point], drawn)
    at, _ = lines.routes.locate(points[point], line)
    order = np.lexsort((line, away, point))
    point, line, at = point[order], line[order], at[order]
    first = np.searchsorted(point, point)
    reach = 2.0 * OFF_LINE_SD * np.hypot(FITTING_SD_M, lines.trace_sd_m.max(initial=0.0))
    network = network_of(lines, junctions)
    apart = network.distance_m(line[first], at[first], line, at, limit=float(reach))
    far = np.bincount(point[apart > reach], minlength=len(points)) > 0
    found = np.full(len(points), -1)
    found[point[first]] = line[first]
    return np.where(far, -1, found)


def _likely(points: Objects, lines: Lines) -> tuple[Ints, Ints]:
    """Return pairs of a point and a line that is not decisively less likely than the best."""
    widest = np.hypot(FITTING_SD_M, lines.trace_sd_m.max(initial=0.0))
    tree = shapely.STRtree(lines.routes.lines)
    point, line = tree.query(points, predicate="dwithin", distance=OFF_LINE_SD * widest)
    sd = np.hypot(FITTING_SD_M, lines.trace_sd_m[line])
    log_odds = -0.5 * (shapely.distance(points[point], lines.routes.lines[line]) / sd) ** 2
    log_odds -= np.log(sd)
    best = np.full(len(points), -np.inf)
    np.maximum.at(best, point, log_odds)
    near = log_odds > best[point] - np.log(DECISIVE)
    return point[near], line[near]


def rank_fittings(
    contacts: gpd.GeoDataFrame | None, lines: Lines, junctions: Junctions
) -> gpd.GeoDataFrame:
    """Return place, level and rank of every fitting on its connected part of the network.

    Ranks of a part compare only levels with the unit and the kind of gain that most of them have.

    Parameters
    ----------
    contacts : geopandas.GeoDataFrame or None
    lines : Lines
    junctions : Junctions

    Returns
    -------
    geopandas.GeoDataFrame
        Columns `COLUMNS`; ``line`` and ``network_part`` are numbered from 0, ``newly_rejected``
        flags fittings rejected here and not by the job's checks.
    """
    if contacts is None or contacts.empty:
        crs = None if contacts is None else contacts.crs
        return gpd.GeoDataFrame({c: [] for c in COLUMNS}, geometry=[], crs=crs)
    contacts = contacts.reset_index(drop=True)
    placed = place_fittings(contacts, lines, junctions)
    part = connected_parts(len(lines.length_m), junctions)
    frame = pd.concat([contacts[["contact_id", "kind"]], placed], axis=1)
    on = (placed["line"] >= 0).to_numpy()
    frame["network_part"] = np.where(on, part[placed["line"].to_numpy()], -1)
    frame = frame.join(_levels(contacts, frame["network_part"]))
    bare = frame["reason"].isna() & contacts["sound_level"].isna()
    frame["reason"] = frame["reason"].mask(bare, NOT_LISTENED)
    silent = frame["reason"].isna() & frame["level_db"].isna()
    frame["reason"] = frame["reason"].mask(silent, Reason("display_below_zero"))
    old = readings_before_repair(
        contacts.get("time"), frame["line"].to_numpy(dtype=np.int64), lines
    )
    frame["reason"] = frame["reason"].mask(
        frame["reason"].isna() & pd.notna(old), pd.Series(old, index=frame.index)
    )
    frame["reason"] = frame["reason"].mask(_other_gain(frame), _ANOTHER_GAIN)
    frame["newly_rejected"] = frame["reason"].notna() & contacts["reason"].isna() & ~bare
    frame["used"] = frame["reason"].isna()
    usable = frame["level_db"].where(frame["used"])
    for name, group in (("rank", "network_part"), ("rank_on_line", "line")):
        frame[name] = usable.groupby(frame[group]).rank(ascending=False, method="first")
    shapes = contacts.geometry.to_numpy()
    return gpd.GeoDataFrame(frame[list(COLUMNS)], geometry=shapes, crs=contacts.crs)


def _levels(contacts: gpd.GeoDataFrame, part: pd.Series[int]) -> pd.DataFrame:
    """Return level, its standard deviation and its comparable group, by part of the network."""
    alike = dict.fromkeys(("walk_id", "sensor", "band", "air"), "")
    level = levels_without_gain(contacts.assign(**alike, line_id=part.astype(str)))
    own = np.where(contacts["kind"].isin(INDOORS), INDOORS_DB, FITTING_DB)
    sd: Floats = np.hypot(own, level["rounding_sd_db"].to_numpy(dtype=float))
    columns = {"level_db": level["level_db"], "sd_db": sd, "group": level["walk"]}
    return pd.DataFrame(columns, index=contacts.index)


def _other_gain(frame: pd.DataFrame) -> Bools:
    """Flag levels outside the most common comparable group of their part."""
    good = frame["reason"].isna()
    counts = frame[good].groupby(["network_part", "group"]).size().rename("n").reset_index()
    counts = counts.sort_values(["network_part", "n", "group"], ascending=[True, False, True])
    most = counts.drop_duplicates("network_part").set_index("network_part")["group"]
    apart = good & (frame["group"] != frame["network_part"].map(most))
    return np.asarray(apart, dtype=bool)
