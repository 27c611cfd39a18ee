"""Chunks worked off by processes of this machine."""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from typing import TYPE_CHECKING

from leakgeo.errors import LeakgeoError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from leakgeo.runner.chunks import Chunk
    from leakgeo.runner.journal import Journal
    from leakgeo.runner.task import Task

# A worker that dies is given so many more goes.
_MORE_GOES = 2


class Processes:
    """Processes that work chunks off and keep what they made; one that dies is replaced.

    Parameters
    ----------
    task : Task
    journal : Journal
    count : int or None
        How many; as many as there are processors where None.
    """

    def __init__(self, task: Task, journal: Journal, count: int | None) -> None:
        self.task, self.journal = task, journal
        self.count = count or os.cpu_count() or 1
        self._waiting: dict[Future[None], tuple[Chunk, int]] = {}

    def work_off(self, chunks: Iterable[Chunk], told: Callable[[], None]) -> None:
        """Work all chunks off, a few at a time; `told` is called after each.

        Raises
        ------
        LeakgeoError
            If a chunk was begun three times and its process died each time.
        """
        if self.count == 1:
            for chunk in chunks:
                keep(chunk, self.task, self.journal)
                told()
            return
        self._pool = self._fresh()
        others = set(multiprocessing.active_children())
        try:
            for chunk in chunks:
                while len(self._waiting) > self.count:
                    self._collect(told)
                self._begin(chunk, 0)
            while self._waiting:
                self._collect(told)
        except BaseException:
            # Nobody waits for what is not wanted any more; what is kept is whole.
            for child in set(multiprocessing.active_children()) - others:
                child.terminate()
            raise
        finally:
            self._pool.shutdown(wait=False, cancel_futures=True)

    def _fresh(self) -> ProcessPoolExecutor:
        spawned = multiprocessing.get_context("spawn")
        return ProcessPoolExecutor(self.count, mp_context=spawned, initializer=_spare_the_collector)

    def _begin(self, chunk: Chunk, gone: int) -> None:
        with _no_interrupt_for_children():
            future = self._pool.submit(keep, chunk, self.task, self.journal)
        self._waiting[future] = chunk, gone

    def _collect(self, told: Callable[[], None]) -> None:
        """Wait for some chunks; where a worker died, begin again with those that are lost."""
        done, _ = wait(self._waiting, return_when=FIRST_COMPLETED)
        lost = []
        for future in done:
            chunk, gone = self._waiting.pop(future)
            try:
                future.result()
                told()
            except BrokenProcessPool as error:
                if gone >= _MORE_GOES:
                    raise _given_up(chunk) from error
                lost.append((chunk, gone + 1))
        if lost:
            self._begin_again([*lost, *((c, gone + 1) for c, gone in self._waiting.values())])

    def _begin_again(self, lost: Sequence[tuple[Chunk, int]]) -> None:
        self._waiting.clear()
        self._pool.shutdown(wait=False, cancel_futures=True)
        self._pool = self._fresh()
        for chunk, gone in lost:
            if not self.journal.has(chunk.number):
                self._begin(chunk, gone)


def _spare_the_collector() -> None:
    """Modules stay, and a chunk leaves few cycles: the collector looks seldom, and not at them."""
    gc.freeze()
    gc.set_threshold(100_000, 50, 50)


@contextmanager
def _no_interrupt_for_children() -> Iterator[None]:
    """Let processes that begin now not hear an interrupt of the terminal: it is for this one."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def keep(chunk: Chunk, task: Task, journal: Journal) -> None:
    """Run the steps on one chunk and keep what they made."""
    journal.keep(chunk.number, task.done(chunk).files())


def _given_up(chunk: Chunk) -> LeakgeoError:
    return LeakgeoError(
        f"The lines from {chunk.job.routes['line_id'].iloc[0]} on were given up: the process that "
        "worked on them died three times, perhaps for want of memory."
    )
