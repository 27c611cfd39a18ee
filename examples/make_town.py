"""Write the job of the simulated town: ``python examples/make_town.py [OUT.gpkg]``."""

from __future__ import annotations

import sys
from pathlib import Path

from leakgeo.simulate.town import write_town

HERE = Path(__file__).parent

if __name__ == "__main__":
    write_town(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE / "town" / "job.gpkg")
