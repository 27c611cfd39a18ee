"""What is done with each chunk, wherever it is done."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from leakgeo.arrow import packed
from leakgeo.registry import load_steps
from leakgeo.runner.chunks import asked

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from leakgeo.faults import Fault
    from leakgeo.job.model import Job
    from leakgeo.registry import Step
    from leakgeo.result import Result
    from leakgeo.runner.chunks import Chunk

    Settled = tuple[Step, dict[str, object]]

# Row of a reading in the whole job.
ROW = "row_in_job"
FAULTS = "faults.json"


@dataclass(frozen=True, eq=False)
class Part:
    """What the steps made of one chunk.

    Parameters
    ----------
    layers : mapping of str to pandas.DataFrame
        Of the chunk's own lines.
    faults : tuple of Fault
    """

    layers: Mapping[str, pd.DataFrame]
    faults: tuple[Fault, ...]

    def files(self) -> dict[str, bytes]:
        """Contents of its files by their names: layers as Arrow, faults as JSON."""
        told = json.dumps([fault.to_dict() for fault in self.faults], ensure_ascii=False)
        layers = {f"{name}.arrow": packed(layer) for name, layer in self.layers.items()}
        return {**layers, FAULTS: told.encode()}


@dataclass(frozen=True, eq=False)
class Task:
    """The steps to run on every chunk.

    Parameters
    ----------
    bare : Result
        What steps before made of the whole job; its own job is empty.
    steps : tuple of (str, dict)
        Names of the steps and their settings.
    """

    bare: Result
    steps: tuple[tuple[str, dict[str, object]], ...]

    @classmethod
    def of(cls, ahead: Result, steps: Sequence[Settled]) -> Task:
        """Take it out of a result and the steps to come."""
        named = tuple((step.name, _alone(settings)) for step, settings in steps)
        return cls(replace(ahead, job=_without_layers(ahead.job)), named)

    def done(self, chunk: Chunk) -> Part:
        """Run the steps on one chunk."""
        steps, result = load_steps(), replace(self.bare, job=chunk.job)
        there = set(chunk.job.routes["line_id"])
        for name, settings in self.steps:
            result = steps[name](result, **_of_chunk(steps[name], settings, there))
        layers = {n: layer for n, layer in result.layers.items() if n not in self.bare.layers}
        placed = layers["readings_on_route"].reset_index(drop=True).assign(**{ROW: chunk.rows})
        layers["readings_on_route"] = placed[placed[ROW] >= 0]
        own = set(chunk.job.routes.loc[asked(chunk.job), "line_id"])
        layers = {n: _of_lines(layer, own) for n, layer in layers.items()}
        return Part(layers, result.faults[len(self.bare.faults) :])


def _without_layers(job: Job) -> Job:
    """A job that goes to each process beside its chunk, which has layers of its own."""
    return replace(
        job, routes=job.routes.iloc[:0], readings=job.readings.iloc[:0], contacts=None,
        meter_tests=None, utilities=None, surfaces=None, history=None, dig_outcomes=None,
        ground=None, faults=(),
    )  # fmt: skip


def _alone(settings: Mapping[str, object]) -> dict[str, object]:
    """Settings in a process among others: one line at a time."""
    return {**settings, **({"workers": 1} if "workers" in settings else {})}


def _of_chunk(step: Step, settings: Mapping[str, object], there: set[str]) -> dict[str, object]:
    """Settings as a chunk needs them: of the lines that they name, those that it has."""
    named = {p.name for p in step.parameters if p.names_lines}
    return {
        name: tuple(v for v in value if v in there) if name in named else value  # type: ignore[attr-defined]
        for name, value in settings.items()
    }


def _of_lines(layer: pd.DataFrame, own: set[str]) -> pd.DataFrame:
    """Rows of the chunk's own lines, and of none."""
    if "line_id" not in layer or ROW in layer:
        return layer
    return layer[layer["line_id"].isin(own) | layer["line_id"].isna()]
