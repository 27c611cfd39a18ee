"""Steps with their settings, the task of running them on a chunk, and the chunk's result."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

from leakgeo.arrow import to_ipc
from leakgeo.find.locate.thinned import thinned
from leakgeo.progress import Progress, notify
from leakgeo.provenance import with_layers_instead
from leakgeo.registry import single_threaded

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    import pandas as pd

    from leakgeo.faults import Fault
    from leakgeo.job.model import Job
    from leakgeo.progress import Listener
    from leakgeo.registry import Step
    from leakgeo.result import Result
    from leakgeo.runner.chunks import Chunk

# Column with the row of a reading in the whole job.
ROW = "row_in_job"
FAULTS, LINES = "faults.json", "lines.json"


class StepFault(NamedTuple):
    """A fault, and the name of the step that reported it."""

    step: str
    fault: Fault


class PlannedStep(NamedTuple):
    """A step of a run, and its validated settings."""

    step: Step
    settings: dict[str, object]

    def single_process(self) -> PlannedStep:
        """Return the step with one worker, for running several chunks at once."""
        one = {"workers": 1} if "workers" in self.settings else {}
        return PlannedStep(self.step, self.settings | one)

    def for_lines(self, there: set[str]) -> PlannedStep:
        """Return the step with settings that name only lines of a chunk."""
        named = {p.name for p in self.step.parameters if p.names_lines}
        settings = {
            name: tuple(v for v in value if v in there) if name in named else value  # type: ignore[attr-defined]
            for name, value in self.settings.items()
        }
        return PlannedStep(self.step, settings)


def run_steps(result: Result, steps: Iterable[PlannedStep], tell: Listener | None = None) -> Result:
    """Run steps on a result; call `tell`, if given, with each step as it begins."""
    for step, settings in steps:
        if tell is not None:
            notify(Progress(step.name), tell)
        result = step(result, **settings)
    return result


@dataclass(frozen=True, eq=False)
class ChunkResult:
    """Result of the steps on one chunk.

    Parameters
    ----------
    chunk : Chunk
    before : Result
        Result before the steps.
    result : Result
        Result after the steps, with neighbouring lines.
    """

    chunk: Chunk
    before: Result
    result: Result

    @cached_property
    def layers(self) -> dict[str, pd.DataFrame]:
        """New layers, of the chunk's own lines; readings have their row in the whole job."""
        chunk, result = self.chunk, self.result
        layers = {n: layer for n, layer in result.layers.items() if n not in self.before.layers}
        placed = layers["readings_on_route"].reset_index(drop=True).assign(**{ROW: chunk.rows})
        layers["readings_on_route"] = placed[placed[ROW] >= 0]
        return {n: _rows_of_lines(layer, self.chunk.own) for n, layer in layers.items()}

    @property
    def faults(self) -> list[StepFault]:
        """Faults that the steps reported, in order."""
        made = self.result.made[len(self.before.made) :]
        return [StepFault(one.step, fault) for one in made for fault in one.faults]

    def files(self) -> dict[str, bytes]:
        """Return file contents by file name: layers as Arrow, faults as JSON."""
        layers = {f"{name}.arrow": to_ipc(layer) for name, layer in self.layers.items()}
        own = {"lines": sorted(self.chunk.own), "loose": self.chunk.loose}
        return {**layers, FAULTS: faults_json(self.faults), LINES: json.dumps(own).encode()}


def faults_json(faults: Iterable[StepFault]) -> bytes:
    """Return faults as JSON; see `leakgeo.runner.journal.StoredChunk.faults`."""
    rows = [{"step": one.step, **one.fault.to_dict()} for one in faults]
    return json.dumps(rows, ensure_ascii=False).encode()


def in_order(
    faults: Iterable[StepFault], steps: Sequence[str], lines: Iterable[str]
) -> list[StepFault]:
    """Return faults by step, of each first those of no line, then line by line; none twice.

    So a job has one list of faults, however it is divided.

    Parameters
    ----------
    faults : iterable of StepFault
    steps : sequence of str
        Names of the steps in order.
    lines : iterable of str
        ``line_id`` of the routes, in order.
    """
    turn = {name: k for k, name in enumerate(steps)}
    place = {name: k for k, name in reversed(list(enumerate(lines)))}
    once = dict.fromkeys(faults)
    return sorted(once, key=lambda one: (turn[one.step], place.get(one.fault.line_id, -1)))


@dataclass(frozen=True, eq=False)
class Task:
    """The steps to run on every chunk.

    Parameters
    ----------
    earlier : Result
        Result of earlier steps on the whole job, with an empty job.
    steps : tuple of PlannedStep
    """

    earlier: Result
    steps: tuple[PlannedStep, ...]

    @classmethod
    def of(cls, before_chunks: Result, steps: Iterable[PlannedStep]) -> Task:
        """Make a task of a result and the steps to run on it."""
        return cls(replace(before_chunks, job=without_layers(before_chunks.job)), tuple(steps))

    def run(self, chunk: Chunk, tell: Listener | None = None) -> ChunkResult:
        """Run the steps on one chunk."""
        there = set(chunk.job.routes["line_id"])
        before = replace(self.earlier, job=chunk.job)
        steps = (one.for_lines(there) for one in self.steps)
        with single_threaded:  # once for all steps: finding the libraries takes time
            result = run_steps(before, steps, tell)
        return ChunkResult(chunk, before, _with_thin_profile(result))


def _with_thin_profile(result: Result) -> Result:
    """Return a result with the profile thinned, as it is stored, after all steps that use it."""
    if "profile" not in result.layers:
        return result
    layers = {**result.layers, "profile": thinned(result.layers["profile"])}
    return replace(
        result, layers=layers, made=with_layers_instead(result.made, result.layers, layers)
    )


def without_layers(job: Job) -> Job:
    """Return a job without rows, small enough to send to each process with the chunk."""
    return replace(
        job, routes=job.routes.iloc[:0], readings=job.readings.iloc[:0], contacts=None,
        meter_tests=None, action_results=None, utilities=None, surfaces=None, history=None,
        dig_outcomes=None, ground=None, faults=(),
    )  # fmt: skip


def _rows_of_lines(layer: pd.DataFrame, own: frozenset[str]) -> pd.DataFrame:
    """Return the rows of the chunk's own lines, and those of no line."""
    if "line_id" not in layer or ROW in layer:
        return layer
    return layer[layer["line_id"].isin(own) | layer["line_id"].isna()]
