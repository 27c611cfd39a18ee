"""Comparison of marks with excavation results: the error of each mark."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.conversion import FOOT_M
from leakgeo.find.learn.calibration import DigCase
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pyproj import CRS

    from leakgeo.arrays import Floats
    from leakgeo.route.lines import Lines

#: Excavation results that count.
LEAK, DRY = "leak", "dry"
# A dry hole this close to the mark counts as dug at the mark.
AT_MARK_M = 1.0


def no_cases(crs: CRS) -> gpd.GeoDataFrame:
    """Return the table of `compare_digs` for a job without excavations."""
    return gpd.GeoDataFrame({c: [] for c in COLUMNS}, geometry=[], crs=crs)


def compare_digs(
    outcomes: gpd.GeoDataFrame, placed: pd.DataFrame, lines: Lines,
    earlier: Mapping[str, pd.DataFrame],
) -> gpd.GeoDataFrame:  # fmt: skip
    """Compare every excavation with the mark of its line, of several with the nearest.

    One excavation per mark counts: the nearest that found the leak, else a dry one at the mark.

    Parameters
    ----------
    outcomes : geopandas.GeoDataFrame
        ``dig_outcomes`` of the job, with a row index from 0.
    placed : pandas.DataFrame
        As `leakgeo.find.evidence.digs.place_holes` returns it.
    lines : Lines
    earlier : mapping of str to pandas.DataFrame
        ``marks``, ``lines`` and optionally ``readings_on_route`` of the result used for the dig.

    Returns
    -------
    geopandas.GeoDataFrame
        One row for each of `outcomes`, in their CRS, with ``counted``, or the ``reason``
        why it does not count.
    """
    frame = placed[["line_id", "reason"]].assign(
        found=texts(outcomes, "found"), crew=texts(outcomes, "crew"),
        material=_materials(lines, placed["line_id"]), hole_chainage_m=placed["chainage_m"],
        taped_m=floats(outcomes, "from_mark_m"),
    )  # fmt: skip
    rejections = _with_predictions(frame, earlier)
    table = _counted(rejections)[list(COLUMNS)]
    return gpd.GeoDataFrame(table, geometry=outcomes.geometry.to_numpy(), crs=outcomes.crs)


COLUMNS = ("line_id", "found", "counted", "reason", "error_m", "within_1ft", "within_1m",
           "probability_within_1ft", "leak_probability", "mark_chainage_m", "hole_chainage_m",
           "status", "material", "surface", "crew")  # fmt: skip


def _materials(lines: Lines, names: pd.Series[str]) -> np.ndarray:
    material = np.array([*lines.material, "unknown"], dtype=object)
    return material[lines.index_of(texts(names.to_frame("line_id"), "line_id"))]


def _with_predictions(frame: pd.DataFrame, earlier: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """Add the predictions for each excavation's line, and the distance from hole to mark."""
    own = _nearest_marks(frame, pd.DataFrame(earlier["marks"]))
    leak = earlier["lines"].set_index("line_id")["leak_probability"].reindex(frame["line_id"])
    mark, hole = floats(own, "chainage_m"), floats(frame, "hole_chainage_m")
    taped = np.abs(floats(frame, "taped_m"))
    # A tape from the mark is most accurate; the hole's position gives the side.
    side = np.where(hole < mark, -1.0, 1.0)
    hole = np.where(np.isfinite(taped), mark + side * taped, hole)
    return frame.assign(
        mark_chainage_m=mark, hole_chainage_m=hole, error_m=np.abs(hole - mark),
        probability_within_1ft=floats(own, "probability_within_1ft"),
        leak_probability=leak.to_numpy(dtype=float), status=texts(own, "status"),
        surface=_surfaces(frame["line_id"], mark, earlier.get("readings_on_route")),
    )  # fmt: skip


def _nearest_marks(frame: pd.DataFrame, marks: pd.DataFrame) -> pd.DataFrame:
    """Return the mark of each excavation's line that is nearest to it; nulls without one."""
    holes = frame[["line_id", "hole_chainage_m"]].assign(hole=range(len(frame)))
    pairs = holes.merge(marks, on="line_id", how="left")
    away = (pairs["chainage_m"] - pairs["hole_chainage_m"]).abs()
    nearest = pairs.assign(away=away).sort_values(["hole", "away"], kind="stable")
    return nearest.drop_duplicates("hole")


def _surfaces(names: pd.Series[str], mark_m: Floats, readings: pd.DataFrame | None) -> list[str]:
    """Return the surface of the reading nearest to each mark, ``unknown`` without one."""
    if readings is None or "surface" not in readings:
        return ["unknown"] * len(names)
    kept = pd.DataFrame(readings)[["line_id", "chainage_m", "surface"]].dropna()
    by = dict(list(kept.groupby("line_id")))

    def nearest(name: str, mark: float) -> str:
        if name not in by or not np.isfinite(mark):
            return "unknown"
        own = by[name]
        return str(own["surface"].iloc[int(np.argmin(np.abs(floats(own, "chainage_m") - mark)))])

    return [nearest(str(name), mark) for name, mark in zip(names, mark_m, strict=True)]


def _counted(frame: pd.DataFrame) -> pd.DataFrame:
    """Flag the excavation that counts on each line, and whether the mark was within limits."""
    found, dry = ((frame["found"] == code).to_numpy() for code in (LEAK, DRY))
    reason, error = texts(frame, "reason"), floats(frame, "error_m")
    rejections = (
        (frame["found"].isna().to_numpy(), "found_not_recorded"),
        (~found & ~dry, "pipe_not_reached"),
        (~np.isfinite(floats(frame, "mark_chainage_m")), "no_mark_made"),
        (dry & (error > AT_MARK_M), "dry_away_from_mark"),
    )
    for wrong, code in rejections:
        reason[wrong & pd.isna(reason)] = Reason(code)
    good = pd.isna(reason)
    mark = frame[["line_id", "mark_chainage_m"]]
    order = mark.assign(dry=dry, error=error)[good].sort_values(["dry", "error"], kind="stable")
    first = order.drop_duplicates(list(mark)).index
    chosen = frame.index.isin(first)
    reason[good & ~chosen] = Reason("another_hole_counts")
    return frame.assign(
        counted=chosen, reason=reason,
        error_m=np.where(found, error, np.nan),
        within_1ft=pd.Series(found & (error <= FOOT_M), dtype="boolean").where(chosen),
        within_1m=pd.Series(found & (error <= 1.0), dtype="boolean").where(chosen),
    )  # fmt: skip


def posterior_at_digs(
    table: pd.DataFrame, profile: pd.DataFrame, marks: pd.DataFrame
) -> list[DigCase]:
    """Return the posterior of the line of each excavation that counts.

    Of a line with several marks it is the part that is nearest to the mark.

    Parameters
    ----------
    table : pandas.DataFrame
        As `compare_digs` returns it.
    profile : pandas.DataFrame
        ``profile`` of the result used for the dig.
    marks : pandas.DataFrame
        Its ``marks``.

    Returns
    -------
    list of DigCase
        Lines without a density are left out.
    """
    known = profile[profile["leak_density_per_m"].notna()].sort_values("chainage_m")
    by = {str(name): own for name, own in known.groupby("line_id") if len(own) > 1}
    counted = table[table["counted"].astype(bool)]
    found = (counted["found"] == LEAK).to_numpy()
    leak_m = np.where(found, floats(counted, "hole_chainage_m"), np.nan)
    columns = zip(
        texts(counted, "line_id"), leak_m, floats(counted, "mark_chainage_m"),
        floats(counted, "leak_probability", null=1.0), strict=True,
    )  # fmt: skip
    places = {str(name): floats(own, "chainage_m") for name, own in marks.groupby("line_id")}
    return [
        DigCase(*_part_at_mark(by[name], places[name], mark), leak, mark, odds)
        for name, leak, mark, odds in columns
        if name in by
    ]


def _part_at_mark(profile: pd.DataFrame, marks_m: Floats, mark_m: float) -> tuple[Floats, Floats]:
    """Return the chainages that are nearest to one of the marks of a line, and their density."""
    at = floats(profile, "chainage_m")
    nearest = marks_m[np.argmin(np.abs(at[:, None] - marks_m), axis=1)] == mark_m
    return at[nearest], floats(profile, "leak_density_per_m")[nearest]
