"""Merge the stored results of chunks into one result, in the order that a single chunk gives."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import texts
from leakgeo.dig.order import ranks_of
from leakgeo.provenance import with_chunked_runs
from leakgeo.result import joined
from leakgeo.runner.task import ROW, in_order

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from leakgeo.arrays import Ints
    from leakgeo.faults import Fault
    from leakgeo.result import Result
    from leakgeo.runner.chunks import ChunkPlan
    from leakgeo.runner.kept_lines import Share
    from leakgeo.runner.task import PlannedStep, StepFault

# Layer that is too large for memory; it is streamed from the chunks into the file.
STREAMED = "profile"
# Lines, the first by priority, of which it is kept in memory for map and report.
TOP_LINES = 1000
# Lines of a part that is streamed.
_PART_LINES = 1000
#: Input layers whose faults are not of one line; a chunk sees only some of their features.
JOB_WIDE = ("isolation_tests", "utilities")
# Layers sorted by line_id; the others are in the order of the routes.
_BY_NAME = {"lines", "improvements", "evidence", "explanations", "air_tests"}


@dataclass(frozen=True, eq=False)
class Streamed:
    """The streamed layer of a merged result; a call iterates over its parts, in order.

    Parameters
    ----------
    merge : Merge
    """

    merge: Merge

    def __call__(self) -> Iterator[pd.DataFrame]:
        """Iterate over the layer in the order of the routes."""
        names = self._names()
        for begin in range(0, max(len(names), 1), _PART_LINES):
            yield self.merge.part(names[begin : begin + _PART_LINES])

    def of_lines(self, lines: Iterable[str]) -> pd.DataFrame:
        """Return the rows of some lines."""
        return self.merge.part(lines)

    def counts(self) -> dict[str, int]:
        """Return the number of rows of each line, in the order of the layer."""
        found: dict[str, int] = {}
        for share in self.merge.shares:
            found |= {n: k for n, k in share.chunk.counts(STREAMED).items() if n in share.lines}
        return {name: found[name] for name in self._names() if name in found}

    def _names(self) -> list[str]:
        plan = self.merge.plan
        return [str(n) for n in pd.unique(texts(plan.job.routes, "line_id")[plan.selected_rows])]


@dataclass(frozen=True, eq=False)
class Merge:
    """The stored chunks of a job, and what they are parts of.

    Parameters
    ----------
    plan : ChunkPlan
        Of the whole job.
    shares : sequence of Share
        Together every selected line once.
    job_wide : sequence of StepFault
        Faults of the whole job, by the step that reports them where it sees all of it.
    """

    plan: ChunkPlan
    shares: Sequence[Share]
    job_wide: Sequence[StepFault] = ()

    def into(self, before: Result, steps: Sequence[PlannedStep]) -> Result:
        """Return a result with the layers and faults of all chunks.

        Parameters
        ----------
        before : Result
            Result of the steps before those that ran on the chunks.
        steps : sequence of PlannedStep
            The steps that ran on the chunks.
        """
        names = [n for n in self.shares[0].chunk.names() if n != STREAMED]
        layers = {name: self._layer(name) for name in names}
        layers["lines"] = lines = layers["lines"].assign(**ranks_of(layers["lines"]))
        first = lines.nsmallest(TOP_LINES, "priority")["line_id"]
        layers[STREAMED] = self.part(first)
        given = {step.name: settings for step, settings in steps}
        merged = replace(
            before.adding(layers, self._faults([one.step.name for one in steps])),
            parameters={**before.parameters, **given},
            streamed={STREAMED: Streamed(self)},
        )
        return with_chunked_runs(merged, steps)

    def _layer(self, name: str) -> pd.DataFrame:
        whole = joined([share.layer(name) for share in self.shares])
        if name == "readings_on_route":
            return self._readings(whole)
        if name in _BY_NAME:
            return whole.sort_values("line_id", ignore_index=True, kind="stable")
        return self._in_order(whole)

    def _in_order(self, layer: pd.DataFrame) -> pd.DataFrame:
        """Return a layer in the order of the routes."""
        if "line_id" not in layer:
            return layer
        row = self.plan.rows_of(layer["line_id"])
        if (np.diff(row) >= 0).all():
            return layer
        return layer.iloc[np.argsort(row, kind="stable")].reset_index(drop=True)

    def _readings(self, placed: pd.DataFrame) -> pd.DataFrame:
        """Return the readings in the order of the job, with walks numbered over all of them.

        Those of a line are stored in their order, but with the rows of the job that was run then.
        """
        group = self._groups(self.plan.rows_of(placed["line_id"]))
        stored = np.lexsort([placed[ROW].to_numpy(), group])
        own = self._groups(self.plan.line_of_reading)
        place = np.empty(len(placed), dtype=np.int64)
        place[np.argsort(own, kind="stable")] = stored
        placed = placed.iloc[place].reset_index(drop=True)
        walk = placed.groupby([placed["line_id"].fillna(""), "walk"], sort=True).ngroup()
        return placed.drop(columns=ROW).assign(walk=walk)

    def _groups(self, row: Ints) -> Ints:
        """Return the rows of selected routes; -1 for the others, which are stored together."""
        selected = np.zeros(len(self.plan.job.routes), dtype=bool)
        selected[self.plan.selected_rows] = True
        return np.where((row >= 0) & selected[row], row, -1)

    def part(self, lines: Iterable[str]) -> pd.DataFrame:
        """Return the rows of some lines in the streamed layer."""
        wanted = frozenset(lines)
        having = [share for share in self.shares if share.lines & wanted] or self.shares[:1]
        return self._in_order(joined([share.layer(STREAMED, wanted) for share in having]))

    def _faults(self, steps: Sequence[str]) -> list[Fault]:
        """Return the faults of all chunks, and those of the whole job instead of theirs."""
        found = [
            one for share in self.shares for one in share.faults()
            if one.fault.line_id or one.fault.layer not in JOB_WIDE
        ]  # fmt: skip
        names = texts(self.plan.job.routes, "line_id")
        return [one.fault for one in in_order([*self.job_wide, *found], steps, names)]
