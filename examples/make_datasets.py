"""Write the jobs of `leakgeo.datasets` again: ``python examples/make_datasets.py [FOLDER]``."""

from __future__ import annotations

import sys
from pathlib import Path

from leakgeo.simulate.small_jobs import simulate_in_feet, simulate_two_walks
from leakgeo.simulate.town import simulate_town
from leakgeo.simulate.write import write_job

SIMULATED = {"town": simulate_town, "two_walks": simulate_two_walks, "in_feet": simulate_in_feet}


def main(folder: Path) -> None:
    """Write ``NAME/job.gpkg`` for each job into a folder, without the truth."""
    for name, simulate in SIMULATED.items():
        layers = {layer: rows for layer, rows in simulate().items() if layer != "truth"}
        (folder / name).mkdir(parents=True, exist_ok=True)
        write_job(layers, folder / name / "job.gpkg")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
