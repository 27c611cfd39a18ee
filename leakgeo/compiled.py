"""Compilation of loops with numba, cached on disk."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar, cast

import numba

if TYPE_CHECKING:
    from collections.abc import Callable

F = TypeVar("F", bound="Callable[..., object]")


# No compiled function is passed to another one.
_OPTIONS: dict[str, Any] = {"nogil": True, "error_model": "numpy", "no_cfunc_wrapper": True}


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
    return _compiled(function, _OPTIONS)


def compiled_part(function: F) -> F:
    """Compile a function that compiled functions alone call.

    It has no wrapper that takes arguments of Python, which would take as long to compile again.

    Examples
    --------
    >>> @compiled_part
    ... def half(x: float) -> float:
    ...     return 0.5 * x
    >>> @compiled
    ... def quarter(x: float) -> float:
    ...     return half(half(x))
    >>> quarter(1.0)
    0.25
    """
    return _compiled(function, {**_OPTIONS, "no_cpython_wrapper": True})


def inlined(function: F) -> F:
    """Write a function into the compiled functions that call it, instead of compiling it alone.

    For what is called at one place: it is not compiled once more as a part of its caller. It can
    be called from Python too, and is then compiled alone.

    Examples
    --------
    >>> @inlined
    ... def half(x: float) -> float:
    ...     return 0.5 * x
    >>> half(1.0)
    0.5
    """
    return _compiled(function, {**_OPTIONS, "inline": "always"})


def _compiled(function: F, options: dict[str, Any]) -> F:
    try:
        return cast("F", numba.njit(cache=True, **options)(function))
    except RuntimeError:  # no cache: the folder is read-only, or the function has no source file
        return cast("F", numba.njit(**options)(function))
