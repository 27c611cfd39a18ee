"""Read the layers of a source through a mapping, as layers of the contract."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import pandas as pd

from leakgeo.errors import JobError
from leakgeo.faults import Fault, job_error
from leakgeo.job.columns import match_columns
from leakgeo.job.feet import FEET, foot_units, in_two_feet, moved_by_foot_m
from leakgeo.job.mapping.model import Mistakes, suggestion
from leakgeo.job.mapping.values import constant, convert
from leakgeo.job.schema import readable_layers
from leakgeo.job.sources import (
    RawLayer,
    display_address,
    open_source,
    points_from_columns,
    read_layer,
    usual_columns,
)
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from leakgeo.job.mapping.model import ColumnMap, JobMapping, LayerMap, Mistakes
    from leakgeo.job.schema import LayerSchema
    from leakgeo.job.sources import LayerSource


def apply_mapping(opened: LayerSource, mapping: JobMapping) -> LayerSource:
    """Read the mapped layers of a source with the names, codes and units of the contract.

    Parameters
    ----------
    opened : LayerSource
        The source of the job.
    mapping : JobMapping

    Returns
    -------
    LayerSource
        With the mapped layers read; layers of the contract that are not in the mapping are
        unchanged.

    Raises
    ------
    JobError
        If the mapping does not fit the source; it carries every mistake.
    """
    mistakes = Mistakes(mapping.path, mapping.text, list(mapping.faults))
    reader = _MappedReader(opened, mistakes, decimal_comma=mapping.decimal_comma)
    ready = {n: reader.layer(readable_layers()[n], parts) for n, parts in mapping.layers.items()}
    reader.mistakes.stop_if_any()
    # A layer mapped to another one is not read again under its own name.
    not_read = (mapping.left_out | reader.used) - mapping.layers.keys()
    layers = {n: p for n, p in opened.layers.items() if n not in not_read}
    layers |= {n: (opened.path, n) for n in ready}
    complete = {n: raw for n, raw in ready.items() if raw is not None}
    return replace(
        opened, layers=layers, ready={**opened.ready, **complete},
        faults=(*opened.faults, *reader.mistakes.faults),
    )  # fmt: skip


@dataclass
class _MappedReader:
    """Reader of mapped layers; it collects mistakes, and the layers of the source in use."""

    opened: LayerSource
    mistakes: Mistakes
    used: set[str] = field(default_factory=set)
    decimal_comma: bool = False

    def layer(self, schema: LayerSchema, parts: tuple[LayerMap, ...]) -> RawLayer | None:
        """Read all parts of a layer of the contract; None if any has mistakes."""
        read = [self._part(schema, part) for part in parts]
        good = [raw for raw in read if raw is not None]
        if len(good) < len(read) or not good:
            return None
        return good[0] if len(good) == 1 else self._concat_parts(parts, good)

    def _concat_parts(self, parts: tuple[LayerMap, ...], read: list[RawLayer]) -> RawLayer | None:
        """Concatenate parts in the CRS of the first."""
        crs, notes = read[0].crs, tuple(n for raw in read for n in raw.notes)
        for part, raw in zip(parts, read, strict=True):
            if raw.has_geometry != read[0].has_geometry or (raw.crs is None) != (crs is None):
                self.mistakes.report(part.keys, Reason("parts_without_geometry"))
                return None
        tables = [_as_objects(raw) for raw in read]
        if crs is not None:
            tables = [table.to_crs(crs) for table in tables]  # type: ignore[operator]
            if any(raw.crs != crs for raw in read):
                notes += (Reason("parts_in_several_crs"),)
            notes += _other_feet(read)
        return RawLayer(pd.concat(tables, ignore_index=True), crs, notes)

    def _part(self, schema: LayerSchema, part: LayerMap) -> RawLayer | None:
        try:
            with self._source(part) as source:
                name = self._name(part, source)
                raw = None if name is None else read_layer(source, name)
        except JobError as error:
            wanted = part.file or part.layer or part.name
            reason = Reason("mapped_source_unreadable", source=wanted, why=error.faults[0].reason)
            keys = (*part.keys, "file" if part.file else "layer")
            self.mistakes.report(keys, reason, wanted)
            return None
        if raw is None or not self._has_columns(part, raw):
            return None
        if self.decimal_comma:
            raw = with_decimal_points(schema, part, raw)
        placed = with_position(schema, part, raw, self.mistakes)
        if placed is None:
            return None
        return with_contract_columns(schema, part, placed, self.mistakes)

    @contextmanager
    def _source(self, part: LayerMap) -> Iterator[LayerSource]:
        """Open the source of a layer: the job itself, or a file in its folder."""
        home = self.opened.path
        if part.file is None:
            yield self.opened
            return
        if not isinstance(home, Path):
            raise _source_error(display_address(str(home)), Reason("source_has_no_files"))
        home = home.resolve()
        folder = home if home.is_dir() and home.suffix.casefold() != ".gdb" else home.parent
        file = (folder / part.file).resolve()
        if not file.is_relative_to(folder):
            raise _source_error(part.file, Reason("file_outside_job"))
        with open_source(file) as source:
            yield source

    def _name(self, part: LayerMap, source: LayerSource) -> str | None:
        """Return the layer to read: the one named, the only one, or that of the contract's name."""
        only = next(iter(source.layers)) if len(source.layers) == 1 and part.file else part.name
        wanted = part.layer or only
        key = source.key(wanted)
        if key in source.layers:
            if source is self.opened:
                self.used.add(key)
            return key
        names = [name for _, name in source.layers.values()]
        reason = Reason("no_such_layer", layer=wanted, meant=suggestion(wanted, names))
        self.mistakes.report((*part.keys, "layer"), reason, wanted)
        return None

    def _has_columns(self, part: LayerMap, raw: RawLayer) -> bool:
        names = [str(c) for c in raw.table.columns if c != "geometry"]
        mapped = [(("columns", c.name), c.column) for c in part.columns if c.column]
        position: list[tuple[tuple[str, ...], str | None]] = [(("x",), part.x), (("y",), part.y)]
        missing = [(k, c) for k, c in (*mapped, *position) if c and c not in names]
        for keys, column in missing:
            reason = Reason(
                "source_lacks_column", column=column, meant=suggestion(str(column), names)
            )
            self.mistakes.report((*part.keys, *keys), reason, column)
        return not missing


def _source_error(source: str, reason: Reason) -> JobError:
    return job_error(source, Fault("mapping", reason, value=source, effect="stops"))


def _other_feet(read: list[RawLayer]) -> tuple[Reason, ...]:
    """Return notes on parts in the projection of the first, but in the other kind of foot."""
    first, notes = read[0].crs, {}
    for raw in read[1:]:
        if first is None or raw.crs is None or not in_two_feet(raw.crs, first):
            continue
        west, south, east, north = raw.table.total_bounds
        moved_m = moved_by_foot_m((west + east) / 2, (south + north) / 2, raw.crs, first)
        notes[raw.crs] = Reason(
            "parts_in_two_feet", crs=raw.crs.name, foot=FEET[foot_units(raw.crs)[0]],
            first_crs=first.name, moved_m=moved_m,
        )  # fmt: skip
    return tuple(notes.values())


def _as_objects(raw: RawLayer) -> pd.DataFrame:
    """Convert columns to object, so that parts can be concatenated without changes of type."""
    return raw.table.astype({c: object for c in raw.table.columns if c != "geometry"})


_MAX_NAMED = 30
_COMMA = r"^(\s*[-+]?\d*),(\d+\s*)$"


def with_decimal_points(schema: LayerSchema, part: LayerMap, raw: RawLayer) -> RawLayer:
    """Replace decimal commas by points in columns of numbers and coordinates.

    Texts with both a comma and a point are unchanged; the checks report them.
    """
    numbers = {f.name for f in schema.fields if f.type in ("number", "integer")}
    names = {c.column for c in part.columns if c.name in numbers} | {part.x, part.y}
    names |= set(match_columns(map(str, raw.table), numbers).values())
    names |= set(usual_columns(raw.table.columns) or ())
    table = raw.table.copy()
    for name in (c for c in table if c in names and table[c].dtype.kind not in "biufM"):
        table[name] = table[name].replace(_COMMA, r"\1.\2", regex=True)
    return replace(raw, table=table)


def with_position(
    schema: LayerSchema, part: LayerMap, raw: RawLayer, mistakes: Mistakes
) -> RawLayer | None:
    """Add a missing CRS to a layer, or make points of its coordinates.

    Parameters
    ----------
    schema : LayerSchema
    part : LayerMap
        All of its columns are in the layer.
    raw : RawLayer
    mistakes : Mistakes
        Collector to report to.

    Returns
    -------
    RawLayer or None
        None if the mapping does not match the layer.
    """
    if raw.has_geometry:
        return _with_crs(part, raw, mistakes)
    named = (part.x, part.y) if part.x and part.y else None
    pair = named or (usual_columns(raw.table.columns) if part.crs else None)
    if not schema.geometry_types or pair is None:
        return raw
    if part.crs is None:
        mistakes.report((*part.keys, "x"), Reason("coordinates_without_crs"))
        return None
    points = points_from_columns(raw.table, *pair, part.crs)
    if points.bad:
        some = ", ".join(points.bad[:5])
        reason = Reason("coordinates_no_numbers", texts=len(points.bad), some=some)
        mistakes.report(part.keys, reason, some, "noted")
    return RawLayer(points.table, points.table.crs, raw.notes)


def _with_crs(part: LayerMap, raw: RawLayer, mistakes: Mistakes) -> RawLayer | None:
    if part.x:
        mistakes.report((*part.keys, "x"), Reason("geometry_given_twice"), part.x)
        return None
    if part.crs is None or raw.crs == part.crs:
        return raw
    if raw.crs is not None:
        reason = Reason("crs_given_twice", crs=raw.crs.name)
        mistakes.report((*part.keys, "crs"), reason, part.crs)
        return None
    table = gpd.GeoDataFrame(raw.table).set_crs(part.crs)
    return RawLayer(table, table.crs, raw.notes)


def with_contract_columns(
    schema: LayerSchema, part: LayerMap, raw: RawLayer, mistakes: Mistakes
) -> RawLayer:
    """Convert columns to the names and values of the contract; unused columns are kept.

    Parameters
    ----------
    schema : LayerSchema
    part : LayerMap
    raw : RawLayer
    mistakes : Mistakes
        Collector of values that are not covered by the mapping.

    Returns
    -------
    RawLayer
    """
    table = raw.table.reset_index(drop=True)
    made = {c.name: _column(schema, c, table, mistakes) for c in part.columns}
    used = {c.column for c in part.columns}
    hidden = {*made, *part.left_out}
    shapes = table.geometry.array if isinstance(table, gpd.GeoDataFrame) else None
    plain = pd.DataFrame(table if shapes is None else table.drop(columns=table.geometry.name))
    rest = [c for c in plain if c not in used and str(c).strip().casefold() not in hidden]
    new = pd.concat([pd.DataFrame(made, index=table.index), plain[rest]], axis=1)
    return replace(raw, table=new if shapes is None else gpd.GeoDataFrame(new, geometry=shapes))


def _column(
    schema: LayerSchema, column_map: ColumnMap, table: pd.DataFrame, mistakes: Mistakes
) -> pd.Series[Any]:
    if column_map.column is None:
        return constant(column_map, len(table))
    done = convert(table[column_map.column], column_map, schema.field(column_map.name))
    if done.uncovered:
        found = _counted(done.uncovered)
        more = max(len(found) - _MAX_NAMED, 0)
        reason = Reason(
            "values_not_covered", column=column_map.column, found=found[:_MAX_NAMED], more=more
        )
        mistakes.report(column_map.keys, reason, ", ".join(found[:_MAX_NAMED]), "noted")
    return done.column


def _counted(uncovered: Mapping[str, int]) -> list[str]:
    """Return values with their counts, the most frequent first."""
    often = sorted(uncovered.items(), key=lambda item: -item[1])
    return [f"{value} ({count})" for value, count in often]
