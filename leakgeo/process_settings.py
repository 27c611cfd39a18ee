"""Settings of the whole process, shared by the threads that need them."""

from __future__ import annotations

from contextlib import contextmanager
from threading import Lock
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping
    from contextlib import AbstractContextManager


class SharedSetting:
    """A setting that the first thread makes and the last one undoes.

    Parameters
    ----------
    make : callable
        Gives the context manager that makes the setting.

    Examples
    --------
    >>> from contextlib import contextmanager
    >>> @contextmanager
    ... def loud():
    ...     print("on")
    ...     yield
    ...     print("off")
    >>> shared = SharedSetting(loud)
    >>> with shared, shared:
    ...     print("once")
    on
    once
    off
    """

    def __init__(self, make: Callable[[], AbstractContextManager[object]]) -> None:
        self._make, self._lock, self._inside = make, Lock(), 0

    def __enter__(self) -> None:
        with self._lock:
            if not self._inside:
                self._made = self._make()
                self._made.__enter__()
            self._inside += 1

    def __exit__(self, *_: object) -> None:
        with self._lock:
            self._inside -= 1
            if not self._inside:
                self._made.__exit__(None, None, None)


@contextmanager
def gdal_options(options: Mapping[str, str]) -> Iterator[None]:
    """Set options of GDAL, which are those of the process, and put them back."""
    import pyogrio

    before = {name: pyogrio.get_gdal_config_option(name) for name in options}
    pyogrio.set_gdal_config_options(dict(options))
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options(before)
