"""A small result with every awkward kind of value in it, to write files of."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
from pyproj import CRS
from shapely import LineString, Point, Polygon

from leakgeo.faults import Fault
from leakgeo.job.model import Job
from leakgeo.reason import Reason, columns_of
from leakgeo.result import Result

METRES = CRS("EPSG:26910")
FEET = CRS("EPSG:2227")  # California zone 3, US survey feet
X0, Y0 = 550_000.0, 4_180_000.0
NO_POSITION = Reason("no_geometry")


def frame(data, shapes):
    return gpd.GeoDataFrame(data, geometry=shapes, crs=METRES)


def job(**changed):
    readings = frame(
        {
            "reading_id": ["r1", "r2", "r3"],
            "line_id": ["L-1", "L-1", None],
            "reason": [None, None, NO_POSITION],
        },
        [Point(X0, Y0), Point(X0, Y0 + 1), None],
    )
    fields = {
        "routes": frame({"line_id": ["L-1", "=L-2"], "reason": [None, None]},
                        [LineString([(X0, Y0), (X0, Y0 + 9)]),
                         LineString([(X0, Y0), (X0 + 9, Y0)])]),
        "readings": readings, "crs": METRES, "output_crs": FEET,
        "faults": (Fault("readings", NO_POSITION, "r3", value="-3"),),
        "counts": {"routes": 2, "readings": 3}, "source": "/home/someone/jobs/street.gpkg",
        "digest": "ab" * 32, **changed,
    }  # fmt: skip
    return Job(**fields)


def layers():
    square = Polygon([(X0, Y0), (X0 + 2, Y0), (X0 + 2, Y0 + 2), (X0, Y0 + 2)])
    lines = pd.DataFrame({
        "line_id": ["L-1", "=L-2"], "status": ["located", "no_leak_heard"],
        "leak_probability": [0.9812345, 0.02], "chainage_m": [3.048, np.nan],
        "loss_l_per_day": [3785.411784, np.nan], "priority": [1, 2], "conflicts": [2, 0],
        "dig_status": ["hold", "hold"], "message": ["Ünten im Hof, „hier“", "+1 to that"],
    })  # fmt: skip
    return {
        "mine": pd.DataFrame({"FID": [7], "geom": ["x"], "Size": [1], "size": [2],
                              "both": [{"a": 1}], "pick": pd.Categorical(["c"])}),
        "lines": lines,
        "marks": frame({"extra": ["kept"], "line_id": ["L-1"], "rank": [1], "chainage_m": [3.048],
                        "along_sd_m": [0.1], "along_95_m": [0.2], "across_95_m": [0.3],
                        "probability_within_1ft": [0.87], "limited_by": ["sound"]},
                       [Point(X0, Y0 + 3, 12.0)]),
        "search_zones": frame({"line_id": ["L-1", "L-1"], "rank": [1, 2], "length_m": [1.0, 0.524]},
                              [square, square.union(Polygon([(X0 + 5, Y0), (X0 + 6, Y0),
                                                             (X0 + 5, Y0 + 1)]))]),
        "readings_on_route": frame(
            {"reading_id": ["r1", "r2", "r3"], "line_id": ["L-1", "L-1", None],
             "used": pd.Series([True, False, False], dtype=object),
             **columns_of("reason", [None, Reason("set_aside"), NO_POSITION]),
             "time": pd.to_datetime(["2026-03-01T10:00:00.125+02:00", None,
                                     "2026-03-01T11:00+02:00"], format="ISO8601"),
             "seq": pd.array([1, None, 3], dtype="Int64")},
            [Point(X0, Y0), Point(X0, Y0 + 1), None]),
        "conflicts": frame({"line_id": pd.Series([], dtype=object),
                            "clearance_m": pd.Series([], dtype=float)}, []),
    }  # fmt: skip


def small(**changed):
    return Result(
        job(**changed), layers(),
        parameters={"clearance": {"rule": "generic", "x": np.float64(0.5)}},
        timings={"clearance": 0.25},
    )  # fmt: skip
