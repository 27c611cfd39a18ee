"""Write the sheets of a crew as a PDF to print."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from reportlab.lib.units import mm
from reportlab.platypus import PageBreak

from leakgeo.deliver.report.document import MARGIN, PAPERS, write_pdf
from leakgeo.deliver.report.fonts import REGULAR, drawn
from leakgeo.deliver.sheets.line import SheetLine, sheet_lines
from leakgeo.deliver.sheets.records import dig_sheet, meter_sheet
from leakgeo.deliver.sheets.walks import air_sheet, fittings_sheet, last_stretch_sheet, walk_sheet
from leakgeo.errors import OutputError, ParameterError
from leakgeo.reason import Reason
from leakgeo.wording import wording

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from reportlab.pdfgen.canvas import Canvas
    from reportlab.platypus import Flowable, SimpleDocTemplate

    from leakgeo.deliver.report.sketch import Size
    from leakgeo.job.model import Job
    from leakgeo.wording import Wording

#: The sheets of a line in order, each one page.
SHEETS = (fittings_sheet, walk_sheet, last_stretch_sheet, air_sheet, meter_sheet, dig_sheet)


def write_sheets(
    path: Path,
    job: Job | None = None,
    *,
    units: str = "si",
    language: str = "en",
    paper: str | None = None,
) -> int:
    """Write blank sheets to print: fittings, walk, last stretch, air test, meter test, dig.

    Parameters
    ----------
    path : pathlib.Path
        PDF to create; it must not exist.
    job : Job, optional
        Job whose usable lines fill in the heads, each with sheets of its own; one blank sheet of
        each kind without it.
    units : {"si", "us"}
        Units that the crew works in.
    language : str
        Language of the sheets, one of `leakgeo.wording.languages`.
    paper : {"letter", "a4"}, optional
        By default letter for ``us``, else A4.

    Returns
    -------
    int
        Number of pages.

    Raises
    ------
    OutputError
        If the file exists, or can't be written.
    ParameterError
        If `paper` is not known.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_sheets(pathlib.Path(folder) / "sheets.pdf", units="us")
    6
    """
    paper = paper or ("letter" if units == "us" else "a4")
    if paper not in PAPERS:
        known = ", ".join(PAPERS)
        raise ParameterError.of("paper", f"{paper!r} is not allowed; use one of {known}.")
    if path.exists():
        raise OutputError(f"{path} exists. Give another name, or move the file.")
    lines = [SheetLine()] if job is None else sheet_lines(job)
    words, pages = wording(units, language), len(lines) * len(SHEETS)
    simulated = (job.simulated or "") if job is not None else ""
    write_pdf(
        path, partial(_story, lines, words), paper=paper, title=words.term("sheet_walk"),
        foot=partial(_foot, words=words, pages=pages, simulated=simulated),
    )  # fmt: skip
    return pages


def _story(lines: Sequence[SheetLine], words: Wording, page: Size) -> list[Flowable]:
    sheets = [sheet(line, words, page) for line in lines for sheet in SHEETS]
    return [part for sheet in sheets for part in (*sheet, PageBreak())][:-1]


def _foot(
    canvas: Canvas, document: SimpleDocTemplate, *, words: Wording, pages: int, simulated: str
) -> None:
    canvas.saveState()
    canvas.setFont(REGULAR, 8)
    caution = (words.term("sheet_caution"), words.term("sheet_caution_more"))
    for line, sentence in enumerate((*caution, simulated)):
        canvas.drawString(MARGIN + 6, (12 - 3.5 * line) * mm, drawn(sentence))
    number = words.text(Reason("sheet_page", page=document.page, pages=pages))
    canvas.drawRightString(document.pagesize[0] - MARGIN - 6, 12 * mm, number)
    canvas.restoreState()
