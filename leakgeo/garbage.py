"""Memory of a process that holds millions of objects, few of which are in cycles."""

from __future__ import annotations

import ctypes
import gc
import sys


def collect_rarely() -> None:
    """Let this process look for cycles rarely; the default costs a sixth of a run."""
    gc.set_threshold(100_000, 50, 50)


def release_memory() -> None:
    """Give free memory back to the system; allocators keep what a past stage took at its peak."""
    import pyarrow as pa  # slow to import

    pa.default_memory_pool().release_unused()
    if sys.platform == "linux":
        library = ctypes.CDLL(None)
        if hasattr(library, "malloc_trim"):  # of glibc
            library.malloc_trim(0)
