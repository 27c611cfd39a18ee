"""Every check of the project in one command: ``python -m tests``."""

from __future__ import annotations

import os
import subprocess
import sys

STATIC = (
    ("style", ["ruff", "check", "."]),
    ("format", ["ruff", "format", "--check", "."]),
    ("types", ["mypy"]),
)
# Long files go first (tests/conftest.py sorts them), so that both processes end at about one time.
TESTS = (
    "tests and doctests",
    ["pytest", "-n", "2", "--dist", "loadfile", "--no-loadscope-reorder", *sys.argv[1:]],
)
# Loops are compiled and cached once, beside the checks that need one processor, and not by each
# process of the tests.
COMPILE = "from tests.battery.good import layers; import leakgeo; leakgeo.locate(layers())"


def main() -> int:
    """Run all checks, the later ones too when one fails; 0 when all pass."""
    with subprocess.Popen([sys.executable, "-c", COMPILE]):
        failed = [name for name, command in STATIC if not passes(name, command)]
    failed += [] if passes(*TESTS) else [TESTS[0]]
    sys.stdout.write(f"failed: {', '.join(failed)}\n" if failed else "all checks pass\n")
    return bool(failed)


def passes(name: str, command: list[str]) -> bool:
    """Run a module of Python, and tell whether it ended well."""
    sys.stdout.write(f"== {name}\n")
    sys.stdout.flush()
    # Each process of the tests has one processor: more threads for matrices would take longer.
    environment = {"OPENBLAS_NUM_THREADS": "1", **os.environ}
    run = subprocess.run([sys.executable, "-m", *command], check=False, env=environment)
    return run.returncode == 0


if __name__ == "__main__":
    sys.exit(main())
