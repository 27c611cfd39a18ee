"""Build the documentation site: ``python -m tests.site OUT [--no-figures]``."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from tests.site.build import build


def main() -> int:
    """Build the site; print what is wrong with it, and return 1 if anything is."""
    parser = argparse.ArgumentParser(prog="python -m tests.site", description=__doc__)
    parser.add_argument("out", type=Path, help="folder of the HTML, written anew")
    parser.add_argument("--no-figures", action="store_true", help="leave out the gallery's figures")
    given = parser.parse_args()
    wrong = build(given.out, figures=not given.no_figures)
    sys.stdout.write("".join(f"{each}\n" for each in wrong))
    sys.stdout.write(f"{len(wrong)} faults\n" if wrong else f"{given.out / 'index.html'}\n")
    return bool(wrong)


if __name__ == "__main__":
    sys.exit(main())
