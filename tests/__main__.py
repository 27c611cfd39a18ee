"""Every check of the project in one command: ``python -m tests``."""

from __future__ import annotations

import subprocess
import sys

CHECKS = (
    ("style", ["ruff", "check", "."]),
    ("format", ["ruff", "format", "--check", "."]),
    ("types", ["mypy"]),
    ("tests and doctests", ["pytest", "-n", "2", "--dist", "loadfile", *sys.argv[1:]]),
)


def main() -> int:
    """Run all checks, the later ones too when one fails; 0 when all pass."""
    failed = []
    for name, command in CHECKS:
        sys.stdout.write(f"== {name}\n")
        sys.stdout.flush()
        if subprocess.run([sys.executable, "-m", *command], check=False).returncode:
            failed.append(name)
    sys.stdout.write(f"failed: {', '.join(failed)}\n" if failed else "all checks pass\n")
    return bool(failed)


if __name__ == "__main__":
    sys.exit(main())
