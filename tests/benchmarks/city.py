"""A city in a night: time, memory and ratios of the whole run over thousands of lines.

Lines of 25 readings, each with a utility beside it, drawn once and copied over a grid. Every run
is a process of its own, watched with all of its children.

    python -m tests.benchmarks.city --lines 5000 20000 80000
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely

from leakgeo.deliver.geopackage.typed import to_schema
from leakgeo.job.schema import drawn_layers
from leakgeo.simulate import Conditions
from leakgeo.simulate.job import fields_to_layers
from leakgeo.simulate.write import write_job
from tests.benchmarks.draws import draw_fields

if TYPE_CHECKING:
    from collections.abc import Iterator

    from leakgeo.arrays import Floats

# So many lines are drawn; the others are copies of them.
DRAWN, READINGS = 250, 25
# So many copies are written at a time.
BLOCK = 80
KINDS = ("electric", "gas_oil_steam", "communications", "sewer_drain")
FLOOR = """
import sys, pathlib, pyogrio
job, made, out = map(pathlib.Path, sys.argv[1:])
for path in (job, made):
    for k, (name, _) in enumerate(pyogrio.list_layers(path)):
        frame = pyogrio.read_dataframe(path, layer=name)
        pyogrio.write_dataframe(frame, out, layer=name, append=out.exists())
"""
SCRIPT = """
import sys, pathlib
from tests.benchmarks.script import script
script(pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]))
"""


@dataclass(frozen=True)
class Took:
    """What a process and its children took."""

    seconds: float
    cpu: float
    peak_mib: float


def city(count: int, path: Path, seed: int = 31, heard: float = 1.0, each: int = READINGS) -> None:
    """Write a job of `count` lines, of which a share was listened to, `each` readings a line."""
    drawn = fields_to_layers(draw_fields(DRAWN, seed, Conditions(tape_share=0.8)))
    kept = [_some(own, each) for _, own in drawn["readings"].groupby("line_id", sort=False)]
    readings = gpd.GeoDataFrame(pd.concat(kept), crs=drawn["readings"].crs)
    pitch = 100.0 + np.ptp(drawn["routes"].total_bounds.reshape(2, 2), 0)
    copies = -(-count // DRAWN)
    side = int(np.ceil(copies**0.5))
    routes = _copied(drawn["routes"], ["line_id"], range(copies), pitch, side).iloc[:count]
    listened = routes["line_id"][np.random.default_rng(2).random(count) < heard]
    blocks = _readings(readings, listened, copies, pitch, side)
    write_job({"routes": routes, "readings": next(blocks), "utilities": _utilities(routes)}, path)
    for block in blocks:
        if len(block):
            stored = to_schema(block, drawn_layers()["readings"], block.crs)
            pyogrio.write_dataframe(stored, path, layer="readings", append=True)


def _readings(
    readings: gpd.GeoDataFrame, listened: pd.Series[str], copies: int, pitch: Floats, side: int
) -> Iterator[gpd.GeoDataFrame]:
    """Readings of the lines that were listened to, block by block: those of all take gigabytes."""
    names = ["line_id", "reading_id", "walk_id", "stop_id"]
    for first in range(0, copies, BLOCK):
        numbers = range(first, min(first + BLOCK, copies))
        block = _copied(readings, names, numbers, pitch, side)
        yield block[block["line_id"].isin(listened)]


def _some(own: gpd.GeoDataFrame, each: int) -> gpd.GeoDataFrame:
    """So many readings of a line, anywhere along it."""
    return own.iloc[np.sort(np.random.default_rng(0).permutation(len(own))[:each])]


def _copied(
    frame: gpd.GeoDataFrame, names: list[str], numbers: range, pitch: Floats, side: int
) -> gpd.GeoDataFrame:
    """Copies of these numbers on a grid `side` wide, with names of their own."""
    parts = []
    for k in numbers:
        off = pitch * [k % side, k // side]
        there = shapely.transform(frame.geometry.to_numpy(), lambda xy, off=off: xy + off)
        own = {n: frame[n] + f"-{k}" for n in names if n in frame}
        parts.append(frame.assign(**own).set_geometry(there, crs=frame.crs))
    return gpd.GeoDataFrame(pd.concat(parts, ignore_index=True), crs=frame.crs)


def _utilities(routes: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """One near the middle of each line, any way round."""
    rng, count = np.random.default_rng(1), len(routes)
    middle = shapely.line_interpolate_point(routes.geometry.to_numpy(), 0.5, normalized=True)
    xy = shapely.get_coordinates(middle) + rng.normal(0, 6, (count, 2))
    turn = rng.uniform(0, np.pi, count)
    reach = 20.0 * np.column_stack([np.cos(turn), np.sin(turn)])
    return gpd.GeoDataFrame(
        {"utility_id": [f"U{i}" for i in range(count)], "kind": rng.choice(KINDS, count),
         "quality_level": rng.choice(list("ABCD"), count), "notified": True},
        geometry=shapely.linestrings(np.stack([xy - reach, xy + reach], axis=1)), crs=routes.crs,
    )  # fmt: skip


def watched(*command: str) -> Took:
    """Run a command; its time, the processor's, and the most memory of all its processes."""
    begin, before = time.perf_counter(), os.times()
    child, peak = subprocess.Popen(command, stdout=subprocess.DEVNULL), 0
    while child.poll() is None:
        peak = max(peak, _resident(child.pid))
        time.sleep(0.2)
    if child.returncode > 1:
        raise RuntimeError(f"{command}: ended with {child.returncode}")
    after = os.times()
    cpu = after.children_user + after.children_system
    cpu -= before.children_user + before.children_system
    return Took(time.perf_counter() - begin, cpu, peak / 2**20)


def _resident(root: int) -> int:
    """Bytes that a process and all below it hold, what they share counted in part."""
    parents, total = {}, 0
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                stat = (entry / "stat").read_text().rsplit(")", 1)[1].split()
                parents[int(entry.name)] = int(stat[1])
            except OSError:
                continue
    below = {root}
    while more := {p for p, parent in parents.items() if parent in below} - below:
        below |= more
    for pid in below:
        try:
            rows = (Path("/proc") / str(pid) / "smaps_rollup").read_text().splitlines()
            total += next(1024 * int(row.split()[1]) for row in rows if row.startswith("Pss:"))
        except (OSError, StopIteration):
            continue
    return total


def measured(count: int, folder: Path, peers: bool, heard: float, each: int) -> dict[str, Took]:
    """Time the run over `count` lines, and its peers on the same job."""
    job, out = folder / f"{count}.gpkg", folder / f"out{count}"
    city(count, job, heard=heard, each=each)
    took = {"leakgeo run": watched(sys.executable, "-m", "leakgeo", "run", str(job), "--out",
                                   str(out), "--quiet")}  # fmt: skip
    if peers:
        for name, code, made in (
            ("reading and writing alone", FLOOR, [str(out / "result.gpkg")]),
            ("script", SCRIPT, []),
        ):
            into = str(folder / f"{name}{count}.gpkg")
            took[name] = watched(sys.executable, "-c", code, str(job), *made, into)
    return took


def main() -> None:
    """Print a table with a row a size, and ratios to the peers of the same run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lines", type=int, nargs="+", default=[5000, 20000])
    parser.add_argument("--peers", type=int, default=20000, help="Most lines that peers are run on")
    parser.add_argument("--heard", type=float, default=1.0, help="Share of lines with readings")
    parser.add_argument("--readings", type=int, default=READINGS, help="Readings of a line")
    asked = parser.parse_args()
    print("| lines | what | seconds | of processor | ms of processor a line | peak MiB | ratio |")
    print("|---|---|---|---|---|---|---|")
    for count in asked.lines:
        with tempfile.TemporaryDirectory() as folder:
            took = measured(count, Path(folder), count <= asked.peers, asked.heard, asked.readings)
        whole = took["leakgeo run"]
        for name, t in took.items():
            row = (count, name, f"{t.seconds:.1f}", f"{t.cpu:.1f}", f"{1000 * t.cpu / count:.2f}",
                   f"{t.peak_mib:.0f}", f"{whole.seconds / t.seconds:.2f}")  # fmt: skip
            print("|", " | ".join(map(str, row)), "|", flush=True)


if __name__ == "__main__":
    main()
