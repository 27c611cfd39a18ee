"""Progress of long steps, reported to the log and to a listener."""

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

# Name that the progress of a large job is reported under; several chunks run at once.
CHUNKS = "chunks"


@dataclass(frozen=True, slots=True)
class Progress:
    """Progress of a step.

    Parameters
    ----------
    step : str
        Name of the step, or ``chunks`` for a large job.
    done : int
        Number of finished parts.
    total : int
        Number of parts; 0 when the step starts, or does not count parts.

    Examples
    --------
    >>> from leakgeo.progress import Progress
    >>> str(Progress("survey")), str(Progress("locate", 3, 28))
    ('survey ...', 'locate: 3 of 28')
    """

    step: str
    done: int = 0
    total: int = 0

    def __str__(self) -> str:
        return f"{self.step}: {self.done} of {self.total}" if self.total else f"{self.step} ..."


def ignore(_: Progress) -> None:
    """Do nothing with a progress report."""


_LISTENER: ContextVar[Listener] = ContextVar("leakgeo_progress", default=ignore)


def report(progress: Progress) -> None:
    """Report progress to the log and to the listener of this thread."""
    notify(progress, _LISTENER.get())


def notify(progress: Progress, listener: Listener) -> None:
    """Report progress to the log (start: INFO, parts: DEBUG) and to `listener`."""
    _log.log(logging.DEBUG if progress.total else logging.INFO, "%s", progress)
    listener(progress)


@contextmanager
def progress_to(listener: Listener) -> Iterator[None]:
    """Send the progress reports of this thread to `listener`.

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


def track(step: str, items: Iterable[T], total: int) -> Iterator[T]:
    """Yield items, and report how many of `total` are done.

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
    for number, item in enumerate(items, 1):
        yield item
        report(Progress(step, number, total))


def counter(step: str, total: int, listener: Listener) -> Callable[..., None]:
    """Return a function to call once for each finished part, in any order.

    With ``silent=True`` the part is counted without a report, as one from an earlier run.

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
