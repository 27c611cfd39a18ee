"""A large job, chunk by chunk, and its result put together again."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import partial
from typing import TYPE_CHECKING

from leakgeo.find.locate.layers import dig_rank, priority
from leakgeo.progress import CHUNKS, counting
from leakgeo.provenance import in_chunks
from leakgeo.registry import load_steps
from leakgeo.result import joined
from leakgeo.runner.chunks import Cut, Errors, settled
from leakgeo.runner.journal import Journal, key_of
from leakgeo.runner.processes import Processes
from leakgeo.runner.task import ROW, Task

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    import pandas as pd

    from leakgeo.job.sources import JobSource
    from leakgeo.progress import Listener
    from leakgeo.result import Result
    from leakgeo.runner.task import Settled

# Too long to hold for all lines at once; it goes from the parts straight into the file.
STREAMED = "profile"
# Of so many lines, the first by priority, it is held all the same: map and report show them.
FIRST = 1000
# Layers that come by the names of the lines; the others in the order of the routes.
_BY_NAME = {"lines", "levers", "evidence"}


@dataclass(frozen=True)
class Batch:
    """How a large job is run.

    Parameters
    ----------
    out : pathlib.Path
    size : int
        Lines a chunk.
    workers : int or None
        Processes; as many as there are processors where None.
    resume : bool
    tell : callable
        Called with how far it is.
    scheduler : str or None
        Address of a Dask scheduler whose workers do it instead.
    source, mapping : JobSource, str or pathlib.Path or None
        Where those workers read the job.
    lines : tuple of str
        Lines that were asked for; all where empty.
    """

    out: Path
    size: int
    workers: int | None
    resume: bool
    tell: Listener
    scheduler: str | None = None
    source: JobSource = ""
    mapping: str | Path | None = None
    lines: tuple[str, ...] = ()


def run_steps(ahead: Result, steps: Sequence[Settled], batch: Batch) -> tuple[Result, Journal]:
    """Run steps that work line by line over all chunks of a job.

    Parameters
    ----------
    ahead : Result
        With what the steps before made of the whole job.
    steps : sequence of (Step, settings)
    batch : Batch

    Returns
    -------
    result : Result
        As of a run in one go, but for the profile, which is streamed from the journal.
    journal : Journal
        To be ended once the result is written.
    """
    parameters = {step.name: settings for step, settings in steps}
    ground = _ground(parameters)
    job = settled(ahead.job, ground)
    ahead = replace(ahead, job=job)
    journal = Journal(batch.out, key_of(job, {**ahead.parameters, **parameters}, batch.size))
    journal.begin(resume=batch.resume)
    cut = Cut.of(job, batch.size, ground)
    _work_off(cut, Task.of(ahead, steps), journal, batch, ground)
    return _together(ahead, parameters, journal, cut.numbers), journal


def _ground(parameters: Mapping[str, Mapping[str, object]]) -> Errors:
    """Settings of the steps that matter before a job is cut."""
    given = {**parameters["profile"], **parameters["locate"]}
    return Errors(**{f.name: float(str(given[f.name])) for f in fields(Errors)})


def _work_off(cut: Cut, task: Task, journal: Journal, batch: Batch, ground: Errors) -> None:
    """Work off the chunks that are not done yet."""
    told = counting(CHUNKS, len(cut.numbers), batch.tell)
    left = [number for number in cut.numbers if not journal.has(number)]
    for _ in range(len(cut.numbers) - len(left)):
        told(silent=True)
    if batch.scheduler is None:
        processes = Processes(task, journal, batch.workers)
        processes.work_off((cut.chunk(number) for number in left), told)
        return
    from leakgeo.runner import cluster

    there = cluster.shared(batch.source, batch.mapping)
    where = cluster.Where(*there, batch.lines, batch.size, ground, journal.key["input"])
    cluster.work_off(left, where, task, journal, batch.scheduler, told)


def _together(
    ahead: Result, parameters: Mapping[str, Mapping[str, object]], journal: Journal,
    numbers: Sequence[int],
) -> Result:  # fmt: skip
    """Put the parts together, in the order that one run would have made them in."""
    layers = {
        name: joined([journal.layer(k, name) for k in numbers])
        for name in journal.names(numbers[0])
        if name != STREAMED
    }
    placed = layers["readings_on_route"].sort_values(ROW, ignore_index=True)
    # Codes of what compares with what are numbered in the order of all readings.
    walk = placed.groupby([placed["line_id"].fillna(""), "walk"], sort=True).ngroup()
    layers["readings_on_route"] = placed.drop(columns=ROW).assign(walk=walk)
    for name in _BY_NAME & set(layers):
        layers[name] = layers[name].sort_values("line_id", ignore_index=True, kind="stable")
    lines = layers["lines"]
    lines["priority"] = priority(lines)
    lines["dig_rank"] = dig_rank(lines)
    faults = dict.fromkeys(fault for k in numbers for fault in journal.faults(k))
    first = lines.nsmallest(FIRST, "priority")["line_id"]
    layers[STREAMED] = joined([journal.layer(k, STREAMED, first) for k in numbers])
    done = replace(
        ahead.adding(layers, faults),
        parameters={**ahead.parameters, **parameters},
        streamed={STREAMED: partial(_parts, journal, numbers)},
    )
    return in_chunks(done, [(load_steps()[name], given) for name, given in parameters.items()])


def _parts(journal: Journal, numbers: Sequence[int]) -> Iterator[pd.DataFrame]:
    """The streamed layer, part by part."""
    return (journal.layer(k, STREAMED) for k in numbers)
