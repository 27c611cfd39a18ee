"""Run the steps that make layers: in memory, in chunks, or only for the lines that changed."""

from __future__ import annotations

import os
from dataclasses import dataclass, field, fields, replace
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.arrays import texts
from leakgeo.checkpoint import checkpoint
from leakgeo.dig.facilities import facility_faults, prepare_facilities
from leakgeo.dig.rules import assumptions, pick_rule
from leakgeo.kept_pieces import Kept
from leakgeo.progress import CHUNKS, counter
from leakgeo.runner.chunks import ChunkPlan, DefaultErrors
from leakgeo.runner.executors import Dask, JobLocation, Processes, SameProcess
from leakgeo.runner.journal import Journal, run_key
from leakgeo.runner.kept_lines import Share
from leakgeo.runner.law_check import moved_by_law, note_changes
from leakgeo.runner.line_digests import line_digests, with_other_layers
from leakgeo.runner.merge import Merge
from leakgeo.runner.task import StepFault, Task, in_order, run_steps
from leakgeo.runner.whole_job import LAWS, run_on_whole_job

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from contextlib import ExitStack
    from pathlib import Path

    from leakgeo.faults import Fault
    from leakgeo.job.reuse import Reuse
    from leakgeo.job.sources import JobSource
    from leakgeo.progress import Listener
    from leakgeo.result import Result
    from leakgeo.runner.executors import Executor
    from leakgeo.runner.kept_lines import KeptLines
    from leakgeo.runner.line_digests import LineDigests
    from leakgeo.runner.task import ChunkResult, PlannedStep


@dataclass(frozen=True)
class Chunking:
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
    kept : KeptLines or None
        Results of lines that are taken over where their inputs are the same.
    answered : callable or None
        Called with shares of stored chunks of an update: its lines whose inputs are not those of
        `answered_of`, as soon as they are there.
    answered_of : dict of str to str
        Digest of the inputs of each line that was answered last; it is kept up to date.
    reuse : Reuse or None
        Has what the last update of the same job made of layers that did not change.
    where : str or None
        Condition that selects lines instead of `lines`.
    """

    out: Path
    size: int
    workers: int | None
    resume: bool
    scheduler: str | None
    source: JobSource
    mapping: str | Path | None
    lines: tuple[str, ...]
    kept: KeptLines | None = None
    answered: Callable[[list[Share]], None] | None = None
    answered_of: dict[str, str] = field(default_factory=dict)
    reuse: Reuse | None = None
    where: str | None = None

    def in_memory(self, plan: ChunkPlan) -> bool:
        """Return whether the job is run in memory; else its chunks are written to disk."""
        to_disk = self.resume or self.scheduler is not None or self.kept is not None
        return plan.one_chunk and not to_disk

    def executor(self, journal: Journal, chunks: int) -> Executor:
        """Return the executor of chunks that are written to disk."""
        if self.scheduler is not None:
            location = JobLocation.of(self.source, self.mapping, self.lines, self.where)
            return Dask(journal, self.scheduler, location)
        count = self.workers or os.cpu_count() or 1
        # One chunk after an update is small, and a process would take longer to start.
        if count == 1 or (self.kept is not None and chunks == 1):
            return SameProcess(journal.store)
        return Processes(journal, count)


def run_layer_steps(
    result: Result, steps: Sequence[PlannedStep], chunking: Chunking, cleanup: ExitStack,
    tell: Listener,
) -> tuple[Result, Journal | None]:  # fmt: skip
    """Run the steps that make layers; those that work by line are run chunk by chunk.

    Chunks on disk are deleted when `cleanup` is closed without an error.

    Parameters
    ----------
    result : Result
        With the job only.
    steps : sequence of PlannedStep
        In the order of running.
    chunking : Chunking
    cleanup : contextlib.ExitStack
    tell : callable
        Called with the progress.

    Returns
    -------
    result : Result
    journal : Journal or None
        None if the job was run in memory.
    """
    first = next(k for k, one in enumerate(steps) if one.step.by_line)
    result = _earlier(result, steps[:first], chunking, tell)
    by_line = [one for one in steps[first:] if one.step.by_line]
    then = [one for one in steps[first:] if not one.step.by_line]
    plan = ChunkPlan.of(
        result.job, chunking.size, default_errors(steps), assign=chunking.kept is not None,
        reuse=chunking.reuse,
    )  # fmt: skip
    if chunking.in_memory(plan):
        return run_steps(_in_memory(result, by_line, plan, tell), then, tell), None
    given = {step.name: settings for step, settings in by_line}
    key = run_key(plan.job, {**result.parameters, **given}, chunking.size)
    # Nothing resumes a watch, and what it keeps has checksums.
    watched = chunking.answered is not None
    journal = cleanup.enter_context(Journal(chunking.out, key, resumable=not watched))
    journal.begin(resume=chunking.resume)
    # The result keeps the readings as read; their lines are in the layer readings_on_route.
    # A step that runs again may have other settings, so nothing that depends on them is kept.
    job = replace(plan.job, readings=result.job.readings, isolation=None, valve_closures=None)
    if chunking.kept is None:
        _run_chunks(plan, result, by_line, chunking, journal, tell)
        stored = [journal.chunk(number) for number in plan.numbers]
        shares = [Share.all_of(chunk) for chunk in stored]
    else:
        digests = line_digests(plan, result, by_line, [n for n in LAWS if n in result.layers])
        shares = _updated(plan, digests, result, by_line, chunking, journal, tell)
        kept = chunking.kept
        result = replace(
            result,
            kept=Kept(
                kept.digests(shares, digests), kept.pieces, kept.worked_out, tuple(kept.faults)
            ),
        )
    merge = Merge(plan, shares, _job_wide_faults(plan, given))
    checkpoint()
    result = merge.into(replace(result, job=job), by_line)
    checkpoint()
    result = run_steps(result, then, tell)
    if result.kept is not None and chunking.kept is not None:
        digests_of_all = with_other_layers(result, plan, by_line)
        chunking.kept.faults += _law_notes(result, plan, steps, chunking)
        result = replace(result, kept=replace(result.kept, digests=digests_of_all))
    return result, journal


def _law_notes(
    result: Result, plan: ChunkPlan, steps: Sequence[PlannedStep], chunking: Chunking
) -> list[Fault]:
    """Return a note if another law would move a status; a watch leaves that to the next update."""
    kept = chunking.kept
    ground = next(one for one in steps if one.step.name == "ground")
    if kept is None or ground.settings["ground"] is None or chunking.answered is not None:
        return []
    if not note_changes(kept):
        return []
    by_line = [one for one in steps if one.step.by_line]
    return moved_by_law(result, plan, by_line, ground, kept.worked_out)


def _earlier(
    result: Result, steps: Sequence[PlannedStep], chunking: Chunking, tell: Listener
) -> Result:
    """Run the steps before those by line; with a law that is held, what they made is reused."""
    held = any(one.step.name == "ground" and one.settings["ground"] is not None for one in steps)
    if chunking.reuse is None or chunking.kept is None or not held:
        return run_steps(result, steps, tell)
    return run_on_whole_job(result, steps, chunking.reuse, tell)


def _in_memory(
    result: Result, steps: Sequence[PlannedStep], plan: ChunkPlan, tell: Listener
) -> Result:
    """Run steps on the only chunk, which is the whole job."""
    finished: dict[int, ChunkResult] = {}
    task = Task.of(result, steps)
    SameProcess(finished.__setitem__, tell).run_chunks(plan, plan.numbers, task)
    return _with_faults_in_order(finished[0].result, len(result.made))


def _with_faults_in_order(result: Result, first: int) -> Result:
    """Return a result with the faults of its runs from the first on in the order of the lines."""
    names, made = texts(result.job.routes, "line_id"), list(result.made)
    for k, one in enumerate(made[first:], start=first):
        faults = in_order([StepFault(one.step, f) for f in one.faults], [one.step], names)
        made[k] = replace(one, faults=tuple(each.fault for each in faults))
    return replace(
        result, made=tuple(made), faults=tuple(fault for one in made for fault in one.faults)
    )


def _run_chunks(
    plan: ChunkPlan, before: Result, steps: Sequence[PlannedStep], chunking: Chunking,
    journal: Journal, tell: Listener,
) -> None:  # fmt: skip
    """Run steps on the chunks that the journal lacks."""
    numbers = [number for number in plan.numbers if not journal.has(number)]
    chunk_done = counter(CHUNKS, len(plan.numbers), tell)
    for _ in range(len(plan.numbers) - len(numbers)):
        chunk_done(silent=True)
    executor = chunking.executor(journal, len(plan.numbers))
    alone = isinstance(executor, SameProcess) and len(plan.numbers) == 1
    task = Task.of(
        replace(before, job=plan.job), steps if alone else [one.single_process() for one in steps]
    )
    executor.run_chunks(plan, numbers, task, chunk_done)


def _updated(
    plan: ChunkPlan, digests: LineDigests, before: Result, steps: Sequence[PlannedStep],
    chunking: Chunking, journal: Journal, tell: Listener,
) -> list[Share]:  # fmt: skip
    """Run steps on the lines whose inputs changed, and take the others over."""
    kept = chunking.kept
    assert kept is not None  # only then is a job updated
    shares = kept.taken(digests)
    _answer(shares, digests, kept, chunking)
    there = {name for share in shares for name in share.lines}
    loose = not any(share.loose for share in shares)
    names, rows = texts(plan.job.routes, "line_id"), plan.selected_rows
    # A route without a name has no result of its own.
    rows = rows[[name is not None and name not in there for name in names[rows]]]
    if loose and not len(rows):
        rows = plan.selected_rows[:1]  # steps need a line
    # First the lines that changed themselves, then those that were read with them.
    own = np.array([not kept.has_inputs(str(name), digests) for name in names[rows]], dtype=bool)
    kept.worked_out, kept.changed = (
        tuple(dict.fromkeys(str(name) for name in names[part])) for part in (rows, rows[own])
    )
    parts = [part for part in (rows[own], rows[~own]) if len(part)]
    for turn, part in enumerate(parts or ([rows] if loose else [])):
        if turn:
            checkpoint()
        todo = plan.limited(part, loose=loose)
        for number in todo.numbers:
            journal.keep_only(number, todo.lines_of(number), loose=loose and number == 0)
        _run_chunks(todo, before, steps, chunking, journal, tell)
        kept.keep(journal, todo.numbers, digests)
        shares, loose = kept.taken(digests), False
        _answer(shares, digests, kept, chunking)
    return shares


def _answer(
    shares: Sequence[Share], digests: LineDigests, kept: KeptLines, chunking: Chunking
) -> None:
    """Answer the lines of shares whose inputs are not those that were answered last.

    So is a line that is taken over from a run before the last, as its inputs are as they were then.
    """
    if chunking.answered is None:
        return
    now, before = kept.digests(shares, digests), chunking.answered_of
    lines = frozenset(name for name, digest in now.items() if before.get(name) != digest)
    own = [replace(one, lines=one.lines & lines, loose=False) for one in shares]
    if own := [one for one in own if one.lines]:
        chunking.answered(own)
    before.update(now)


def _job_wide_faults(plan: ChunkPlan, given: Mapping[str, Mapping[str, object]]) -> list[StepFault]:
    """Return the faults of the whole job, with the step that reports them of a job in memory."""
    faults = [StepFault("profile", fault) for fault in plan.faults]
    if plan.job.isolation is not None:
        faults += [StepFault("locate", fault) for fault in plan.job.isolation.faults]
    if plan.job.utilities is not None:
        rule = pick_rule(str(given["clearance"]["rule"]))
        facilities = prepare_facilities(plan.job.utilities, rule, assumptions())
        faults += [StepFault("clearance", fault) for fault in facility_faults(facilities)]
    return faults


def default_errors(steps: Sequence[PlannedStep]) -> DefaultErrors:
    """Return the settings of the steps that are needed to divide a job into chunks."""
    given = {one.step.name: one.settings for one in steps}
    both = {**given["profile"], **given["locate"]}
    return DefaultErrors(**{f.name: float(str(both[f.name])) for f in fields(DefaultErrors)})
