"""Run a job through every step, or through one, and write the results."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.deliver.folder.write import check_folder
from leakgeo.deliver.postgis.write import check_postgis
from leakgeo.deliver.views.top_lines import selected
from leakgeo.errors import ParameterError, parameter_label
from leakgeo.job.checks import as_names
from leakgeo.job.model import NOT_SELECTED
from leakgeo.job.read import read_job
from leakgeo.job.results.read_back import is_result, read_result
from leakgeo.options import ALL_LINES, LANGUAGE, NEAR, UNITS, of_checks
from leakgeo.progress import ignore, progress_to
from leakgeo.provenance import now_utc
from leakgeo.registry import load_steps
from leakgeo.result import Result
from leakgeo.runner.by_district.run import is_by_district, run_by_district
from leakgeo.runner.exit_codes import exit_code
from leakgeo.runner.held_law import with_held_law
from leakgeo.runner.kept_lines import KeptLines
from leakgeo.runner.layer_steps import Chunking
from leakgeo.runner.metrics import reported
from leakgeo.runner.selected import of_selected_lines
from leakgeo.runner.task import PlannedStep
from leakgeo.runner.write_run import (
    CHUNK_LINES,
    Writing,
    finished,
    run_and_write,
    with_staging_folder,
)
from leakgeo.selection import lines_near, selection_of
from leakgeo.staging import exclusive, staged

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.job.model import Job
    from leakgeo.job.sources import JobSource
    from leakgeo.progress import Listener
    from leakgeo.registry import Step


def run(
    source: JobSource,
    out: str | Path,
    *,
    lines: str | Sequence[str] = (),
    where: str | None = None,
    units: str | None = None,
    language: str = "en",
    overwrite: bool = False,
    keep_earlier: bool = False,
    mapping: str | Path | None = None,
    to_postgis: str | None = None,
    schema: str = "leakgeo",
    upsert: bool = False,
    chunk_lines: int = CHUNK_LINES,
    resume: bool = False,
    update: bool = False,
    relearn: bool = False,
    scheduler: str | None = None,
    metrics: str | Path | None = None,
    tell: Listener = ignore,
    **given: object,
) -> Result:
    """Run a job through every step, and write all results.

    Where a result is replaced, ``changes.csv`` and the record say what changed since: lines, marks,
    holds.

    Parameters
    ----------
    source : str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        The job, as for `leakgeo.read_job`.
    out : str or pathlib.Path
        Folder for the results; created if missing.
    lines : str or sequence of str
        Only this line or these lines; all if empty.
    where : str, optional
        SQL condition on the routes that selects lines instead; see `leakgeo.read_job`. The rest of
        the job is not read, and rows of other lines are not in the result. Ranks, and the loss
        expected where no meter measured one, are then of these lines alone; not with `update`.
    units : {"si", "us"}, optional
        Units in texts, maps and reports; "us" for a job in a foot CRS, else "si", if None.
    language : str
        Language of the messages, one of `leakgeo.wording.languages`.
    overwrite : bool
        Replace results that exist in the folder or the schema.
    keep_earlier : bool
        Keep the files of a result that is replaced, by `overwrite` or `update`, in
        ``superseded/TIME-RUN`` inside `out`, with a notice that it was superseded, by which run and
        when. Tables of a database are not kept.
    mapping : str or pathlib.Path, optional
        File that maps the source to the data contract; see `leakgeo.read_job`.
    to_postgis : str, optional
        URL of a PostGIS database to write the results to as well, in one transaction.
    schema : str
        Schema of that database.
    upsert : bool
        Replace the rows of the lines of this result there, and keep those of other lines; ranks,
        and the loss expected where no meter measured one, are then of all lines; see
        `leakgeo.write_postgis`.
    chunk_lines : int
        Lines of a chunk. A job of more lines is run in chunks, in several processes; the results
        are the same.
    resume : bool
        Resume a run in chunks that was stopped.
    update : bool
        Take over from the folder what an earlier update worked out of each line whose inputs have
        not changed, and work out the others. The result is that of a run of all lines with
        ``ground.toml`` of the folder, and replaces the one there: the law of noise stays the one
        learned first, until `relearn`, or until the digs change, more than a fifth of the lines is
        new, or the file is changed. ``result.kept`` tells what was worked out.
    relearn : bool
        Learn the law of noise again in an update, so that all lines are worked out.
    scheduler : str, optional
        Address of a Dask scheduler, such as ``tcp://10.0.0.5:8786``. Its workers run the chunks of
        a job of any size; they read the job themselves, from shared storage or a database.
    metrics : str or pathlib.Path, optional
        File to write for a monitoring system, in the text format of OpenMetrics, at the end of the
        run; also where the run fails.
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

    Examples
    --------
    It takes some seconds:

    >>> import leakgeo
    >>> result = leakgeo.run("examples/town/job.gpkg", "out", lines=["H-117"])  # doctest: +SKIP
    >>> result["lines"][["line_id", "status"]].to_string(index=False)  # doctest: +SKIP
    """
    folder = Path(out)
    lines = as_names(lines) or ()
    steps = planned_steps({**given, "out": folder, "units": units, "language": language})
    if scheduler is not None and _workers(steps):
        raise ParameterError(
            f"{parameter_label('workers')} and {parameter_label('scheduler')}: give one of them."
        )
    if where is not None and (lines or update):
        other = parameter_label("update" if update else "lines")
        raise ParameterError(f"{parameter_label('where')} and {other}: give one of them.")
    if upsert and to_postgis is None:
        raise ParameterError.of("upsert", f"give {parameter_label('to_postgis')} as well.")
    overwrite |= update
    with reported(None if metrics is None else Path(metrics), folder) as report, exclusive(folder):
        check_folder(folder, overwrite=overwrite)
        if to_postgis is not None:
            # What a run by district had written when it was stopped is written again.
            check_postgis(to_postgis, schema=schema, overwrite=overwrite or resume, upsert=upsert)
        kept = KeptLines(folder) if update else None
        chunking = Chunking(
            folder, chunk_lines, _workers(steps), resume, scheduler, source, mapping, tuple(lines),
            kept, where=where,
        )  # fmt: skip
        writing = Writing(
            folder, units, language, overwrite, to_postgis, schema, compare=True, upsert=upsert,
            keep_earlier=keep_earlier,
        )  # fmt: skip
        result = None
        if not given.get("near") and is_by_district(source, chunking, writing, steps):
            result = run_by_district(source, steps, chunking, writing, tell)
        if result is None:
            job, lines = _read(source, lines, where, mapping, given)
            chunking = replace(chunking, lines=tuple(lines))
            if kept is not None:
                steps = with_held_law(steps, job, kept, relearn=relearn)
            result = run_and_write(job, steps, chunking, writing, tell)
        report.code = exit_code(result)
    return result


def _read(
    source: JobSource, lines: Sequence[str], where: str | None, mapping: str | Path | None,
    given: Mapping[str, object],
) -> tuple[Job, Sequence[str]]:  # fmt: skip
    """Read the selected lines of a job, those near a place if one is given, and return both."""
    settings = of_checks(given)
    near = str(NEAR.check(given.get("near")))
    if near and where:
        raise ParameterError(
            f"{parameter_label('where')} and {parameter_label('near')}: give one of them."
        )
    job = read_job(source, lines=lines or None, where=where, mapping=mapping, **settings)
    if not near:
        return job, lines
    asked = job.routes[job.routes["reason"] != NOT_SELECTED]
    lines = tuple(lines_near(asked, near, job.output_crs, job.units()))
    return read_job(source, lines=lines, mapping=mapping, **settings), lines


def _workers(steps: Sequence[PlannedStep]) -> int | None:
    given = [settings["workers"] for _, settings in steps if settings.get("workers")]
    return int(str(given[0])) if given else None


def run_step(
    step: Step,
    source: JobSource,
    out: str | Path,
    *,
    lines: Sequence[str] = (),
    where: str | None = None,
    overwrite: bool = False,
    keep_earlier: bool = False,
    mapping: str | Path | None = None,
    to_postgis: str | None = None,
    schema: str = "leakgeo",
    upsert: bool = False,
    units: str | None = None,
    language: str = "en",
    tell: Listener = ignore,
    **given: object,
) -> Result:
    """Run one step and the steps that it needs, and write its layers and files.

    Steps that follow it, such as map and report, write their files with their default parameters.
    Parameters are those of `run` and those of the step. A step that takes results gets the selected
    lines of one alone.
    """
    folder = Path(out)
    own = {p.name for p in step.parameters}
    output = {"out": folder, "units": units, "language": language}
    given |= {name: value for name, value in output.items() if name in own}
    given = step.settings(given)
    UNITS.check(units)
    LANGUAGE.check(language)
    if step.takes_results and is_result(source):
        if where is not None:
            raise ParameterError.of("where", "a result takes no condition. Select lines by name.")
        selection = selection_of({**given, "lines": lines})
        given |= {name: value for name, value in ALL_LINES.items() if name in own}
        with exclusive(folder), progress_to(tell):
            return step(selected(read_result(source), selection), **given)
    with exclusive(folder), progress_to(tell):
        check_folder(folder, overwrite=overwrite)
        if to_postgis is not None:
            check_postgis(to_postgis, schema=schema, overwrite=overwrite, upsert=upsert)
        with staged(folder) as staging:
            job, _ = _read(source, lines, where, mapping, given)
            writing = Writing(
                folder, units, language, overwrite, to_postgis, schema, upsert=upsert,
                keep_earlier=keep_earlier,
            ).of_job(job)  # fmt: skip
            made = step(Result(job), **with_staging_folder(staging, given))
            result = replace(of_selected_lines(made), written=now_utc())
            shared = with_staging_folder(staging, {**output, "units": writing.units})
            following = [load_steps()[name] for name in step.followed_by]
            sheets = [PlannedStep(one, one.settings(shared)) for one in following]
            return finished(result, sheets, staging, writing)


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
