"""Run every step on a job that was read, and write all files of the result together."""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

from leakgeo.checkpoint import checkpoint
from leakgeo.deliver.folder.superseded import keep
from leakgeo.deliver.folder.write import earlier_files, write_files
from leakgeo.deliver.geopackage.draft import Draft
from leakgeo.deliver.postgis.write import write_postgis
from leakgeo.errors import ParameterError
from leakgeo.faults import Fault
from leakgeo.job.results.read_back import iter_layer
from leakgeo.options import ALL_LINES
from leakgeo.progress import ignore, progress_to
from leakgeo.provenance import now_utc
from leakgeo.reason import Reason
from leakgeo.result import Result
from leakgeo.runner.layer_steps import run_layer_steps
from leakgeo.runner.selected import of_selected_lines
from leakgeo.runner.task import PlannedStep, run_steps
from leakgeo.selection import names_in, selection_of
from leakgeo.staging import staged

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from leakgeo.job.model import Job
    from leakgeo.progress import Listener
    from leakgeo.runner.layer_steps import Chunking
    from leakgeo.staging import Staging

#: A job of more lines is run in chunks.
CHUNK_LINES = 1000
# File name of the unfinished GeoPackage in the folder of the journal.
_DRAFT = "result.gpkg"
#: Lines that slow products of a large job show, by parameter.
LINE_LIMITS = {"map_lines": 1000, "report_lines": 100, "density_lines": 100}


@dataclass(frozen=True)
class Writing:
    """Where and how a result is written.

    Parameters
    ----------
    folder : pathlib.Path
        Locked by the caller.
    units : {"si", "us"} or None
        By the job if None.
    language : str
    overwrite : bool
        Replace what is there.
    to_postgis : str or None
        URL of a database that gets the result too.
    schema : str
        Schema of the database.
    compare : bool
        Write what changed since the result that is replaced.
    upsert : bool
        Replace only rows of the lines of the result there.
    keep_earlier : bool
        Keep the result that is replaced in the folder.
    """

    folder: Path
    units: str | None
    language: str
    overwrite: bool = False
    to_postgis: str | None = None
    schema: str = "leakgeo"
    compare: bool = False
    upsert: bool = False
    keep_earlier: bool = False

    def of_job(self, job: Job) -> Writing:
        """Return the same with the units of a job."""
        return replace(self, units=job.units(self.units))


def run_and_write(
    job: Job, steps: Sequence[PlannedStep], chunking: Chunking, writing: Writing,
    tell: Listener = ignore,
) -> Result:  # fmt: skip
    """Run every step on a job, and write all results.

    Parameters
    ----------
    job : Job
    steps : sequence of PlannedStep
    chunking : Chunking
    writing : Writing
    tell : callable
        Called with the progress.

    Returns
    -------
    Result
    """
    writing, kept = writing.of_job(job), chunking.kept
    for step, settings in steps:
        step.check_lines(settings, job)
    with ExitStack() as cleanup:
        cleanup.enter_context(progress_to(tell))
        with staged(writing.folder) as staging:
            result = _write(Result(job), steps, chunking, writing, staging, cleanup, tell)
            if kept is not None:
                kept.close(result)
    # The journal has been deleted; streamed layers are read from the file from now on.
    streamed = {n: partial(iter_layer, writing.folder, n, job.crs) for n in result.streamed}
    # The pieces are large, and in the file.
    told = None if result.kept is None else replace(result.kept, pieces={})
    return replace(result, streamed=streamed, kept=told)


def _write(
    result: Result, steps: Sequence[PlannedStep], chunking: Chunking, writing: Writing,
    staging: Staging, cleanup: ExitStack, tell: Listener,
) -> Result:  # fmt: skip
    """Run the steps, write the files into the staging folder, and put them in place."""
    steps = [PlannedStep(s, with_staging_folder(staging, settings)) for s, settings in steps]
    # Steps that write files run last, when no layer changes any more.
    layer_steps = [one for one in steps if not one.step.writes_files]
    file_steps = [one for one in steps if one.step.writes_files]
    result, journal = run_layer_steps(result, layer_steps, chunking, cleanup, tell)
    result = replace(of_selected_lines(result), written=now_utc())
    old = None
    if chunking.kept is not None and result.kept is not None:
        chunking.kept.load_pieces()  # a thread and this one use them
        result = replace(result, kept=replace(result.kept, notes=tuple(chunking.kept.faults)))
        old = writing.folder / _DRAFT
    units, language = str(writing.units), writing.language
    told = result.worded(units, language)  # once for all files
    draft = None
    if journal is not None:
        checkpoint()
        streams = replace(told, streamed=result.streamed)
        draft = Draft(streams, journal.folder / _DRAFT, units, language, old)
        cleanup.callback(draft.close)
    done = finished(told, file_steps, staging, writing, draft, tell)
    return _without_texts(done, told, result)


def _without_texts(done: Result, told: Result, result: Result) -> Result:
    """Return what steps that write files made of a result, with its layers from before."""
    layers = {n: result.layers[n] if told.layers.get(n) is f else f for n, f in done.layers.items()}
    return replace(
        done, layers=layers, streamed=result.streamed, has_texts=False,
        made=(*result.made, *done.made[len(result.made) :]), text_options=result.text_options,
    )  # fmt: skip


def finished(
    result: Result, file_steps: Sequence[PlannedStep], staging: Staging, writing: Writing,
    draft: Draft | None = None, tell: Listener | None = None,
) -> Result:  # fmt: skip
    """Run the steps that write files, write the files of all layers, and put them in place.

    Parameters
    ----------
    result : Result
        With all layers.
    file_steps : sequence of PlannedStep
        With the staging folder in their settings.
    staging : Staging
    writing : Writing
        With the units of the job.
    draft : Draft, optional
        The GeoPackage, if a thread is writing it already.
    tell : callable, optional
        Called with each step as it begins.
    """
    result = with_products(result, file_steps, len(result.job.routes), tell)
    result = with_output_folder(result, staging)
    units, language = str(writing.units), writing.language
    write_files(result, staging, units=units, language=language, draft=draft,
                compare=writing.compare)  # fmt: skip
    _commit(result, staging, writing)
    return result


def with_staging_folder(staging: Staging, settings: Mapping[str, object]) -> dict[str, object]:
    """Return settings of a step with the staging folder in place of the output folder."""
    return {**settings, **({"out": staging.path} if "out" in settings else {})}


def with_output_folder(result: Result, staging: Staging) -> Result:
    """Return a result whose parameters have the output folder in place of the staging folder."""
    parameters = {
        name: {**given, **({"out": staging.out} if "out" in given else {})}
        for name, given in result.parameters.items()
    }
    return replace(result, parameters=parameters)


def _commit(result: Result, staging: Staging, writing: Writing) -> None:
    """Replace files and tables; the database commits when only the files remain to be moved."""
    staging.flush()
    checkpoint()
    if writing.to_postgis is not None:
        write_postgis(
            result, writing.to_postgis, schema=writing.schema, overwrite=writing.overwrite,
            upsert=writing.upsert, units=str(writing.units), language=writing.language,
        )  # fmt: skip
    put_in_place(result, staging, writing)


def put_in_place(result: Result, staging: Staging, writing: Writing) -> None:
    """Move the files of a result into place, and keep those of the earlier one if asked for."""
    earlier = earlier_files(staging.out) if writing.overwrite else []
    name = keep(result, staging, earlier, writing.language) if writing.keep_earlier else ""
    staging.commit(earlier, name)


def with_products(
    result: Result, steps: Sequence[PlannedStep], lines: int, tell: Listener | None = None
) -> Result:
    """Run the steps that write files.

    Parameters
    ----------
    result : Result
        With the lines that they show, or all.
    steps : sequence of PlannedStep
    lines : int
        Lines of the job.
    tell : callable, optional
        Called with each step as it begins.
    """
    shown, faults = _with_selections(steps, result)
    result = result.adding({}, faults)
    for one in _with_line_limits(shown, lines):
        checkpoint()
        result = run_steps(result, [one], tell)
    return result


def _with_selections(
    steps: Sequence[PlannedStep], result: Result
) -> tuple[list[PlannedStep], list[Fault]]:
    """Let products show all lines where none has the status asked for: the run must not be lost."""
    shown, faults = [], []
    for one in steps:
        selection = selection_of(one.settings)
        try:
            if not selection.is_all:
                names_in(result, selection)
        except ParameterError as error:
            faults.append(Fault("lines", Reason("nothing_selected", error=str(error)),
                                effect="noted"))  # fmt: skip
            one = one._replace(settings={**one.settings, **ALL_LINES})  # noqa: PLW2901
        shown.append(one)
    return shown, list(dict.fromkeys(faults))


def _with_line_limits(steps: Sequence[PlannedStep], lines: int) -> Sequence[PlannedStep]:
    """Limit slow products of a large job to its top lines, unless their parameters are given."""
    if lines <= CHUNK_LINES:
        return steps
    most = [{n: k for n, k in LINE_LIMITS.items() if s.settings.get(n, k) is None} for s in steps]
    return [PlannedStep(s.step, s.settings | k) for s, k in zip(steps, most, strict=True)]
