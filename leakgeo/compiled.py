"""The one way that a loop is compiled: numba, cached on disk, with the types kept for mypy."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar, cast

import numba

if TYPE_CHECKING:
    from collections.abc import Callable

F = TypeVar("F", bound="Callable[..., object]")


def compiled(function: F) -> F:
    """Compile a function over arrays and numbers when it is first called.

    No fast-math: the same numbers must come out to the last bit, whatever the order of work.

    Examples
    --------
    >>> @compiled
    ... def double(x: float) -> float:
    ...     return 2.0 * x
    >>> double(1.5)
    3.0
    """
    return cast("F", numba.njit(cache=True, nogil=True, error_model="numpy")(function))
