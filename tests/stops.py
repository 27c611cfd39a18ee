"""Stop real runs by signals and full disks, and look at what is in the folder after.

``python -m tests.stops --stops 200 --seed 1`` stops that many runs at random moments, beside one at
every step for every signal, fresh and overwriting; the suite runs a sample.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd

import leakgeo
from leakgeo.deliver.folder.changes import FILE as CHANGES
from leakgeo.registry import load_steps
from leakgeo.staging import PREFIX
from tests.town import TOWN

SIGNALS = ("SIGKILL", "SIGTERM", "SIGINT")
LINES = ("H-126",)
# Units differ, so that no file of one result is a file of the other.
OLD, NEW = "us", "si"


@dataclass(frozen=True)
class Stop:
    """How one run is stopped.

    Parameters
    ----------
    how : str
        Name of a signal, or ``full`` for a disk without room.
    step : int
        The step at whose beginning it comes; -1 for a moment after `seconds`.
    fresh : bool
        Whether the folder was empty.
    seconds : float
    size : int
        Bytes that a file may have, where the disk is full.
    """

    how: str
    step: int
    fresh: bool
    seconds: float = 0.0
    size: int = 0


def hashes(folder: Path) -> dict[str, str]:
    """Give the digest of every file that people see; hidden folders are not theirs."""
    return {
        p.relative_to(folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in sorted(folder.rglob("*"))
        if p.is_file() and not p.relative_to(folder).parts[0].startswith(".")
    }


def small_job(path: Path) -> Path:
    """Write the shipped town with few of its lines."""
    layers = {}
    for name in gpd.list_layers(TOWN)["name"]:
        frame = gpd.read_file(TOWN, layer=name)
        if name in ("routes", "readings", "contacts", "meter_tests"):
            frame = frame[frame["line_id"].isin(LINES)]
        layers[name] = frame
    for name, frame in layers.items():
        if hasattr(frame, "geometry"):
            frame.to_file(path, layer=name)
    return path


def run_once(job: Path, out: Path, units: str, stop: Stop | None = None) -> None:
    """Run a job; at the step of the stop the process sends itself the signal."""
    seen = []

    def tell(progress: object) -> None:
        name = getattr(progress, "step", "")
        if name in load_steps() and name not in seen:
            seen.append(name)
            if stop is not None and len(seen) == stop.step + 1 and stop.how in SIGNALS:
                os.kill(os.getpid(), getattr(signal, stop.how))

    leakgeo.run(job, out, units=units, overwrite=True, tell=tell, format="geojson",
                density_pixel_m=0.5)  # fmt: skip


def forked(job: Path, out: Path, stop: Stop) -> int:
    """Run it in a process of its own, and give how that ended."""
    child = os.fork()
    if child == 0:
        code = 0
        try:
            os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
            signal.signal(signal.SIGINT, signal.default_int_handler)
            if stop.how == "full":
                signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
                resource.setrlimit(resource.RLIMIT_FSIZE, (stop.size, stop.size))
            run_once(job, out, NEW, stop)
        except BaseException:  # noqa: BLE001 - how it ends is all that is asked
            code = 2
        finally:
            os._exit(code)
    if stop.step < 0 and stop.how in SIGNALS:
        time.sleep(stop.seconds)
        os.kill(child, getattr(signal, stop.how))
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def found(job: Path, old: Path, new: dict[str, str], stop: Stop, *, again: bool = False) -> str:
    """Stop a run, and say what is in the folder: the old result, the new one, or a mixture.

    An empty folder is the old result of a fresh run. If `again`, run it once more to the end.
    """
    with tempfile.TemporaryDirectory(dir=old.parent) as place:
        out = Path(place) / "out"
        if stop.fresh:
            out.mkdir()
        else:
            shutil.copytree(old, out)
        before = hashes(out)
        forked(job, out, stop)
        after = hashes(out)
        state = "mixed"
        if after == before:
            state = "old"
        elif steady(after) == steady(new):
            state = "new"
        if stop.how != "SIGKILL":
            assert not list(out.glob(f"{PREFIX}*")), f"staging is left: {stop}"
        if again:
            assert forked(job, out, Stop("", -1, fresh=False)) == 0, f"the next run fails: {stop}"
            assert steady(hashes(out)) == steady(new), f"the next run is not whole: {stop}"
            assert not list(out.glob(f"{PREFIX}*")), f"staging is left: {stop}"
        return state


# These hold the time at which they were written.
_CLOCKED = ("run.json", "result.gpkg", "exported/geojson/", "leak_density.tif")


def steady(digests: dict[str, str]) -> dict[str, str]:
    """Give the digests of files that are the same whenever they are written, over any result."""
    own = {n: d for n, d in digests.items() if n != CHANGES}
    return {n: "" if n.startswith(_CLOCKED) else d for n, d in own.items()}


def prepared(folder: Path) -> tuple[Path, Path, dict[str, str]]:
    """Give a small job, a folder with an old result of it, and the digests of a new one."""
    job = small_job(folder / "job.gpkg")
    old, fresh = folder / "old", folder / "new"
    run_once(job, old, OLD)
    run_once(job, fresh, NEW)
    return job, old, hashes(fresh)


def at_every_step() -> list[Stop]:
    """Every signal at the beginning of every step, fresh and overwriting."""
    steps = range(len(load_steps()))
    return [Stop(how, k, fresh) for how in SIGNALS for k in steps for fresh in (True, False)]


def at_random(number: int, seed: int, longest: float) -> list[Stop]:
    """Signals at random moments, and disks of random size."""
    chance = random.Random(seed)
    return [
        Stop(chance.choice((*SIGNALS, "full")), -1, chance.random() < 0.5,
             chance.uniform(0.0, longest), int(10 ** chance.uniform(2.0, 6.3)))
        for _ in range(number)
    ]  # fmt: skip


def main() -> int:
    """Stop many runs, and count what was found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--stops", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        job, old, new = prepared(Path(place))
        begin = time.perf_counter()
        run_once(job, Path(place) / "timed", NEW)
        longest = 1.1 * (time.perf_counter() - begin)
        counts: Counter[tuple[str, bool, str]] = Counter()
        stops = [*at_every_step(), *at_random(asked.stops, asked.seed, longest)]
        for number, stop in enumerate(stops):
            state = found(job, old, new, stop, again=number % 10 == 0)
            counts[stop.how, stop.fresh, state] += 1
            if state == "mixed":
                sys.stdout.write(f"mixed: {stop}\n")
    for (how, fresh, state), count in sorted(counts.items()):
        sys.stdout.write(f"{how:8} {'fresh' if fresh else 'overwriting':12} {state:6} {count}\n")
    return any(state == "mixed" for _, _, state in counts)


if __name__ == "__main__":
    sys.exit(main())
