"""A large job, chunk by chunk, and its result put together again."""

from __future__ import annotations

import multiprocessing
import os
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import pandas as pd

from leakgeo.batch.chunks import asked, chunks, settled
from leakgeo.batch.journal import Journal, key_of
from leakgeo.errors import LeakgeoError
from leakgeo.find.layers import priority
from leakgeo.progress import counting
from leakgeo.registry import load_steps

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from pathlib import Path

    from leakgeo.batch.chunks import Chunk
    from leakgeo.job.model import Job
    from leakgeo.progress import Listener
    from leakgeo.registry import Step
    from leakgeo.result import Result

# A worker that dies is given so many more goes.
_MORE_GOES = 2
_ROW = "row_in_job"
# Too long to hold for all lines at once; it goes from the parts straight into the file.
STREAMED = "profile"
# Of so many lines, the first by priority, it is held all the same: map and report show them.
FIRST = 1000
# Layers that come by the names of the lines; the others in the order of the routes.
_BY_NAME = {"lines", "levers"}

Settled = tuple["Step", "dict[str, object]"]


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
        Called with how many chunks are done.
    """

    out: Path
    size: int
    workers: int | None
    resume: bool
    tell: Listener


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
    ground = (
        _of(parameters, "profile", "route_sd_m", 0.3),
        _of(parameters, "locate", "join_gap_m", 0.3),
    )
    errors = (
        _of(parameters, "profile", "reading_sd_m", 1.5),
        _of(parameters, "profile", "tape_sd_m", 0.05),
    )
    job = settled(ahead.job, ground[0], *errors)
    ahead = replace(ahead, job=job)
    journal = Journal(batch.out, key_of(job, {**ahead.parameters, **parameters}, batch.size))
    journal.begin(resume=batch.resume)
    parts = chunks(job, batch.size, route_sd_m=ground[0], join_gap_m=ground[1])
    numbers = _work_off(parts, ahead, steps, journal, batch)
    return _together(ahead, parameters, journal, numbers), journal


def _of(
    parameters: Mapping[str, Mapping[str, object]], step: str, name: str, usual: float
) -> float:
    return float(str(parameters.get(step, {}).get(name, usual)))


def _work_off(
    parts: Iterator[Chunk], ahead: Result, steps: Sequence[Settled], journal: Journal, batch: Batch
) -> list[int]:
    """Work the chunks off, a few at a time, and give their numbers; a lost worker is replaced."""
    names = [(step.name, _alone(settings)) for step, settings in steps]
    bare = replace(ahead, job=_without_layers(ahead.job))
    count = batch.workers or os.cpu_count() or 1
    told = counting("chunks", -(-int(asked(ahead.job).sum()) // batch.size), batch.tell)
    numbers: list[int] = []
    waiting: dict[Future[int], tuple[Chunk, int]] = {}
    pool = _pool(count)
    try:
        for chunk in parts:
            numbers.append(chunk.number)
            if journal.has(chunk.number):
                told(silent=True)
                continue
            if count == 1:
                _one(chunk, bare, names, journal)
                told()
                continue
            while len(waiting) > count:
                pool = _collect(waiting, pool, bare, names, journal, batch, told)
            waiting[pool.submit(_one, chunk, bare, names, journal)] = chunk, 0
        while waiting:
            pool = _collect(waiting, pool, bare, names, journal, batch, told)
    finally:
        pool.shutdown(wait=False, cancel_futures=True)
    return numbers


def _without_layers(job: Job) -> Job:
    """A job that goes to each process beside its chunk, which has layers of its own."""
    return replace(
        job, routes=job.routes.iloc[:0], readings=job.readings.iloc[:0], contacts=None,
        meter_tests=None, utilities=None, surfaces=None, history=None, dig_outcomes=None,
        ground=None,
    )  # fmt: skip


def _alone(settings: Mapping[str, object]) -> dict[str, object]:
    """Settings in a process among others: one line at a time."""
    return {**settings, **({"workers": 1} if "workers" in settings else {})}


def _pool(count: int) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(count, mp_context=multiprocessing.get_context("spawn"))


def _collect(
    waiting: dict[Future[int], tuple[Chunk, int]], pool: ProcessPoolExecutor, bare: Result,
    names: Sequence[tuple[str, dict[str, object]]], journal: Journal, batch: Batch,
    told: Callable[..., None],
) -> ProcessPoolExecutor:  # fmt: skip
    """Wait for some chunks; where a worker died, begin again with those that are lost."""
    done, _ = wait(waiting, return_when=FIRST_COMPLETED)
    lost = []
    for future in done:
        chunk, gone = waiting.pop(future)
        try:
            future.result()
            told()
        except BrokenProcessPool as error:
            if gone >= _MORE_GOES:
                raise LeakgeoError(
                    f"The lines from {chunk.job.routes['line_id'].iloc[0]} on were given up: the "
                    "process that worked on them died three times, perhaps for want of memory."
                ) from error
            lost.append((chunk, gone + 1))
    if not lost:
        return pool
    lost += [(chunk, gone + 1) for chunk, gone in waiting.values()]
    waiting.clear()
    pool.shutdown(wait=False, cancel_futures=True)
    fresh = _pool(batch.workers or os.cpu_count() or 1)
    for chunk, gone in lost:
        if not journal.has(chunk.number):
            waiting[fresh.submit(_one, chunk, bare, names, journal)] = chunk, gone
    return fresh


def _one(
    chunk: Chunk, bare: Result, names: Sequence[tuple[str, dict[str, object]]], journal: Journal
) -> int:
    """Run the steps on one chunk and keep what they made."""
    steps, result = load_steps(), replace(bare, job=chunk.job)
    for name, settings in names:
        result = steps[name](result, **settings)
    layers = {n: layer for n, layer in result.layers.items() if n not in bare.layers}
    placed = layers["readings_on_route"].reset_index(drop=True).assign(**{_ROW: chunk.rows})
    layers["readings_on_route"] = placed[placed[_ROW] >= 0]
    own = chunk.job.routes.loc[asked(chunk.job), "line_id"]
    layers = {n: _of_lines(layer, set(own)) for n, layer in layers.items()}
    journal.keep(chunk.number, layers, result.faults[len(bare.faults) :])
    return chunk.number


def _of_lines(layer: pd.DataFrame, own: set[str]) -> pd.DataFrame:
    """Rows of the chunk's own lines, and of none."""
    if "line_id" not in layer or _ROW in layer:
        return layer
    return layer[layer["line_id"].isin(own) | layer["line_id"].isna()]


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
    placed = layers["readings_on_route"].sort_values(_ROW, ignore_index=True)
    # Codes of what compares with what are numbered in the order of all readings.
    walk = placed.groupby([placed["line_id"].fillna(""), "walk"], sort=True).ngroup()
    layers["readings_on_route"] = placed.drop(columns=_ROW).assign(walk=walk)
    for name in _BY_NAME & set(layers):
        layers[name] = layers[name].sort_values("line_id", ignore_index=True, kind="stable")
    lines = layers["lines"]
    lines["priority"] = priority(lines)
    faults = dict.fromkeys(fault for k in numbers for fault in journal.faults(k))
    first = lines.nsmallest(FIRST, "priority")["line_id"]
    layers[STREAMED] = joined([p[p["line_id"].isin(first)] for p in _parts(journal, numbers)])
    return replace(
        ahead.adding(layers, faults),
        parameters={**ahead.parameters, **parameters},
        streamed={STREAMED: partial(_parts, journal, numbers)},
    )


def _parts(journal: Journal, numbers: Sequence[int]) -> Iterator[pd.DataFrame]:
    """The streamed layer, part by part."""
    return (journal.layer(k, STREAMED) for k in numbers)


def joined(parts: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Put parts of one layer together; those without rows have no say in the types."""
    full = [part for part in parts if len(part)]
    return pd.concat(full or parts[:1], ignore_index=True)
