"""The layers of a source that are read in part: which they are, and how their rows are mapped."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import shapely

from leakgeo.job.columns import match_columns, parse_column
from leakgeo.job.crs import horizontal, is_georeferenced, transformer
from leakgeo.job.mapping import apply_mapping
from leakgeo.job.schema import readable_layers
from leakgeo.job.sources import LayerSource, open_batches, raw_layer
from leakgeo.job.workbook import SHEET_FILES

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping

    import pyarrow as pa
    from pyproj import CRS

    from leakgeo.arrays import Objects
    from leakgeo.faults import Fault
    from leakgeo.job.mapping import JobMapping, LayerMap
    from leakgeo.job.schema import LayerSchema
    from leakgeo.job.sources import RawLayer

#: Column with the number of a row in its layer, from 1; negative if its faults are not reported.
ROW = "leakgeo_row"


@dataclass(frozen=True)
class SourceLayer:
    """A layer of the source that is read in part.

    Parameters
    ----------
    number : int
        Its place among such layers.
    name : str
        Lower-case name in the source.
    schema : LayerSchema
        Layer of the contract that it is, or is part of.
    mapping : JobMapping or None
        What maps it to the contract.
    rows : pyarrow.Table or None
        No rows, with its columns; None before it was opened.
    crs : pyproj.CRS or None
    has_geometry : bool
    longest_name : int or None
        Length that the format truncates column names to.
    """

    number: int
    name: str
    schema: LayerSchema
    mapping: JobMapping | None = None
    rows: pa.Table | None = None
    crs: CRS | None = None
    has_geometry: bool = False
    longest_name: int | None = None

    def raw(self, rows: pa.Table | None = None) -> RawLayer:
        """Return rows of the layer as the source has them; none by default."""
        return raw_layer(self.rows if rows is None else rows, self.crs,
                         has_geometry=self.has_geometry,
                         longest_name=self.longest_name)  # fmt: skip

    def mapped(self, rows: pa.Table) -> RawLayer:
        """Return rows of the layer as those of the layer of the contract."""
        return Mapped.of((self,), {self.name: self.raw(rows)}).layers[self.schema.name]


@dataclass(frozen=True)
class Mapped:
    """Rows of such layers as layers of the contract.

    Parameters
    ----------
    layers : dict of str to RawLayer
    faults : tuple of Fault
        Of the mapping.
    """

    layers: dict[str, RawLayer]
    faults: tuple[Fault, ...] = ()

    @classmethod
    def of(cls, layers: tuple[SourceLayer, ...], raws: Mapping[str, RawLayer]) -> Mapped:
        """Map rows as read to the contract; `raws` has those of each layer by its name."""
        mapping = next((one.mapping for one in layers if one.mapping is not None), None)
        plain = {one.schema.name: raws[one.name] for one in layers if one.mapping is None}
        if mapping is None:
            return cls(plain)
        nowhere = Path()
        parts: dict[str, tuple[LayerMap, ...]] = {}
        for one in layers:
            if one.mapping is not None:
                own = one.mapping.layers[one.schema.name]
                parts[one.schema.name] = (*parts.get(one.schema.name, ()), *own)
        known = replace(mapping, layers=parts, left_out=frozenset(), faults=())
        names = {one.name: (nowhere, one.name) for one in layers if one.mapping is not None}
        done = apply_mapping(LayerSource(nowhere, names, ready=raws), known)
        return cls({**plain, **{name: done.ready[name] for name in parts}}, done.faults)


def source_layers(
    opened: LayerSource, mapping: JobMapping | None, names: Collection[str]
) -> tuple[SourceLayer, ...]:
    """Return the layers of a source that are some layers of the job, or parts of them.

    Parameters
    ----------
    opened : LayerSource
    mapping : JobMapping or None
    names : collection of str
        Layers of the job. A layer in a file of its own, which a mapping names, is called ``""``.
    """
    return tuple(SourceLayer(k, *one) for k, one in enumerate(_found(opened, mapping, names)))


def has_sheets(opened: LayerSource) -> bool:
    """Return whether a layer is typed: it is completed from rows before and other sheets."""
    return any(isinstance(place, Path) and place.suffix.casefold() in SHEET_FILES
               for place, _ in opened.layers.values())  # fmt: skip


def _found(
    opened: LayerSource, mapping: JobMapping | None, names: Collection[str]
) -> Iterator[tuple[str, LayerSchema, JobMapping | None]]:
    """Yield name in the source, schema and mapping of each; the name is ``""`` for a file."""
    mapped = {} if mapping is None else mapping.layers
    used = {opened.key(p.layer or p.name) for parts in mapped.values() for p in parts}
    for schema in readable_layers().values():
        if schema.job_layer not in names or (mapping and schema.name in mapping.left_out):
            continue
        if schema.name in mapped and mapping is not None:
            for part in mapped[schema.name]:
                name = "" if part.file else opened.key(part.layer or part.name)
                own = part if part.file else replace(part, layer=name)
                yield name, schema, replace(mapping, layers={schema.name: (own,)})
        elif schema.name in opened.layers and schema.name not in used:
            yield schema.name, schema, None


def opened_layer(opened: LayerSource, layer: SourceLayer) -> SourceLayer:
    """Return a layer with its columns; without them if it has no row."""
    with open_batches(opened, layer.name, rows=1) as found:
        first = next(iter(found.batches), None)
        rows = None if first is None or not len(first) else first.slice(0, 0)
        return replace(layer, rows=rows, crs=found.crs, has_geometry=found.has_geometry,
                       longest_name=found.longest_name)  # fmt: skip


def column_of(raw: RawLayer, schema: LayerSchema, name: str) -> pd.Series[Any]:
    """Return a column as the checks read it; nulls if the layer has none."""
    found = match_columns(map(str, raw.table), schema.columns, longest=raw.longest_name)
    if name not in found:
        return pd.Series(np.full(len(raw.table), None, dtype=object))
    return parse_column(raw.table[found[name]].reset_index(drop=True), schema.field(name)).column


def shapes_in(raw: RawLayer, crs: CRS) -> Objects:
    """Return the shapes of rows in a CRS; None where they have none."""
    if raw.crs is None or not raw.has_geometry or not is_georeferenced(raw.crs):
        return np.full(len(raw.table), None, dtype=object)
    shapes = raw.table.geometry.to_numpy()
    change = transformer(horizontal(raw.crs), crs)
    change_all: Any = change.transform
    moved: Any = shapely.transform(shapely.force_2d(shapes), change_all, interleaved=False)
    return np.array(moved, dtype=object)


def numbered(raw: RawLayer) -> RawLayer:
    """Return a layer whose rows have the numbers that they have in the whole of it."""
    if ROW not in raw.table:
        return raw
    numbers = raw.table[ROW].to_numpy(dtype=np.int64).tolist()
    return replace(raw, table=raw.table.drop(columns=ROW), numbers=numbers)
