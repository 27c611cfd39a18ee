"""Settings of the whole process that several threads use at once."""

from __future__ import annotations

from contextlib import contextmanager
from threading import Lock
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping
    from contextlib import AbstractContextManager


class SharedSetting:
    """A context manager shared by threads: entered by the first, exited by the last.

    Parameters
    ----------
    make : callable
        Returns the context manager that makes and undoes the setting.

    Examples
    --------
    >>> from contextlib import contextmanager
    >>> @contextmanager
    ... def setting():
    ...     print("on")
    ...     yield
    ...     print("off")
    >>> shared = SharedSetting(setting)
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
    """Set GDAL options, which apply to the whole process, and restore them on exit."""
    import pyogrio

    before = {name: pyogrio.get_gdal_config_option(name) for name in options}
    pyogrio.set_gdal_config_options(dict(options))
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options(before)
