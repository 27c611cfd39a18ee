"""Marks of the town's lines as taped lists, beside those of the same lines as drawn.

Run ``python -m tests.benchmarks.taped``. Each line whose stops were all taped becomes a list of its
fittings with the lengths between them to half an inch, and loses its geometry. What differs is
what a tape can't show: pipes that join the line or run beside it.
"""

from __future__ import annotations

import numpy as np
import pyogrio

import leakgeo
from tests.job.taped import TOWN, drawn, taped


def taped_lines() -> list[str]:
    """Return the lines of the town whose stops were all taped."""
    readings = pyogrio.read_dataframe(TOWN, layer="readings")
    by_tape = readings.groupby("line_id")["chainage_m"].apply(lambda each: each.notna().all())
    return sorted(by_tape.index[by_tape])


def main() -> None:
    """Print status and chainage of each mark, drawn and taped, and how far they are apart."""
    names = taped_lines()
    layers = drawn(*names)
    first, second = (
        leakgeo.locate(job)["lines"].set_index("line_id")[["status", "chainage_m"]]
        for job in (layers, taped(layers, *names))
    )
    apart = (first["chainage_m"] - second["chainage_m"]).abs() * 100.0
    both = first.add_suffix(" drawn").join(second.add_suffix(" taped"))
    same = first["status"] == second["status"]
    print(both.assign(apart_cm=apart.round(1)).to_string())
    print(f"{len(names)} lines, {same.sum()} of the same status; marks of both: "
          f"{apart.notna().sum()}, apart by {np.nanmean(apart):.1f} cm on average, "
          f"{np.nanmax(apart):.1f} cm at most")  # fmt: skip


if __name__ == "__main__":
    main()
