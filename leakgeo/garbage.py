"""Garbage collection of a process that holds millions of objects, few of which are in cycles."""

from __future__ import annotations

import gc


def collect_rarely() -> None:
    """Let this process look for cycles rarely; the default costs a sixth of a run."""
    gc.set_threshold(100_000, 50, 50)
