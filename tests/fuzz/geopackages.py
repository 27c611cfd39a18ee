"""Read thousands of spoilt GeoPackages in child processes, and count how that goes.

    python -m tests.fuzz.geopackages --files 10000 --seed 1

What was done is kept in `--journal`, and is not done again.
"""

from __future__ import annotations

import argparse
import json
import select
import subprocess
import sys
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

# A file may take so long, and a child so long to begin.
MOST_S, BEGIN_S = 30.0, 180.0
COMMAND = (sys.executable, "-W", "error", "-m", "tests.fuzz.child")


@dataclass
class Child:
    """A child process that is begun anew when it dies or hangs."""

    process: subprocess.Popen[bytes] | None = None

    def ask(self, order: dict[str, int]) -> dict[str, object]:
        """Have one file read; if that kills or hangs the child, that is the outcome."""
        fresh = self.process is None
        if self.process is None:
            self.process = subprocess.Popen(
                COMMAND, stdin=subprocess.PIPE, stdout=subprocess.PIPE, bufsize=0
            )
        process = self.process
        assert process.stdin is not None
        assert process.stdout is not None
        process.stdin.write((json.dumps(order) + "\n").encode())
        ready, _, _ = select.select([process.stdout], [], [], MOST_S + (BEGIN_S if fresh else 0))
        line = process.stdout.readline() if ready else b""
        if line.endswith(b"\n"):
            return dict(json.loads(line))
        self.close(kill=True)
        how = f"WRONG: died with {process.returncode}" if ready else "WRONG: hung"
        return {**order, "mutation": "", "outcome": how, "detail": ""}

    def close(self, *, kill: bool = False) -> None:
        """End the child."""
        if self.process is None:
            return
        process, self.process = self.process, None
        if kill:
            try:
                process.wait(1.0)  # it may be on its way out: its own code says more
            except subprocess.TimeoutExpired:
                process.kill()
        assert process.stdin is not None
        assert process.stdout is not None
        process.stdin.close()
        process.wait()
        process.stdout.close()


def read_all(
    numbers: Iterable[int], seed: int, whole_each: int, workers: int = 1
) -> Iterator[dict[str, object]]:
    """Have files of these numbers read; every `whole_each`-th goes through the whole chain."""
    orders = [{"seed": seed, "number": n, "whole": int(n % whole_each == 0)} for n in numbers]
    parts = [orders[k::workers] for k in range(workers)]
    with ThreadPoolExecutor(workers) as pool:
        yield from _merged([pool.submit(list, _by_one(part)) for part in parts[1:]], parts[0])


def _merged(others, mine):  # type: ignore[no-untyped-def]
    yield from _by_one(mine)
    for other in others:
        yield from other.result()


def _by_one(orders: list[dict[str, int]]) -> Iterator[dict[str, object]]:
    child = Child()
    try:
        for order in orders:
            yield child.ask(order)
    finally:
        child.close()


def table(rows: Iterable[dict[str, object]]) -> str:
    """Lay out outcomes and their counts."""
    counts = Counter(str(r["outcome"]) for r in rows)
    return "\n".join(f"{n:7d}  {what}" for what, n in counts.most_common())


def main() -> int:
    """Run from the command line; exit code 1 where anything went wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--files", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--whole-each", type=int, default=20)
    parser.add_argument("--journal", type=Path)
    args = parser.parse_args()
    done = []
    if args.journal and args.journal.exists():
        lines = args.journal.read_text("utf-8").splitlines()
        done = [row for row in map(json.loads, lines) if row["seed"] == args.seed]
    there = {row["number"] for row in done}
    left = [n for n in range(args.files) if n not in there]
    for row in read_all(left, args.seed, args.whole_each, args.workers):
        done.append(row)
        if args.journal:
            with args.journal.open("a", encoding="utf-8") as file:
                file.write(json.dumps(row) + "\n")
    wrong = [r for r in done if str(r["outcome"]).startswith("WRONG")]
    for row in wrong[:50]:
        print(row["number"], row["mutation"], row["outcome"], row["detail"])
    print(f"seed {args.seed}, {len(done)} files\n{table(done)}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
