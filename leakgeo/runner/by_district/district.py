"""One district as a job of its own: its pipes, and the rows of the large layers read for it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.arrays import texts
from leakgeo.job.model import NOT_SELECTED
from leakgeo.runner.chunks import Chunk, with_assigned_lines, with_surroundings

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    import pyarrow as pa

    from leakgeo.faults import Fault
    from leakgeo.job.model import Job
    from leakgeo.runner.by_district.network import Network
    from leakgeo.runner.by_district.rows import CheckedRows, RowReader
    from leakgeo.runner.by_district.spool import Spool
    from leakgeo.runner.chunks import DefaultErrors


@dataclass(frozen=True, eq=False)
class District:
    """A district before its rows are read, as it is sent to a process.

    Parameters
    ----------
    chunk : Chunk
        Its pipes and those around, with no row in the large layers.
    heard : frozenset of str
        Lines around whose readings are weighed with those of its own.
    reader : RowReader
    spool : Spool
    errors : DefaultErrors
    earlier : mapping of str to pandas.DataFrame
        Rows of its lines, and of those around, in the layers made of the whole network.
    rows : mapping of int to pyarrow.Table, optional
        Its rows, by the number of the large layer; None while they are in the spool.
    """

    chunk: Chunk
    heard: frozenset[str]
    reader: RowReader
    spool: Spool
    errors: DefaultErrors
    earlier: Mapping[str, pd.DataFrame]
    rows: Mapping[int, pa.Table | None] | None = None

    def loaded(self) -> District:
        """Return the district with its rows in memory, for a process that can't read the spool."""
        layers = [one.number for one in self.reader.layers]
        return replace(self, rows={n: self.spool.read(self.number, n) for n in layers})

    @property
    def number(self) -> int:
        """Its number."""
        return self.chunk.number

    @property
    def job(self) -> Job:
        """Its pipes and those around."""
        return self.chunk.job

    def read(self) -> ReadDistrict:
        """Read its rows."""
        rows = self.loaded().rows if self.rows is None else self.rows
        checked = self.reader.read(self.job, rows or {})
        job = checked.into(self.job)
        assigned, lost = with_assigned_lines(job, self.errors, checked.own["readings"])
        return ReadDistrict(self._chunk(assigned, checked), _own_rows(job, checked),
                            (*checked.faults, *lost))  # fmt: skip

    def _chunk(self, job: Job, checked: CheckedRows) -> Chunk:
        """Return the district with the readings of its own lines, and those heard beside them."""
        line = texts(job.readings, "line_id")
        named, there = ~pd.isna(line), texts(job.routes, "line_id").astype(str)
        mine = named & np.isin(line.astype(str), list(self.chunk.own))
        nowhere = ~named | ~np.isin(line.astype(str), there)
        own = mine | (nowhere & checked.own["readings"])
        taken = own | (named & np.isin(line.astype(str), list(self.heard)))
        readings = job.readings[taken].reset_index(drop=True)
        good = readings["reason"].isna().to_numpy()
        readings["reason"] = readings["reason"].mask(good & ~own[taken], NOT_SELECTED)
        rows = np.where(own[taken], np.flatnonzero(taken), -1)
        done = with_surroundings(replace(job, readings=readings))
        counts = {**self.job.counts, "readings": len(readings)}
        return replace(self.chunk, job=replace(done, counts=counts), rows=rows)


@dataclass(frozen=True, eq=False)
class ReadDistrict:
    """A district with its rows.

    Parameters
    ----------
    chunk : Chunk
        What the steps run on.
    tables : dict of str to pandas.DataFrame
        Its own rows of the large layers, as read.
    faults : tuple of Fault
        Of the large layers.
    """

    chunk: Chunk
    tables: dict[str, pd.DataFrame]
    faults: tuple[Fault, ...]


def _own_rows(job: Job, checked: CheckedRows) -> dict[str, pd.DataFrame]:
    tables: dict[str, Any] = {name: getattr(job, name) for name in checked.tables}
    return {n: t[checked.own[n]].reset_index(drop=True) for n, t in tables.items()}


@dataclass(frozen=True, eq=False)
class DistrictPlan:
    """The districts of a network, as an executor asks for chunks.

    Parameters
    ----------
    network : Network
    earlier : mapping of str to pandas.DataFrame
        Layers made of the whole network.
    """

    network: Network
    earlier: Mapping[str, pd.DataFrame]

    @property
    def numbers(self) -> range:
        """Numbers of the districts."""
        return self.network.plan.numbers

    def chunk(self, number: int) -> District:
        """Return one district."""
        network, chunk = self.network, self.network.plan.chunk(number)
        # A hold depends on whether the whole job has utilities, near these lines or not.
        chunk = replace(chunk, job=replace(chunk.job, counts=network.job.counts))
        there = {None, *texts(chunk.job.routes, "line_id")}
        earlier = {name: _of_lines(layer, there) for name, layer in self.earlier.items()}
        return District(chunk, network.districts.heard_in(number), network.reader, network.spool,
                        network.plan.errors, earlier)  # fmt: skip


def _of_lines(layer: pd.DataFrame, names: Collection[str | None]) -> pd.DataFrame:
    if "line_id" not in layer:
        return layer
    own = [name in names for name in texts(layer, "line_id")]
    return layer[np.array(own, dtype=bool)]
