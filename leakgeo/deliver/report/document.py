"""A PDF of pages: paper, margins, and writing it with a library whose settings are global."""

from __future__ import annotations

from contextlib import contextmanager
from threading import RLock
from types import MappingProxyType
from typing import TYPE_CHECKING

from reportlab import rl_config
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import mm
from reportlab.platypus import SimpleDocTemplate

from leakgeo.deliver.folder.atomic import write_atomic
from leakgeo.deliver.report.fonts import register_fonts
from leakgeo.deliver.report.sketch import Size

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from io import BytesIO
    from pathlib import Path

    from reportlab.pdfgen.canvas import Canvas
    from reportlab.platypus import Flowable

    #: Draws what every page has besides its story.
    Foot = Callable[[Canvas, SimpleDocTemplate], None]

MARGIN, TOP, BASE = 15 * mm, 12 * mm, 16 * mm
PAPERS = MappingProxyType({"letter": LETTER, "a4": A4})
# Space that ReportLab keeps inside the margins, in points.
_PADDING = 12
# Fonts and settings of ReportLab are global, and shared paragraphs keep their last width, so only
# one thread at a time may write a PDF.
_ONE_AT_A_TIME = RLock()


def write_pdf(
    path: Path,
    story: Callable[[Size], Sequence[Flowable]],
    *,
    paper: str,
    title: str,
    foot: Foot,
    template: type[SimpleDocTemplate] = SimpleDocTemplate,
) -> None:
    """Write a PDF atomically; equal stories give equal bytes. Concurrent threads wait.

    Parameters
    ----------
    path : pathlib.Path
        File to write or replace.
    story : callable
        Returns the content, given the size of a page between its margins.
    paper : {"letter", "a4"}
    title : str
        Title in the properties of the file.
    foot : callable
        Draws the foot of each page.
    template : type
        Class of the document; default one of ReportLab.

    Raises
    ------
    OutputError
        If the file can't be written.
    """

    def build(draft: Path) -> None:
        document = on_paper(template, str(draft), paper, title=title)
        with _binary_streams():
            document.build(list(story(page_size(paper))), onFirstPage=foot, onLaterPages=foot)

    with _ONE_AT_A_TIME:
        register_fonts()
        write_atomic(path, build)


def page_size(paper: str) -> Size:
    """Return the size of a page between its margins."""
    width, height = PAPERS[paper]
    return Size(width - 2 * MARGIN - _PADDING, height - TOP - BASE - _PADDING)


def on_paper(
    template: type[SimpleDocTemplate], target: str | BytesIO, paper: str, **more: object
) -> SimpleDocTemplate:
    """Return a document without pages, with the margins of all."""
    return template(
        target, pagesize=PAPERS[paper], invariant=1, author="leakgeo",
        leftMargin=MARGIN, rightMargin=MARGIN, topMargin=TOP, bottomMargin=BASE, **more,
    )  # fmt: skip


@contextmanager
def _binary_streams() -> Iterator[None]:
    """Write page streams without ASCII85 encoding: smaller files in half the time."""
    before = rl_config.useA85
    rl_config.useA85 = 0
    try:
        yield
    finally:
        rl_config.useA85 = before
