"""The PDF report: a cover, then a page for each line with a mark or a search zone."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth

from leakgeo.deliver.folder.atomic import out_folder
from leakgeo.deliver.report.cover import cover
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

# Size of the foot's letters, height of its last line, and distance of its lines.
_FOOT_PT, _FOOT_MM, _FOOT_STEP_MM = 7.5, 5.5, 3.5


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
    run = words.text(sentences.run_and_time(result))
    texts = [text for text in (warning, f"{recorded}.", note) if text]
    foot = partial(_foot, texts=texts, run=run, words=words)
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
    units = locale[0]
    some = top_lines(result, report_lines, with_place=True)
    views = line_views(some, *locale)
    story = cover(result, views, wording(*locale), page.width, report_lines)
    pages = LinePages.of(some, *locale, page)
    shown = list(filter(has_page, views))
    kept = {view.line_id: pages.find(view.line_id) for view in shown}
    new = [view for view in shown if not kept[view.line_id]]
    with drawing(new, pages.utilities) as ahead:
        for view in track("report", shown, len(shown)):
            name, draw = view.line_id, partial(line_page, view, units=units, page=page)
            story += put_in(kept[name]) or pages.story(name, draw, ahead.line(name))
    return story


def _foot(
    canvas: Canvas, document: SimpleDocTemplate, texts: Sequence[str], run: str, words: Wording,
) -> None:  # fmt: skip
    canvas.saveState()
    canvas.setFont(REGULAR, _FOOT_PT)
    page = drawn(words.text(Reason("report_page", run=run, page=document.page)))
    lines = _foot_lines([drawn(text) for text in texts], page, document.pagesize[0])
    for line, text in enumerate(reversed(lines)):
        canvas.drawString(MARGIN + 6, (_FOOT_MM + _FOOT_STEP_MM * line) * mm, text)
    # The page number keeps its place, beside the first line of two.
    high = (_FOOT_MM + _FOOT_STEP_MM * max(len(lines) - 1, 1)) * mm
    canvas.drawRightString(document.pagesize[0] - MARGIN - 6, high, page)
    canvas.restoreState()


def _foot_lines(texts: Sequence[str], page: str, width: float) -> list[str]:
    """Put the texts of a foot on lines; the first leaves room for the page, or is left to it."""
    whole = width - 2 * MARGIN - 12
    free, lines = whole - _wide(f"{page}  "), [""]
    for text in texts:
        joined = f"{lines[-1]} {text}".lstrip()
        if _wide(joined) > free:
            lines, joined, free = [*lines, ""], text, whole
        lines[-1] = joined
    return lines


def _wide(text: str) -> float:
    return float(stringWidth(text, REGULAR, _FOOT_PT))
