"""The PDF report: a cover, a page for each line with a mark or a search zone, and parameters."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from reportlab.lib.units import mm
from reportlab.platypus import PageBreak

from leakgeo.deliver.folder.atomic import out_folder
from leakgeo.deliver.report.cover import cover, last_pages
from leakgeo.deliver.report.document import MARGIN, write_pdf
from leakgeo.deliver.report.fonts import REGULAR, drawn
from leakgeo.deliver.report.kept_pages import LinePages, PagesDocument, put_in
from leakgeo.deliver.report.line import has_page, line_page
from leakgeo.deliver.report.pages_ahead import PagesAhead
from leakgeo.deliver.views import sentences
from leakgeo.deliver.views.line_view import line_views
from leakgeo.deliver.views.top_lines import selected, top_lines
from leakgeo.progress import track
from leakgeo.reason import Reason
from leakgeo.selection import Selection
from leakgeo.wording import wording

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from reportlab.pdfgen.canvas import Canvas
    from reportlab.platypus import Flowable, SimpleDocTemplate

    from leakgeo.deliver.report.sketch import Buried, Size
    from leakgeo.deliver.views.line_view import LineView
    from leakgeo.result import Result
    from leakgeo.wording import Wording


def write_report(
    result: Result, *, out: Path | None, units: str, language: str,
    lines: tuple[str, ...], top: int | None, status: str, near: str, report_lines: int | None,
    workers: int | None,
) -> Result:  # fmt: skip
    """Write ``report.pdf`` into `out` atomically; the same result gives the same bytes.

    Concurrent threads wait for each other.

    Parameters
    ----------
    result : Result
        Layers in a metre CRS; any may be absent or empty.
    out : pathlib.Path
        Folder, created if it is missing.
    units : {"si", "us"}
        Units of the texts and plots, and the paper: A4 for SI, letter for US.
    language : str
        Language of the messages, one of `leakgeo.wording.languages`.
    lines : tuple of str
        Lines to show, by ``line_id``; all if empty.
    top : int or None
        Of the selected lines so many, the first in the order of the digs.
    status : str
        Statuses of lines or of their digs, as `leakgeo.selection.parse_statuses` reads them.
    near : str
        Place and radius, as `leakgeo.selection.parse_near` reads them; everywhere if empty.
    report_lines : int or None
        Maximum number of lines with a page, first by priority; the cover counts the others. All if
        None.
    workers : int or None
        Processes that draw the pages of many lines; one for each processor if None.

    Returns
    -------
    Result
        The same result.

    Raises
    ------
    ParameterError
        If no folder was given, or no line is selected.
    OutputError
        If the file can't be written, or the folder holds the result of another run.
    """
    folder = out_folder(out, result.run_id)
    locale = (units, language)
    paper = "letter" if units == "us" else "a4"
    shown = selected(result, Selection(lines, top, status, near))
    words = wording(*locale)
    recorded = words.text(sentences.holds_recorded(result.job))
    warning = sentences.warnings(words)[0]
    note = sentences.superseded(result, words) or result.job.simulated or ""
    run = sentences.of_run(result, words)
    # In two languages the caution takes the width that the page number leaves.
    lines = (f"{warning} {recorded}.", run) if words.english() is None else (
        warning, f"{recorded}. {run}")  # fmt: skip
    foot = partial(_foot, texts=(*lines, note) if note else lines, words=words)
    drawing = partial(PagesAhead, units=units, paper=paper, workers=workers)
    write_pdf(
        folder / "report.pdf", lambda page: _story(shown, locale, page, report_lines, drawing),
        paper=paper, title=words.term("report_document"), foot=foot, template=PagesDocument,
    )  # fmt: skip
    return result


def _story(
    result: Result, locale: tuple[str, str], page: Size, report_lines: int | None,
    drawing: Callable[[Sequence[LineView], Buried], PagesAhead],
) -> list[Flowable]:  # fmt: skip
    units, words = locale[0], wording(*locale)
    some = top_lines(result, report_lines, with_place=True)
    views = line_views(some, *locale)
    story = cover(result, views, words, page.width, report_lines)
    pages = LinePages.of(some, *locale, page)
    shown = list(filter(has_page, views))
    kept = {view.line_id: pages.find(view.line_id) for view in shown}
    new = [view for view in shown if not kept[view.line_id]]
    with drawing(new, pages.utilities) as ahead:
        for view in track("report", shown, len(shown)):
            name, draw = view.line_id, partial(line_page, view, units=units, page=page)
            story += put_in(kept[name]) or pages.story(name, draw, ahead.line(name))
    # Who goes to the hole reads the lines first, and may leave the parameters at the office.
    last = last_pages(result, words, page.width)
    return [*story, *([PageBreak()] if shown and last else []), *last]


def _foot(
    canvas: Canvas, document: SimpleDocTemplate, texts: Sequence[str], words: Wording
) -> None:
    """Draw caution, run and note, and the number of the page beside the caution."""
    canvas.saveState()
    canvas.setFont(REGULAR, 7.5)
    highest = 2.0 + 3.5 * len(texts)
    for line, text in enumerate(texts):
        canvas.drawString(MARGIN + 6, (highest - 3.5 * line) * mm, drawn(text))
    right = document.pagesize[0] - MARGIN - 6
    page = words.text(Reason("report_page", page=document.page))
    canvas.drawRightString(right, highest * mm, drawn(page))
    canvas.restoreState()
