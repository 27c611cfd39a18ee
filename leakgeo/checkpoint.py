"""Points of the writing of a result at which it ends if nobody wants it any more."""

from __future__ import annotations

from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator


def go_on() -> None:
    """Let the writing go on."""


_CHECK: ContextVar[Callable[[], None]] = ContextVar("leakgeo_checkpoint", default=go_on)


def checkpoint() -> None:
    """Raise what the check of this context raises; everything worked out so far is kept."""
    _CHECK.get()()


@contextmanager
def ended_by(check: Callable[[], None]) -> Iterator[None]:
    """Call `check` at each checkpoint of this context; an exception of it ends the writing.

    Examples
    --------
    >>> with ended_by(lambda: print("go on")):
    ...     checkpoint()
    go on
    >>> checkpoint()
    """
    before = _CHECK.set(check)
    try:
        yield
    finally:
        _CHECK.reset(before)
