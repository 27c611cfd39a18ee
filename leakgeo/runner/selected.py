"""The result of a window of a job, without rows of the lines around."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from leakgeo.arrays import texts
from leakgeo.job.window import is_own
from leakgeo.provenance import with_layers_instead
from leakgeo.runner.chunks import is_selected

if TYPE_CHECKING:
    import pandas as pd

    from leakgeo.arrays import Bools
    from leakgeo.faults import Fault
    from leakgeo.job.model import Job
    from leakgeo.result import Result

# Layers with rows of lines that are not selected.
_OF_ALL = ("readings_on_route", "contact_ranking")


def selected_lines(job: Job) -> list[str]:
    """Return the names of the selected lines of a job, in the order of the routes."""
    names = texts(job.routes, "line_id")[is_selected(job)]
    return list(dict.fromkeys(str(name) for name in names if name is not None))


def of_selected_lines(result: Result) -> Result:
    """Return a result without readings and fittings of the lines around the selected ones.

    A reading of no line belongs to the nearest. What a run of all lines counts of these rows, it
    counts with their own lines. The result of a job that is no window is returned as it is.
    """
    job = result.job
    if not job.where:
        return result
    layers = dict(result.layers)
    for name in _OF_ALL:
        if name in layers:
            layers[name] = layers[name][_own(job, layers[name])].reset_index(drop=True)
    own = _own(job, result.layers.get("readings_on_route", job.readings))
    readings = job.readings[own].reset_index(drop=True)
    is_told = _Told.of(job, own)
    made = tuple(replace(one, faults=tuple(filter(is_told, one.faults)))
                 for one in with_layers_instead(result.made, result.layers, layers))  # fmt: skip
    job = replace(job, readings=readings, counts={**job.counts, "readings": len(readings)})
    faults = tuple(filter(is_told, result.faults))
    return replace(result, job=job, layers=layers, made=made, faults=faults)


@dataclass(frozen=True)
class _Told:
    """Whether a fault of a step is told of the selected lines: it is of none of the others."""

    lines: frozenset[str]
    readings: frozenset[str]

    @classmethod
    def of(cls, job: Job, own: Bools) -> _Told:
        every = {str(name) for name in texts(job.routes, "line_id") if name is not None}
        ids = texts(job.readings, "reading_id").astype(str)
        return cls(frozenset(every - {*selected_lines(job)}), frozenset({*ids[~own]} - {*ids[own]}))

    def __call__(self, fault: Fault) -> bool:
        of_another = fault.layer == "readings" and fault.feature in self.readings
        return fault.line_id not in self.lines and not of_another


def _own(job: Job, rows: pd.DataFrame) -> Bools:
    routes, lines = job.routes.geometry.to_numpy(), texts(job.routes, "line_id")
    return is_own(texts(rows, "line_id"), rows.geometry.to_numpy(), routes, lines,
                  selected_lines(job))  # fmt: skip
