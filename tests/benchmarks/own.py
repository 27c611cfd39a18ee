"""leakgeo's own locator, called as its users call it: a job of many lines in, layers out.

This is the hook: `own` takes fields and gives an estimate each. It sees what the job holds, no
more.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.simulate.job import fields_to_layers
from leakgeo.simulate.write import write_job
from tests.benchmarks.estimate import Estimate

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.job.model import Job
    from leakgeo.result import Result
    from leakgeo.simulate import Recorded


def own(fields: Sequence[Recorded]) -> list[Estimate]:
    """Locate all fields in one job."""
    return estimates(fields_to_layers(fields))


def estimates(layers: Mapping[str, pd.DataFrame]) -> list[Estimate]:
    """Locate the lines of a job, in the order of its routes."""
    return estimates_of(located(layers), list(layers["routes"]["line_id"]))


def estimates_of(result: Result, line_ids: Sequence[str]) -> list[Estimate]:
    """Read the estimates of some lines out of a result."""
    # Plain tables: rows of layers with geometries are taken out many times as slowly.
    marks, lines = (
        pd.DataFrame(result.layers[name]).set_index("line_id").to_dict("index")
        for name in ("marks", "lines")
    )
    pieces = pd.DataFrame(result.layers["search_zones"])
    zones = {
        name: own[["from_chainage_m", "to_chainage_m"]].to_numpy(dtype=float)
        for name, own in pieces.groupby("line_id")
    }
    return [_estimate(name, marks.get(name), lines[name], zones) for name in line_ids]


def located(layers: Mapping[str, pd.DataFrame]) -> Result:
    """Write layers as a job, without the truth, and let leakgeo locate its leaks."""
    import leakgeo

    return leakgeo.locate(_job(layers))


def job_of(fields: Sequence[Recorded]) -> Job:
    """Return the job of some fields, as read from a file."""
    return _job(fields_to_layers(fields))


def _job(layers: Mapping[str, pd.DataFrame]) -> Job:
    import leakgeo

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "fields.gpkg"
        write_job({name: layer for name, layer in layers.items() if name != "truth"}, path)
        return leakgeo.read_job(path)


def _estimate(name, mark, line, zones) -> Estimate:
    told = {"leak_probability": float(line["leak_probability"]), "status": str(line["status"])}
    if mark is None:
        return Estimate(None, **told)
    return Estimate(
        float(mark["chainage_m"]),
        np.atleast_2d(zones[name]),
        float(mark["probability_within_1ft"]),
        **told,
    )
