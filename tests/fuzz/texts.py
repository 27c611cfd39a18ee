"""Read mappings and text files that are spoilt at random: a sentence, or a job; nothing else.

    python -m tests.fuzz.texts --seconds 60
    python -m tests.fuzz.texts --seconds 60 --guided

`--guided` lets atheris find inputs by the code that they reach; it is installed by hand.
"""

from __future__ import annotations

import argparse
import faulthandler
import random
import sys
import tempfile
import time
import warnings
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.errors import JobError
from leakgeo.job.mapping.draft import draft_mapping
from leakgeo.job.read import read_job
from tests.job import foreign

if TYPE_CHECKING:
    from collections.abc import Callable

MOST_S = 30.0
TOML = (
    "[", "]", "[[", "{", "}", "=", ".", '"', "'", '"""', "\\u0000", "#", "\n", ",", "\x00", "1e999",
    "nan", "-inf", "9" * 400, "2020-01-01", "07:32:00", "true", "0x", "[routes]", "[readings]", "é",
    "layer", "columns", "unit", '"ft"', "values", "missing", "value", "crs", '"EPSG:4326"', '"WGS"',
    "x", "y", "file", '"../x"', '"/vsicurl/http://a"', "time_zone", '"UTC"', "\ufeff", "\ud7ff",
    "date_format", '"%"', '"%Q%%"', '"' + "%Y" * 40 + '"', "set_aside", "line_id", "[" * 200,
    "decimal", '","',
)  # fmt: skip
ROWS = (
    ",", '"', "\n", "\r", ";", "\t", "\x00", "nan", "inf", "-1e999", "1e400", "9" * 300, "=1+1",
    "é", "٣", "1,5", "NULL", "POINT(1 2)", "POLYGON EMPTY", "LINESTRING(1 1", "\ufeff", "{", "[",
    "}", "null", "true", '"type"', '"coordinates"', '"Feature"', "x" * 5000, "2025-13-45",
    "[" * 300,
)  # fmt: skip


def corpus(folder: Path) -> dict[str, bytes]:
    """Give good texts: a mapping, and tables as GeoJSON and CSV."""
    stops = foreign.with_coordinates(foreign.stops())
    mains = foreign.mains().to_crs(4326)
    (folder / "WaterMains.geojson").write_text(mains.to_json(), encoding="utf-8")
    (folder / "Stops.csv").write_text(stops.to_csv(index=False), encoding="utf-8")
    places = 'file = "Stops.csv"\nx = "X"\ny = "Y"\ncrs = "EPSG:2277"'
    mapping = foreign.MAPPING.replace('layer = "Stops"', places)
    (folder / "map.toml").write_text(mapping, encoding="utf-8")
    return {p.name: p.read_bytes() for p in sorted(folder.iterdir())}


def mutated(data: bytes, name: str, rng: random.Random) -> bytes:
    """Spoil a text: tokens put in, pieces taken out, doubled or moved, bytes changed."""
    out = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 5, 20))):
        at, to = sorted(rng.randrange(len(out) + 1) for _ in range(2))
        to = min(to, at + rng.choice((1, 5, 40, 400)))
        token = rng.choice(TOML if name.endswith("toml") else ROWS).encode("utf-8", "ignore")
        kind = rng.randrange(6)
        if kind == 0:
            out[at:at] = token
        elif kind == 1:
            del out[at:to]
        elif kind == 2:
            out[at:at] = out[at:to] * rng.choice((1, 2, 50))
        elif kind == 3:
            out[at:to] = token
        elif kind == 4 and at < len(out):
            out[at] = rng.randrange(256)
        else:
            piece = bytes(out[at:to])
            del out[at:to]
            place = rng.randrange(len(out) + 1)
            out[place:place] = piece
    return bytes(out)


class Target:
    """Reads a job of which one file is spoilt."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.good = folder, corpus(folder)

    def read(self, name: str, data: bytes) -> str:
        """Say how reading went; anything but a `JobError` with its faults goes on up."""
        (self.folder / name).write_bytes(data)
        faulthandler.dump_traceback_later(MOST_S, exit=True)
        try:
            refused = self._refused(lambda: read_job(self.folder, mapping=self.folder / "map.toml"))
            if name != "map.toml":
                self._refused(lambda: draft_mapping(self.folder))
        finally:
            faulthandler.cancel_dump_traceback_later()
            (self.folder / name).write_bytes(self.good[name])
        if refused is None:
            return "read"
        assert refused.faults
        assert all(f.problem and f.what_to_do for f in refused.faults)
        return "refused"

    @staticmethod
    def _refused(read: Callable[[], object]) -> JobError | None:
        try:
            read()
        except JobError as error:
            return error
        return None


def plain(target: Target, seed: int, going: Callable[[int], bool]) -> Counter[str]:
    """Spoil and read for as long as `going` says."""
    counts: Counter[str] = Counter()
    number = 0
    while going(number):
        rng = random.Random(f"{seed}/{number}")
        name = rng.choice(sorted(target.good))
        data = mutated(target.good[name], name, rng)
        try:
            counts[f"{name}: {target.read(name, data)}"] += 1
        except Exception as error:
            error.add_note(f"seed {seed}, number {number}, {name}")
            raise
        number += 1
    return counts


def guided(target: Target, seconds: int) -> None:
    """Let atheris spoil; it ends the process."""
    import atheris

    names = sorted(target.good)
    seeds = Path(tempfile.mkdtemp())
    for k, name in enumerate(names):
        (seeds / name).write_bytes(bytes([k]) + target.good[name])

    def one(data: bytes) -> None:
        if data:
            target.read(names[data[0] % len(names)], data[1:])

    for module in [m for m in sys.modules.values() if m.__name__.startswith("leakgeo.job")]:
        for name, thing in list(vars(module).items()):
            if (
                callable(thing)
                and getattr(thing, "__module__", "") == module.__name__
                and hasattr(thing, "__code__")
            ):
                setattr(module, name, atheris.instrument_func(thing))
    atheris.Setup([sys.argv[0], f"-max_total_time={seconds}", "-timeout=30", str(seeds)], one)
    atheris.Fuzz()


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--guided", action="store_true")
    args = parser.parse_args()
    warnings.simplefilter("error")
    with tempfile.TemporaryDirectory() as folder:
        target = Target(Path(folder))
        if args.guided:
            guided(target, args.seconds)
        until = time.monotonic() + args.seconds
        counts = plain(target, args.seed, lambda _: time.monotonic() < until)
    print("\n".join(f"{n:7d}  {what}" for what, n in counts.most_common()))


if __name__ == "__main__":
    main()
