"""Processes of this machine that work for this one: how they start and end."""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import sys
import threading
from contextlib import contextmanager
from types import ModuleType
from typing import TYPE_CHECKING

from leakgeo.garbage import collect_rarely

if TYPE_CHECKING:
    from collections.abc import Iterator


def begin_worker() -> None:
    """Prepare a process for work, and let it end with the process that started it."""
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _tune_garbage_collector()


def _end_with_parent() -> None:
    """End this process at once when its parent is gone, even by a signal that none can handle.

    It would wait for work without end, as the other workers hold the queue open.
    """
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _tune_garbage_collector() -> None:
    """Exclude modules from garbage collection, and collect rarely: chunks leave few cycles."""
    gc.freeze()
    collect_rarely()


@contextmanager
def no_interrupt_for_children() -> Iterator[None]:
    """Block SIGINT in processes started meanwhile; only this process handles an interrupt."""
    if sys.platform == "win32":
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextmanager
def no_script_for_children() -> Iterator[None]:
    """Keep processes started meanwhile from running the script of this one as they begin.

    A script without ``if __name__ == "__main__":`` would do all its work again in each of them.
    """
    script = sys.modules["__main__"]
    sys.modules["__main__"] = ModuleType("__main__")
    try:
        yield
    finally:
        sys.modules["__main__"] = script
