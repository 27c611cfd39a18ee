"""Read a window of a job: selected lines, and the rows of all layers within their reach."""

from __future__ import annotations

import hashlib
from collections import Counter
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import pyarrow as pa
import shapely

from leakgeo.arrays import texts
from leakgeo.errors import JobError, ParameterError
from leakgeo.faults import Fault
from leakgeo.job.columns import match_columns
from leakgeo.job.crs import choose_local_crs, is_georeferenced
from leakgeo.job.guards import PARQUET
from leakgeo.job.latest_month import latest_day, month_of
from leakgeo.job.mapping import load_mapping
from leakgeo.job.model import LAYERS
from leakgeo.job.source_layers import (
    ROW,
    column_of,
    has_sheets,
    opened_layer,
    shapes_in,
    source_layers,
)
from leakgeo.job.sources import (
    Database,
    PartialSource,
    RowFilter,
    can_be_batched,
    display_address,
    open_batches,
    open_source,
    row_count,
)
from leakgeo.job.window.condition import check_condition
from leakgeo.job.window.reach import AROUND_M, NEAR_M, Reach, is_drawn, is_own
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from pyproj import CRS

    from leakgeo.arrays import Bools, Objects
    from leakgeo.job.model import Job
    from leakgeo.job.source_layers import SourceLayer
    from leakgeo.job.sources import LayerSource, RawLayer

# What valves isolate may be any part of the network, so with them it is read as a whole.
_NETWORK, _OF_VALVES = ("routes", "contacts", "valves"), ("valves", "isolation_tests")
# A line meets a line that meets it, and a neighbour of that one.
_JOINTS = 2
# Dates from which the age of records is counted.
_DATED = {"readings": "time", "contacts": "time", "history": "date"}


@dataclass(frozen=True, eq=False)
class Window:
    """A part of a job.

    Parameters
    ----------
    source : PartialSource
        The source, with the rows of the window in place of all.
    condition : str
    lines : tuple of str
        Selected lines.
    routes : int
        Routes of the window.
    latest_month : float
        Of the whole job, in days since 1970; NaN if it has no dates.
    utilities : int
        Rows of utilities in the whole job.
    """

    source: PartialSource
    condition: str
    lines: tuple[str, ...]
    routes: int
    latest_month: float
    utilities: int

    def into(self, job: Job) -> Job:
        """Return the job that was read from `source`, with what it depends on of the whole one."""
        note = Reason("lines_by_condition", condition=self.condition, lines=len(self.lines),
                      others=max(self.routes - len(self.lines), 0))  # fmt: skip
        counts = dict(job.counts)
        if "utilities" in counts:
            counts["utilities"] = self.utilities
        of_all = f"{job.layers_digest}{self.latest_month!r}{self.utilities > 0}"
        return replace(
            job, where=self.condition, latest_month=self.latest_month, counts=counts,
            faults=(Fault("routes", note, effect="noted"), *job.faults),
            layers_digest=hashlib.sha256(of_all.encode()).hexdigest(),
        )  # fmt: skip


def read_window(source: object, condition: str, mapping: str | Path | None) -> Window:
    """Read the window of the lines that meet a condition.

    Parameters
    ----------
    source : str or pathlib.Path
        Of a job; a file that GDAL reads, a folder of them, or the URL of a database.
    condition : str
        SQL condition on the layer of routes, with its own column names.
    mapping : str or pathlib.Path, optional

    Returns
    -------
    Window

    Raises
    ------
    ParameterError
        If the source refuses the condition or can't be asked, or if no line meets it.
    JobError
        If the source can't be read.
    """
    condition = check_condition(condition)
    if not isinstance(source, (str, Path)):
        raise _refused("the layers of this job are in memory. Select its lines by name.")
    known = None if mapping is None else load_mapping(mapping)
    with open_source(source, in_part=True) as opened:
        if has_sheets(opened):
            raise _refused("typed sheets are read as a whole. Select the lines by name.")
        every = source_layers(opened, known, LAYERS)
        times = Counter(one.name for one in every)  # a layer that is mapped twice is read whole
        there = (one for one in every if times[one.name] == 1 and one.name in opened.layers
                 and can_be_batched(opened, one.name))  # fmt: skip
        layers = tuple(opened_layer(opened, one) for one in there)
        found = source_layers(opened, known, ("routes",))
        routes = [one for one in layers if one.schema.name == "routes"]
        if len(routes) < len(found):
            raise _refused("the routes are in a file that the mapping names. Select its lines by "
                           "name.")  # fmt: skip
        if not routes:
            raise _refused(f"{display_address(source)} has no layer of routes.")
        filled = tuple(one for one in layers if one.rows is not None)
        return _Reading(opened, filled, condition).window(source)


def _refused(problem: str) -> ParameterError:
    return ParameterError.of("where", problem)


@dataclass(eq=False)
class _Reading:
    """One reading of a window.

    Parameters
    ----------
    opened : LayerSource
    layers : tuple of SourceLayer
        Those that have rows.
    condition : str
    """

    opened: LayerSource
    layers: tuple[SourceLayer, ...]
    condition: str
    crs: CRS | None = None
    latest: dict[int, list[float]] = field(default_factory=dict)

    @property
    def _routes(self) -> list[SourceLayer]:
        return [one for one in self.layers if one.schema.name == "routes"]

    def window(self, source: str | Path) -> Window:
        """Read the rows of the window."""
        lines = self._chosen()
        rows, reach = self._neighbourhood(lines)
        names, shapes = self._network(rows)
        around = self._reach(shapes, AROUND_M)
        within = {n for n in names if n is not None}
        for one in self.layers:
            if one.schema.name != "routes":
                rows[one.number] = self._rows(one, within, around)
        # A row may name a line that lies elsewhere, which is no unknown one.
        named = within.union(*(self._names(one, rows[one.number]) for one in self.layers))
        for one in self._routes:
            rows[one.number] = self._rows(one, named, reach)
        names, shapes = self._network(rows)
        for one in self._network_layers():
            rows[one.number] = self._rows(one, None, None)
        ready = {
            one.name: one.raw(self._with_signs(one, rows[one.number], names, shapes, lines))
            for one in self.layers
        }
        count = sum(len(rows[one.number]) for one in self._routes)
        return Window(PartialSource(source, ready), self.condition, lines, count,
                      self._latest_month(), self._count("utilities"))  # fmt: skip

    def _chosen(self) -> tuple[str, ...]:
        """Return the names of the lines that meet the condition."""
        names = [pd.Series(dtype=object)]
        for layer in self._routes:
            place, label = self.opened.layers[layer.name]
            if isinstance(place, Path) and place.suffix.casefold() in PARQUET:
                raise _refused("a Parquet file takes no condition. Write the routes to a "
                               "GeoPackage, or select the lines by name.")  # fmt: skip
            only = RowFilter(self.condition)
            try:
                with open_batches(self.opened, layer.name, only=only) as found:
                    for rows in found.batches:
                        raw = layer.mapped(rows)
                        self._choose_crs(raw)
                        names.append(column_of(raw, layer.schema, "line_id"))
            except JobError as error:
                why = dict(error.faults[0].reason.values).get("error", error.faults[0])
                raise _refused(
                    f"the layer {label} refuses the condition {self.condition} ({why}). Give one "
                    "with the layer's own names of columns."
                ) from None
        every = pd.concat(names)
        if every.dropna().empty:
            rows = f"; {len(every)} without a line_id do" if len(every) else ""
            raise _refused(f"no line meets the condition {self.condition}{rows}. Check its values.")
        return tuple(dict.fromkeys(map(str, every.dropna())))

    def _choose_crs(self, raw: RawLayer) -> None:
        """Take a CRS in metres from the first selected lines that are drawn."""
        if self.crs is not None or not raw.has_geometry or not is_georeferenced(raw.crs):
            return
        shapes = raw.table.geometry.to_numpy()
        shapes = shapes[is_drawn(shapes)]
        if len(shapes) and raw.crs is not None:
            with suppress(ValueError):  # no place on earth; reported when the job is read
                x, y = shapely.get_coordinates(shapes).T
                self.crs = choose_local_crs(raw.crs, x, y)

    def _neighbourhood(self, lines: Sequence[str]) -> tuple[dict[int, pa.Table], Reach | None]:
        """Read the selected routes, those near them, and those that join these, twice over."""
        reach, rows = None, {}
        for turn in range(2 + _JOINTS):
            rows = {one.number: self._rows(one, lines, reach) for one in self._routes}
            if turn < 1 + _JOINTS:
                reach = self._reach(self._network(rows)[1], NEAR_M)
        return rows, reach

    def _reach(self, shapes: Objects, distance_m: float) -> Reach | None:
        return None if self.crs is None else Reach(shapes, self.crs, distance_m)

    def _network(self, rows: Mapping[int, pa.Table]) -> tuple[Objects, Objects]:
        """Return names and shapes of the routes that were read."""
        parts = [self._places(one, one.mapped(rows[one.number])) for one in self._routes]
        names, shapes = (np.concatenate(each) for each in zip(*parts, strict=True))
        return names, shapes

    def _network_layers(self) -> list[SourceLayer]:
        """Return the layers that are read as a whole, since valves may isolate any part of them."""
        if not any(self._count(name) for name in _OF_VALVES):
            return []
        return [one for one in self.layers if one.schema.name in _NETWORK]

    def _places(self, layer: SourceLayer, raw: RawLayer) -> tuple[Objects, Objects]:
        """Return the name of the line of each row, and the shapes in the local CRS."""
        names = texts(pd.DataFrame({"line": self._column(layer, raw, "line_id")}), "line")
        if self.crs is None:
            return names, np.full(len(names), None, dtype=object)
        return names, shapes_in(raw, self.crs)

    @staticmethod
    def _column(layer: SourceLayer, raw: RawLayer, name: str) -> pd.Series[Any]:
        if name not in layer.schema.columns:
            return pd.Series(np.full(len(raw.table), None, dtype=object))
        return column_of(raw, layer.schema, name)

    def _names(self, layer: SourceLayer, rows: pa.Table) -> set[str]:
        return {n for n in self._places(layer, layer.mapped(rows))[0] if n is not None}

    def _rows(
        self, layer: SourceLayer, names: Collection[str] | None, reach: Reach | None
    ) -> pa.Table:
        """Return the rows that name lines or are within reach, numbered; all if names are None."""
        only = None if names is None else self._filter(layer, names, reach)
        parts, first = [], 1 + self._rows_before(layer)
        self.latest[layer.number] = []
        with open_batches(self.opened, layer.name, only=only) as found:
            for rows in found.batches:
                raw = layer.mapped(rows)
                dated = _DATED.get(layer.schema.job_layer)
                if only is None and dated is not None:
                    self.latest[layer.number].append(latest_day(self._column(layer, raw, dated)))
                numbered = rows.append_column(ROW, pa.array(np.arange(first, first + len(rows))))
                keep = self._kept(layer, raw, names, reach)
                parts.append(numbered.filter(pa.array(keep)))
                first += len(rows)
        if not parts and layer.rows is not None:
            none = pa.array(np.empty(0, dtype=np.int64))
            parts = [layer.rows.append_column(ROW, none)]
        return pa.concat_tables(parts, promote_options="permissive")

    def _kept(
        self, layer: SourceLayer, raw: RawLayer, names: Collection[str] | None, reach: Reach | None
    ) -> Bools:
        named, shapes = self._places(layer, raw)
        if names is None or (not raw.has_geometry and not layer.schema.geometry_types):
            nameless = np.array([name is None for name in named], dtype=bool)
            return nameless | np.isin(named.astype(str), [*(names or named.astype(str))])
        own = np.isin(named.astype(str), list(names)) & ~pd.isna(named)
        return own if reach is None else own | reach.meets(shapes)

    def _filter(
        self, layer: SourceLayer, names: Collection[str], reach: Reach | None
    ) -> RowFilter | None:
        """Return what the source can leave out by itself; None if all rows must be looked at."""
        place, _ = self.opened.layers[layer.name]
        column, constant = _source_column(layer, "line_id")
        dated = layer.schema.job_layer in _DATED
        if constant or (isinstance(place, Path) and (dated or column is not None)):
            return None
        boxes = None
        if layer.schema.geometry_types and reach is not None:
            crs = self._crs_of(layer)
            boxes = reach.boxes(crs) if layer.has_geometry else None
            if boxes is None:
                return None
        elif column is None:
            return None
        both = sorted({*names, *(f"{name}.0" for name in names)})  # as some columns of numbers
        return RowFilter(boxes=boxes, column=column, names=tuple(both))

    @staticmethod
    def _crs_of(layer: SourceLayer) -> CRS | None:
        assert layer.rows is not None  # only such layers are read
        return layer.mapped(layer.rows).crs

    def _rows_before(self, layer: SourceLayer) -> int:
        """Return the rows of earlier parts of the same layer, as these are numbered on."""
        return sum(
            row_count(self.opened, one.name)
            for one in self.layers
            if one.schema.name == layer.schema.name and one.number < layer.number
        )

    def _with_signs(
        self, layer: SourceLayer, rows: pa.Table, names: Objects, shapes: Objects,
        lines: Sequence[str],
    ) -> pa.Table:  # fmt: skip
        """Number the rows that belong to no selected line below zero: no fault of them is told."""
        named, places = self._places(layer, layer.mapped(rows))
        own = is_own(named, places, shapes, names, lines)
        if "line_id" not in layer.schema.columns:
            own[:] = True
        at = rows.column_names.index(ROW)
        number = rows.column(at).to_numpy()
        return rows.set_column(at, ROW, pa.array(number * np.where(own, 1, -1)))

    def _count(self, name: str) -> int:
        """Return the number of rows of a layer in the whole job."""
        return sum(row_count(self.opened, one.name) for one in self.layers
                   if one.schema.job_layer == name)  # fmt: skip

    def _latest_month(self) -> float:
        """Return the month of the latest date of the whole job."""
        days = [np.nan]
        for one in self.layers:
            if (column := _DATED.get(one.schema.job_layer)) is not None:
                days += self.latest[one.number] or self._latest_days(one, column)
        known = [month_of(day) for day in days if np.isfinite(day)]
        return max(known, default=np.nan)

    def _latest_days(self, layer: SourceLayer, column: str) -> list[float]:
        """Read the latest dates of a layer from the rows that have them, or from all."""
        place, label = self.opened.layers[layer.name]
        source, _ = _source_column(layer, column)
        if source is None:
            return []
        newest = place.newest(label, source) if isinstance(place, Database) else None
        only = None if newest is None else RowFilter(newest, one=True)
        with open_batches(self.opened, layer.name, only=only) as found:
            return [latest_day(self._column(layer, layer.mapped(rows), column))
                    for rows in found.batches]  # fmt: skip


def _source_column(layer: SourceLayer, name: str) -> tuple[str | None, bool]:
    """Return the column of the source that is one of the contract, and whether a mapping makes it.

    What a mapping makes of other values, or of none, can't be looked for in the source.
    """
    assert layer.rows is not None  # only such layers are read
    if layer.mapping is not None:
        (part,) = layer.mapping.layers[layer.schema.name]
        for one in part.columns:
            if one.name == name:
                return one.column, one.column is None or bool(one.codes or one.missing)
    found = match_columns(layer.rows.column_names, layer.schema.columns, longest=layer.longest_name)
    return found.get(name), False
