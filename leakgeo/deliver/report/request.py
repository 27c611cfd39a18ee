"""The locate request on the dig sheet: corners of the white line, and ties of the mark."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reportlab.platypus import Flowable, Spacer

from leakgeo.deliver.report.fonts import LEAST_SIZE, para
from leakgeo.deliver.report.parts import MeasuredTable, grid, height_of
from leakgeo.deliver.report.sketch import Size
from leakgeo.deliver.report.tie_sketch import tie_sketch
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from leakgeo.deliver.views.line_view import LineView
    from leakgeo.deliver.views.locate_request import Request
    from leakgeo.wording import Wording

_SIDE = [("LEFTPADDING", (0, 0), (-1, -1), 0), ("RIGHTPADDING", (0, 0), (-1, -1), 0),
         ("TOPPADDING", (0, 0), (-1, -1), 0), ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
         ("VALIGN", (0, 0), (-1, -1), "TOP")]  # fmt: skip


def request_parts(
    view: LineView,
    units: str,
    width: float,
    scale: float = 1.0,
    *,
    sketch_height: float | None = None,
) -> list[Flowable]:
    """Return the corners of the white line beside the tie distances; empty without a request.

    Parameters
    ----------
    view : LineView
    units : {"si", "us"}
        Units of the distances.
    width : float
        Width of a page between its margins, in points.
    scale : float
        Scale of the type; default 1.
    sketch_height : float or None
        Least height of a sketch of the ties, in points; no sketch if None.
    """
    request = view.request
    if request is None:
        return []
    say, left, gap = view.wording.term, width * 0.42, 10.0
    right = width - left - gap
    wide = right if sketch_height is not None and request.ties else left
    corners = grid((say("report_white_line"), say("report_latlon")), request.places(view.wording),
                   [wide * 0.3, wide * 0.7], 7 * scale)  # fmt: skip
    rows = [(*tie.texts(view.wording), "") for tie in request.ties]
    heads = (say("report_tape_from"), say("report_distance"), say("report_direction"),
             say("report_as_taped"))  # fmt: skip
    tapes = grid(heads, rows, [right * s for s in (0.32, 0.22, 0.28, 0.18)], 7 * scale)
    sketch = (
        _sketch(view, units, Size(left, sketch_height), height_of([*tapes, *corners], right))
        if sketch_height is not None
        else []
    )
    cells = [sketch, "", [*tapes, Spacer(1, 3), *corners]] if sketch else [corners, "", tapes or ""]
    both = MeasuredTable([cells], colWidths=[left, gap, right], style=_SIDE)
    parts = [
        Spacer(1, 4 * scale),
        para(_request_text(request, view.wording), 8.5 * scale, bold=True, spaceAfter=2),
        both,
    ]
    return [*parts, para(view.note, 7 * scale, spaceBefore=2)] if view.note else parts


def _sketch(view: LineView, units: str, size: Size, beside: float) -> list[Flowable]:
    """Return the sketch of the ties, as high as the tables beside it or higher, and its caption."""
    caption = para(view.wording.term("report_ties_key"), LEAST_SIZE, spaceBefore=2)
    high = max(beside - height_of([caption], size.width), size.height)
    sketch = tie_sketch(view, units, Size(size.width, high))
    return [] if sketch is None else [sketch, caption]


def _request_text(request: Request, words: Wording) -> str:
    order = words.text(Reason("report_request_order", order=request.work_order))
    parts = (request.size(words), request.address, order if request.work_order else "")
    return words.text(Reason("report_request", asked="; ".join(part for part in parts if part)))
