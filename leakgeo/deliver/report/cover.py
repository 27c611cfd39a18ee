"""The cover of the report: results of all lines, provenance, parameters and cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reportlab.platypus import Flowable, Spacer

from leakgeo.deliver.report.findings import batch_calibration, batch_ground, batch_loss
from leakgeo.deliver.report.fonts import LACKING, lacks_shapes, para
from leakgeo.deliver.report.line import has_page
from leakgeo.deliver.report.parameters import parameters_in_force
from leakgeo.deliver.report.parts import grid, heading, pairs
from leakgeo.deliver.views import sentences
from leakgeo.deliver.views.card import every_dig
from leakgeo.deliver.views.rows import number
from leakgeo.deliver.views.top_lines import tally

if TYPE_CHECKING:
    from leakgeo.deliver.views.line_view import LineView
    from leakgeo.deliver.views.top_lines import Tally
    from leakgeo.result import Result
    from leakgeo.wording import Wording

MAX_HOLDS = 4  # of a line on the cover; its page has all
MANY_LINES = 60  # with more lines, the cover prints one hold per line


def cover(
    result: Result, views: list[LineView], wording: Wording, width: float, report_lines: int | None
) -> list[Flowable]:
    """Return the cover: counts, lines by priority, provenance, parameters and cautions.

    Parameters
    ----------
    result : Result
    views : list of LineView
        Lines of the report.
    wording : Wording
        Texts in the units and the language of the reader.
    width : float
        Width of a page between its margins, in points.
    report_lines : int or None
        Maximum number of lines with a page; all if None.
    """
    bold, every = (sentences.superseded(result, wording), result.job.simulated), tally(result)
    units, lines = wording.units, _lines(views, width)
    return [
        para("Leak marks, and what holds each dig", 20, bold=True),
        *(para(each, 11, bold=True, spaceBefore=3) for each in bold if each),
        Spacer(1, 4),
        para(every.sentence(wording), 11),
        *(para(each, 9) for each in _overview(result, every, units, report_lines) if each),
        Spacer(1, 4),
        para(sentences.CAUTION, 10, bold=True),
        para(sentences.CAUTION_MORE, 9),
        *(para(each, 9, bold=True) for each in every_dig(result, wording)),
        *heading("Lines, the most urgent first", lines),
        *lines,
        *_lines_without_page(views, width),
        *heading("Lines by status"),
        *grid(("Status", "Lines"), _statuses(every, wording), [200, 60]),
        *heading("What this rests on"),
        *pairs(sentences.provenance(result), [100, width - 100]),
        *heading("What the probabilities mean"),
        para(sentences.ODDS_MEANING, 9),
        *_parameters(result, units, width),
        *_font_note(views),
    ]


def _overview(result: Result, every: Tally, units: str, report_lines: int | None) -> list[str]:
    left = 0 if report_lines is None else max(every.with_place - report_lines, 0)
    shown, total = every.with_place, every.lines
    some = (
        f"Only the {report_lines} most urgent of {shown} lines with a mark or a zone "
        f"are in this report; {left} more, and {total - shown} lines without, are in "
        "summary.csv and result.gpkg."
    )
    return [
        sentences.reading_counts(result), batch_loss(result, units), batch_calibration(result),
        batch_ground(result), some if left else "",
    ]  # fmt: skip


def _statuses(every: Tally, wording: Wording) -> list[tuple[str, str]]:
    return [(wording.term(k, "status"), str(n)) for k, n in every.counts.items()]


def _lines(views: list[LineView], width: float) -> list[Flowable]:
    rows = [
        (
            _priority(view),
            view.line_id,
            sentences.position(view),
            next(iter(sentences.odds(view)), ""),
            _dig(view, MAX_HOLDS if len(views) <= MANY_LINES else 1),
        )
        for view in views
        if has_page(view)
    ]
    shares = (0.06, 0.18, 0.18, 0.27, 0.31)
    heads = ("No.", "Line", "Mark", "How sure", "Dig")
    return grid(heads, rows, [s * width for s in shares], 7.5) or [para("None.", 9)]


def _dig(view: LineView, shown: int) -> str:
    if not view.holds:
        return view.dig_text
    more = len(view.holds) - shown
    tail = f"; {more} more on its page" if more > 0 else ""
    brief = "; ".join(view.brief_holds[:shown])
    return f"{view.dig_text}: {brief}{tail}"


def _priority(view: LineView) -> str:
    priority = number(view.row, "priority")
    return "" if priority is None else f"{priority:g}"


def _lines_without_page(views: list[LineView], width: float) -> list[Flowable]:
    """Return the table of lines without a page, each with its reason."""
    rows = [
        (view.line_id, view.wording.term(view.status, "status"), _why_no_page(view))
        for view in views
        if not has_page(view)
    ]
    if not rows:
        return []
    shares = (0.25, 0.2, 0.55)
    heads = ("Line", "Status", "Why")
    table = grid(heads, rows, [s * width for s in shares], 7.5)
    return [*heading("Lines without a mark", table), *table]


def _why_no_page(view: LineView) -> str:
    parts = [view.message or "no reason recorded", sentences.advice(view)]
    return " ".join(part for part in parts if part)


def _parameters(result: Result, units: str, width: float) -> list[Flowable]:
    """Return the table of parameters in force that can change the result."""
    rows = parameters_in_force(result, units)
    shares = (0.56, 0.18, 0.26)
    heads = ("Parameter in force", "Value", "Used by")
    table = grid(heads, rows, [s * width for s in shares], 7.5)
    return [*heading("Parameters", table), *table] if table else []


def _font_note(views: list[LineView]) -> list[Flowable]:
    texts = [text for view in views for text in (view.line_id, view.message, *view.holds)]
    if not any(lacks_shapes(text) for text in texts):
        return []
    note = (
        f"Characters that this report's font lacks are printed as {LACKING}; see the map instead."
    )
    return [Spacer(1, 4), para(note, 9)]
