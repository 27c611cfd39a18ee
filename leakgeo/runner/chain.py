"""Run a job through every step, or through one, and write the results."""

from __future__ import annotations

import os
from contextlib import ExitStack
from dataclasses import dataclass, fields, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.deliver.folder.write import check_folder, earlier_files, write_files
from leakgeo.deliver.geopackage.draft import Draft
from leakgeo.deliver.postgis.write import check_postgis, write_postgis
from leakgeo.errors import ParameterError, parameter_label
from leakgeo.find.locate.layers import dig_rank, priority
from leakgeo.job.checks import as_names
from leakgeo.job.read import read_job
from leakgeo.job.results.read_back import is_result, iter_layer, read_result
from leakgeo.options import LANGUAGE, UNITS, of_checks
from leakgeo.progress import CHUNKS, counter, ignore, progress_to
from leakgeo.provenance import with_chunked_runs
from leakgeo.registry import load_steps
from leakgeo.result import Result, joined
from leakgeo.runner.chunks import ChunkPlan, DefaultErrors
from leakgeo.runner.executors import Dask, JobLocation, Processes, SameProcess
from leakgeo.runner.journal import Journal, run_key
from leakgeo.runner.task import ROW, PlannedStep, Task, run_steps
from leakgeo.staging import exclusive, staged

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import pandas as pd

    from leakgeo.job.sources import JobSource
    from leakgeo.progress import Listener
    from leakgeo.registry import Step
    from leakgeo.runner.executors import Executor
    from leakgeo.runner.task import ChunkResult
    from leakgeo.staging import Staging


# A job of more lines is run in chunks.
CHUNK_LINES = 1000
# File name of the unfinished GeoPackage in the folder of the journal.
_DRAFT = "result.gpkg"
# Lines that slow products of a large job show, by parameter.
_TOP_LINE_LIMITS = {"map_lines": 1000, "report_lines": 100, "density_lines": 100}
# Layer that is too large for memory; it is streamed from the chunks into the file.
STREAMED = "profile"
# Lines, the first by priority, of which it is kept in memory for map and report.
TOP_LINES = 1000
# Layers sorted by line_id; the others are in the order of the routes.
_BY_NAME = {"lines", "improvements", "evidence", "explanations", "air_tests"}


def run(
    source: JobSource,
    out: str | Path,
    *,
    lines: str | Sequence[str] = (),
    units: str | None = None,
    language: str = "en",
    overwrite: bool = False,
    mapping: str | Path | None = None,
    to_postgis: str | None = None,
    schema: str = "leakgeo",
    chunk_lines: int = CHUNK_LINES,
    resume: bool = False,
    scheduler: str | None = None,
    tell: Listener = ignore,
    **given: object,
) -> Result:
    """Run a job through every step, and write all results.

    Parameters
    ----------
    source : str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        The job, as for `leakgeo.read_job`.
    out : str or pathlib.Path
        Folder for the results; created if missing.
    lines : str or sequence of str
        Only this line or these lines; all if empty.
    units : {"si", "us"}, optional
        Units in texts, maps and reports; "us" for a job in a foot CRS, else "si", if None.
    language : str
        Language of the messages, one of `leakgeo.wording.languages`.
    overwrite : bool
        Replace results that exist in the folder or the schema.
    mapping : str or pathlib.Path, optional
        File that maps the source to the data contract; see `leakgeo.read_job`.
    to_postgis : str, optional
        URL of a PostGIS database to write the results to as well, in one transaction.
    schema : str
        Schema of that database.
    chunk_lines : int
        Lines of a chunk. A job of more lines is run in chunks, in several processes; the results
        are the same.
    resume : bool
        Resume a run in chunks that was stopped.
    scheduler : str, optional
        Address of a Dask scheduler, such as ``tcp://10.0.0.5:8786``. Its workers run the chunks of
        a job of any size; they read the job themselves, from shared storage or a database.
    tell : callable
        Called with a `leakgeo.progress.Progress` when a step begins, and when a part of it is done.
    **given
        Parameters of the steps by name, such as ``leak_prior`` or ``dig_date``.

    Returns
    -------
    Result
        With the layers of every step.

    Raises
    ------
    JobError
        If the job can't be run at all.
    OutputError
        If the folder or the database can't be written, or holds results and `overwrite` is false.
    ParameterError
        If no step has a parameter of that name, or its value is not allowed.
    """
    folder = Path(out)
    lines = as_names(lines) or ()
    steps = planned_steps({**given, "out": folder, "units": units, "language": language})
    if scheduler is not None and _workers(steps):
        raise ParameterError(
            f"{parameter_label('workers')} and {parameter_label('scheduler')}: give one of them."
        )
    with exclusive(folder), ExitStack() as cleanup:
        check_folder(folder, overwrite=overwrite)
        if to_postgis is not None:
            check_postgis(to_postgis, schema=schema, overwrite=overwrite)
        result = Result(read_job(source, lines=lines or None, mapping=mapping, **of_checks(given)))
        units = result.job.units(units)
        for step, settings in steps:
            step.check_lines(settings, result.job)
        chunking = _ChunkSettings(
            folder, chunk_lines, _workers(steps), resume, scheduler, source, mapping, tuple(lines),
        )  # fmt: skip
        cleanup.enter_context(progress_to(tell))
        with staged(folder) as staging:
            steps = [
                PlannedStep(step, _with_staging_folder(staging, settings))
                for step, settings in steps
            ]
            # Steps that write files run last, when no layer changes any more.
            layer_steps = [one for one in steps if not one.step.writes_files]
            file_steps = [one for one in steps if one.step.writes_files]
            result, journal = _run_layer_steps(result, layer_steps, chunking, cleanup, tell)
            draft = None if journal is None else Draft(
                result, journal.folder / _DRAFT, units, language)  # fmt: skip
            result = run_steps(result, _with_line_limits(file_steps, result), tell)
            result = _with_output_folder(result, staging)
            write_files(result, staging, units=units, language=language, draft=draft)
            _commit(result, staging, to_postgis, schema=schema, overwrite=overwrite, units=units,
                    language=language)  # fmt: skip
    # The journal has been deleted; streamed layers are read from the file from now on.
    streamed = {n: partial(iter_layer, folder, n, result.job.crs) for n in result.streamed}
    return replace(result, streamed=streamed)


def _with_staging_folder(staging: Staging, settings: Mapping[str, object]) -> dict[str, object]:
    """Return settings of a step with the staging folder in place of the output folder."""
    return {**settings, **({"out": staging.path} if "out" in settings else {})}


def _with_output_folder(result: Result, staging: Staging) -> Result:
    """Return a result whose parameters have the output folder in place of the staging folder."""
    parameters = {
        name: {**given, **({"out": staging.out} if "out" in given else {})}
        for name, given in result.parameters.items()
    }
    return replace(result, parameters=parameters)


def _commit(
    result: Result, staging: Staging, to_postgis: str | None, *, schema: str, overwrite: bool,
    units: str, language: str,
) -> None:  # fmt: skip
    """Replace files and tables; the database commits when only the files remain to be moved."""
    staging.flush()
    if to_postgis is not None:
        write_postgis(result, to_postgis, schema=schema, overwrite=overwrite, units=units,
                      language=language)  # fmt: skip
    staging.commit(earlier_files(staging.out) if overwrite else ())


@dataclass(frozen=True)
class _ChunkSettings:
    """Size of the chunks of a job, and the executor that runs them.

    Parameters
    ----------
    out : pathlib.Path
    size : int
        Lines per chunk.
    workers : int or None
        Number of processes; the number of processors if None.
    resume : bool
    scheduler : str or None
        Address of a Dask scheduler whose workers run the chunks instead.
    source, mapping : JobSource, str or pathlib.Path or None
        Source that those workers read the job from.
    lines : tuple of str
        Selected lines; all if empty.
    """

    out: Path
    size: int
    workers: int | None
    resume: bool
    scheduler: str | None
    source: JobSource
    mapping: str | Path | None
    lines: tuple[str, ...]

    def in_memory(self, plan: ChunkPlan) -> bool:
        """Return whether the job is run in memory; else its chunks are written to disk."""
        return plan.one_chunk and not self.resume and self.scheduler is None

    def executor(self, journal: Journal) -> Executor:
        """Return the executor of chunks that are written to disk."""
        if self.scheduler is not None:
            location = JobLocation.of(self.source, self.mapping, self.lines)
            return Dask(journal, self.scheduler, location)
        count = self.workers or os.cpu_count() or 1
        return SameProcess(journal.store) if count == 1 else Processes(journal, count)


def _run_layer_steps(
    result: Result, steps: Sequence[PlannedStep], chunking: _ChunkSettings, cleanup: ExitStack,
    tell: Listener,
) -> tuple[Result, Journal | None]:  # fmt: skip
    """Run the steps that make layers; those that work by line are run chunk by chunk.

    Chunks on disk are deleted when `cleanup` is closed without an error.
    """
    first = next(k for k, one in enumerate(steps) if one.step.by_line)
    result = run_steps(result, steps[:first], tell)
    plan = ChunkPlan.of(result.job, chunking.size, default_errors(steps))
    if chunking.in_memory(plan):
        # The only chunk is the whole job, so all remaining steps can run on it.
        finished: dict[int, ChunkResult] = {}
        task = Task.of(result, steps[first:])
        SameProcess(finished.__setitem__, tell).run_chunks(plan, plan.numbers, task)
        return finished[0].result, None
    by_line = [one for one in steps if one.step.by_line]
    given = {step.name: settings for step, settings in by_line}
    key = run_key(plan.job, {**result.parameters, **given}, chunking.size)
    journal = cleanup.enter_context(Journal(chunking.out, key))
    journal.begin(resume=chunking.resume)
    numbers = [number for number in plan.numbers if not journal.has(number)]
    chunk_done = counter(CHUNKS, len(plan.numbers), tell)
    for _ in range(len(plan.numbers) - len(numbers)):
        chunk_done(silent=True)
    task = Task.of(replace(result, job=plan.job), [one.single_process() for one in by_line])
    chunking.executor(journal).run_chunks(plan, numbers, task, chunk_done)
    # The result keeps the readings as read; their lines are in the layer readings_on_route.
    # A step that runs again may have other settings, so nothing that depends on them is kept.
    job = replace(plan.job, readings=result.job.readings, isolation=None, valve_closures=None)
    result = _merge_chunks(replace(result, job=job), by_line, journal, plan.numbers)
    return run_steps(result, [s for s in steps[first:] if not s.step.by_line], tell), journal


def default_errors(steps: Sequence[PlannedStep]) -> DefaultErrors:
    """Return the settings of the steps that are needed to divide a job into chunks."""
    given = {one.step.name: one.settings for one in steps}
    both = {**given["profile"], **given["locate"]}
    return DefaultErrors(**{f.name: float(str(both[f.name])) for f in fields(DefaultErrors)})


def _merge_chunks(
    before_chunks: Result, steps: Sequence[PlannedStep], journal: Journal, numbers: Sequence[int]
) -> Result:
    """Merge the layers of all chunks, in the order that a single chunk would give."""
    layers = {
        name: joined([journal.layer(k, name) for k in numbers])
        for name in journal.names(numbers[0])
        if name != STREAMED
    }
    placed = layers["readings_on_route"].sort_values(ROW, ignore_index=True)
    # Walks are numbered in the order of all readings.
    walk = placed.groupby([placed["line_id"].fillna(""), "walk"], sort=True).ngroup()
    layers["readings_on_route"] = placed.drop(columns=ROW).assign(walk=walk)
    for name in _BY_NAME & set(layers):
        layers[name] = layers[name].sort_values("line_id", ignore_index=True, kind="stable")
    lines = layers["lines"]
    lines["priority"] = priority(lines)
    lines["dig_rank"] = dig_rank(lines)
    faults = dict.fromkeys(fault for k in numbers for fault in journal.faults(k))
    first = lines.nsmallest(TOP_LINES, "priority")["line_id"]
    layers[STREAMED] = joined([journal.layer(k, STREAMED, first) for k in numbers])
    merged = replace(
        before_chunks.adding(layers, faults),
        parameters={
            **before_chunks.parameters,
            **{step.name: settings for step, settings in steps},
        },
        streamed={STREAMED: partial(_chunk_layers, journal, numbers)},
    )
    return with_chunked_runs(merged, steps)


def _chunk_layers(journal: Journal, numbers: Sequence[int]) -> Iterator[pd.DataFrame]:
    """Iterate over the streamed layer, chunk by chunk."""
    return (journal.layer(k, STREAMED) for k in numbers)


def _with_line_limits(steps: Sequence[PlannedStep], result: Result) -> Sequence[PlannedStep]:
    """Limit slow products of a large job to its top lines, unless their parameters are given."""
    if len(result.job.routes) <= CHUNK_LINES:
        return steps
    most = [
        {n: k for n, k in _TOP_LINE_LIMITS.items() if s.settings.get(n, k) is None} for s in steps
    ]
    return [PlannedStep(s.step, s.settings | k) for s, k in zip(steps, most, strict=True)]


def _workers(steps: Sequence[PlannedStep]) -> int | None:
    given = [settings["workers"] for _, settings in steps if settings.get("workers")]
    return int(str(given[0])) if given else None


def run_step(
    step: Step,
    source: JobSource,
    out: str | Path,
    *,
    lines: Sequence[str] = (),
    overwrite: bool = False,
    mapping: str | Path | None = None,
    to_postgis: str | None = None,
    schema: str = "leakgeo",
    units: str | None = None,
    language: str = "en",
    tell: Listener = ignore,
    **given: object,
) -> Result:
    """Run one step and the steps that it needs, and write its layers and files.

    Steps that follow it, such as map and report, write their files with their default parameters.
    Parameters are those of `run` and those of the step.
    """
    folder = Path(out)
    own = {p.name for p in step.parameters}
    output = {"out": folder, "units": units, "language": language}
    given |= {name: value for name, value in output.items() if name in own}
    given = step.settings(given)
    UNITS.check(units)
    LANGUAGE.check(language)
    if step.takes_results and is_result(source):
        with exclusive(folder), progress_to(tell):
            return step(read_result(source, lines or None), **given)
    with exclusive(folder), progress_to(tell):
        check_folder(folder, overwrite=overwrite)
        if to_postgis is not None:
            check_postgis(to_postgis, schema=schema, overwrite=overwrite)
        with staged(folder) as staging:
            job = read_job(source, lines=lines or None, mapping=mapping, **of_checks(given))
            units = job.units(units)
            output["units"] = units
            result = step(Result(job), **_with_staging_folder(staging, given))
            following = [load_steps()[name] for name in step.followed_by]
            sheets = [
                PlannedStep(one, one.settings(_with_staging_folder(staging, output)))
                for one in following
            ]
            result = run_steps(result, _with_line_limits(sheets, result))
            result = _with_output_folder(result, staging)
            write_files(result, staging, units=units, language=language)
            _commit(result, staging, to_postgis, schema=schema, overwrite=overwrite, units=units,
                    language=language)  # fmt: skip
    return result


def planned_steps(given: Mapping[str, object]) -> list[PlannedStep]:
    """Return the steps with their validated settings; nothing has been read or written yet."""
    steps = load_steps().values()
    known = {p.name for step in steps for p in step.parameters}
    if unknown := sorted(set(given) - known):
        raise ParameterError(f"No step has a parameter {', '.join(unknown)}.")
    return [
        PlannedStep(step, step.settings({p.name: given.get(p.name) for p in step.parameters}))
        for step in steps
    ]
