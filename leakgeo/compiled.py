"""The one way that a loop is compiled: numba, cached on disk, with the types kept for mypy."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar, cast

import numba

if TYPE_CHECKING:
    from collections.abc import Callable

F = TypeVar("F", bound="Callable[..., object]")


def compiled(function: F) -> F:
    """Compile a function over arrays and numbers when it is first called.

    No fast-math: the same numbers must come out to the last bit, whatever the order of work, and
    whether the code was compiled in this process or read from the cache.

    Examples
    --------
    >>> @compiled
    ... def double(x: float) -> float:
    ...     return 2.0 * x
    >>> double(1.5)
    3.0
    """
    options: dict[str, Any] = {"nogil": True, "error_model": "numpy"}
    try:
        return cast("F", numba.njit(cache=True, **options)(function))
    except RuntimeError:  # nowhere to keep it: no folder can be written, or no file holds it
        return cast("F", numba.njit(**options)(function))
