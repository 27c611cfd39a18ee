"""Read a job by district: the pipe network as a whole, the rows of its large layers on disk."""

from __future__ import annotations

import hashlib
from collections import Counter
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc
import shapely

from leakgeo.find.ground.step import LEAST_READINGS, MOST_LINES, teaching_order
from leakgeo.garbage import release_memory
from leakgeo.job.checks import check_settings, lines_with_lists
from leakgeo.job.crs import is_georeferenced
from leakgeo.job.latest_month import latest_day, latest_month, month_of
from leakgeo.job.mapping import load_mapping
from leakgeo.job.read import read_job
from leakgeo.job.reading import median_position
from leakgeo.job.reuse import Reuse
from leakgeo.job.source_layers import ROW, column_of, opened_layer, shapes_in
from leakgeo.job.sources import PartialSource, RawLayer, open_batches, open_source
from leakgeo.job.window import AROUND_M
from leakgeo.runner.by_district.districts import Districts, in_space_order
from leakgeo.runner.by_district.large_layers import large_layers
from leakgeo.runner.by_district.rows import RowReader
from leakgeo.runner.by_district.spool import Spool
from leakgeo.runner.chunks import ChunkPlan, with_valves

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping
    from pathlib import Path

    from leakgeo.job.model import Job
    from leakgeo.job.source_layers import SourceLayer
    from leakgeo.job.sources import LayerSource
    from leakgeo.runner.chunks import DefaultErrors

#: Lines of a district.
DISTRICT_LINES = 1000
# So many more lines are kept for learning than are needed, as some have too few good readings.
_SPARE = 3


@dataclass(frozen=True, eq=False)
class Network:
    """A job without the rows of its large layers, and these on disk by district.

    Parameters
    ----------
    plan : ChunkPlan
        Of the job; its chunks are the districts.
    districts : Districts
    reader : RowReader
        Reads the rows of a district.
    spool : Spool
    teaching : tuple of str
        Lines whose readings the law of noise may be learned from.
    """

    plan: ChunkPlan
    districts: Districts
    reader: RowReader
    spool: Spool
    teaching: tuple[str, ...]

    @property
    def job(self) -> Job:
        """The job, with no row in its large layers."""
        return self.plan.job

    def with_readings(self, lines: Collection[str]) -> Job:
        """Return some lines and those around, with the readings of these lines, or near them."""
        own = self.job.routes["line_id"].isin(lines).to_numpy()
        near = shapely.STRtree(self.job.routes.geometry.to_numpy()[own])
        layers = tuple(one for one in self.reader.layers if one.schema.name == "readings")
        rows = {one.number: self._readings(one, frozenset(lines), near) for one in layers}
        chunk = self.plan.part(own)
        return replace(self.reader, layers=layers).read(chunk.job, rows).into(chunk.job)

    def _readings(
        self, layer: SourceLayer, names: frozenset[str], near: shapely.STRtree
    ) -> pa.Table | None:
        """Return the readings of some lines, and those of no line near them."""
        parts = []
        for number in self.plan.numbers:
            rows = self.spool.read(number, layer.number)
            if rows is not None:
                rows = rows.filter(pc.greater(rows[ROW], 0))
                raw = layer.mapped(rows)
                line = column_of(raw, layer.schema, "line_id")
                taken, free = line.isin(names).to_numpy(copy=True), line.isna().to_numpy()
                shapes = shapes_in(raw, self.job.crs)
                shapes[~free] = None
                taken[near.query(shapes, predicate="dwithin", distance=AROUND_M)[0]] = True
                parts.append(rows.filter(pa.array(taken)))
        return pa.concat_tables(parts, promote_options="permissive") if parts else None


def read_network(
    source: str | Path, folder: Path, mapping: str | Path | None, errors: DefaultErrors,
    settings: Mapping[str, Any], size: int = DISTRICT_LINES,
) -> Network | None:  # fmt: skip
    """Read a job by district.

    Parameters
    ----------
    source : str or pathlib.Path
    folder : pathlib.Path
        Existing folder for the rows of the large layers.
    mapping : str or pathlib.Path, optional
    errors : DefaultErrors
    settings : mapping of str to object
        Parameters of the checks.
    size : int
        Lines of a district.

    Returns
    -------
    Network or None
        None if a large layer can only be read as a whole.

    Raises
    ------
    JobError
        If the job can't be run.
    """
    known = None if mapping is None else load_mapping(mapping)
    with open_source(source, in_part=True) as opened:
        layers = large_layers(opened, known)
        if layers is None:
            return None
        layers = tuple(map(partial(opened_layer, opened), layers))
        layers = tuple(one for one in layers if one.rows is not None)
        empty = {one.name: one.raw() for one in layers}
        job = read_job(PartialSource(source, empty), mapping=mapping, **settings)
        read_later = {one.schema.name for one in layers}
        job = replace(job, faults=tuple(f for f in job.faults if f.layer not in read_later))
        plan = in_space_order(ChunkPlan(job, size, errors))
        network = _Spooling(opened, layers, plan, Spool(folder), settings).network()
    release_memory()
    return network


@dataclass(eq=False)
class _Spooling:
    """One pass over the rows of the large layers."""

    opened: LayerSource
    layers: tuple[SourceLayer, ...]
    plan: ChunkPlan
    spool: Spool
    settings: Mapping[str, object]
    counts: dict[str, int] = field(default_factory=dict)
    rows: dict[str, int] = field(default_factory=dict)
    heard: Counter[str] = field(default_factory=Counter)
    latest: list[float] = field(default_factory=list)
    digest: Any = field(default_factory=hashlib.sha256)

    def network(self) -> Network:
        districts = Districts(self.plan)
        for layer in self.layers:
            self._sort(layer, districts)
        self.spool.flush()
        job = self._finished(self.plan.job)
        plan = replace(self.plan, job=with_valves(job, self.plan.errors, Reuse()))
        plan.__dict__.update(
            {n: v for n, v in self.plan.__dict__.items() if n in ("pairs", "tree", "selected_rows")}
        )
        teaching = [name for name, count in self.heard.items() if count >= LEAST_READINGS]
        first = sorted(teaching, key=teaching_order)[: _SPARE * MOST_LINES]
        reader = RowReader(
            self.layers, check_settings(self.settings), _listed(job), _position(job)
        )  # fmt: skip
        return Network(plan, Districts(plan), reader, self.spool, tuple(first))

    def _sort(self, layer: SourceLayer, districts: Districts) -> None:
        """Sort the rows of a layer into districts."""
        first = 1 + self.rows.get(layer.schema.name, 0)  # parts of a layer are numbered on
        with open_batches(self.opened, layer.name) as found:
            for rows in found.batches:
                self._add(layer, rows, layer.mapped(rows), districts, first)
                first += len(rows)
        name = layer.schema.job_layer
        self.counts[name] = self.counts.get(name, 0) + first - 1 - self.rows.get(
            layer.schema.name, 0)  # fmt: skip
        self.rows[layer.schema.name] = first - 1

    def _add(
        self, layer: SourceLayer, rows: pa.Table, raw: RawLayer, districts: Districts, first: int
    ) -> None:
        shapes = shapes_in(raw, self.plan.job.crs)
        if layer.schema.name == "readings":
            names = column_of(raw, layer.schema, "line_id")
            self.heard.update(districts.lines_of(names, shapes))
            self.latest.append(latest_day(column_of(raw, layer.schema, "time")))
            pairs = districts.of_readings(names, shapes)
        else:
            pairs = districts.of_features(shapes)
        self.spool.add(layer.number, rows, *pairs, first)
        if not self.plan.job.digest:
            for batch in rows.to_batches():
                self.digest.update(batch.serialize())

    def _finished(self, job: Job) -> Job:
        """Return the job with what is known of all rows of its large layers."""
        latest = np.nanmax([*self.latest, np.nan]) if self.latest else np.nan
        months = [m for m in (latest_month(job), month_of(latest)) if np.isfinite(m)]
        own = job.digest or self.digest.hexdigest()
        whole = hashlib.sha256(f"{job.layers_digest}{own}".encode()).hexdigest()
        # A layer that is read later was empty at first.
        there = self.counts.get("utilities", 0) > 0
        faults = (f for f in job.faults if not (there and f.reason.code == "utilities_missing"))
        return replace(job, counts={**job.counts, **self.counts}, layers_digest=whole,
                       faults=tuple(faults), latest_month=max(months, default=np.nan))  # fmt: skip


def _listed(job: Job) -> frozenset[str]:
    """Return the lines with a taped list of fittings."""
    contacts = job.contacts
    return lines_with_lists(None if contacts is None else RawLayer(pd.DataFrame(contacts), None))


def _position(job: Job) -> tuple[float, float] | None:
    """Return the median longitude and latitude of the pipes; None if they lie nowhere."""
    if not is_georeferenced(job.output_crs):
        return None
    shapes = job.routes.geometry.to_numpy()
    x, y = shapely.get_coordinates(shapes[~shapely.is_missing(shapes)]).T
    return median_position(job.crs, x, y)
