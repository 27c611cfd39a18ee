"""Compilation of loops with numba, cached on disk."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar, cast

import numba

if TYPE_CHECKING:
    from collections.abc import Callable

F = TypeVar("F", bound="Callable[..., object]")


def compiled(function: F) -> F:
    """Compile a function of arrays and numbers on its first call.

    Fast-math is off: results must be the same to the last bit in every run, with or without the
    cache. mypy sees the types of the function itself.

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
    except RuntimeError:  # no cache: the folder is read-only, or the function has no source file
        return cast("F", numba.njit(**options)(function))
