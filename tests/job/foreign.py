"""A job as another GIS holds it: US survey feet, own names, codes and dates; and what it means."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pyproj
import shapely

# UTM 14N to build in, and Texas Central in US survey feet as the utility keeps it.
METRES, FEET = 32614, 2277
EAST, NORTH = 621_000.0, 3_350_000.0
FOOT, INCH, PSI = 0.3048, 25.4, 6.894757293168361
ZONE = "America/Chicago"

MAPPING = """\
time_zone = "America/Chicago"

[routes]
layer = "WaterMains"

[routes.columns]
line_id = "FACILITYID"
depth_m = { column = "BURY_FT", unit = "ft", missing = [-99] }
diameter_mm = { column = "DIAM_IN", unit = "in" }
pressure_kpa = { column = "PRES_PSI", unit = "psi" }

[routes.columns.material]
column = "MAT"
[routes.columns.material.values]
DIP = "ductile_iron"
"CU/K" = "copper"

[readings]
layer = "Stops"

[readings.columns]
reading_id = "STOP"
line_id = "FACILITYID"
walk_id = { value = "W" }
sound_level = "LOUD"
sound_unit = { value = "db" }
set_aside = { column = "OK", values = { "good" = false, "bad" = true } }
time = { column = "TAKEN", date_format = "%m/%d/%Y %I:%M %p" }

[readings.columns.surface]
column = "GRND"
values = { "T" = "grass", "BT" = "asphalt" }
"""


def mains():
    """Give two mains, 50 m and 40 m long on the UTM grid, in US survey feet."""
    lines = [
        shapely.LineString([(EAST, NORTH), (EAST + 30, NORTH), (EAST + 30, NORTH + 20)]),
        shapely.LineString([(EAST + 100, NORTH), (EAST + 140, NORTH)]),
    ]
    data = {
        "FACILITYID": ["L1", "L2"], "MAT": ["DIP", "CU/K"], "BURY_FT": [3.0, -99.0],
        "DIAM_IN": [6.0, 0.75], "PRES_PSI": [60.0, np.nan],
    }  # fmt: skip
    return gpd.GeoDataFrame(data, geometry=lines, crs=METRES).to_crs(FEET)


def stops(size=12, crs=FEET):
    """Give stops along the first main, a leak's bump in their levels."""
    along = np.linspace(1, 29, size)
    data = {
        "STOP": [f"R{i}" for i in range(size)],
        "FACILITYID": ["L1"] * size,
        "LOUD": 40 + 20 * np.exp(-(((along - 14) / 5) ** 2)),
        "OK": ["good"] * (size - 1) + ["bad"],
        "TAKEN": ["03/31/2025 02:05 PM"] * size,
        "GRND": ["T", "BT"] * (size // 2),
    }
    points = shapely.points(EAST + along, np.full(size, NORTH))
    return gpd.GeoDataFrame(data, geometry=points, crs=METRES).to_crs(crs)


def with_coordinates(table, crs=FEET):
    """Give a table with two columns of coordinates in place of points."""
    there = table.to_crs(crs)
    plain = pd.DataFrame(there.drop(columns="geometry"))
    return plain.assign(X=there.geometry.x, Y=there.geometry.y)


def check(job):
    """Assert that a job holds in the contract's terms what `mains` and `stops` say in theirs."""
    # A FlatGeobuf file keeps no order of its own.
    routes, readings = job.routes.sort_values("line_id"), job.readings.set_index("reading_id")
    assert routes["reason"].isna().all()
    assert routes["line_id"].tolist() == ["L1", "L2"]
    assert routes["material"].tolist() == ["ductile_iron", "copper"]
    np.testing.assert_allclose(routes["depth_m"], [3 * FOOT, np.nan], rtol=1e-9)
    np.testing.assert_allclose(routes["diameter_mm"], [6 * INCH, 0.75 * INCH], rtol=1e-9)
    np.testing.assert_allclose(routes["pressure_kpa"], [60 * PSI, np.nan], rtol=1e-9)
    assert readings.index[readings["reason"].notna()].tolist() == [f"R{len(readings) - 1}"]
    assert set(readings["sound_unit"]) == {"db"}
    assert set(readings["surface"]) == {"grass", "asphalt"}
    # Summer time in Chicago is five hours behind UTC.
    assert set(readings["time"]) == {pd.Timestamp("2025-03-31T19:05Z")}
    degrees = pyproj.Transformer.from_crs(job.crs, 4326, always_xy=True)
    there = pyproj.Transformer.from_crs(METRES, 4326, always_xy=True)
    x, y = shapely.get_coordinates(readings.geometry.loc[["R0"]])[0]
    np.testing.assert_allclose(degrees.transform(x, y), there.transform(EAST + 1, NORTH), atol=2e-7)
