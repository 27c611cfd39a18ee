"""Reject duplicate readings under different names, which would count twice as evidence."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely

from leakgeo.arrays import floats, numbers_of_groups, texts
from leakgeo.faults import Fault
from leakgeo.job.checks.registry import check
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterator

    import geopandas as gpd

    from leakgeo.arrays import Bools, Ints
    from leakgeo.job.checks.collector import IssueCollector

#: Largest difference of positions on either axis; a copy may have fewer digits, such as the seven
#: decimals of a degree in GeoJSON (RFC 7946).
SAME_PLACE_M = 0.05
#: Without times a walk is a copy if nearly all of its readings equal those of another walk, and
#: this many do besides those at its most frequent level, which may be a limit of the display.
MIN_EQUAL, MIN_SHARE = 6, 0.95
# Earlier readings with the same content at the same place that each is compared with.
_MAX_COMPARED = 8
_CONTENT = ("sound_level", "sound_unit", "gain_db", "sensor", "band", "air")


@check("readings", order=30)
def duplicate_readings(rows: gpd.GeoDataFrame, issues: IssueCollector) -> None:
    """Reject readings that are copies of earlier ones, whatever their reading_id and walk_id.

    Notes
    -----
    A reading is a copy if an earlier one has the same time, position, level, gain, sensor, band and
    air, and the times are exact enough to distinguish readings. A walk is a copy as a whole if
    nearly all of its readings equal those of an earlier walk and no times differ: two crews may
    read the same level at one taped place, but not along a whole walk.
    """
    at = np.flatnonzero(issues.good & ~shapely.is_missing(rows.geometry.to_numpy()))
    if len(at) < 2:
        return
    own = _comparable(rows, at)
    pairs = _equal_pairs(own)
    if pairs.empty:
        return
    copied = _same_time(own, pairs) | _in_copied_walks(own, pairs)
    _report(own.assign(original=_originals(pairs, copied, len(own))), copied, issues)


def _comparable(table: pd.DataFrame, rows: Ints) -> pd.DataFrame:
    """Return the compared columns of the rows, with a number for each walk."""
    own = pd.DataFrame(table).iloc[rows]
    xy = shapely.get_coordinates(table.geometry.to_numpy()[rows])
    out = pd.DataFrame({"row": rows, "x": xy[:, 0], "y": xy[:, 1]})
    # Defaults of the contract.
    usual = {"band": "wide", "air": "off"}
    content = (own[c].fillna(usual[c]) if c in usual else own[c] for c in _CONTENT)
    out["content"] = numbers_of_groups(*content)
    for name in ("line_id", "walk_id"):
        out[name] = pd.Series(texts(own, name), dtype=object)
    out["seq"], out["level"] = own["seq"].to_numpy(), own["sound_level"].to_numpy()
    out["tape"] = floats(own, "chainage_m")
    out["time"] = own["time"].dt.tz_localize(None).to_numpy()
    out["walk"] = numbers_of_groups(out["line_id"].fillna(""), out["walk_id"].fillna(""))
    times = out.groupby("walk")["time"].transform("nunique")
    out["exact"] = out["time"].notna() & ((times > 1) | (out["time"].dt.second != 0))
    return out


def _equal_pairs(own: pd.DataFrame) -> pd.DataFrame:
    """Pair each row with earlier rows of equal content at its place: row numbers first and again.

    Four grids, shifted by half a cell, find all close pairs without comparing every two rows.
    """
    found = []
    for shift_x, shift_y in product((0.0, 0.5), repeat=2):
        cells = [np.floor(own[axis].to_numpy() / (2 * SAME_PLACE_M) + shift)
                 for axis, shift in (("x", shift_x), ("y", shift_y))]  # fmt: skip
        number = numbers_of_groups(*map(pd.Series, cells), own["content"])
        order = np.argsort(number, kind="stable")
        for back in range(1, _MAX_COMPARED + 1):
            same = number[order[back:]] == number[order[:-back]]
            if not same.any():
                break
            found.append(order[:-back][same] * len(own) + order[back:][same])
    # One number for each pair: numbers are sorted many times faster than rows.
    pairs = np.unique(np.concatenate(found)) if found else np.empty(0, dtype=np.int64)
    made = pd.DataFrame({"first": pairs // len(own), "again": pairs % len(own)})
    return made[_compatible(own, made)].reset_index(drop=True)


def _compatible(own: pd.DataFrame, pairs: pd.DataFrame) -> Bools:
    """Return whether each pair is close, and does not differ in line, time or tape."""
    a, b = (own.iloc[pairs[side]].reset_index(drop=True) for side in ("first", "again"))
    near = ((a["x"] - b["x"]).abs() <= SAME_PLACE_M) & ((a["y"] - b["y"]).abs() <= SAME_PLACE_M)
    line = (a["line_id"] == b["line_id"]) | a["line_id"].isna() | b["line_id"].isna()
    time = (a["time"] == b["time"]) | a["time"].isna() | b["time"].isna()
    # Two stops tapped at one place of a screen may be taped at two.
    tape = ~((a["tape"] - b["tape"]).abs() > SAME_PLACE_M)
    return (near & line & time & tape).to_numpy(dtype=bool)


def _same_time(own: pd.DataFrame, pairs: pd.DataFrame) -> Bools:
    """Return whether each pair is one reading by its time; within a walk, by its seq."""
    a, b = (own.iloc[pairs[side]].reset_index(drop=True) for side in ("first", "again"))
    one_walk = a["walk"] == b["walk"]
    in_order = (a["seq"] == b["seq"]) & a["walk_id"].notna()
    # A form may record one time for several readings of a stop; seq distinguishes them.
    unordered = a["seq"].isna() & b["seq"].isna()
    timed = (a["time"] == b["time"]) & a["exact"] & b["exact"]
    return (np.where(one_walk, in_order | (timed & unordered), timed)).astype(bool)


def _in_copied_walks(own: pd.DataFrame, pairs: pd.DataFrame) -> Bools:
    """Return whether each pair is of two walks of which one is a copy of the other."""
    walks = pd.DataFrame({side: own["walk"].to_numpy()[pairs[side]] for side in pairs})
    apart = (walks["first"] != walks["again"]).to_numpy()
    level = own["level"].to_numpy()[pairs["again"]]
    often = own.groupby(["walk", "level"]).size().sort_values(kind="stable").reset_index()
    usual = often.drop_duplicates("walk", keep="last").set_index("walk")["level"]
    level_of = usual.reindex(walks["again"]).to_numpy()
    equal = walks.assign(row=pairs["again"], informative=level != level_of)[apart]
    by_pair = equal.drop_duplicates(["first", "again", "row"]).groupby(["first", "again"])
    counts = by_pair["informative"].agg(["sum", "size"]).reset_index()
    size = own.groupby("walk").size().to_numpy()
    least = np.minimum(size[counts["first"]], size[counts["again"]])
    whole = counts[(counts["sum"] >= MIN_EQUAL) & (counts["size"] >= MIN_SHARE * least)]
    chosen = pd.MultiIndex.from_frame(whole[["first", "again"]])
    return np.asarray(pd.MultiIndex.from_frame(walks).isin(chosen)) & apart


def _originals(pairs: pd.DataFrame, copied: Bools, size: int) -> Ints:
    """Return the number of the earliest row that each row is a copy of; its own if it is none."""
    original = np.arange(size)
    # In order of the copies, so that the original of an original is known before.
    for first, again in pairs[copied].sort_values(["again", "first"]).itertuples(index=False):
        original[again] = min(original[again], original[first])
    return original


def _report(own: pd.DataFrame, copied: Bools, issues: IssueCollector) -> None:
    """Reject the copies, and report one fault for each two walks."""
    if not copied.any():
        return
    own["copy"] = own["original"] != np.arange(len(own))
    own["of_walk"] = own["walk"].to_numpy()[own["original"]]
    within = own["copy"] & (own["of_walk"] == own["walk"])
    rows = np.zeros(len(issues.labels), dtype=bool)
    rows[own.loc[within, "row"]] = True
    issues.report(rows, Reason("same_as_earlier_reading"), column="reading_id")
    for part in _by_walk_pair(own[own["copy"] & ~within]):
        first = part.iloc[0]
        name, of = _walk_name(first), _walk_name(own.iloc[first["original"]])
        for row in part["row"]:
            issues.reasons[row] = Reason("copy_of_reading", of=of)
        reason = Reason("copied_readings", copies=len(part), walk=name, of=of)
        walk, line = (str(first[column] or "") for column in ("walk_id", "line_id"))
        issues.faults.append(Fault("readings", reason, walk or line, "walk_id", walk))


def _by_walk_pair(duplicate_readings: pd.DataFrame) -> Iterator[pd.DataFrame]:
    for _, part in duplicate_readings.groupby(["walk", "of_walk"], sort=True):
        yield part


def _walk_name(row: pd.Series) -> Reason:
    """Return the name of the walk of a row.

    Examples
    --------
    >>> _walk_name(pd.Series({"walk_id": "W-2", "line_id": "H-1"}))
    Reason('walk_named', walk='W-2')
    """
    walk, line = row["walk_id"], row["line_id"]
    if walk:
        return Reason("walk_named", walk=walk)
    return Reason("readings_without_walk", line=line) if line else Reason("readings_without_line")
