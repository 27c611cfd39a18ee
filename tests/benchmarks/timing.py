"""Time a line: computing only, and the whole way from job file to result files."""

from __future__ import annotations

import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.simulate.job import fields_to_layers
from leakgeo.simulate.write import write_job

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from leakgeo.simulate import Recorded

REPEATS = 3
# A line of 40 readings, give or take.
ABOUT = (35, 45)


def timing(fields: Sequence[Recorded]) -> str:
    """Lay out the time a line of leakgeo, and of a script on the same job."""
    from threadpoolctl import threadpool_limits

    with tempfile.TemporaryDirectory() as folder, threadpool_limits(1):
        job, few = Path(folder) / "job.gpkg", Path(folder) / "few.gpkg"
        for some, path in ((fields, job), (fields[:3], few)):
            layers = fields_to_layers(some)
            write_job({k: v for k, v in layers.items() if k != "truth"}, path)
        ways = _ways(Path(folder))
        for way in ways.values():  # Imports and compiling are not a line's.
            way(few, "warm")
        took = {
            name: np.min([_both(lambda k=k, w=w: w(job, f"{k}")) for k in range(REPEATS)], axis=0)
            for name, w in ways.items()
        }
        computing, readings = _computing(job)
    each = {name: 1000 * seconds / len(fields) for name, seconds in took.items()}
    least = each["script"]
    return "\n".join([
        f"- computing only, lines of {readings:.0f} readings: {computing:.2f} ms a line",
        *(f"- {name}: {cpu:.1f} ms of processor a line, {cpu / least[0]:.2f} of the script's; "
          f"{wall:.1f} ms by the clock, {wall / least[1]:.2f}"
          for name, (cpu, wall) in each.items()),
    ])  # fmt: skip


def _ways(folder: Path) -> dict[str, Callable[[Path, str], None]]:
    import leakgeo
    from tests.benchmarks.script import script

    def located(job: Path, name: str) -> None:
        leakgeo.write_result(leakgeo.locate(job), folder / f"{name} {job.stem} located")

    def whole(job: Path, name: str) -> None:
        leakgeo.run(job, folder / f"{name} {job.stem} whole")

    def scripted(job: Path, name: str) -> None:
        script(job, folder / f"{name} {job.stem} script.gpkg")

    return {
        "script": scripted,
        "leakgeo, located, result files written": located,
        "leakgeo, every step, map and report too": whole,
    }


def _computing(job: Path) -> tuple[float, float]:
    """Median milliseconds from arrays to mark and zones, and the mean number of readings."""
    import leakgeo
    from leakgeo.find.levels.readings import tabulate
    from leakgeo.find.locate.nearby_lines import NearbyLines
    from leakgeo.find.locate.step import Search
    from leakgeo.find.posterior.place_prior import place_prior
    from leakgeo.route.junctions import junctions_of
    from leakgeo.route.lines import lines_in
    from leakgeo.sound.constants import load_constants

    result, constants = leakgeo.profile(job), load_constants()
    lines = lines_in(result)
    table = tabulate(result.layers["readings_on_route"], lines, constants)
    junctions = junctions_of(lines)
    prior = place_prior(result.job, lines, "all", junctions)
    network = NearbyLines(lines, table, junctions, prior, constants)
    search = Search(lines, table, network, constants, 0.9, 0.9)
    which, size = np.unique(table.line, return_counts=True)
    about = (size >= ABOUT[0]) & (size <= ABOUT[1])
    chosen = about if about.any() else size > 0
    took = [
        min(_seconds(lambda i=i: search.find(i)) for _ in range(REPEATS))
        for i in which[chosen].tolist()
    ]
    return 1000 * float(np.mean(took)), float(size[chosen].mean())


def _seconds(do: Callable[[], object]) -> float:
    return _both(do)[0]


def _both(do: Callable[[], object]) -> tuple[float, float]:
    """Seconds of processor time, and by the clock."""
    begin = time.process_time(), time.perf_counter()
    do()
    return time.process_time() - begin[0], time.perf_counter() - begin[1]
