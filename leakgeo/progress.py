"""How far long work is: steps tell it, and whoever runs them listens."""

from __future__ import annotations

import logging
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from itertools import count
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    Listener = Callable[["Progress"], None]

T = TypeVar("T")

_log = logging.getLogger("leakgeo")

# What the parts of a large job are counted as; several are done at once.
CHUNKS = "chunks"


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a step is.

    Parameters
    ----------
    step : str
        What is at work: the name of a step, or ``chunks`` of a large job.
    done : int
        Parts that are done.
    total : int
        Parts in all; 0 where the step does not count any, or begins.

    Examples
    --------
    >>> str(Progress("survey")), str(Progress("locate", 3, 28))
    ('survey ...', 'locate: 3 of 28')
    """

    step: str
    done: int = 0
    total: int = 0

    def __str__(self) -> str:
        return f"{self.step}: {self.done} of {self.total}" if self.total else f"{self.step} ..."


def ignore(_: Progress) -> None:
    """Listen to nothing."""


_LISTENER: ContextVar[Listener] = ContextVar("leakgeo_progress", default=ignore)


def report(progress: Progress) -> None:
    """Report to the log, and to whoever listens, how far a step is."""
    notify(progress, _LISTENER.get())


def notify(progress: Progress, listener: Listener) -> None:
    """Report to the log, that a step begins as information and its parts for debugging."""
    _log.log(logging.DEBUG if progress.total else logging.INFO, "%s", progress)
    listener(progress)


@contextmanager
def progress_to(listener: Listener) -> Iterator[None]:
    """Hand what steps tell in this thread to `listener`.

    Examples
    --------
    >>> with progress_to(print):
    ...     report(Progress("survey"))
    survey ...
    """
    before = _LISTENER.set(listener)
    try:
        yield
    finally:
        _LISTENER.reset(before)


def track(step: str, things: Iterable[T], total: int) -> Iterator[T]:
    """Give things one by one, and tell how many of `total` are done.

    Examples
    --------
    >>> with progress_to(print):
    ...     print(list(track("report", "ab", 2)))
    report: 0 of 2
    report: 1 of 2
    report: 2 of 2
    ['a', 'b']
    """
    report(Progress(step, 0, total))
    for number, thing in enumerate(things, 1):
        yield thing
        report(Progress(step, number, total))


def counter(step: str, total: int, listener: Listener) -> Callable[..., None]:
    """Give what to call for every part that is done, in whatever order.

    With ``silent=True`` the part is counted and not told: it was done before.

    Examples
    --------
    >>> advance = counter("chunks", 2, print)
    >>> advance(silent=True)
    >>> advance()
    chunks: 2 of 2
    """
    numbers = count(1)

    def advance(*, silent: bool = False) -> None:
        done = next(numbers)
        if not silent:
            notify(Progress(step, done, total), listener)

    return advance
