"""A GeoPackage that a thread writes while other files are made."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor, wait
from contextvars import copy_context
from typing import TYPE_CHECKING

from leakgeo.deliver.geopackage.layers import write_geopackage
from leakgeo.wording import wording

if TYPE_CHECKING:
    from pathlib import Path

    from leakgeo.result import Result


class Draft:
    """GeoPackage of a result, written in a thread; writing releases the interpreter lock.

    Parameters
    ----------
    result : Result
        Its layers should not change in later steps; else the draft can't be used.
    path : pathlib.Path
        Temporary file to write; an existing file is removed.
    units : {"si", "us"}
        Units of the texts in the layers; default SI.
    language : str
        Language of the texts; default English.
    old : pathlib.Path, optional
        As for `write_geopackage`.
    """

    def __init__(
        self, result: Result, path: Path, units: str = "si", language: str = "en",
        old: Path | None = None,
    ) -> None:  # fmt: skip
        self._layers, self._path = dict(result.layers), path
        path.unlink(missing_ok=True)
        pool = ThreadPoolExecutor(1)
        words = wording(units, language)
        # Checkpoints of the thread are those of its maker.
        self._done = pool.submit(copy_context().run, write_geopackage, result, path, words, old)
        pool.shutdown(wait=False)

    def close(self) -> None:
        """Wait until the thread uses its file no more."""
        wait([self._done])

    def moved(self, result: Result, path: Path) -> dict[str, str] | None:
        """Move the file to `path`, and return the digests of its layers.

        None if the result has other layers by now; nothing is moved then.

        Raises
        ------
        OutputError
            If it could not be written.
        """
        contents = self._done.result()
        same = self._layers.keys() == result.layers.keys()
        if not (same and all(result.layers[n] is layer for n, layer in self._layers.items())):
            return None
        self._path.replace(path)
        return contents
