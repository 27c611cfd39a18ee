"""One job through the whole chain, and what came of it in a few lines."""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.deliver.geopackage.draft import Draft
from leakgeo.deliver.postgis.write import check_postgis, write_postgis
from leakgeo.deliver.write import check_folder, earlier_files, write_files
from leakgeo.errors import ParameterError, called
from leakgeo.job.checks import as_names
from leakgeo.job.read import read_job
from leakgeo.job.results.read_back import is_result, read_result, reread
from leakgeo.options import LANGUAGE, UNITS, of_checks
from leakgeo.progress import Progress, listening, nobody, report
from leakgeo.registry import load_steps
from leakgeo.result import Result
from leakgeo.runner.batch import Batch, run_steps
from leakgeo.staging import alone, staged

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.job.sources import JobSource
    from leakgeo.progress import Listener
    from leakgeo.registry import Step
    from leakgeo.runner.task import Settled
    from leakgeo.staging import Staging


# A job of more lines goes through in chunks.
CHUNK_LINES = 1000
# What takes long is made for so many lines of such a job.
_URGENT = {"map_lines": 1000, "report_lines": 100, "density_lines": 100}


def run(
    source: JobSource,
    out: str | Path,
    *,
    lines: str | Sequence[str] = (),
    units: str = "si",
    language: str = "en",
    overwrite: bool = False,
    mapping: str | Path | None = None,
    to_postgis: str | None = None,
    schema: str = "leakgeo",
    chunk_lines: int = CHUNK_LINES,
    resume: bool = False,
    scheduler: str | None = None,
    tell: Listener = nobody,
    **given: object,
) -> Result:
    """Run a job through every step and write all of its results.

    Parameters
    ----------
    source : str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        The job, as `leakgeo.read_job` takes it.
    out : str or pathlib.Path
        Folder for the results; made if it isn't there.
    lines : str or sequence of str
        Only these lines, or this one; all where empty.
    units : {"si", "us"}
        Units that people see, in texts of layers too.
    language : str
        Language of the messages, one of `leakgeo.wording.languages`.
    overwrite : bool
        Replace results that are in the folder, or the schema, already.
    mapping : str or pathlib.Path, optional
        File that maps the source to the data contract; see `leakgeo.read_job`.
    to_postgis : str, optional
        URL of a PostGIS database that the results go to as well, in one transaction.
    schema : str
        Schema of that database.
    chunk_lines : int
        A job of more lines than this goes through in chunks of so many, in several processes; the
        results are the same.
    resume : bool
        Go on with a run of such a job that was stopped.
    scheduler : str, optional
        Address of a Dask scheduler, such as ``tcp://10.0.0.5:8786``: its workers do the chunks of
        the job, whatever its size. They read it for themselves, from shared storage or a database.
    tell : callable
        Called with a `leakgeo.progress.Progress` as each step begins, and as its parts are done.
    **given
        Parameters of the steps by name, such as ``leak_prior`` or ``dig_date``; each step takes
        those that are its own.

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
    steps = _settled({**given, "out": folder, "units": units, "language": language})
    if scheduler is not None and _workers(steps):
        raise ParameterError(f"{called('workers')} and {called('scheduler')}: give one of them.")
    with alone(folder), ExitStack() as left:
        check_folder(folder, overwrite=overwrite)
        if to_postgis is not None:
            check_postgis(to_postgis, schema=schema, overwrite=overwrite)
        result = Result(read_job(source, lines=lines or None, mapping=mapping, **of_checks(given)))
        for step, settings in steps:
            step.check_lines(settings, result.job)
        large = len(result.job.routes) > chunk_lines or resume or scheduler is not None
        batch = Batch(
            folder, chunk_lines, _workers(steps), resume, tell, scheduler, source, mapping,
            tuple(lines),
        ) if large else None  # fmt: skip
        left.enter_context(listening(tell))
        with staged(folder) as staging:
            draft = None
            steps = [(step, _into(staging, settings)) for step, settings in steps]
            if batch is None:
                result = _through(result, _files_last(steps), tell)
            else:
                result, draft = _in_chunks(result, steps, batch, left, tell, (units, language))
            result = _published(result, staging)
            write_files(result, staging, units=units, language=language, draft=draft)
            _commit(result, staging, to_postgis, schema=schema, overwrite=overwrite, units=units,
                    language=language)  # fmt: skip
    # The parts are gone; what was too long to hold is in the file.
    read = {n: partial(reread, folder, n, result.job.crs) for n in result.streamed}
    return replace(result, streamed=read)


def _into(staging: Staging, settings: dict[str, object]) -> dict[str, object]:
    """Let a step write where files are staged."""
    return {**settings, **({"out": staging.path} if "out" in settings else {})}


def _published(result: Result, staging: Staging) -> Result:
    """Give the parameters as they were asked for: with the folder, not the staging."""
    told = {
        name: {**given, **({"out": staging.out} if "out" in given else {})}
        for name, given in result.parameters.items()
    }
    return replace(result, parameters=told)


def _commit(
    result: Result, staging: Staging, to_postgis: str | None, *, schema: str, overwrite: bool,
    units: str, language: str,
) -> None:  # fmt: skip
    """Put files and tables in place: the database commits when nothing but moving is left."""
    staging.flush()
    if to_postgis is not None:
        write_postgis(result, to_postgis, schema=schema, overwrite=overwrite, units=units,
                      language=language)  # fmt: skip
    staging.commit(earlier_files(staging.out) if overwrite else ())


def _files_last(steps: Sequence[Settled]) -> list[Settled]:
    """Let no step change a layer after a file was made of it."""
    return sorted(steps, key=lambda each: each[0].writes_files)


def _through(result: Result, steps: Sequence[Settled], tell: Listener) -> Result:
    """Take a result through steps."""
    for step, settings in steps:
        report(Progress(step.name), tell)
        result = step(result, **settings)
    return result


def _in_chunks(
    result: Result, steps: Sequence[Settled], batch: Batch, left: ExitStack, tell: Listener,
    said_in: tuple[str, str],
) -> tuple[Result, Draft]:  # fmt: skip
    """Take a large job through steps; those that work by line in chunks.

    The parts are taken away when what is left is closed without an error.
    """
    by_line = [s for s in steps if s[0].by_line]
    first = steps.index(by_line[0])
    rest = [s for s in steps[first:] if not s[0].by_line]
    result = _through(result, steps[:first], tell)
    before = result.job
    with listening(nobody):  # chunks are told, not the steps within
        result, journal = run_steps(result, by_line, batch)
    left.enter_context(journal)
    # The job is kept as it was read: which line a reading was given to is in its own layer.
    result = replace(result, job=replace(result.job, readings=before.readings))
    result = _through(result, [s for s in rest if not s[0].writes_files], tell)
    draft = Draft(result, journal.folder / "result.gpkg", *said_in)
    files = [s for s in rest if s[0].writes_files]
    if len(result.job.routes) > CHUNK_LINES:
        files = [(step, _limited(settings)) for step, settings in files]
    return _through(result, files, tell), draft


def _limited(settings: dict[str, object]) -> dict[str, object]:
    """Of a large job the slow products show the most urgent lines, unless told otherwise."""
    return settings | {n: most for n, most in _URGENT.items() if settings.get(n, most) is None}


def _workers(steps: Sequence[Settled]) -> int | None:
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
    units: str = "si",
    language: str = "en",
    tell: Listener = nobody,
    **given: object,
) -> Result:
    """Run one step, with those it needs before it, and write its layers.

    Parameters are those of `run`, and the step's own.
    """
    folder = Path(out)
    own = {p.name for p in step.parameters}
    output = {"out": folder, "units": units, "language": language}
    given |= {name: value for name, value in output.items() if name in own}
    given = step.settings(given)
    UNITS.check(units)
    LANGUAGE.check(language)
    if step.takes_results and is_result(source):
        with alone(folder), listening(tell):
            return step(read_result(source, lines or None), **given)
    with alone(folder), listening(tell):
        check_folder(folder, overwrite=overwrite)
        if to_postgis is not None:
            check_postgis(to_postgis, schema=schema, overwrite=overwrite)
        with staged(folder) as staging:
            job = read_job(source, lines=lines or None, mapping=mapping, **of_checks(given))
            result = _published(step(Result(job), **_into(staging, given)), staging)
            write_files(result, staging, units=units, language=language)
            _commit(result, staging, to_postgis, schema=schema, overwrite=overwrite, units=units,
                    language=language)  # fmt: skip
    return result


def _settled(given: Mapping[str, object]) -> list[tuple[Step, dict[str, object]]]:
    """Give each step its own parameters, checked before anything is read or written."""
    steps = load_steps().values()
    known = {p.name for step in steps for p in step.parameters}
    if unknown := sorted(set(given) - known):
        raise ParameterError(f"No step has a parameter {', '.join(unknown)}.")
    return [
        (step, step.settings({p.name: given.get(p.name) for p in step.parameters}))
        for step in steps
    ]
