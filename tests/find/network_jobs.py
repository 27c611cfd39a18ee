"""Jobs on hand-drawn pipe networks, made in memory."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from leakgeo.job.model import Job
from tests.route.test_network import PLANE


def routes(lines: dict[str, list], crs=PLANE, **columns) -> gpd.GeoDataFrame:
    table = {
        "line_id": list(lines),
        "material": ["copper"] * len(lines),
        "depth_m": 0.9,
        "position_sd_m": np.nan,
        "installed_year": np.nan,
        "reason": None,
        **columns,
    }
    shapes = [shapely.LineString(line) for line in lines.values()]
    return gpd.GeoDataFrame(pd.DataFrame(table), geometry=shapes, crs=crs)


def contacts(places: dict[str, tuple], levels, crs=PLANE, **columns) -> gpd.GeoDataFrame:
    table = {
        "contact_id": list(places),
        "line_id": None,
        "kind": "meter",
        "sound_level": np.asarray(levels, dtype=float),
        "sound_unit": "db",
        "gain_db": 0.0,
        "time": pd.NaT,
        "reason": None,
        **columns,
    }
    table["line_id"] = np.asarray(columns.get("line_id", [None] * len(places)), dtype=object)
    shapes = shapely.points(np.array(list(places.values()), dtype=float).reshape(-1, 2))
    return gpd.GeoDataFrame(pd.DataFrame(table), geometry=shapes, crs=crs)


def history(shapes: list, kinds: list[str], crs=PLANE, **columns) -> gpd.GeoDataFrame:
    table = {"line_id": None, "kind": kinds, "date": pd.NaT, "reason": None, **columns}
    return gpd.GeoDataFrame(pd.DataFrame(table), geometry=shapes, crs=crs)


def job_on(lines: gpd.GeoDataFrame, **layers) -> Job:
    readings = gpd.GeoDataFrame(
        {"reading_id": [], "time": pd.to_datetime([], utc=True)}, geometry=[], crs=lines.crs
    )
    return Job(lines, readings, lines.crs, lines.crs, **layers)
