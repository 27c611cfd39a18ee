"""A map of thousands of lines: size of the file, time to load, the longest frame of a pan.

The town of ``examples/`` is worked out once; its layers are then copied over a grid, with other
names and with levels of their own, so that no copy deflates as a repeat of another.

    python -m tests.benchmarks.big_map --lines 20000 --out /tmp/big
"""

from __future__ import annotations

import argparse
import resource
import time
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

import leakgeo
from leakgeo.deliver.map.write import write_map
from leakgeo.options import ALL_LINES
from leakgeo.result import Result
from tests.browser.chromium import FLAGS, find_chromium

TOWN = Path(__file__).parents[2] / "examples/town/job.gpkg"
PITCH_M = 320.0
LAYERS = ("readings_on_route", "profile", "search_zones", "marks", "next_readings", "dig_zones",
          "conflicts", "contact_ranking", "survey_bracket", "lines", "locate_requests",
          "dig_alternatives", "improvements", "air_tests", "meter_results", "ties")  # fmt: skip
# Seconds between frames while the map is dragged over half its width and let go, a dozen times.
FRAMES = """() => { window.frames_ = []; let last = performance.now();
  const step = (now) => {
    window.frames_.push(now - last); last = now; requestAnimationFrame(step);
  };
  requestAnimationFrame(step); }"""


def big_result(count: int, seed: int = 1) -> Result:
    """Give the town copied until it has `count` lines."""
    town = leakgeo.clearance(
        leakgeo.improvements(leakgeo.confirm(leakgeo.meter(leakgeo.advise(TOWN))))
    )
    copies = -(-count // len(town.job.routes))
    rng = np.random.default_rng(seed)
    job = replace(
        town.job,
        routes=_copied(town.job.routes, copies, rng),
        utilities=None if town.job.utilities is None else _copied(town.job.utilities, copies, rng),
    )
    layers = {name: _copied(town.layers[name], copies, rng) for name in LAYERS
              if name in town.layers}  # fmt: skip
    lines = layers["lines"]
    layers["lines"] = lines.assign(priority=rng.permutation(len(lines)) + 1)
    return Result(job, layers)


def _copied(frame: pd.DataFrame, copies: int, rng: np.random.Generator) -> pd.DataFrame:
    turn = np.repeat(np.arange(copies), len(frame))
    many = frame.iloc[np.tile(np.arange(len(frame)), copies)].reset_index(drop=True)
    if "line_id" in many:
        named = many["line_id"].notna()
        many["line_id"] = (many["line_id"].astype(str) + "-" + pd.Series(turn).astype(str)).where(
            named
        )
    if "level_comparable_db" in many:
        smooth = "leak_density_per_m" in many  # a profile keeps its shape, and is scaled
        many["level_comparable_db"] *= 1 + rng.normal(0, 0.1, copies)[turn]
        many["level_comparable_db"] += 0 if smooth else rng.normal(0, 0.8, len(many))
    if not isinstance(many, gpd.GeoDataFrame):
        return many
    side = int(np.ceil(np.sqrt(copies)))
    shift = PITCH_M * np.column_stack([turn % side, turn // side]) + rng.uniform(0, 9, (1, 2))
    shapes = many.geometry.to_numpy().copy()
    each = shapely.get_num_coordinates(shapes)
    moved = shapely.get_coordinates(shapes) + np.repeat(shift, each, axis=0)
    return many.set_geometry(gpd.GeoSeries(shapely.set_coordinates(shapes, moved), crs=frame.crs))


def measure(path: Path) -> dict[str, float]:
    """Open a map in headless Chromium; give seconds to load and milliseconds of frames."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=find_chromium(), args=FLAGS)
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        begin = time.perf_counter()
        page.goto(path.as_uri())
        page.wait_for_selector(".entry")
        page.wait_for_selector("body[data-ready]")
        page.evaluate("() => new Promise((go) => requestAnimationFrame(() => setTimeout(go, 0)))")
        out = {"load, s": time.perf_counter() - begin}
        for name, zooms in (("far", 0), ("halfway", 3), ("close", 3)):
            for _ in range(zooms):
                page.click(".leaflet-control-zoom-in")
                page.wait_for_timeout(500)
            frames = _pan(page)
            out[f"longest frame of a pan, {name}, ms"] = max(frames)
            out[f"median frame of a pan, {name}, ms"] = float(np.median(frames))
        begin = time.perf_counter()
        page.click(".entry >> nth=0")
        page.wait_for_selector("svg.plot")
        out["to open a line, s"] = time.perf_counter() - begin
        page.screenshot(path=str(path.with_suffix(".png")))
        browser.close()
    return out


def _pan(page) -> list[float]:
    box = page.locator(".folium-map").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.wait_for_timeout(800)
    page.evaluate(FRAMES)
    for turn in range(12):
        way = 220 if turn % 4 < 2 else -220
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x + way, y + (60 if turn % 2 else -60), steps=12)
        page.mouse.up()
        page.wait_for_timeout(250)
    return page.evaluate("window.frames_.slice(2)")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lines", type=int, default=20_000)
    parser.add_argument("--out", type=Path, default=Path("big_map"))
    parser.add_argument("--again", action="store_true", help="measure the map that is there")
    given = parser.parse_args()
    path = given.out / "map.html"
    if not given.again:
        result = big_result(given.lines)
        begin = time.perf_counter()
        write_map(
            result,
            out=given.out,
            units="us",
            language="en",
            map_lines=None,
            orthophoto=None,
            tiles=None,
            **ALL_LINES,
        )
        print(f"lines: {len(result.job.routes)}; written in {time.perf_counter() - begin:.0f} s")
        print(f"memory: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6:.1f} GB")
        size = path.stat().st_size
        print(f"file: {size / 1e6:.1f} MB, {size / len(result.job.routes):.0f} bytes a line")
    for name, value in measure(path).items():
        print(f"{name}: {value:.2f}")


if __name__ == "__main__":
    main()
