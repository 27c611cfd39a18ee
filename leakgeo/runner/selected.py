"""The result of a window of a job, without rows of the lines around."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from leakgeo.arrays import texts
from leakgeo.job.window import is_own
from leakgeo.provenance import with_layers_instead
from leakgeo.runner.chunks import is_selected

if TYPE_CHECKING:
    import pandas as pd

    from leakgeo.arrays import Bools
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
    readings = job.readings[_own(job, job.readings)].reset_index(drop=True)
    if (placed := result.layers.get("readings_on_route")) is not None:
        readings = job.readings[_own(job, placed)].reset_index(drop=True)
    job = replace(job, readings=readings, counts={**job.counts, "readings": len(readings)})
    made = with_layers_instead(result.made, result.layers, layers)
    return replace(result, job=job, layers=layers, made=made)


def _own(job: Job, rows: pd.DataFrame) -> Bools:
    routes, lines = job.routes.geometry.to_numpy(), texts(job.routes, "line_id")
    return is_own(texts(rows, "line_id"), rows.geometry.to_numpy(), routes, lines,
                  selected_lines(job))  # fmt: skip
