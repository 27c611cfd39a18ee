"""Print the table: ``python -m tests.situations [--draws 5] [--only NAME ...]``."""

from __future__ import annotations

import argparse
import sys

from tests.situations.table import HEADER, SITUATIONS, judged, row, totals


def main() -> None:
    """Draw and judge each situation, and print a row as it is done."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=5, help="draws of each situation")
    parser.add_argument("--only", nargs="+", choices=SITUATIONS, metavar="NAME", default=SITUATIONS)
    given = parser.parse_args()
    table = {}
    sys.stdout.write(HEADER)
    for name in given.only:
        table[name] = [judged(SITUATIONS[name], number) for number in range(given.draws)]
        sys.stdout.write(row(SITUATIONS[name], table[name]))
        sys.stdout.flush()
    sys.stdout.write("\n" + totals(table))


if __name__ == "__main__":
    main()
