"""A job with two leaks on one line, each of which a hole saw."""

from __future__ import annotations

import numpy as np
import pandas as pd
import shapely

from tests.job import jobs

FIRST_M, SECOND_M = 7.0, 24.0
DAY = pd.Timestamp("2025-04-02T08:00Z")


def leaks_heard(**columns):
    """Give readings over the first route, every foot near two leaks, else every two metres."""
    near = np.arange(-1.5, 1.6, 0.3)
    at = np.unique(np.r_[np.arange(1.0, 29.5, 2.0), FIRST_M + near, SECOND_M + near].round(2))
    energy = sum(1.0 / (1.0 + ((at - m) / 1.5) ** 2) ** 2 for m in (FIRST_M, SECOND_M))
    level = 40.0 + 10 * np.log10(1 + 10**2.2 * energy) + 0.4 * np.sin(7.0 * at)
    heard = jobs.readings(len(at), sound_level=level.round(1), chainage_m=at)
    heard.geometry = shapely.points(jobs.EAST + at, np.full(len(at), jobs.NORTH))
    return heard.assign(**columns)


def hole(at_m, *, wide_m=0.8, **columns):
    """Give a hole over the first route in which a leak was seen."""
    data = {
        "line_id": ["L1"], "found": ["leak"], "repaired": [False], "time": [DAY],
        "exposed_from_m": [at_m - wide_m / 2], "exposed_to_m": [at_m + wide_m / 2],
    }  # fmt: skip
    spot = shapely.Point(jobs.EAST + at_m, jobs.NORTH)
    return jobs.layer([spot], **{**data, **columns})


def holes(*rows):
    """Give several holes as one layer."""
    return pd.concat(rows or [hole(FIRST_M), hole(SECOND_M)], ignore_index=True)


def utilities():
    """Give a gas main that crosses the line at the first leak, and a cable at the second."""
    crossing = [
        shapely.LineString([(jobs.EAST + m, jobs.NORTH - 9), (jobs.EAST + m, jobs.NORTH + 9)])
        for m in (FIRST_M, SECOND_M)
    ]
    return jobs.layer(
        crossing, utility_id=["G-1", "E-1"], kind=["gas", "electric"], owner=["Gas Co", "Power Co"],
        quality_level=["B", "B"], width_m=[0.1, 0.1], notified=[True, True],
        response=["marked", "none"],
    )  # fmt: skip
