"""How long a watch takes to answer a save, and an update beside a run of all lines.

Times of a watch are from the save, by the clock of the file: to what is said of the line, and until
the files are in place. An update is a process of its own; so is the run beside it, of the same job
in the same minute.

    python -m tests.benchmarks.answers --lines 20 2000 --saves 10
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pyogrio

from tests.benchmarks.city import city, watched
from tests.test_watch import Watch, written
from tests.town import TOWN

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

# The town has enough lines for a small job, with every layer.
_TOWN_LINES = 20
_CHANGED = (0.001, 0.01, 0.1)
_LONGEST_S = 3600.0


def write_job(count: int, path: Path) -> None:
    """Write the first lines of the town, or a city."""
    if count > _TOWN_LINES:
        city(count, path)
        return
    names = pyogrio.read_dataframe(TOWN, layer="routes")["line_id"].head(count)
    for layer, _ in pyogrio.list_layers(TOWN):
        if layer == "layer_styles":
            continue
        frame = pyogrio.read_dataframe(TOWN, layer=layer)
        if layer in ("routes", "readings", "contacts", "meter_tests"):
            frame = frame[frame["line_id"].isin(names)]
        pyogrio.write_dataframe(frame, path, layer=layer)


def lines_of(job: Path) -> list[str]:
    """Return the lines that have readings."""
    readings = pyogrio.read_dataframe(job, layer="readings", read_geometry=False)
    return sorted(readings["line_id"].dropna().unique())


def louder(job: Path, lines: Sequence[str]) -> None:
    """Change one level of each line by half a decibel."""
    with written(job) as base:
        base.executemany(
            "UPDATE readings SET sound_level = sound_level + 0.5 WHERE reading_id = "
            "(SELECT min(reading_id) FROM readings WHERE line_id = ?)", [(n,) for n in lines],
        )  # fmt: skip


def add(job: Path, line: str) -> None:
    """Add a stop by the command, at a place and level of the line's first stop."""
    call = [sys.executable, "-m", "leakgeo", "add", str(job), line, "31", "--at", "2.5 m"]
    subprocess.run(call, check=True, capture_output=True)


def answers(watch: Watch, save: Callable[[str], None], line: str) -> tuple[float, float]:
    """Save, and return the seconds to the answer and to the files."""
    save(line)
    *_, told = watch.until("line", line)
    *_, placed = watch.until("written")
    return float(told["seconds"]), float(placed["seconds"])


def twice(job: Path, first: str, line: str) -> None:
    """Save a line, and half a second later another one."""
    louder(job, [first])
    time.sleep(0.5)
    louder(job, [line])


def watch_rows(job: Path, out: Path, saves: int, rng: np.random.Generator) -> list[list[str]]:
    """Return rows of the table of the watch, for a job that is watched."""
    names, rows = lines_of(job), []
    kinds: dict[str, Callable[[str], None]] = {
        "sqlite3": lambda line: louder(job, [line]),
        "leakgeo add": lambda line: add(job, line),
        "twice in a second": lambda line: twice(job, names[names.index(line) - 1], line),
    }
    watch = Watch(job, out, _LONGEST_S)
    try:
        *_, first = watch.until("written")
        sys.stderr.write(f"first run: {first['seconds']:.1f} s\n")
        rows.append(["first run", f"{first['seconds']:.1f}", "", "", ""])
        answers(watch, kinds["sqlite3"], names[0])  # with the law that is held from now on
        for kind, save in kinds.items():
            lines = [str(n) for n in rng.choice(names[1:], saves)]
            took = np.array([answers(watch, save, line) for line in lines])
            middle, worst = np.median(took, axis=0), took.max(axis=0)
            sys.stderr.write(f"{kind}: {np.round(took, 2).tolist()}\n")
            rows.append([kind, *(f"{m:.2f} | {w:.2f}" for m, w in zip(middle, worst, strict=True))])
    finally:
        watch.close()
    return rows


def update_rows(job: Path, folder: Path, rng: np.random.Generator) -> list[list[str]]:
    """Return rows of the table of updates, beside runs of all lines."""
    leakgeo = (sys.executable, "-m", "leakgeo", "run", str(job), "--quiet", "--out")
    out, whole, names = str(folder / "update"), str(folder / "whole"), lines_of(job)
    watched(*leakgeo, out, "--update")
    rows = []
    for share in _CHANGED:
        count = max(1, round(share * len(names)))
        louder(job, [str(n) for n in rng.choice(names, count, replace=False)])
        update = watched(*leakgeo, out, "--update")
        full = watched(*leakgeo, whole, "--overwrite")
        rows.append([
            f"{100 * share:g} % ({count})", f"{update.seconds:.1f}", f"{full.seconds:.1f}",
            f"{update.seconds / full.seconds:.2f}", f"{update.cpu:.1f}", f"{full.cpu:.1f}",
            f"{update.peak_mib:.0f}",
        ])  # fmt: skip
    return rows


def _print(header: str, rows: list[list[str]], count: int) -> None:
    print(f"\n| lines | {header} |\n|{'---|' * (header.count('|') + 2)}")
    for row in rows:
        print(f"| {count} |", " | ".join(row), "|", flush=True)


def main() -> None:
    """Print a table of saves, and one of updates, for each size."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lines", type=int, nargs="+", default=[20, 2000])
    parser.add_argument("--saves", type=int, default=10)
    parser.add_argument("--parts", nargs="+", default=["watch", "updates"])
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    rng = np.random.default_rng(asked.seed)
    for count in asked.lines:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            job = folder / "job.gpkg"
            write_job(count, job)
            print("\nload", *(f"{each:.1f}" for each in os.getloadavg()), flush=True)
            if "watch" in asked.parts:
                rows = watch_rows(job, folder / "out", asked.saves, rng)
                _print("save by | answer, median s | worst | files, median s | worst", rows, count)
            if "updates" in asked.parts:
                rows = update_rows(job, folder, rng)
                _print("changed | update, s | all lines, s | ratio | update, CPU s | all lines, "
                       "CPU s | update, peak MiB", rows, count)  # fmt: skip
            print("load", *(f"{each:.1f}" for each in os.getloadavg()), flush=True)


if __name__ == "__main__":
    main()
