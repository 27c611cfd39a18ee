"""The first digs of a simulated city: how many marks lie within a foot of the leak, by each order.

Lines without meter tests, so that no loss is known. Holds say nothing of the marks: digs that are
held are ranked with the others.

    python -m tests.benchmarks.dig_order --lines 1000 --seed 1
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

import leakgeo
from leakgeo.dig.order import NO_HOLD, dig_order
from leakgeo.simulate import Conditions
from leakgeo.simulate.job import fields_to_layers
from leakgeo.simulate.write import write_job
from tests.benchmarks.draws import draw_fields

FOOT_M = 0.3048


def main() -> None:
    """Print a row for each order."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lines", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=100)
    asked = parser.parse_args()
    drawn = fields_to_layers(draw_fields(asked.lines, asked.seed, Conditions(tape_share=0.8)))
    with tempfile.TemporaryDirectory() as folder:
        job = Path(folder) / "job.gpkg"
        write_job({name: drawn[name] for name in ("routes", "readings")}, job)
        result = leakgeo.clearance(job)
    lines = result.layers["lines"]
    lines = lines[lines["status"] == "located"].reset_index(drop=True)
    truth = drawn["truth"].set_index("line_id")["chainage_m"].reindex(lines["line_id"]).to_numpy()
    within = (lines["chainage_m"] - truth).abs() <= FOOT_M
    lines = lines.assign(dig_status=NO_HOLD)
    orders = {
        "priority": lines["priority"],
        "dig_rank": dig_order(lines)["dig_rank"],
        "probability_within_1ft": -lines["probability_within_1ft"],
    }
    print(f"{len(lines)} of {asked.lines} lines located, {100 * within.mean():.0f} % within a foot")
    print(f"| order | of the first {asked.first} within a foot |")
    print("|---|---|")
    for name, keys in orders.items():
        first = within[keys.sort_values(kind="stable").index][: asked.first]
        print(f"| {name} | {100 * first.mean():.0f} % |")


if __name__ == "__main__":
    main()
