"""Small jobs to write to disk: a good one, from which each test spoils what it is about."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely

from leakgeo.job.read import read_job

CRS = 32633
EAST, NORTH = 458_000.0, 5_548_000.0


def routes(**columns):
    """Give two routes of 50 m and 40 m."""
    lines = [
        shapely.LineString([(EAST, NORTH), (EAST + 30, NORTH), (EAST + 30, NORTH + 20)]),
        shapely.LineString([(EAST + 100, NORTH), (EAST + 140, NORTH)]),
    ]
    data = {"line_id": ["L1", "L2"], "material": ["copper", "pvc"], "depth_m": [0.9, 1.2]}
    return gpd.GeoDataFrame({**data, **columns}, geometry=lines, crs=CRS)


def readings(size=4, **columns):
    """Give readings over the first route."""
    data = {
        "reading_id": [f"R{i}" for i in range(size)],
        "line_id": ["L1"] * size,
        "walk_id": ["W"] * size,
        "sound_level": np.linspace(40.0, 46.0, size),
        "sound_unit": ["db"] * size,
    }
    points = shapely.points(EAST + np.linspace(1, 29, size), np.full(size, NORTH))
    return gpd.GeoDataFrame({**data, **columns}, geometry=points, crs=CRS)


def heard(size=12, **columns):
    """Give readings over the first route with a leak in its middle."""
    off = np.linspace(1, 29, size) - 15.0
    level = 40.0 + 10 * np.log10(1 + 10**2.0 / (1 + (off / 2.0) ** 2) ** 2)
    return readings(size, **{"sound_level": level.round(), **columns})


def meter_tests(**columns):
    """Give one meter test of two hours."""
    data = {
        "line_id": ["L1"],
        "start_reading": [100.0],
        "end_reading": [101.5],
        "volume_unit": ["m3"],
        "start_time": pd.to_datetime(["2025-03-31T08:00Z"]),
        "end_time": pd.to_datetime(["2025-03-31T10:00Z"]),
        "water_used": [False],
    }
    return pd.DataFrame({**data, **columns})


def isolation_tests(**columns):
    """Give one test, at the fitting C."""
    data = {
        "test_id": ["T1"], "measured_at": ["C"], "measure": ["flow"], "before": [9.0],
        "after": [2.0], "unit": ["l_per_min"], "start_time": ["2025-03-31T08:00Z"],
        "end_time": ["2025-03-31T08:20Z"], "settled": [True],
    }  # fmt: skip
    return pd.DataFrame({**data, **columns})


def action_results(**columns):
    """Give one result: the sound went on when the fitting C was shut."""
    data = {
        "line_id": ["L1"], "action": ["shut_fitting"], "result": ["not_found"],
        "contact_id": ["C"], "beyond": [None], "time": ["2025-03-31T11:00Z"],
    }  # fmt: skip
    return pd.DataFrame({**data, **columns})


def layer(shape_list, crs=CRS, **columns):
    """Give any other layer."""
    return gpd.GeoDataFrame(columns, geometry=shape_list, crs=crs)


def write(path, **layers):
    """Write layers to one GeoPackage, the two required ones if not given; None leaves one out."""
    layers = {"routes": routes(), "readings": readings(), **layers}
    for name, table in layers.items():
        if table is not None:
            pyogrio.write_dataframe(table, path, layer=name)
    return path


def read(folder, **layers):
    """Write a job and read it."""
    return read_job(write(folder / "job.gpkg", **layers))


def codes(table):
    """Give the code of why each row is not used, None where it is."""
    return [reason and reason.code for reason in table["reason"]]


def about(faults, layer, column=None):
    """Pick the faults of a layer, and of a column if given."""
    return [f for f in faults if f.layer == layer and column in (None, f.column)]
