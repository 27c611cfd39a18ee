"""Run a large job by district, and write one result."""

from __future__ import annotations

import tempfile
from contextlib import ExitStack, closing
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from leakgeo.arrays import texts
from leakgeo.checkpoint import checkpoint
from leakgeo.deliver.folder.write import earlier_files, write_joined
from leakgeo.deliver.geopackage.parts import open_joined, write_part
from leakgeo.job.checks import mostly_in_feet
from leakgeo.job.results.read_back import FILE, PREFIX, iter_layer, read_lines
from leakgeo.job.sources import is_database, open_source, row_count
from leakgeo.job.mapping import load_mapping
from leakgeo.options import of_checks
from leakgeo.progress import CHUNKS, counter, ignore, progress_to
from leakgeo.provenance import with_chunked_runs
from leakgeo.result import Result
from leakgeo.runner.by_district.district import DistrictPlan
from leakgeo.runner.by_district.join import StoredDistricts, join_tables
from leakgeo.runner.by_district.large_layers import LARGE
from leakgeo.runner.by_district.network import DISTRICT_LINES, read_network
from leakgeo.runner.by_district.part import DistrictTask
from leakgeo.runner.journal import Journal, run_key
from leakgeo.runner.layer_steps import default_errors, job_wide_faults
from leakgeo.runner.merge import TOP_LINES
from leakgeo.runner.task import PlannedStep, run_steps
from leakgeo.runner.write_run import limited_steps, with_output_folder, with_staging_folder
from leakgeo.staging import PREFIX as HIDDEN
from leakgeo.staging import staged

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.job.model import Job
    from leakgeo.job.sources import JobSource
    from leakgeo.progress import Listener
    from leakgeo.runner.by_district.network import Network
    from leakgeo.runner.layer_steps import Chunking
    from leakgeo.runner.write_run import Writing
    from leakgeo.staging import Staging

#: A job of more lines is run by district.
FROM_LINES = 5_000


def is_by_district(chunking: Chunking, writing: Writing, steps: Sequence[PlannedStep]) -> bool:
    """Return whether a job is run by district: it is large, and all of it is asked for."""
    source = chunking.source
    if not isinstance(source, (str, Path)) or chunking.lines or chunking.kept is not None:
        return False
    if writing.to_postgis is not None or chunking.scheduler is not None:
        return False
    first = next(k for k, one in enumerate(steps) if one.step.by_line)
    own = all(one.step.function.startswith("leakgeo.") for one in steps[:first])
    return own and _lines_in(source, chunking.mapping) > FROM_LINES


def _lines_in(source: str | Path, mapping: str | Path | None) -> int:
    """Return the number of lines of a job, without reading them; 0 if it can't be told."""
    known = () if mapping is None else load_mapping(mapping).layers.get("routes", ())
    names = [(part.layer or part.name).casefold() for part in known] or ["routes"]
    with open_source(source) as opened:
        return sum(row_count(opened, name) for name in names if name in opened.layers)


def run_by_district(
    steps: Sequence[PlannedStep], chunking: Chunking, writing: Writing, tell: Listener = ignore
) -> Result | None:
    """Run every step on a large job by district, and write all results.

    Parameters
    ----------
    steps : sequence of PlannedStep
    chunking : Chunking
    writing : Writing
    tell : callable
        Called with the progress.

    Returns
    -------
    Result or None
        The lines that come first by priority; None if a layer can only be read as a whole.
    """
    with ExitStack() as cleanup:
        cleanup.enter_context(progress_to(tell))
        rows = cleanup.enter_context(
            tempfile.TemporaryDirectory(prefix=f"{HIDDEN}rows-", dir=writing.folder)
        )
        settings = of_checks({n: v for one in steps for n, v in one.settings.items()})
        network = read_network(
            chunking.source, Path(rows), chunking.mapping, default_errors(steps), settings,
            min(chunking.size, DISTRICT_LINES),
        )  # fmt: skip
        if network is None:
            return None
        with staged(writing.folder) as staging:
            run = _Run(network, chunking, writing, staging, cleanup, tell)
            result = run.write(steps)
    streamed = {n: partial(iter_layer, writing.folder, n, result.job.crs) for n in result.streamed}
    return replace(result, streamed=streamed)


@dataclass(eq=False)
class _Run:
    network: Network
    chunking: Chunking
    writing: Writing
    staging: Staging
    cleanup: ExitStack
    tell: Listener

    def write(self, steps: Sequence[PlannedStep]) -> Result:
        """Run the steps, write the files into the staging folder, and put them in place."""
        steps = [PlannedStep(s, with_staging_folder(self.staging, given)) for s, given in steps]
        layer_steps = [one for one in steps if not one.step.writes_files]
        first = next(k for k, one in enumerate(layer_steps) if one.step.by_line)
        by_line = [one for one in layer_steps[first:] if one.step.by_line]
        then = [one for one in layer_steps[first:] if not one.step.by_line]
        before = self._before(layer_steps[:first])
        self.writing = self.writing.of_job(before.job)
        whole = _as_if_whole(before, by_line)
        journal = self._run_districts(before, whole, by_line)
        districts = StoredDistricts(journal, self.network.plan.numbers)
        return self._joined(whole, districts, by_line, then,
                            [one for one in steps if one.step.writes_files])  # fmt: skip

    def _before(self, steps: Sequence[PlannedStep]) -> Result:
        """Run the steps before those by line, on the network and the lines that teach."""
        network = self.network
        sample = network.with_readings(network.teaching)
        job = replace(network.job, readings=sample.readings)
        job = replace(job, works_in_feet=mostly_in_feet(dict(job.items())))
        made = run_steps(Result(job), steps, self.tell)
        plain = replace(job, readings=network.job.readings)
        return replace(made, job=plain)

    def _run_districts(
        self, before: Result, whole: Result, by_line: Sequence[PlannedStep]
    ) -> Journal:
        """Run the steps by line on the districts that the journal lacks."""
        chunking, writing = self.chunking, self.writing
        given = {step.name: settings for step, settings in by_line}
        key = run_key(before.job, {**before.parameters, **given}, self.network.plan.size)
        key = {**key, "texts": f"{writing.units} {writing.language}"}
        journal = self.cleanup.enter_context(Journal(chunking.out, key))
        journal.begin(resume=chunking.resume)
        plan = DistrictPlan(self.network, before.layers)
        numbers = [number for number in plan.numbers if not journal.has(number)]
        done = counter(CHUNKS, len(plan.numbers), self.tell)
        for _ in range(len(plan.numbers) - len(numbers)):
            done(silent=True)
        bare = Result(_without_rows(before.job), parameters=before.parameters)
        task = DistrictTask(
            bare, tuple(one.single_process() for one in by_line), str(writing.units),
            writing.language, whole.run_id,
        )  # fmt: skip
        chunking.executor(journal, len(plan.numbers)).run_chunks(plan, numbers, task, done)
        return journal

    def _joined(
        self, whole: Result, districts: StoredDistricts, by_line: Sequence[PlannedStep],
        then: Sequence[PlannedStep], file_steps: Sequence[PlannedStep],
    ) -> Result:  # fmt: skip
        """Join the districts, and write what is made of all of them."""
        path, run_id = self.staging.path / FILE, whole.run_id
        units, language = str(self.writing.units), self.writing.language
        network = replace(whole, run_id_read=run_id).worded(units, language)
        own = [n for n in network.layers if len(network.layers[n])]
        job = [PREFIX + str(n) for n in network.job if n not in LARGE]
        contents = write_part(network, path, [*own, *job])
        checkpoint()
        ranks, about = districts.ranks(), districts.about()
        contents |= about["contents"]
        contents["lines"] = join_tables(districts, path, ranks)
        checkpoint()
        whole = self._with_faults(whole, districts, by_line)
        learned = self._then(whole, then, path)
        contents |= learned.contents
        whole = learned.whole
        top = ranks["priority"].nsmallest(TOP_LINES).index
        write_head(whole, path)
        ...
        return whole
