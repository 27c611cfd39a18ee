"""Drawn pages of lines that the report keeps for the next run, which then need not draw them."""

from __future__ import annotations

import hashlib
import json
import zlib
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Any

import shapely
from reportlab.platypus import Flowable, PageBreak, SimpleDocTemplate
from reportlab.platypus.doctemplate import ActionFlowable

from leakgeo.deliver.report.fonts import PRESET, draws_beyond_preset, fix_codes
from leakgeo.deliver.report.sketch import Buried
from leakgeo.deliver.views.of_all_lines import first_lines, of_all_lines
from leakgeo.kept_pieces import Shelf

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from reportlab.pdfgen.canvas import Canvas

    from leakgeo.deliver.report.sketch import Size
    from leakgeo.deliver.views.line_view import Row
    from leakgeo.result import Result

_Window = tuple[float, ...]
# What else a page may have, in attributes of a canvas: pages with any of it are not kept.
_BESIDE = ("_annotationrefs", "_formsinuse", "_formData", "_colorsUsed", "_shadingUsed")


@dataclass(frozen=True)
class DrawnPage:
    """What is drawn on a page besides its foot.

    Parameters
    ----------
    code : str
        Operators of PDF.
    states : tuple of (str, object, str)
        Key, value and name of each graphics state that the operators set.
    """

    code: str
    states: tuple[tuple[str, Any, str], ...]

    @classmethod
    def of(cls, canvas: Canvas, begin: int) -> DrawnPage:
        """Return what was drawn on the page after its first `begin` operators."""
        states = canvas._extgstate._c.items()
        return cls("\n".join(canvas._code[begin:]), tuple((*state, name) for state, name in states))

    def draw(self, canvas: Canvas) -> None:
        """Draw it on an empty page, or one with its foot."""
        canvas._code += [self.code] if self.code else []
        canvas._extgstate._c.update({(key, value): name for key, value, name in self.states})


class PagesDocument(SimpleDocTemplate):  # type: ignore[misc]
    """A document whose pages of a line don't depend on other pages, and may be recorded."""

    _recorded: list[DrawnPage | None] | None = None
    _begin = 0

    def beforeDocument(self) -> None:  # noqa: N802 - ReportLab calls it, as those below
        """Give characters their codes before anything is drawn."""
        fix_codes(self.canv._doc)

    def beforePage(self) -> None:  # noqa: N802
        """Note where the page begins, below its foot."""
        self._begin = len(self.canv._code)

    def afterPage(self) -> None:  # noqa: N802
        """Record a page."""
        if self._recorded is not None:
            self._recorded.append(self._drawn())

    def _drawn(self) -> DrawnPage | None:
        """Return the page as far as it is drawn; None if it has more than its operators."""
        more = any(getattr(self.canv, name) for name in _BESIDE)
        return None if more else DrawnPage.of(self.canv, self._begin)

    def record(self) -> None:
        """Record pages from this one on."""
        self._recorded = []
        draws_beyond_preset(forget=True)

    def recorded(self) -> list[DrawnPage]:
        """Return the pages recorded, this one as the last; empty if another document differs."""
        pages = [*(self._recorded or []), self._drawn()]
        self._recorded = None
        alone = [page for page in pages if page is not None]
        return [] if draws_beyond_preset() or len(alone) < len(pages) else alone


@dataclass(frozen=True)
class DrawnLine:
    """The pages of a line, and what they show besides the line.

    Parameters
    ----------
    pages : list of DrawnPage
        Empty if the line can be drawn in the report alone.
    seen : dict of tuple of float to str
        Digest of the utilities in each window that was asked for.
    """

    pages: list[DrawnPage]
    seen: dict[_Window, str]


class _Do(ActionFlowable):  # type: ignore[misc]
    """Does something with the document between two parts of the story."""

    def __init__(self, action: Callable[[PagesDocument], None]) -> None:
        super().__init__()
        self._act = action

    def apply(self, doc: PagesDocument) -> None:
        """Do it; ReportLab calls this."""
        self._act(doc)


class _Kept(Flowable):  # type: ignore[misc]
    """A drawn page, which takes no room of its own."""

    def __init__(self, page: DrawnPage) -> None:
        super().__init__()
        self._page = page

    def wrap(self, *_: float) -> tuple[float, float]:
        """Return no size; ReportLab calls this."""
        return 0.0, 0.0

    def drawOn(self, canvas: Canvas, *_: object, **__: object) -> None:  # noqa: N802
        """Draw the page where it was; ReportLab calls this."""
        self._page.draw(canvas)


@dataclass(frozen=True, eq=False)
class _Watched(Buried):
    """Utilities that note which of them are seen, by window."""

    seen: dict[_Window, str] = field(default_factory=dict)

    def within(self, box: shapely.Geometry) -> list[Row]:
        rows = super().within(box)
        self.seen[tuple(shapely.bounds(box).tolist())] = _digest(rows)
        return rows


def _digest(rows: Iterable[Row]) -> str:
    """Return a digest of all that rows have, in order."""
    values = [
        [name, shapely.to_wkb(v, hex=True) if isinstance(v, shapely.Geometry) else repr(v)]
        for row in rows for name, v in row.items()
    ]  # fmt: skip
    return hashlib.blake2b(json.dumps(values).encode(), digest_size=16).hexdigest()


@dataclass(frozen=True, eq=False)
class LinePages:
    """Pages of lines, kept or to be drawn.

    Parameters
    ----------
    shelf : Shelf
    utilities : Buried
        All utilities that pages may show.
    """

    shelf: Shelf
    utilities: Buried

    @classmethod
    def of(cls, result: Result, units: str, language: str, page: Size) -> LinePages:
        """Return the pages of the lines of a result.

        Parameters
        ----------
        result : Result
            Lines with a page, as their views are made of it.
        units : {"si", "us"}
        language : str
        page : Size
            Size of a page between its margins.
        """
        whole = of_all_lines(result, first_lines(result), units)
        facts = [units, language, page.width, page.height, PRESET, *whole]
        return cls(Shelf(result.kept, "pages", facts), Buried.of(result.job.utilities))

    def story(
        self, line_id: str, draw: Callable[[Buried], list[Flowable]], ahead: DrawnLine | None = None
    ) -> list[Flowable]:
        """Return the pages of a line that are not kept, each after a break.

        Parameters
        ----------
        line_id : str
        draw : callable
            Returns the pages of the line, given the utilities; called if none were drawn ahead.
        ahead : DrawnLine or None
            Pages that were drawn ahead.
        """
        if ahead is not None and ahead.pages:
            self._store(line_id, ahead)
            return put_in(ahead.pages)
        if self.shelf.kept is None:
            return [PageBreak(), *draw(self.utilities)]
        return recorded_story(self.utilities, draw, partial(self._store, line_id))

    def find(self, line_id: str) -> list[DrawnPage]:
        """Return the kept pages of a line; empty without any that show these utilities."""
        stored = self.shelf.get(line_id)
        if stored is None:
            return []
        seen, pages = json.loads(zlib.decompress(stored))
        if any(_digest(self.utilities.within(shapely.box(*w))) != was for w, was in seen):
            return []
        return [DrawnPage(code, tuple(map(tuple, states))) for code, states in pages]

    def _store(self, line_id: str, line: DrawnLine) -> None:
        if self.shelf.kept is not None and line.pages:
            pages = [(page.code, page.states) for page in line.pages]
            piece = [list(line.seen.items()), pages]
            self.shelf.put(line_id, zlib.compress(json.dumps(piece).encode("ascii")))


def put_in(pages: list[DrawnPage]) -> list[Flowable]:
    """Return pages that are drawn already, each after a break."""
    return [part for page in pages for part in (PageBreak(), _Kept(page))]


def recorded_story(
    utilities: Buried, draw: Callable[[Buried], list[Flowable]], done: Callable[[DrawnLine], None]
) -> list[Flowable]:
    """Return the pages of a line, after a break, in a `PagesDocument` that gives them to `done`.

    Parameters
    ----------
    utilities : Buried
    draw : callable
        Returns the pages of the line, given the utilities.
    done : callable
        Called with the pages when they are drawn.
    """
    watched = _Watched(utilities.rows, utilities.tree)
    store = _Do(lambda document: done(DrawnLine(document.recorded(), watched.seen)))
    return [PageBreak(), _Do(PagesDocument.record), *draw(watched), store]
