"""The layers of a job that are read by district: which they are, and how their rows are read."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.job.mapping import apply_mapping
from leakgeo.job.schema import readable_layers
from leakgeo.job.sources import LayerSource, can_be_batched, raw_layer
from leakgeo.job.workbook import SHEET_FILES

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import pyarrow as pa
    from pyproj import CRS

    from leakgeo.faults import Fault
    from leakgeo.job.mapping import JobMapping, LayerMap
    from leakgeo.job.schema import LayerSchema
    from leakgeo.job.sources import RawLayer

#: Layers of the job that grow with readings and streets, not with the pipes.
LARGE = ("readings", "utilities", "surfaces")


@dataclass(frozen=True)
class LargeLayer:
    """A layer of the source that is read by district.

    Parameters
    ----------
    number : int
        In the spool.
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
    """Rows of large layers as layers of the contract.

    Parameters
    ----------
    layers : dict of str to RawLayer
    faults : tuple of Fault
        Of the mapping.
    """

    layers: dict[str, RawLayer]
    faults: tuple[Fault, ...] = ()

    @classmethod
    def of(cls, layers: tuple[LargeLayer, ...], raws: Mapping[str, RawLayer]) -> Mapped:
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


def large_layers(opened: LayerSource, mapping: JobMapping | None) -> tuple[LargeLayer, ...] | None:
    """Return the large layers of a source; None if one of them can only be read as a whole."""
    found = [*_found(opened, mapping)]
    if any(isinstance(place, Path) and place.suffix.casefold() in SHEET_FILES
           for place, _ in opened.layers.values()):  # fmt: skip
        return None  # what is typed there is completed from the rows before and the other sheets
    if not all(name in opened.layers and can_be_batched(opened, name) for name, _, _ in found):
        return None
    return tuple(LargeLayer(k, *one) for k, one in enumerate(found))


def _found(
    opened: LayerSource, mapping: JobMapping | None
) -> Iterator[tuple[str, LayerSchema, JobMapping | None]]:
    """Yield name in the source, schema and mapping of each; the name is ``""`` for a file."""
    mapped = {} if mapping is None else mapping.layers
    used = {(p.layer or p.name).casefold() for parts in mapped.values() for p in parts}
    for schema in readable_layers().values():
        if schema.job_layer not in LARGE or (mapping and schema.name in mapping.left_out):
            continue
        if schema.name in mapped and mapping is not None:
            for part in mapped[schema.name]:
                name = "" if part.file else (part.layer or part.name).casefold()
                yield name, schema, replace(mapping, layers={schema.name: (part,)})
        elif schema.name in opened.layers and schema.name not in used:
            yield schema.name, schema, None
