"""Lay out what the command line says of each fault of this battery, and its exit code.

python -m tests.battery.table
"""

from __future__ import annotations

import json
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from tests.battery import test_places, test_rows, test_traces, test_walks
from tests.battery.check import Case, write
from tests.battery.good import layers
from tests.hostile import test_files
from tests.test_cli import leakgeo_command

if TYPE_CHECKING:
    from collections.abc import Iterator

_MOST = 170


def spoilt(folder: Path) -> Iterator[tuple[str, Path, tuple[str, ...]]]:
    """Write each bad job; give its fault, its place, and what the fault that is reported has."""
    for module in (test_places, test_traces, test_walks, test_rows):
        cases: dict[str, Case] = module.CASES
        for number, (name, case) in enumerate(cases.items()):
            path = folder / f"{module.__name__}-{number}.gpkg"
            yield name, write(case.spoil(layers()), path), (case.code, *case.words)
    for number, (name, (file, content, said)) in enumerate(test_files.FILES.items()):
        place = folder / str(number)
        place.mkdir()
        (place / file).write_bytes(content)
        yield name, place / file, (said,)
    for number, (name, statements) in enumerate(test_files.SQL.items()):
        place = folder / f"sql-{number}"
        place.mkdir()
        yield name, test_files.changed(place, *statements), ("SQL",)


def row(name: str, job: Path, words: tuple[str, ...], out: Path) -> str:
    """Have a bad job located by the command line, and give its row as Markdown."""
    done = leakgeo_command("locate", job, "--out", out, "--json")
    told = json.loads(done.stdout)
    columns = ("code", "layer", "feature", "problem", "what_to_do")
    said = [" ".join(str(fault[name]) for name in columns).strip() for fault in told["faults"]]
    (said, *_) = [s for s in said if all(w in s for w in words)] or said
    readings = (told.get("counts") or {}).get("readings", {})
    counts = f"{readings['used']} of {readings['in']}" if readings else ""
    said = said if len(said) <= _MOST else f"{said[:_MOST]} ..."
    return f"| {name} | {' '.join(said.split()).replace('|', '/')} | {counts} | {done.returncode} |"


def main() -> None:
    """Print the table."""
    sys.stdout.write("| fault | what is said | readings used | exit |\n|---|---|---|---|\n")
    with tempfile.TemporaryDirectory() as folder:
        for number, (name, job, words) in enumerate(spoilt(Path(folder))):
            sys.stdout.write(row(name, job, words, Path(folder) / f"out{number}") + "\n")


if __name__ == "__main__":
    main()
