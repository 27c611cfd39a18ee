"""The PDF report: an overview, then a page for each line with a mark or a place to listen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, PageBreak, SimpleDocTemplate

from leakgeo.deliver import words
from leakgeo.deliver.atomic import out_folder, write_whole
from leakgeo.deliver.report_cover import cover
from leakgeo.deliver.report_line import has_page, line_page
from leakgeo.deliver.report_type import REGULAR, drawn, register_fonts
from leakgeo.deliver.view import line_views

if TYPE_CHECKING:
    from pathlib import Path

    from reportlab.pdfgen.canvas import Canvas

    from leakgeo.result import Result

MARGIN = 15 * mm


def write_report(result: Result, *, out: Path | None, units: str) -> Result:
    """Write ``report.pdf`` into `out`, whole or not at all; the same result gives the same bytes.

    Parameters
    ----------
    result : Result
        Layers in a metre CRS; any may be absent or empty.
    out : pathlib.Path
        Folder, made where it is missing.
    units : {"si", "us"}
        Also the paper: A4, or US letter.

    Returns
    -------
    Result
        The same.

    Raises
    ------
    ParameterError
        If no folder was given.
    OutputError
        If the file can't be written.
    """
    folder = out_folder(out)
    register_fonts()
    write_whole(folder / "report.pdf", lambda path: _build(result, path, units))
    return result


def _build(result: Result, path: Path, units: str) -> None:
    paper = LETTER if units == "us" else A4
    document = SimpleDocTemplate(
        str(path), pagesize=paper, invariant=1, title="Leak report", author="leakgeo",
        leftMargin=MARGIN, rightMargin=MARGIN, topMargin=12 * mm, bottomMargin=16 * mm,
    )  # fmt: skip
    document.build(
        _story(result, units, paper[0] - 2 * MARGIN - 12), onFirstPage=_foot, onLaterPages=_foot
    )


def _story(result: Result, units: str, width: float) -> list[Flowable]:
    views = line_views(result)
    story = cover(result, views, units, width)
    for view in filter(has_page, views):
        story += [PageBreak(), *line_page(view, result.job.utilities, units, width)]
    return story


def _foot(canvas: Canvas, document: SimpleDocTemplate) -> None:
    canvas.saveState()
    canvas.setFont(REGULAR, 7.5)
    canvas.drawString(MARGIN + 6, 9 * mm, drawn(words.CAUTION))
    canvas.drawRightString(document.pagesize[0] - MARGIN - 6, 9 * mm, f"page {document.page}")
    canvas.restoreState()
