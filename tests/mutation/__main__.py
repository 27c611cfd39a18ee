"""``python -m tests.mutation --sample 300 --seed 1``: change the code, and see if a test fails.

A seeded sample of mutants is taken from all packages. Each runs in a forked process the tests that
enter the changed function, those that enter least else first, until one fails.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import sys
import tempfile
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from tests.mutation.mutants import ROOT, mutants
from tests.mutation.trial import baseline, preload, survived

if TYPE_CHECKING:
    from collections.abc import Mapping

    from tests.mutation.mutants import Mutant

# Sources of each package, and the tests that cover it.
PACKAGES: Mapping[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "dig": (("leakgeo/dig/*.py",), ("tests/dig", "tests/outside/test_digging.py", "leakgeo/dig")),
    "checks": (
        ("leakgeo/job/checks/*.py",),
        ("tests/job/test_check.py", "tests/job/test_declared_checks.py",
         "tests/job/test_bad_jobs.py", "tests/job/test_linked_layers.py",
         "tests/job/test_tape_origin.py", "tests/job/test_by_tape.py", "tests/job/test_limits.py",
         "tests/job/test_read.py",
         "tests/job/test_place_limits.py", "tests/job/test_shape_limits.py",
         "tests/job/test_displays.py", "tests/job/test_copies.py", "tests/job/test_dates.py",
         "tests/battery/test_places.py", "tests/battery/test_traces.py", "leakgeo/job/checks"),
    ),
    "status": (
        ("leakgeo/find/locate/status.py", "leakgeo/find/locate/zones.py",
         "leakgeo/find/evidence/air_odds.py"),
        ("tests/find/test_status.py", "tests/find/test_zones.py", "tests/find/test_confirm.py",
         "leakgeo/find/locate/zones.py"),
    ),
    "crs": (
        ("leakgeo/job/crs.py",),
        ("tests/job/test_crs.py", "tests/job/test_limits.py", "leakgeo/job/crs.py"),
    ),
}  # fmt: skip
# Fewer tests than this may be all that enter a cached function.
_FEW = 3
Reached = dict[str, tuple[float, list[str]]]


def main() -> int:
    """Report the score of each package, and the survivors; 1 if fewer than nine in ten die."""
    given = _arguments()
    preload()
    names = [given.package] if given.package else list(PACKAGES)
    sample = _sample(given.sample, given.seed)
    score: Counter[tuple[str, bool]] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        where = Path(given.keep or folder)
        where.mkdir(parents=True, exist_ok=True)
        for name in names:
            reached = _reached(name, where)
            trials = [(m, _tests_of(m, reached)) for package, m in sample if package == name]
            lived = survived(trials, where / f"{name}_tried.json")
            for (mutant, _), lives in zip(trials, lived, strict=True):
                score[name, lives] += 1
                if lives:
                    path = mutant.path.relative_to(ROOT)
                    _write(f"survived  {path}:{mutant.line}  {mutant.text}")
    return _report(names, score)


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("--sample", type=int, default=300, help="number of mutants")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--package", choices=PACKAGES, help="try only mutants of this package")
    parser.add_argument("--keep", help="folder for what was tried, so that another run goes on")
    return parser.parse_args()


def _sample(count: int, seed: int) -> list[tuple[str, Mutant]]:
    every = [(name, m) for name in PACKAGES for path in sources(name) for m in mutants(path)]
    _write(f"{len(every)} mutants, of which {min(count, len(every))} are tried")
    return random.Random(seed).sample(every, min(count, len(every)))


def sources(name: str) -> list[Path]:
    """Return the sources of a package."""
    return sorted(path for pattern in PACKAGES[name][0] for path in ROOT.glob(pattern))


def _reached(name: str, where: Path) -> Reached:
    out = where / f"{name}.json"
    if out.exists():
        kept: Reached = json.loads(out.read_text("utf-8"))
        return kept
    return baseline(sources(name), PACKAGES[name][1], out)


def _tests_of(mutant: Mutant, reached: Reached) -> dict[str, float]:
    """Return the tests that enter the changed function, with their seconds, likely killers first.

    Those that enter its module, where no function is changed, or one that few tests enter: what a
    cached function returned is used by tests that do not enter it.
    """
    in_module = f"{mutant.path}::"
    module = {
        test: (seconds, entered)
        for test, (seconds, entered) in reached.items()
        if any(name.startswith(in_module) for name in entered)
    }
    function = {t: each for t, each in module.items() if in_module + str(mutant.owner) in each[1]}
    chosen = function if mutant.owner and len(function) >= _FEW else module
    # A test that enters few functions checks each of them closely.
    order = sorted(chosen, key=lambda test: chosen[test][0] * len(chosen[test][1]))
    return {test: chosen[test][0] for test in order}


def _report(names: list[str], score: Counter[tuple[str, bool]]) -> int:
    for name in names:
        killed, lived = score[name, False], score[name, True]
        if killed + lived:
            share = 100.0 * killed / (killed + lived)
            _write(f"{name:8} killed {killed:4}  survived {lived:4}  {share:.0f} %")
    killed, lived = (sum(score[n, alive] for n in names) for alive in (False, True))
    return int(lived * 10 > killed + lived)


def _write(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main())
