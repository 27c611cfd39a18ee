"""The first survey: fittings ranked by level, and the stretch between the loudest two."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd

from leakgeo.faults import Fault
from leakgeo.route.lines import lines_of
from leakgeo.route.place import place_on_routes
from leakgeo.sound.compare import comparable_levels

if TYPE_CHECKING:
    from leakgeo.job.model import Job
    from leakgeo.result import Result
    from leakgeo.route.lines import Lines

# Fittings are drawn on plans to about this, and stand beside the pipe rather than on it.
FITTING_SD_M = 1.0
TRACE_SD_M = 0.3


def survey(result: Result) -> Result:
    """Rank the fittings listened to on each line, and bracket the leak between the loudest two.

    Only levels of one unit and of gains known alike are compared; a fitting that can't be compared
    with the others of its line is told.

    Parameters
    ----------
    result : Result
        With ``contacts`` in its job, or none: then both layers are empty.

    Returns
    -------
    Result
        With ``contact_ranking`` and ``survey_bracket``.
    """
    job = result.job
    lines = lines_of(job, TRACE_SD_M)
    ranking = _ranked(job, lines)
    bracket = _bracketed(job, lines, ranking)
    fresh = ranking[ranking["fresh"].astype(bool)]
    faults = [
        Fault("contacts", f"It {why}.", "Correct it, or listen again as at the others.", str(name))
        for name, why in zip(fresh["contact_id"], fresh["reason"], strict=True)
    ]
    layers = {
        "contact_ranking": ranking.drop(columns=["line", "fresh"]),
        "survey_bracket": bracket,
    }
    return result.adding(layers, faults)


_COLUMNS = ("contact_id", "line", "line_id", "kind", "rank", "sound_level_db", "chainage_m",
            "offset_m", "used", "reason", "fresh")  # fmt: skip


def _ranked(job: Job, lines: Lines) -> gpd.GeoDataFrame:
    """Every fitting with its level and its rank on its line."""
    if job.contacts is None:
        return gpd.GeoDataFrame({c: [] for c in _COLUMNS}, geometry=[], crs=job.crs)
    contacts = job.contacts.reset_index(drop=True)
    placed = place_on_routes(contacts, lines, reading_sd_m=FITTING_SD_M, tape_sd_m=FITTING_SD_M)
    bare = dict.fromkeys(("walk_id", "sensor", "band", "air"), "")
    level = comparable_levels(contacts.assign(**bare, line_id=placed["line_id"]))
    frame = pd.concat([contacts[["contact_id", "kind"]], placed, level], axis=1)
    reason = frame["reason"].mask(
        frame["reason"].isna() & level["level_db"].isna(), "has a display below zero"
    )
    largest = frame[reason.isna()].groupby("line")["walk"].agg(_commonest)
    apart = reason.isna() & (frame["walk"] != frame["line"].map(largest))
    frame["reason"] = reason.mask(
        apart, "was listened to at another gain or unit than the other fittings"
    )
    frame["fresh"] = frame["reason"].notna() & contacts["reason"].isna()
    frame["used"] = frame["reason"].isna()
    frame["sound_level_db"] = level["level_db"]
    usable = frame["sound_level_db"].where(frame["used"])
    frame["rank"] = usable.groupby(frame["line"]).rank(ascending=False, method="first")
    return gpd.GeoDataFrame(
        frame[list(_COLUMNS)], geometry=contacts.geometry.to_numpy(), crs=job.crs
    )


def _commonest(codes: pd.Series[int]) -> int:
    return int(codes.mode().iloc[0])


def _bracketed(job: Job, lines: Lines, ranking: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """The stretch of each line between its loudest and second loudest fitting."""
    first = ranking[ranking["rank"] == 1].set_index("line")
    second = ranking[ranking["rank"] == 2].set_index("line")
    both = first.join(second.add_suffix("_2"), how="inner")
    which = both.index.to_numpy(dtype=np.intp)
    ends = both[["chainage_m", "chainage_m_2"]].to_numpy(dtype=float)
    begin, end = ends.min(axis=1), ends.max(axis=1)
    frame = pd.DataFrame({
        "line_id": both["line_id"].to_numpy(),
        "from_contact": both["contact_id"].to_numpy(),
        "to_contact": both["contact_id_2"].to_numpy(),
        "from_chainage_m": begin,
        "to_chainage_m": end,
        "length_m": end - begin,
        "probability": np.nan,
        "message": [
            f"Walk between {a} and {b}, the loudest two; start at {a}."
            for a, b in zip(both["contact_id"], both["contact_id_2"], strict=True)
        ],
    })  # fmt: skip
    return gpd.GeoDataFrame(frame, geometry=lines.routes.pieces(which, begin, end), crs=job.crs)
