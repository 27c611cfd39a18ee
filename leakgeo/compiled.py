"""The one way that a loop is compiled: numba, cached on disk, with the types kept for mypy."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar, cast

import numba

if TYPE_CHECKING:
    from collections.abc import Callable

# What LLVM may do to sums and products; it never takes NaN or infinities for impossible.
REGROUPING = {"reassoc", "contract", "nsz", "arcp"}

F = TypeVar("F", bound="Callable[..., object]")


def compiled(function: F) -> F:
    """Compile a function over arrays and numbers when it is first called.

    Sums may be taken in another order than written, but in the same one always: the same numbers
    come out to the last bit, whatever the order of work. Infinities and NaN are kept.

    Examples
    --------
    >>> @compiled
    ... def double(x: float) -> float:
    ...     return 2.0 * x
    >>> double(1.5)
    3.0
    """
    options: dict[str, Any] = {"nogil": True, "error_model": "numpy", "fastmath": REGROUPING}
    try:
        return cast("F", numba.njit(cache=True, **options)(function))
    except RuntimeError:  # nowhere to keep it: no folder can be written, or no file holds it
        return cast("F", numba.njit(**options)(function))
