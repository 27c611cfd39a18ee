"""The page of one line: plan, profile, numbers; the dig sheet, where there is a mark, follows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, PageBreak, Spacer, Table

from leakgeo.deliver.report.dig import conflict_table, dig_sheet
from leakgeo.deliver.report.findings import told
from leakgeo.deliver.report.fonts import para
from leakgeo.deliver.report.parts import (
    TIGHT,
    grid,
    heading,
    height_of,
    holds_box,
    page_top,
    pairs,
)
from leakgeo.deliver.report.plot import profile_plot
from leakgeo.deliver.report.request import request_parts
from leakgeo.deliver.report.sketch import Size, plan_sketch
from leakgeo.deliver.views import sentences

if TYPE_CHECKING:
    from leakgeo.deliver.report.sketch import Buried
    from leakgeo.deliver.views.line_view import LineView

KEY = (
    "Cross: the mark; dashed: its error along and across, 95 % each, given a leak (a bare ring: no "
    "mark yet). "
    "Pink: search zones. Hatched white: proposed excavation. "
    "Dashed white: white line to ask marks for. Dotted round it: spoil no nearer (2 ft). "
    "Coloured hatch: utility in conflict; dotted, letter and ?: of unknown position. "
    "Dots: readings, loud ones yellow, unused ones white. "
    "Numbered rings: listen next."
)
LOWEST, HIGHEST = 175.0, 330.0  # of the plan; it takes the room that the text leaves
_PLOT = 132.0
_LOW_PLOT = 108.0  # where there is more to say below
# Sizes of type, plan and plot to try, the largest first; what fits no page at the last runs on.
SCALES = (1.0, 0.92, 0.84, 0.76)


def has_page(view: LineView) -> bool:
    """Return whether a line has a place to show: a mark or a zone."""
    return view.mark is not None or bool(view.zones)


def line_page(view: LineView, utilities: Buried, units: str, page: Size) -> list[Flowable]:
    """Make the page of a line with a mark or zones, and the dig sheet where there is a mark.

    Parameters
    ----------
    view : LineView
    utilities : Buried
        All utilities of the job, in the line's metre CRS.
    units : {"si", "us"}
    page : Size
        What a page holds between its margins.
    """
    for scale in SCALES:
        parts = _parts(view, utilities, units, page, scale)
        if height_of(parts, page.width) <= page.height:
            # It fits: nothing need make room for what comes after it.
            parts = [part for part in parts if not isinstance(part, CondPageBreak)]
            break
    return [*parts, *([PageBreak(), *dig_sheet(view, units, page)] if view.located else [])]


def _parts(
    view: LineView, utilities: Buried, units: str, page: Size, scale: float
) -> list[Flowable]:
    width, high = page.width, scale * (_PLOT if view.located else _LOW_PLOT)
    top = page_top(view.line_id, view.wording.term(view.status, "status"), view, width)
    plot = profile_plot(view, units, Size(width, high))
    below = [
        *([Spacer(1, 4), plot] if plot is not None else []),
        *_more(view, units, width, scale),
        *([] if view.located else _not_yet(view, units, width, scale)),
    ]
    room = Size(width, page.height - height_of([top, *below], width) - 10)
    plan = _plan_and_numbers(view, utilities, units, room, LOWEST * scale)
    return [top, Spacer(1, 5), plan, *below]


def _plan_and_numbers(
    view: LineView, utilities: Buried, units: str, room: Size, lowest: float
) -> Table:
    plan, gap = room.width * 0.56, 10
    side = room.width - plan - gap
    under = [para(KEY, 6.5, spaceBefore=2), *(_place(pair) for pair in view.places)]
    high = min(max(room.height - height_of(under, plan), lowest), HIGHEST)
    sketch = plan_sketch(view, utilities, units, Size(plan, high))
    numbers = _numbers(view, units, side, 1.0)
    if height_of(numbers, side) > room.height:
        numbers = _numbers(view, units, side, 0.84)
    cells = [[sketch, *under], "", numbers]
    return Table([cells], colWidths=[plan, gap, side], style=TIGHT)


def _place(pair: tuple[str, str]) -> Flowable:
    return para(f"{pair[0]}: {pair[1]}", 8)


def _numbers(view: LineView, units: str, width: float, scale: float) -> list[Flowable]:
    said = [sentences.error(view, units), *sentences.odds(view, units), sentences.limits(view)]
    return [
        para(sentences.position(view, units), 13 * scale, bold=True),
        Spacer(1, 3 * scale),
        *(para(text, 9 * scale, spaceAfter=3 * scale) for text in said if text),
        *pairs(sentences.facts(view, units), [78, width - 78], 8 * scale),
    ]


def _more(view: LineView, units: str, width: float, scale: float) -> list[Flowable]:
    message = view.message if not view.located else ""
    said = [para(message, 9 * scale, spaceBefore=3)] if message and view.mark is None else []
    return [*said, *pairs(told(view, units), [92, width - 92], 8 * scale)]


def _not_yet(view: LineView, units: str, width: float, scale: float) -> list[Flowable]:
    """Say where to listen next, and what would hold a dig at the likeliest place."""
    parts = _next(view, units, width, scale)
    if view.mark is None:
        return parts
    box = [
        para(f"Not a dig yet: {view.line_id}", 10, bold=True, spaceBefore=4, spaceAfter=2),
        holds_box(view.holds, (), width, 0.9 * scale),
        Spacer(1, 3),
        *conflict_table(view, units, width, 0.95 * scale),
        *request_parts(view, units, width, 0.9 * scale),
    ]
    return [*parts, KeepTogether(box)]


def _next(view: LineView, units: str, width: float, scale: float) -> list[Flowable]:
    rows = [sentences.next_reading(row, units) for row in view.rows("next_readings")]
    said = sentences.advice(view)
    if not (rows or said):
        return []
    first = [*heading("Where to listen next"), *([para(said, 8.5 * scale)] if said else [])]
    if not rows:
        return first
    heads = ("No.", "From the start", "How to tape it, and why here")
    return [*first, *grid(heads, rows, [30, 80, width - 110], 7.5 * scale)]
