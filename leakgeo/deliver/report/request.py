"""The locate request on the dig sheet: corners of the white line, and ties of the mark."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reportlab.platypus import Flowable, Spacer, Table

from leakgeo.deliver.report.fonts import para
from leakgeo.deliver.report.parts import grid

if TYPE_CHECKING:
    from leakgeo.deliver.views.line_view import LineView
    from leakgeo.deliver.views.locate_request import Request

_SIDE = [("LEFTPADDING", (0, 0), (-1, -1), 0), ("RIGHTPADDING", (0, 0), (-1, -1), 0),
         ("TOPPADDING", (0, 0), (-1, -1), 0), ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
         ("VALIGN", (0, 0), (-1, -1), "TOP")]  # fmt: skip


def request_parts(view: LineView, units: str, width: float, scale: float = 1.0) -> list[Flowable]:
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
    """
    request = view.request
    if request is None:
        return []
    left, gap = width * 0.42, 10.0
    right = width - left - gap
    corners = grid(("White line", "Latitude, longitude (WGS 84)"), request.places(),
                   [left * 0.3, left * 0.7], 7 * scale)  # fmt: skip
    rows = [(*tie.texts(units), "") for tie in request.ties]
    heads = ("Tape from", "Distance", "Direction", "As taped")
    tapes = grid(heads, rows, [right * s for s in (0.35, 0.16, 0.31, 0.18)], 7 * scale)
    both = Table([[corners, "", tapes or ""]], colWidths=[left, gap, right], style=_SIDE)
    parts = [
        Spacer(1, 4 * scale),
        para(
            f"Locate request: {_request_text(request, units)}", 8.5 * scale, bold=True, spaceAfter=2
        ),
        both,
    ]
    return [*parts, para(view.note, 7 * scale, spaceBefore=2)] if view.note else parts


def _request_text(request: Request, units: str) -> str:
    order = f"work order {request.work_order}" if request.work_order else ""
    return "; ".join(part for part in (request.size(units), request.address, order) if part)
