"""Read the layers of a source through a mapping, as if they were layers of the contract."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from leakgeo.errors import JobError
from leakgeo.job.mapping.apply_layer import placed, renamed, with_points
from leakgeo.job.mapping.model import Mistakes, meant
from leakgeo.job.schema import load_schemas
from leakgeo.job.sources.layers import RawLayer
from leakgeo.job.sources.source import open_source, read_layer

if TYPE_CHECKING:
    from collections.abc import Iterator

    from leakgeo.job.mapping.model import JobMapping, LayerMap
    from leakgeo.job.schema import LayerSchema
    from leakgeo.job.sources.layers import Source


def apply_mapping(opened: Source, mapping: JobMapping) -> Source:
    """Read what a mapping names, under the names, codes and units of the contract.

    Parameters
    ----------
    opened : Source
        What the job is read from.
    mapping : JobMapping

    Returns
    -------
    Source
        With the mapped layers read already; layers of the contract that the mapping does not name
        stay as they are in the source.

    Raises
    ------
    JobError
        If the mapping does not fit the source; it carries every mistake.
    """
    mistakes = Mistakes(mapping.path, mapping.text, list(mapping.faults))
    work = _Applying(opened, mistakes, decimal_comma=mapping.decimal_comma)
    ready = {n: work.layer(load_schemas("input")[n], parts) for n, parts in mapping.layers.items()}
    work.mistakes.stop_if_any()
    # A layer that stands for another one is not read a second time under its own name.
    taken = (mapping.left_out | work.used) - mapping.layers.keys()
    layers = {n: p for n, p in opened.layers.items() if n not in taken}
    layers |= {n: (opened.path, n) for n in ready}
    whole = {n: raw for n, raw in ready.items() if raw is not None}
    return replace(
        opened, layers=layers, ready=whole, faults=(*opened.faults, *work.mistakes.faults)
    )


@dataclass
class _Applying:
    """A source, what is wrong with the mapping to it, and which of its layers were used."""

    opened: Source
    mistakes: Mistakes
    used: set[str] = field(default_factory=set)
    decimal_comma: bool = False

    def layer(self, schema: LayerSchema, parts: tuple[LayerMap, ...]) -> RawLayer | None:
        """Read a layer of the contract: its parts, one after the other."""
        read = [self._part(schema, part) for part in parts]
        good = [raw for raw in read if raw is not None]
        if len(good) < len(read) or not good:
            return None
        return good[0] if len(good) == 1 else self._together(parts, good)

    def _together(self, parts: tuple[LayerMap, ...], read: list[RawLayer]) -> RawLayer | None:
        """Put parts together, in the CRS of the first."""
        crs, notes = read[0].crs, tuple(n for raw in read for n in raw.notes)
        for part, raw in zip(parts, read, strict=True):
            if raw.has_geometry != read[0].has_geometry or (raw.crs is None) != (crs is None):
                self.mistakes.tell(part.keys, "Only some parts of the layer have geometry and CRS.",
                                   "Give x, y and crs for the others.")  # fmt: skip
                return None
        tables = [_loose(raw) for raw in read]
        if crs is not None:
            tables = [table.to_crs(crs) for table in tables]  # type: ignore[operator]
            if any(raw.crs != crs for raw in read):
                notes += ("Its parts were in several CRS; all were brought to that of the first.",)
        return RawLayer(pd.concat(tables, ignore_index=True), crs, notes)

    def _part(self, schema: LayerSchema, part: LayerMap) -> RawLayer | None:
        try:
            with self._source(part) as source:
                name = self._name(part, source)
                raw = None if name is None else read_layer(source, name)
        except JobError as error:
            self.mistakes.tell((*part.keys, "file" if part.file else "layer"), f"{error}",
                               "Give another file or layer.", part.file or part.layer)  # fmt: skip
            return None
        if raw is None or not self._has_columns(part, raw):
            return None
        if self.decimal_comma:
            raw = with_points(schema, part, raw)
        there = placed(schema, part, raw, self.mistakes)
        return None if there is None else renamed(schema, part, there, self.mistakes)

    @contextmanager
    def _source(self, part: LayerMap) -> Iterator[Source]:
        """Open what a layer is read from: the job itself, or a file in its folder."""
        home = self.opened.path
        if part.file is None:
            yield self.opened
            return
        if not isinstance(home, Path):
            raise JobError("A database has no files.")
        home = home.resolve()
        folder = home if home.is_dir() and home.suffix.casefold() != ".gdb" else home.parent
        file = (folder / part.file).resolve()
        if not file.is_relative_to(folder):
            raise JobError(f"{part.file} is not in the folder of the job.")
        with open_source(file) as source:
            yield source

    def _name(self, part: LayerMap, source: Source) -> str | None:
        """Find the layer that is meant: the one named, the only one, or the contract's name."""
        only = next(iter(source.layers)) if len(source.layers) == 1 and part.file else part.name
        wanted = part.layer or only
        if wanted.casefold() in source.layers:
            if source is self.opened:
                self.used.add(wanted.casefold())
            return wanted.casefold()
        names = [name for _, name in source.layers.values()]
        self.mistakes.tell((*part.keys, "layer"), f"There is no layer {wanted}.",
                           meant(wanted, names), wanted)  # fmt: skip
        return None

    def _has_columns(self, part: LayerMap, raw: RawLayer) -> bool:
        names = [str(c) for c in raw.table.columns if c != "geometry"]
        asked = [(("columns", c.name), c.column) for c in part.columns if c.column]
        places: list[tuple[tuple[str, ...], str | None]] = [(("x",), part.x), (("y",), part.y)]
        missing = [(k, c) for k, c in (*asked, *places) if c and c not in names]
        for keys, column in missing:
            self.mistakes.tell((*part.keys, *keys), f"The source has no column {column}.",
                               meant(str(column), names), column)  # fmt: skip
        return not missing


def _loose(raw: RawLayer) -> pd.DataFrame:
    """Make columns of parts alike in type, so that they go together as they are."""
    return raw.table.astype({c: object for c in raw.table.columns if c != "geometry"})
