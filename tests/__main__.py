"""Every check of the project in one command: ``python -m tests``."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

# Where the tests find what `tests.prepared` made.
WHERE = "LEAKGEO_TESTS_PREPARED"
# The time at which every result of the tests was written, so that results can be compared.
WRITTEN = {"SOURCE_DATE_EPOCH": "1767225600"}
STATIC = (("style", ["ruff", "check", "."]), ("format", ["ruff", "format", "--check", "."]))
# It takes a processor for most of a minute: the tests do not wait for it.
BESIDE = ("types", ["mypy"])
# Long files go first (tests/conftest.py sorts them), so that both processes end at about one time.
TESTS = (
    "tests and doctests",
    [
        "pytest",
        # One more than processors: some tests wait, for a window or a process of their own.
        "-n",
        "3",
        # Whole files: see `ByProgram` in tests/conftest.py.
        "--dist",
        "loadfile",
        "--no-loadscope-reorder",
        # Else the files of all tests are kept to the end.
        "-o",
        "tmp_path_retention_policy=failed",
        "--durations=25",
        *sys.argv[1:],
    ],
)
# Modules are compiled, and asserts rewritten, once and not by each process of the tests.
COLLECT = ["pytest", "--collect-only", "-qq"]
# A file system in memory: results are flushed to disk, which tests would wait for.
MEMORY, ROOM_BYTES = "/dev/shm", 8 * 2**30


def main() -> int:
    """Run all checks, the later ones too when one fails; 0 when all pass."""
    with (
        tempfile.TemporaryDirectory(dir=in_memory()) as folder,
        tempfile.TemporaryFile() as said,
        subprocess.Popen(of_module(BESIDE[1]), env=environment(), stdout=said) as beside,
    ):
        prepare = of_module(["tests.prepared", folder])
        with (
            subprocess.Popen(prepare, env=environment()),
            subprocess.Popen(of_module(COLLECT), env=environment(), stdout=subprocess.DEVNULL),
        ):
            failed = [name for name, command in STATIC if not passes(name, command)]
        failed += [] if passes(*TESTS, **{WHERE: folder, "TMPDIR": folder}) else [TESTS[0]]
        failed += [] if beside.wait() == 0 else [BESIDE[0]]
        said.seek(0)
        sys.stdout.write(f"== {BESIDE[0]}\n{said.read().decode()}")
    sys.stdout.write(f"failed: {', '.join(failed)}\n" if failed else "all checks pass\n")
    return bool(failed)


def in_memory() -> str | None:
    """Give the folder in memory; None where there is none, or too little room."""
    is_there = Path(MEMORY).is_dir() and os.access(MEMORY, os.W_OK)
    return MEMORY if is_there and shutil.disk_usage(MEMORY).free > ROOM_BYTES else None


def environment(**more: str) -> dict[str, str]:
    """Give what every process of the tests is started in."""
    # Each has one processor: more threads for matrices would take longer.
    given = {"OPENBLAS_NUM_THREADS": "1", **WRITTEN, **os.environ, **more}
    # Some hundred processes import the package: what is compiled is kept.
    given.pop("PYTHONDONTWRITEBYTECODE", None)
    return given


def of_module(command: list[str]) -> list[str]:
    """Give the command that runs a module of Python."""
    return [sys.executable, "-m", *command]


def passes(name: str, command: list[str], **more: str) -> bool:
    """Run a module of Python, and tell whether it ended well."""
    sys.stdout.write(f"== {name}\n")
    sys.stdout.flush()
    run = subprocess.run(of_module(command), check=False, env=environment(**more))
    return run.returncode == 0


if __name__ == "__main__":
    sys.exit(main())
