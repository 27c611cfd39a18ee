"""Executors of chunks: this process, processes of this machine, or the workers of a cluster."""

from __future__ import annotations

import multiprocessing
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import asdict, dataclass
from functools import lru_cache, partial
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from leakgeo.errors import JobError, LeakgeoError, ParameterError, parameter_label
from leakgeo.garbage import release_memory
from leakgeo.job.read import read_job
from leakgeo.job.sources import is_database
from leakgeo.options import of_checks
from leakgeo.processes import begin_worker, no_interrupt_for_children
from leakgeo.progress import ignore, progress_to
from leakgeo.runner.chunks import ChunkPlan

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from leakgeo.job.sources import JobSource
    from leakgeo.progress import Listener
    from leakgeo.runner.chunks import Chunk, DefaultErrors
    from leakgeo.runner.journal import Journal
    from leakgeo.runner.task import ChunkResult, Task

# Retries of a chunk whose worker died; on a cluster the scheduler repeats it.
_MAX_RETRIES = 2
# Chunks that a cluster has at a time, for each of its threads.
_A_THREAD = 3
# Time limit of the connection to a scheduler.
_TIMEOUT = "10s"
# How long one that died may take to come back.
_BACK = "60s"
# States of work that went with its scheduler.
_LOST = ("cancelled", "lost")


def _ignore() -> None:
    """Do nothing after a chunk."""


class Chunks(Protocol):
    """A plan: a job in chunks, or a large one in districts."""

    def chunk(self, number: int) -> Any:
        """Return what a task is run on."""


class ChunkTask(Protocol):
    """What is run on each chunk."""

    def run(self, chunk: Any, tell: Listener | None = None) -> Any:
        """Return the result of one chunk, which has `files`."""


class Executor(Protocol):
    """Runs a task on chunks, and stores the results."""

    def run_chunks(
        self,
        plan: Chunks,
        numbers: Iterable[int],
        task: ChunkTask,
        chunk_done: Callable[[], None] = _ignore,
    ) -> None:
        """Run a task on chunks.

        Parameters
        ----------
        plan : Chunks
            The job and its chunks.
        numbers : iterable of int
            Chunks to run.
        task : ChunkTask
        chunk_done : callable
            Called after each chunk.
        """


@dataclass(frozen=True)
class SameProcess:
    """Runs one chunk after the other in this process.

    Parameters
    ----------
    store : callable
        Called with the number of each chunk and its result.
    tell : callable
        Called with the progress of the steps; None if progress is counted in chunks.
    """

    store: Callable[[int, ChunkResult], None]
    tell: Listener | None = None

    def run_chunks(
        self,
        plan: Chunks,
        numbers: Iterable[int],
        task: ChunkTask,
        chunk_done: Callable[[], None] = _ignore,
    ) -> None:
        """Run a task on chunks."""
        with progress_to(self.tell or ignore):
            for number in numbers:
                self.store(number, task.run(plan.chunk(number), self.tell))
                chunk_done()


class Processes:
    """Runs chunks in processes of this machine; a process that dies is replaced.

    Parameters
    ----------
    journal : Journal
    count : int
        Number of processes.
    """

    def __init__(self, journal: Journal, count: int) -> None:
        self.journal, self.count = journal, count
        self._waiting: dict[Future[None], tuple[Chunk, int]] = {}

    def run_chunks(
        self,
        plan: Chunks,
        numbers: Iterable[int],
        task: ChunkTask,
        chunk_done: Callable[[], None] = _ignore,
    ) -> None:
        """Run a task on chunks, a few at a time.

        Raises
        ------
        LeakgeoError
            If the process of a chunk died three times.
        """
        self._task = task
        self._pool = self._new_pool()
        others = set(multiprocessing.active_children())
        try:
            for number in numbers:
                while len(self._waiting) > self.count:
                    self._collect(chunk_done)
                self._submit(plan.chunk(number), 0)
            while self._waiting:
                self._collect(chunk_done)
        except BaseException:
            # Chunks in progress are dropped; the journal has complete chunks only.
            for child in set(multiprocessing.active_children()) - others:
                child.terminate()
            # The thread of the pool must end before the interpreter does, which wakes it up.
            self._pool.shutdown(wait=True, cancel_futures=True)
            raise
        finally:
            self._pool.shutdown(wait=False, cancel_futures=True)

    def _new_pool(self) -> ProcessPoolExecutor:
        spawned = multiprocessing.get_context("spawn")
        return ProcessPoolExecutor(self.count, mp_context=spawned, initializer=begin_worker)

    def _submit(self, chunk: Chunk, failures: int) -> None:
        try:
            with no_interrupt_for_children():
                future = self._pool.submit(_run_and_store, chunk, self._task, self.journal)
        except BrokenProcessPool as error:
            # A process died since the last chunk was collected: this chunk is lost like the others.
            future = Future()
            future.set_exception(error)
        self._waiting[future] = chunk, failures

    def _collect(self, chunk_done: Callable[[], None]) -> None:
        """Wait for some chunks; if a process died, run the lost chunks again."""
        lost = self._lost(wait(self._waiting, return_when=FIRST_COMPLETED).done, chunk_done)
        if lost:
            # The other chunks of the broken pool end at once, done or lost.
            lost += self._lost(wait(self._waiting).done, chunk_done)
            self._pool.shutdown(wait=False, cancel_futures=True)
            self._pool = self._new_pool()
            for chunk, failures in lost:
                self._submit(chunk, failures)

    def _lost(
        self, ended: Iterable[Future[None]], chunk_done: Callable[[], None]
    ) -> list[tuple[Chunk, int]]:
        """Return the chunks whose process died, with the number of failures of each."""
        lost = []
        for future in ended:
            chunk, failures = self._waiting.pop(future)
            error = future.exception()
            if error is None or self.journal.has(chunk.number):
                chunk_done()
            elif not isinstance(error, BrokenProcessPool):
                raise error
            elif failures >= _MAX_RETRIES:
                raise _worker_died(chunk) from error
            else:
                lost.append((chunk, failures + 1))
        return lost


def _run_and_store(chunk: Chunk, task: ChunkTask, journal: Journal) -> None:
    """Run a task on one chunk, and store its result in the journal."""
    journal.store(chunk.number, task.run(chunk))
    release_memory()


def _worker_died(chunk: Chunk) -> LeakgeoError:
    return LeakgeoError(
        f"The process for the lines from {chunk.job.routes['line_id'].iloc[0]} on died three "
        "times: memory ran out, or the script that starts the run has no "
        "`if __name__ == '__main__':` before it. Add that, or use fewer workers, and resume the "
        "run."
    )


@dataclass(frozen=True)
class JobLocation:
    """Address of a job for the workers of a cluster.

    Parameters
    ----------
    source, mapping : str
        Address of the job, and of its mapping or None, on shared storage or in a database.
    lines : tuple of str
        Selected lines; all if empty.
    where : str or None
        Condition that selects lines instead.
    """

    source: str
    mapping: str | None
    lines: tuple[str, ...]
    where: str | None = None

    @classmethod
    def of(
        cls, source: JobSource, mapping: str | Path | None, lines: tuple[str, ...],
        where: str | None = None,
    ) -> JobLocation:  # fmt: skip
        """Return absolute addresses of a job and its mapping, which workers can open.

        Raises
        ------
        ParameterError
            If the job is in memory.
        """
        if not isinstance(source, (str, Path)):
            raise ParameterError.of(
                "scheduler", "workers of a cluster can't read a job in memory. Write the job to a "
                "file that they can open.",
            )  # fmt: skip
        there = str(source) if is_database(source) else str(Path(source).resolve())
        own = None if mapping is None else str(Path(mapping).resolve())
        return cls(there, own, lines, where)


@dataclass(frozen=True)
class Dask:
    """Runs chunks on the workers of a Dask cluster; each worker reads the job itself.

    Parameters
    ----------
    journal : Journal
    address : str
        Address of the scheduler, such as ``tcp://10.0.0.5:8786``.
    location : JobLocation
    """

    journal: Journal
    address: str
    location: JobLocation

    def run_chunks(
        self,
        plan: Chunks,
        numbers: Iterable[int],
        task: ChunkTask,
        chunk_done: Callable[[], None] = _ignore,
    ) -> None:
        """Run a task on chunks.

        If the scheduler dies, the chunks that are not done are sent to the next one at its address.

        Raises
        ------
        ParameterError
            If no scheduler answers at the address.
        JobError
            If a worker reads other layers than those of `plan`.
        """
        left, lost = dict.fromkeys(numbers), 0
        while left:
            with self._client(_BACK if lost else _TIMEOUT) as client:
                for number, files in self._results(client, plan, [*left], task):
                    self.journal.write(number, files)
                    del left[number]
                    chunk_done()
            lost += 1

    def _client(self, timeout: str) -> Any:
        """Connect to the scheduler."""
        try:
            return _distributed().Client(self.address, timeout=timeout, set_as_default=False)
        except (OSError, ValueError) as error:
            resume = f" Start it, and continue the run with {parameter_label('resume')}."
            more = resume if timeout == _BACK else ""
            raise ParameterError.of(
                "scheduler", f"none answers at {self.address} ({error}).{more}"
            ) from error

    def _results(
        self, client: Any, plan: Chunks, numbers: Sequence[int], task: ChunkTask
    ) -> Iterator[tuple[int, dict[str, bytes]]]:
        """Iterate over the results of chunks as they come, until the scheduler is lost."""
        sent = client.scatter(task, broadcast=True)
        submit = partial(client.submit, pure=False, retries=_MAX_RETRIES)
        if isinstance(plan, ChunkPlan):
            same = self.location, self.journal.key["input"], plan.size, plan.errors
            tasks = ((n, partial(submit, _run_on_worker, *same, n, sent)) for n in numbers)
        else:
            tasks = ((n, partial(_send, submit, plan, n, sent)) for n in numbers)
        most = _A_THREAD * max(sum(client.nthreads().values()), 1)
        futures = {begin(): n for n, begin in islice(tasks, most)}
        done = _distributed().as_completed(futures, client.loop, with_results=True)
        for future, files in done:
            if future.status in _LOST:
                return
            yield futures.pop(future), files
            future.release()
            for n, begin in islice(tasks, 1):
                futures[more := begin()] = n
                done.add(more)


def _send(submit: Callable[..., Any], plan: Chunks, number: int, task: Any) -> Any:
    """Submit a district with its rows, so that a worker needs no file of this machine."""
    return submit(_run_sent, plan.chunk(number).loaded(), task)


def _run_sent(district: Any, task: ChunkTask) -> dict[str, bytes]:
    """Run a task on one district in a worker of a cluster, and return the files of its result."""
    files: dict[str, bytes] = task.run(district).files()
    return files


def _distributed() -> Any:
    try:
        import distributed
    except ImportError as error:
        raise ParameterError.of(
            "scheduler",
            "Dask is not installed here. Call pip install '.[cluster]' in the copy of the "
            "repository, or pip install --no-index --find-links wheelhouse 'leakgeo[cluster]' with "
            "a wheelhouse.",
        ) from error
    return distributed


def _run_on_worker(
    location: JobLocation, digest: str, size: int, errors: DefaultErrors, number: int, task: Task
) -> dict[str, bytes]:
    """Run a task on one chunk in a worker of a cluster, and return the files of its result."""
    return task.run(_plan_on_worker(location, digest, size, errors).chunk(number)).files()


@lru_cache(maxsize=2)
def _plan_on_worker(
    location: JobLocation, digest: str, size: int, errors: DefaultErrors
) -> ChunkPlan:
    """Read the job in a worker and plan its chunks; cached for all chunks of the worker."""
    job = read_job(
        location.source, lines=location.lines or None, where=location.where,
        mapping=location.mapping,
        **of_checks(asdict(errors)),
    )  # fmt: skip
    if job.layers_digest != digest:
        raise JobError(
            f"A worker read another job at {location.source} than this machine: the file or the "
            "versions of packages differ. Give both the same file and versions."
        )
    return ChunkPlan.of(job, size, errors)
