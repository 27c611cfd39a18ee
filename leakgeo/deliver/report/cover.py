"""The cover of the report: results of all lines, provenance and cautions; and its last pages."""

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
from leakgeo.reason import Reason

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
    """Return the cover: counts, lines by priority, provenance and cautions.

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
    say, lines = wording.term, _lines(views, wording, width)
    bold, every = (sentences.superseded(result, wording), result.job.simulated), tally(result)
    short, more = sentences.warnings(wording)
    return [
        para(say("report_title"), 20, bold=True),
        *(para(each, 11, bold=True, spaceBefore=3) for each in bold if each),
        Spacer(1, 4),
        para(every.sentence(wording), 11),
        *(para(each, 9) for each in _overview(result, every, wording, report_lines) if each),
        Spacer(1, 4),
        para(short, 10, bold=True),
        para(more, 9),
        *(para(each, 9, bold=True) for each in every_dig(result, wording)),
        *heading(say("report_lines"), lines),
        *lines,
        *_lines_without_page(views, wording, width),
        *heading(say("report_by_status")),
        *grid((say("report_status"), say("report_count")), _statuses(every, wording), [200, 60]),
        *heading(say("report_rests_on")),
        *pairs(sentences.provenance(result, wording), [100, width - 100]),
        *heading(say("report_meaning")),
        para(say("report_odds_meaning"), 9),
        *_font_note(views, wording),
    ]


def _overview(result: Result, every: Tally, words: Wording, report_lines: int | None) -> list[str]:
    left = 0 if report_lines is None else max(every.with_place - report_lines, 0)
    shown, total = every.with_place, every.lines
    some = Reason("report_some_lines", shown=report_lines, lines=shown, left=left,
                  without=total - shown)  # fmt: skip
    return [
        sentences.reading_counts(result, words), batch_loss(result, words),
        batch_calibration(result, words), batch_ground(result, words),
        words.text(some) if left else "",
    ]  # fmt: skip


def _statuses(every: Tally, wording: Wording) -> list[tuple[str, str]]:
    return [(wording.term(k, "status"), str(n)) for k, n in every.counts.items()]


def _lines(views: list[LineView], words: Wording, width: float) -> list[Flowable]:
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
    say = words.term
    heads = (say("report_number"), say("report_line"), say("report_mark"), say("report_how_sure"),
             say("report_dig"))  # fmt: skip
    return grid(heads, rows, [s * width for s in shares], 7.5) or [para(say("report_none"), 9)]


def _dig(view: LineView, shown: int) -> str:
    if not view.holds:
        return view.dig_text
    more = len(view.holds) - shown
    rest = view.wording.text(Reason("report_more_on_page", more=more))
    tail = f"; {rest}" if more > 0 else ""
    brief = "; ".join(view.brief_holds[:shown])
    return f"{view.dig_text}: {brief}{tail}"


def _priority(view: LineView) -> str:
    priority = number(view.row, "priority")
    return "" if priority is None else f"{priority:g}"


def _lines_without_page(views: list[LineView], words: Wording, width: float) -> list[Flowable]:
    """Return the table of lines without a page, each with its reason."""
    rows = [
        (view.line_id, view.wording.term(view.status, "status"), _why_no_page(view))
        for view in views
        if not has_page(view)
    ]
    if not rows:
        return []
    shares = (0.25, 0.2, 0.55)
    heads = (words.term("report_line"), words.term("report_status"), words.term("report_why"))
    table = grid(heads, rows, [s * width for s in shares], 7.5)
    return [*heading(words.term("report_without_mark"), table), *table]


def _why_no_page(view: LineView) -> str:
    parts = [view.message or view.wording.term("report_no_reason"), sentences.advice(view)]
    return " ".join(part for part in parts if part)


def last_pages(result: Result, words: Wording, width: float) -> list[Flowable]:
    """Return the table of parameters in force that can change the result, after the lines.

    Parameters
    ----------
    result : Result
    words : Wording
        Texts in the units and the language of the reader.
    width : float
        Width of a page between its margins, in points.
    """
    rows = parameters_in_force(result, words)
    shares = (0.56, 0.18, 0.26)
    say = words.term
    heads = (say("report_in_force"), say("report_value"), say("report_used_by"))
    table = grid(heads, rows, [s * width for s in shares], 7.5)
    return [*heading(say("report_parameters"), table), *table] if table else []


def _font_note(views: list[LineView], words: Wording) -> list[Flowable]:
    texts = [text for view in views for text in (view.line_id, view.message, *view.holds)]
    if not any(lacks_shapes(text) for text in texts):
        return []
    note = words.text(Reason("report_font_lacks", sign=LACKING))
    return [Spacer(1, 4), para(note, 9)]
