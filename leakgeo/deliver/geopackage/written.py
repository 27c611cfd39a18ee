"""What the rows of a GeoPackage were made from, so that an update writes only the others."""

from __future__ import annotations

import io
import json
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.arrays import texts
from leakgeo.deliver.folder.record import versions
from leakgeo.deliver.geopackage.rows import OVER_ALL
from leakgeo.job.digest import LayerDigest, column_types, mixed
from leakgeo.job.row_hashes import row_hashes
from leakgeo.kept_pieces import Shelf
from leakgeo.registry import load_steps
from leakgeo.wording.layers import texts_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from numpy.typing import NDArray

    from leakgeo.arrays import Ints, Objects
    from leakgeo.deliver.geopackage.rows import LayerRows
    from leakgeo.result import Result

_PIECE, _ROWS = "geopackage", "rows"


@dataclass
class Written:
    """Keys and digests of the rows of every layer of a GeoPackage, in their order.

    Parameters
    ----------
    keys : dict of str to ndarray of uint64
        By layer: equal keys mean rows that are equal but for `OVER_ALL`.
    sums : dict of str to ndarray of uint64
        By layer: of each row, `leakgeo.job.digest.LayerDigest.rows` without `OVER_ALL`.
    numbers : dict of str to ndarray of int
        By layer: number of each row in the file.
    contents : dict of str to str
        Digest of the content of each layer.
    made_with : str
        What enters every row besides its key: versions, units, language, CRS.
    """

    keys: dict[str, NDArray[np.uint64]] = field(default_factory=dict)
    sums: dict[str, NDArray[np.uint64]] = field(default_factory=dict)
    numbers: dict[str, Ints] = field(default_factory=dict)
    contents: dict[str, str] = field(default_factory=dict)
    made_with: str = ""

    def noted(self, rows: LayerRows) -> Iterator[pd.DataFrame]:
        """Iterate over the typed parts of a layer that is written whole, and note their rows."""
        digest, sums = LayerDigest(column_types(rows.schema)), []
        for part in rows.parts():
            over_all = [name for name in OVER_ALL if name in part]
            sums.append(digest.rows(part.drop(columns=over_all) if over_all else part))
            if len(part):
                digest.add_rows(sums[-1] + digest.rows(pd.DataFrame(part)[over_all]))
            # Known before the last part is written, as its writer asks for no more.
            self.contents[rows.name] = digest.value
            self.sums[rows.name] = np.concatenate(sums)
            yield part

    def note(
        self, name: str, keys: NDArray[np.uint64], sums: NDArray[np.uint64], numbers: Ints,
        content: str,
    ) -> None:  # fmt: skip
        """Note the rows of a layer of which some were written."""
        self.keys[name], self.sums[name], self.numbers[name] = keys, sums, numbers
        self.contents[name] = content

    def save(self, result: Result, layers: Mapping[str, LayerRows], path: Path) -> None:
        """Keep this for the next run, as what is known of the file at `path`."""
        if result.kept is None:
            return
        for name, rows in layers.items():
            if name not in self.keys:
                self.keys[name], names = self.keys_of(rows)
                self.numbers[name] = rows.numbers(names)
        head = {"made_with": made_with(layers), "file": _stamp(path), "layers": [*layers]}
        arrays: dict[str, Any] = {f"k{i}": self.keys[name] for i, name in enumerate(layers)}
        arrays |= {f"s{i}": self.sums[name] for i, name in enumerate(layers)}
        arrays |= {f"n{i}": self.numbers[name] for i, name in enumerate(layers)}
        stored = io.BytesIO()
        np.savez(stored, head=np.frombuffer(json.dumps(head).encode(), dtype=np.uint8), **arrays)
        Shelf(result.kept, _PIECE).store(_ROWS, stored.getvalue())

    @classmethod
    def of(cls, result: Result, path: Path) -> Written | None:
        """Return what is kept of the file at `path`; None if it was changed since."""
        stored = Shelf(result.kept, _PIECE).find(_ROWS)
        if stored is None or not path.is_file():
            return None
        try:
            with np.load(io.BytesIO(stored)) as arrays:
                head = json.loads(arrays["head"].tobytes())
                keys = {str(n): arrays[f"k{i}"] for i, n in enumerate(head["layers"])}
                sums = {str(n): arrays[f"s{i}"] for i, n in enumerate(head["layers"])}
                numbers = {str(n): arrays[f"n{i}"] for i, n in enumerate(head["layers"])}
        except (OSError, ValueError, KeyError, TypeError):
            return None
        same = head["file"] == _stamp(path) and not _is_open(path)
        return cls(keys, sums, numbers, made_with=str(head["made_with"])) if same else None

    @staticmethod
    def keys_of(rows: LayerRows) -> tuple[NDArray[np.uint64], Objects]:
        """Return the keys of the rows of a layer, and their ``line_id`` where it is needed.

        Rows of lines are known by the digest of the inputs of the line, all others by their
        content.
        """
        nameless: Objects = np.full(len(rows.layer), None, dtype=object)
        if rows.of_job or rows.name not in _by_line_layers() or "line_id" not in rows.layer:
            return _of_content(rows.layer), nameless
        if rows.streamed is not None:
            counts: Mapping[str, int] = rows.streamed.counts()
            names = np.repeat(np.array([*counts], dtype=object), [*counts.values()])
            return _of_lines(names, rows.result), names
        names = texts(rows.layer, "line_id")
        keys = _of_lines(names, rows.result)
        if (free := keys == 0).any():
            keys[free] = _of_content(rows.layer[free])
        return keys, names


def made_with(layers: Mapping[str, LayerRows]) -> str:
    """Return what enters every row besides its key, as text."""
    rows = next(iter(layers.values()), None)
    if rows is None:
        return ""
    words = None if rows.words is None else [rows.words.units, rows.words.language]
    return json.dumps([versions(), words, rows.result.job.output_crs.to_wkt()])


def _stamp(path: Path) -> list[int]:
    there = path.stat()
    return [there.st_size, there.st_mtime_ns]


def _is_open(path: Path) -> bool:
    """Return whether another program has the file open for writing, or left it unfinished."""
    return any(path.with_name(path.name + end).exists() for end in ("-wal", "-journal"))


def _of_lines(names: Objects, result: Result) -> NDArray[np.uint64]:
    """Return a key of each row of a line from the digest of the line; 0 for other rows."""
    digests: Mapping[str, str] = {} if result.kept is None else result.kept.digests
    line, of_line = pd.factorize(names)
    known = np.array([int(digests.get(str(n), "0")[:16], 16) for n in of_line], dtype=np.uint64)
    known = np.append(known, np.uint64(0))[line]
    turn = pd.Series(line).groupby(line).cumcount().to_numpy().astype(np.uint64)
    return np.where(known == 0, np.uint64(0), _unlike(known, turn))


def _of_content(layer: pd.DataFrame) -> NDArray[np.uint64]:
    """Return a key of each row from its values; equal rows differ by their turn."""
    out: list[Any] = [n for n in (*OVER_ALL, *texts_of(layer)) if n in layer]
    hashes = row_hashes(layer.drop(columns=out))
    turn = pd.Series(hashes).groupby(hashes).cumcount().to_numpy().astype(np.uint64)
    return _unlike(hashes, turn)


def _unlike(hashes: NDArray[np.uint64], turn: NDArray[np.uint64]) -> NDArray[np.uint64]:
    return mixed(hashes + (turn + np.uint64(1)) * np.uint64(0x9E3779B97F4A7C15))


@cache
def _by_line_layers() -> frozenset[str]:
    steps = [step for step in load_steps().values() if step.by_line]
    return frozenset(name for step in steps for name in (*step.makes, *step.changes))
