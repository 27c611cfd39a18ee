"""A GeoPackage that is written in a thread while other files are made."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

from leakgeo.deliver.geopackage.layers import write_geopackage

if TYPE_CHECKING:
    from pathlib import Path

    from leakgeo.result import Result


class Draft:
    """A result's GeoPackage in the making; writing it leaves the interpreter free for others.

    Parameters
    ----------
    result : Result
        No step after this one may change a layer.
    path : pathlib.Path
        A file that does not exist yet.
    units : {"si", "us"}
        Units of the texts in the layers.
    language : str
        Language of them.
    """

    def __init__(self, result: Result, path: Path, units: str = "si", language: str = "en") -> None:
        self._layers, self._path = dict(result.layers), path
        path.unlink(missing_ok=True)
        pool = ThreadPoolExecutor(1)
        self._done = pool.submit(write_geopackage, result.worded(units, language), path)
        pool.shutdown(wait=False)

    def moved(self, result: Result, path: Path) -> dict[str, str] | None:
        """Put it where the result is written, and give the digests of its layers.

        None where the result has other layers by now.

        Raises
        ------
        OutputError
            If it couldn't be written.
        """
        contents = self._done.result()
        same = self._layers.keys() == result.layers.keys()
        if not (same and all(result.layers[n] is layer for n, layer in self._layers.items())):
            return None
        self._path.replace(path)
        return contents
