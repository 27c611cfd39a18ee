"""Names of the files of a result."""

from __future__ import annotations

# run.json is moved last: where it is, everything it tells of is there.
FILES = ("result.gpkg", "summary.csv", "faults.csv", "run.json")
