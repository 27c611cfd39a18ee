"""The result of a window of a job, without the readings of the lines around."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from leakgeo.arrays import texts
from leakgeo.job.window import is_own
from leakgeo.runner.chunks import is_selected

if TYPE_CHECKING:
    from leakgeo.result import Result


def of_selected_lines(result: Result) -> Result:
    """Return a result without readings that belong to lines around the selected ones.

    A reading of no line belongs to the nearest. What a whole job counts of these readings, it
    counts with their own lines. The result of a job that is no window is returned as it is.
    """
    job, name = result.job, "readings_on_route"
    if not job.where:
        return result
    routes, lines = job.routes.geometry.to_numpy(), texts(job.routes, "line_id")
    selected = {str(n) for n in lines[is_selected(job)] if n is not None}
    placed = result.layers.get(name)
    rows = job.readings if placed is None else placed
    shapes = rows.geometry.to_numpy()
    own = is_own(texts(rows, "line_id"), shapes, routes, lines, selected)
    job = replace(
        job, readings=job.readings[own].reset_index(drop=True),
        counts={**job.counts, "readings": int(own.sum())},
    )  # fmt: skip
    if placed is None:
        return replace(result, job=job)
    kept = placed[own].reset_index(drop=True)
    return replace(result, job=job, layers={**result.layers, name: kept})
