"""The dig sheet of a line: holds, conflicts, locate request and boxes to sign, on one page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reportlab.platypus import Flowable, PageBreak, Spacer

from leakgeo.deliver.report.fonts import para
from leakgeo.deliver.report.parts import grid, height_of, holds_box, page_top, sign_boxes
from leakgeo.deliver.report.request import request_parts
from leakgeo.deliver.views import sentences
from leakgeo.deliver.views.rows import number
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from leakgeo.deliver.report.sketch import Size
    from leakgeo.deliver.views.line_view import LineView

# Least height of the sketch of the ties in points, and heights to try where there is room.
LOWEST, HIGHER = 100.0, (220.0, 190.0, 160.0, 130.0)
# Type sizes to try, largest first; a sheet too long for the smallest has two pages.
SCALES = (1.3, 1.15, 1.0, 0.9, 0.8)


def dig_sheet(view: LineView, units: str, page: Size) -> list[Flowable]:
    """Return the dig sheet of a mark, in the largest type that fits one page.

    Parameters
    ----------
    view : LineView
        Of a line with a mark, or of one of its marks.
    units : {"si", "us"}
        Units of the texts.
    page : Size
        Size of a page between its margins.

    Returns
    -------
    list of Flowable
        If the smallest type does not fit, the locate request and the boxes to sign have a page of
        their own.
    """
    width = page.width
    for scale in SCALES:
        upper = _holds(view, units, width, scale)
        lower = _request(view, units, width, scale, LOWEST)
        if height_of([*upper, *lower], width) <= page.height:
            break
    else:
        upper = _holds(view, units, width, 1.0)
        named = view.wording.text(Reason("report_sheet_request", line=view.title))
        title = para(named, 13, bold=True)
        return [*upper, PageBreak(), title, *_request(view, units, width, SCALES[0], HIGHER[0])]
    for sketch in HIGHER:
        higher = _request(view, units, width, scale, sketch)
        if height_of([*upper, *higher], width) <= page.height:
            return [*upper, *higher]
    return [*upper, *lower]


def _holds(view: LineView, units: str, width: float, scale: float) -> list[Flowable]:
    """Return the upper part of the sheet: the card, holds, cautions and conflicts."""
    return [
        *page_top(view.wording.text(Reason("report_sheet", line=view.title)), view, width,
                  0.9 * scale),
        Spacer(1, 3 * scale),
        para(_where(view), 8.5 * scale, spaceAfter=3),
        holds_box(view.holds, view.both_cautions, view.wording, width, scale),
        Spacer(1, 3 * scale),
        *conflict_table(view, units, width, scale),
        *(para(sentences.other_place(row, view.wording), 8 * scale, spaceBefore=3)
          for row in view.rows("dig_alternatives")),
    ]  # fmt: skip


def _request(
    view: LineView, units: str, width: float, scale: float, sketch: float
) -> list[Flowable]:
    """Return the lower part of the sheet: the locate request and the boxes to sign."""
    return [
        *request_parts(view, units, width, scale, sketch_height=sketch),
        *_listen_again(view, units, scale),
        Spacer(1, 4 * scale),
        sign_boxes(view.wording, width, scale),
    ]


def _where(view: LineView) -> str:
    depth = number(view.dig, "depth_m")
    deep = "" if depth is None else view.wording.text(Reason("report_depth", depth_m=depth))
    parts = [f"{sentences.error(view)}.", deep]
    return " ".join(part for part in parts if part)


def conflict_table(view: LineView, units: str, width: float, scale: float) -> list[Flowable]:
    """Return the table of utilities in conflict: clearance, severity, answer and action."""
    rows = [sentences.conflict(row, units, view.wording) for row in view.rows("conflicts")]
    shares = (0.18, 0.12, 0.17, 0.1, 0.43)
    say = view.wording.term
    heads = (say("report_conflict"), say("report_clearance"), say("report_how_close"),
             say("report_answer"), say("report_to_do"))  # fmt: skip
    return grid(heads, rows, [s * width for s in shares], 7 * scale)


def _listen_again(view: LineView, units: str, scale: float) -> list[Flowable]:
    rows = [sentences.next_reading(row, view.wording) for row in view.rows("next_readings")]
    if not rows:
        return []
    places = tuple(dict.fromkeys(where for _, where, _ in rows))
    again = view.wording.text(Reason("report_listen_again", places=places))
    return [para(again, 8.5 * scale, spaceBefore=2)]
