"""What the view of a line takes from the whole job, which pieces kept of a line depend on too."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from leakgeo.deliver.views.locate_request import datum_note, requests_of
from leakgeo.deliver.views.places import first_datum_error_m
from leakgeo.deliver.views.rows import layer, with_geometry
from leakgeo.deliver.views.top_lines import select_lines
from leakgeo.wording import wording

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.result import Result

# Layers whose first row says how good degrees are for all.
_IN_DEGREES = ("marks", "locate_requests")


def first_lines(result: Result) -> list[str]:
    """Return the lines with the first rows, which every selection needs for the same texts."""
    frames = [with_geometry(layer(result, name)) for name in _IN_DEGREES]
    return [str(frame["line_id"].iloc[0]) for frame in frames if frame is not None]


def of_all_lines(result: Result, first: Sequence[str], units: str) -> list[object]:
    """Return all that `line_views` takes for a line besides the rows of the line.

    Parameters
    ----------
    result : Result
        Result that the views are made of.
    first : sequence of str
        What `first_lines` returned for it.
    units : {"si", "us"}
        Units of the texts.

    Returns
    -------
    list
        Empty if nothing is kept of the lines.
    """
    if result.kept is None:
        return []
    degrees = {n: f for n in _IN_DEGREES if (f := layer(result, n)) is not None}
    some = select_lines(replace(result, layers=degrees, streamed={}), first)
    requests = requests_of(some)
    corner = [request.decimals[0] for request in requests.values()][:1]
    return [
        "dig_zones" in result.layers, corner, datum_note(some, requests, wording(units)),
        first_datum_error_m(layer(some, "marks")),
        result.job.crs.to_wkt(), result.job.output_crs.to_wkt(),
    ]  # fmt: skip
