"""The result of one district, as files that are joined to the whole."""

from __future__ import annotations

import json
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from leakgeo.arrow import to_ipc
from leakgeo.deliver.folder.record import digs_by_status, marks_set, readings_account
from leakgeo.deliver.folder.spreadsheets import summary_table
from leakgeo.deliver.geopackage.parts import write_part
from leakgeo.deliver.views.top_lines import tally
from leakgeo.dig.order import ORDERED_BY
from leakgeo.job.results.stored_record import PREFIX
from leakgeo.result import Result
from leakgeo.runner.by_district.large_layers import LARGE
from leakgeo.runner.task import FAULTS, ROW, StepFault, Task, faults_json

if TYPE_CHECKING:
    from leakgeo.progress import Listener
    from leakgeo.runner.by_district.district import District, ReadDistrict
    from leakgeo.runner.task import ChunkResult, PlannedStep

#: Files of a district.
TABLES, ABOUT, SUMMARY, RANKED = "part.gpkg", "about.json", "summary.arrow", "ranked.arrow"
#: Step under which the faults of the job itself are stored.
OF_JOB = ""
# Walks of one district; those of the next have other numbers.
_WALKS = 1_000_000


@dataclass(frozen=True, eq=False)
class DistrictTask:
    """The steps to run on every district, and how their results are written.

    Parameters
    ----------
    before : Result
        Result of the steps on the network, without job and layers.
    steps : tuple of PlannedStep
    units : {"si", "us"}
    language : str
    run_id : str
    """

    before: Result
    steps: tuple[PlannedStep, ...]
    units: str
    language: str
    run_id: str

    def run(self, district: District, tell: Listener | None = None) -> Part:
        """Run the steps on one district."""
        read = district.read()
        before = replace(self.before, layers=district.earlier)
        return Part(self, read, Task(before, self.steps).run(read.chunk, tell))


@dataclass(frozen=True, eq=False)
class Part:
    """Result of one district.

    Parameters
    ----------
    task : DistrictTask
    read : ReadDistrict
    done : ChunkResult
    """

    task: DistrictTask
    read: ReadDistrict
    done: ChunkResult

    def files(self) -> dict[str, bytes]:
        """Return file contents by file name."""
        result = self._result().worded(self.task.units, self.task.language)
        tables: dict[str, Any] = {**result.layers, **self._job_tables()}
        with tempfile.TemporaryDirectory(prefix="leakgeo-") as folder:
            path = Path(folder) / TABLES
            contents = write_part(result, path, [*tables])
            stored = path.read_bytes() if path.exists() else b""
        lines, every = result.layers["lines"], tally(result)
        about = {
            "contents": contents,
            "rows": {name: len(table) for name, table in tables.items()},
            "readings": readings_account(result.job, result.layers["readings_on_route"]),
            "status": dict(every.counts),
            "held": every.held,
            "digs": digs_by_status(result),
            "marks": marks_set(result),
            "with_place": every.with_place,
            "seconds": dict(self.done.result.timings),
        }
        faults = [*(StepFault(OF_JOB, f) for f in self.read.faults), *self.done.faults]
        return {
            TABLES: stored,
            ABOUT: json.dumps(about).encode(),
            FAULTS: faults_json(faults),
            SUMMARY: to_ipc(summary_table(result, self.task.units, self.task.language)),
            RANKED: to_ipc(pd.DataFrame(lines).reindex(columns=["line_id", *ORDERED_BY])),
        }

    def _job_tables(self) -> dict[str, pd.DataFrame]:
        return {PREFIX + name: table for name, table in self.read.tables.items()}

    def _result(self) -> Result:
        """Return the layers of the district's own lines, and its own rows of the large layers."""
        layers = dict(self.done.layers)
        readings = layers["readings_on_route"].drop(columns=ROW).reset_index(drop=True)
        number = self.read.chunk.number * _WALKS
        layers["readings_on_route"] = readings.assign(walk=readings["walk"] + number)
        tables: dict[str, Any] = dict(self.read.tables)
        none: dict[str, Any] = {n: None for n in LARGE if n != "readings" and n not in tables}
        job, own = self.read.chunk.job, self.read.chunk.own
        job = replace(job, routes=job.routes[job.routes["line_id"].isin(own)])
        counts = {**job.counts, "readings": len(readings)}
        return Result(
            replace(job, **tables, **none, counts=counts), layers,
            parameters=self.done.result.parameters, run_id_read=self.task.run_id,
        )  # fmt: skip
