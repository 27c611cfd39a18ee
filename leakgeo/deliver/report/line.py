"""The page of one line: plan, profile and numbers; a located line gets a dig sheet as well."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, PageBreak, Spacer

from leakgeo.deliver.report.dig import conflict_table, dig_sheet
from leakgeo.deliver.report.findings import further_facts
from leakgeo.deliver.report.fonts import LEAST_SIZE, para
from leakgeo.deliver.report.parts import (
    TIGHT,
    MeasuredTable,
    grid,
    heading,
    height_of,
    holds_box,
    page_top,
    pairs,
)
from leakgeo.deliver.report.pipe_sketch import pipe_sketch
from leakgeo.deliver.report.plot import profile_plot
from leakgeo.deliver.report.request import request_parts
from leakgeo.deliver.report.sketch import Size, plan_sketch
from leakgeo.deliver.views import sentences
from leakgeo.deliver.views.explanations import what_else
from leakgeo.deliver.views.next_actions import HEADS, action_cautions, next_actions
from leakgeo.dig.cautions import SPOIL_BACK_M
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from leakgeo.deliver.report.sketch import Buried
    from leakgeo.deliver.views.line_view import LineView

LOWEST, HIGHEST = 140.0, 330.0  # height of the plan in points; it fills the space left by text
_PLOT = 132.0
_LOW_PLOT = 108.0  # with more text below
# Each of so many marks of a line has a plan; the marks of more share one.
_SKETCHES, _GAP = 2, 4.0
# Facts that stand in the title or on the card.
_ABOVE = ("fact_address", "fact_work_order", "fact_taped")
# Scales of type, plan and plot to try, largest first; a page too long for the last continues.
SCALES = (1.0, 0.92, 0.84, 0.76)


def has_page(view: LineView) -> bool:
    """Return whether a line has a mark or a search zone."""
    return view.mark is not None or bool(view.zones)


def line_page(view: LineView, utilities: Buried, units: str, page: Size) -> list[Flowable]:
    """Return the page of a line with a mark or zones, and the dig sheets of a located line.

    Parameters
    ----------
    view : LineView
    utilities : Buried
        All utilities of the job, in the line's metre CRS.
    units : {"si", "us"}
        Units of the texts.
    page : Size
        Size of a page between its margins.
    """
    for scale in SCALES:
        parts = _parts(view, utilities, units, page, scale)
        if height_of(parts, page.width) <= page.height:
            # The page fits, so no conditional page break is needed.
            parts = [part for part in parts if not isinstance(part, CondPageBreak)]
            break
    if not view.located:
        return parts
    return parts + [
        part for one in view.by_mark for part in (PageBreak(), *dig_sheet(one, units, page))
    ]


def _parts(
    view: LineView, utilities: Buried, units: str, page: Size, scale: float
) -> list[Flowable]:
    width, high = page.width, scale * (_PLOT if view.located else _LOW_PLOT)
    top = page_top(view.line_id, view, width, scale)
    plot = profile_plot(view, units, Size(width, high))
    below = [
        *([Spacer(1, 4), plot] if plot is not None else []),
        *_facts(view, units, width, scale),
        *([] if view.located else _not_located(view, units, width, scale)),
    ]
    space = Size(width, page.height - height_of([*top, *below], width) - 10)
    plan = _plan_and_numbers(view, utilities, units, space, scale)
    return [*top, Spacer(1, 5), plan, *below]


def _plan_and_numbers(
    view: LineView, utilities: Buried, units: str, space: Size, scale: float
) -> MeasuredTable:
    plan, gap = space.width * 0.56, 10
    side = space.width - plan - gap
    words = view.wording
    spoil = Reason("report_plan_key", spoil=words.quantities.length(SPOIL_BACK_M))
    key = words.text(spoil) if view.placed else words.term("report_pipe_key")
    under = [
        para(key, LEAST_SIZE, spaceBefore=2), *(_place(pair) for pair in view.places),
        *_actions(view, plan, scale),
    ]  # fmt: skip
    high = min(max(space.height - height_of(under, plan), LOWEST * scale), HIGHEST)
    between = _sketches(view, utilities, units, Size(plan, high))
    numbers = _numbers(view, units, side, 1.0)
    if height_of(numbers, side) > space.height:
        numbers = _numbers(view, units, side, 0.84)
    cells = [[*between, *under], "", numbers]
    return MeasuredTable([cells], colWidths=[plan, gap, side], style=TIGHT, splitInRow=1)


def _sketches(view: LineView, utilities: Buried, units: str, size: Size) -> list[Flowable]:
    """Return the plan around each mark; of a line that is not placed, the sketch along the pipe."""
    if not view.placed:
        return [pipe_sketch(view, units, size)]
    around = view.by_mark if len(view.by_mark) <= _SKETCHES else (view,)
    each = Size(size.width, (size.height - _GAP * (len(around) - 1)) / len(around))
    sketches = [plan_sketch(view, utilities, units, each, one) for one in around]
    return [part for sketch in sketches for part in (Spacer(1, _GAP), sketch)][1:]


def _place(pair: tuple[str, str]) -> Flowable:
    return para(f"{pair[0]}: {pair[1]}", 8)


def _actions(view: LineView, width: float, scale: float) -> list[Flowable]:
    """Return what to do next, beside the numbers, so that the page has room for it."""
    rows, say = next_actions(view), view.wording.term
    if not rows:
        return []
    heads, size = [say(head, "map") for head in HEADS], max(7.5 * scale, LEAST_SIZE)
    return [
        para(say("do_next", "map"), 10 * scale, bold=True, spaceBefore=5, spaceAfter=2),
        *grid(heads, rows, [22, width - 140, 42, 76], size),
        para(
            " ".join([say("about_actions", "map"), *action_cautions(view)]),
            LEAST_SIZE,
            spaceBefore=2,
        ),
    ]


def _numbers(view: LineView, units: str, width: float, scale: float) -> list[Flowable]:
    limit = sentences.limits(view)
    texts = [
        *(sentences.error(one) for one in view.by_mark), *sentences.odds(view),
        what_else(view), limit if limit not in view.message else "",
    ]  # fmt: skip
    known = sentences.facts(view, units, _ABOVE)
    return [
        para(sentences.position(view), 11 * scale, bold=True),
        Spacer(1, 3 * scale),
        *(para(text, 9 * scale, spaceAfter=3 * scale) for text in texts if text),
        *pairs(known, [78, width - 78], 8 * scale),
    ]


def _facts(view: LineView, units: str, width: float, scale: float) -> list[Flowable]:
    return pairs(further_facts(view), [92, width - 92], 8 * scale)


def _not_located(view: LineView, units: str, width: float, scale: float) -> list[Flowable]:
    """Return where to listen next, and the holds of a dig at the likeliest place."""
    parts = _next(view, units, width, scale)
    if view.mark is None:
        return parts
    not_yet = view.wording.text(Reason("report_no_dig_yet", line=view.line_id))
    box = [
        para(not_yet, 10, bold=True, spaceBefore=4, spaceAfter=2),
        holds_box(view.holds, (), view.wording, width, 0.9 * scale),
        Spacer(1, 3),
        *conflict_table(view, units, width, 0.95 * scale),
        *request_parts(view, units, width, 0.9 * scale),
    ]
    return [*parts, KeepTogether(box)]


def _next(view: LineView, units: str, width: float, scale: float) -> list[Flowable]:
    rows = [sentences.next_reading(row, view.wording) for row in view.rows("next_readings")]
    if not rows:
        return []
    say = view.wording.term
    heads = (say("report_number"), say("report_from_start"), say("report_how_to_tape"))
    return [
        *heading(say("report_next")),
        *grid(heads, rows, [30, 80, width - 110], 7.5 * scale),
    ]
