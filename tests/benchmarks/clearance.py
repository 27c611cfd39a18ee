"""Time one pass of clearance over a city against a spatial join for each line.

Run it by hand: ``python -m tests.benchmarks.clearance [--zones N] [--utilities N] [--lines N]``.
It prints seconds and the ratio, and fails where the two find other pairs.
"""

from __future__ import annotations

import argparse
import resource
import time

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

from leakgeo.dig.clearance import clearance
from leakgeo.dig.facilities import prepare_facilities
from leakgeo.dig.rules import assumptions, pick_rule
from leakgeo.job.model import Job
from leakgeo.result import Result
from leakgeo.steps import CLEARANCE

METRES = CRS("EPSG:26910")
X0, Y0 = 500_000.0, 4_200_000.0
BLOCK_M = 25.0  # a service line every 25 m, each way


def city(zones: int, utilities: int) -> Result:
    """Invent a city of square blocks: a mark on each lot, utilities lying everywhere."""
    random = np.random.default_rng(20)
    side = int(np.ceil(np.sqrt(zones)))
    place = np.arange(zones)
    at = np.column_stack([place % side, place // side]) * BLOCK_M + [X0, Y0]
    at = at + random.uniform(-6, 6, at.shape)
    line_id = np.array([f"L-{i:06d}" for i in place], dtype=object)
    marks = gpd.GeoDataFrame({
        "line_id": line_id, "chainage_m": 10.0, "along_sd_m": 0.2,
        "along_95_m": random.uniform(0.3, 0.9, zones), "across_95_m": 0.3,
        "probability_within_1ft": 0.8, "limited_by": "sound",
        "azimuth_deg": random.uniform(0, 360, zones),
    }, geometry=shapely.points(at), crs=METRES)  # fmt: skip
    routes = gpd.GeoDataFrame({
        "line_id": line_id, "depth_m": 0.9, "diameter_mm": 25.0, "pressure_kpa": 400.0,
        "reason": None,
    }, geometry=shapely.linestrings(np.stack([at - [0, 10], at + [0, 10]], 1)),
        crs=METRES)  # fmt: skip
    lines = pd.DataFrame({"line_id": line_id, "status": "located"})
    readings = gpd.GeoDataFrame({"line_id": line_id[:1], "air": [None]},
                                geometry=marks.geometry[:1])  # fmt: skip
    job = Job(routes, readings, METRES, METRES, utilities=lines_of_others(utilities, side, random))
    return Result(job, {"marks": marks, "lines": lines})


def lines_of_others(count: int, side: int, random: np.random.Generator) -> gpd.GeoDataFrame:
    """Invent utilities of three vertices, 10 to 60 m long, over the whole city."""
    start = random.uniform(0, side * BLOCK_M, (count, 2)) + [X0, Y0]
    turn = random.uniform(0, 2 * np.pi, count)
    along = np.stack([np.cos(turn), np.sin(turn)], axis=1) * random.uniform(10, 60, (count, 1))
    bend = random.normal(0, 1, (count, 2))
    shapes = shapely.linestrings(np.stack([start, start + along / 2 + bend, start + along], axis=1))
    when = pd.Timestamp("2026-03-02T17:00Z")
    return gpd.GeoDataFrame({
        "utility_id": [f"U-{i:06d}" for i in range(count)],
        "kind": random.choice(["gas_oil_steam", "electric", "communications"], count),
        "owner": "Invented", "width_m": random.uniform(0.02, 0.6, count), "depth_m": 0.9,
        "quality_level": random.choice(list("ABCD"), count), "position_sd_m": 0.2,
        "notified": random.random(count) < 0.8, "ticket": "T-1", "notified_time": when,
        "response": random.choice(["marked", "clear", "none"], count), "response_time": when,
        "reason": None,
    }, geometry=shapes, crs=METRES)  # fmt: skip


def by_line(done: Result, lines: int) -> set[tuple[str, str]]:
    """Find the pairs of the first lines by a spatial join for each, as a script would."""
    facilities = prepare_facilities(done.job.utilities, pick_rule("generic"), assumptions())
    zones = done.layers["dig_zones"][["line_id", "geometry"]]
    names = {"utility_id": facilities.table["utility_id"]}
    areas = shapely.buffer(facilities.geometry, facilities.search_m, quad_segs=32)
    reach = gpd.GeoDataFrame(names, geometry=areas, crs=METRES)
    reach.sindex  # noqa: B018 - built once, outside the loop: the kinder comparison
    pairs: set[tuple[str, str]] = set()
    for row in range(lines):
        found = gpd.sjoin(zones.iloc[[row]], reach, predicate="intersects")
        pairs.update(zip(found["line_id"], found["utility_id"], strict=True))
    return pairs


def main() -> None:
    """Print the figures."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--zones", type=int, default=20_000)
    asked.add_argument("--utilities", type=int, default=200_000)
    asked.add_argument("--lines", type=int, default=1_000, help="lines in the loop, then scaled up")
    given = asked.parse_args()
    result = city(given.zones, given.utilities)
    settings = {p.name: p.default for p in CLEARANCE.parameters}
    begin = time.perf_counter()
    done = clearance(result, **settings)
    whole = time.perf_counter() - begin
    lines = min(given.lines, given.zones)
    begin = time.perf_counter()
    loop = by_line(done, lines)
    looped = (time.perf_counter() - begin) * given.zones / lines
    found = done.layers["conflicts"]
    first = set(done.layers["dig_zones"]["line_id"].iloc[:lines])
    ours = found.loc[found["line_id"].isin(first), ["line_id", "utility_id"]]
    ours = set(ours.itertuples(index=False, name=None))
    # Buffers are polygons: a pair at their very rim may differ.
    apart = len(ours ^ loop)
    print(f"{given.zones} dig zones, {given.utilities} utilities, {len(found)} pairs")
    print(f"one pass, holds, ties and requests included: {whole:.1f} s")
    print(f"sjoin for each line, {lines} lines scaled up: {looped:.1f} s, for the pairs alone")
    print(f"ratio {looped / whole:.1f}; {apart} of {len(loop)} pairs differ")
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")
    if apart > 0.002 * len(loop) + 1:
        raise SystemExit("the two ways find other pairs")


if __name__ == "__main__":
    main()
