"""Pages of many lines, drawn in processes before the report is put together."""

from __future__ import annotations

import multiprocessing
import os
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from functools import partial
from io import BytesIO
from typing import TYPE_CHECKING

from leakgeo.deliver.report.document import on_paper, page_size
from leakgeo.deliver.report.fonts import register_fonts
from leakgeo.deliver.report.kept_pages import DrawnLine, PagesDocument, recorded_story
from leakgeo.deliver.report.line import line_page
from leakgeo.processes import begin_worker, no_interrupt_for_children, no_script_for_children

if TYPE_CHECKING:
    from collections.abc import Sequence
    from concurrent.futures import Future
    from types import TracebackType

    from leakgeo.deliver.report.sketch import Buried
    from leakgeo.deliver.views.line_view import LineView

#: A process takes as long to start as it takes to draw the pages of so many lines.
LEAST_LINES = 200
# Lines drawn at a time: few, as all wait for the last ones.
_GROUP = 8


@dataclass(frozen=True, eq=False)
class _Drawing:
    """What all lines of a report have in common.

    Parameters
    ----------
    utilities : Buried
        All utilities that pages may show.
    units : {"si", "us"}
    paper : {"letter", "a4"}
    """

    utilities: Buried
    units: str
    paper: str

    def lines(self, views: Sequence[LineView]) -> list[DrawnLine]:
        """Return the pages of lines, drawn in a document that is not saved."""
        register_fonts()
        drawn: list[DrawnLine] = []
        page = page_size(self.paper)
        parts = [
            part for view in views
            for part in recorded_story(
                self.utilities, partial(line_page, view, units=self.units, page=page), drawn.append
            )
        ]  # fmt: skip
        document = on_paper(PagesDocument, BytesIO(), self.paper)
        document._doSave = 0
        document.build(parts)
        return drawn


_drawing: _Drawing | None = None  # of a worker


def _begin(drawing: _Drawing) -> None:
    global _drawing  # noqa: PLW0603 - set once in each worker
    begin_worker()
    _drawing = drawing


def _draw(views: Sequence[LineView]) -> list[DrawnLine]:
    """Draw lines in a worker."""
    return [] if _drawing is None else _drawing.lines(views)


class PagesAhead:
    """Draws the pages of lines in this process and in others, if there are many.

    This process begins with the first lines and the others with the last, so that none waits
    while another starts. Where no process can be started, this one draws all.

    Parameters
    ----------
    views : sequence of LineView
        Lines to draw, in the order in which they are asked for.
    utilities : Buried
        All utilities that pages may show.
    units : {"si", "us"}
    paper : {"letter", "a4"}
    workers : int or None
        Processes that draw, this one among them; one for each processor if None.
    """

    def __init__(
        self, views: Sequence[LineView], utilities: Buried, *, units: str, paper: str,
        workers: int | None,
    ) -> None:  # fmt: skip
        self._drawing = _Drawing(utilities, units, paper)
        count = (workers or os.cpu_count() or 1) - 1
        # A daemon may start no process.
        many = len(views) >= LEAST_LINES and not multiprocessing.current_process().daemon
        self._groups = [views[k : k + _GROUP] for k in range(0, len(views), _GROUP)] if many else []
        self._count = min(count, len(self._groups) - 1)
        self._group_of = {view.line_id: k for k, g in enumerate(self._groups) for view in g}
        self._drawn: dict[str, DrawnLine] = {}
        self._futures: dict[int, Future[list[DrawnLine]]] = {}
        self._pool: ProcessPoolExecutor | None = None
        self._children: set[multiprocessing.process.BaseProcess] = set()

    def __enter__(self) -> PagesAhead:
        """Start the processes."""
        if self._count < 1:
            return self
        before = set(multiprocessing.active_children())
        try:
            self._pool = ProcessPoolExecutor(
                self._count, mp_context=multiprocessing.get_context("spawn"),
                initializer=_begin, initargs=(self._drawing,),
            )  # fmt: skip
            with no_interrupt_for_children(), no_script_for_children():
                for k, group in reversed([*enumerate(self._groups)]):
                    self._futures[k] = self._pool.submit(_draw, group)
        except (BrokenProcessPool, ImportError, NotImplementedError, OSError):
            pass  # what was not submitted is drawn here
        self._children = set(multiprocessing.active_children()) - before
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:  # fmt: skip
        """End the processes; at once after an error."""
        for child in self._children if error is not None else ():
            child.terminate()
        if self._pool is not None:
            # The thread of the pool must end before the interpreter does, which wakes it up.
            self._pool.shutdown(wait=error is not None, cancel_futures=True)

    def line(self, line_id: str) -> DrawnLine | None:
        """Return the pages of a line; None if the report itself must draw them."""
        if self._count < 1 or line_id not in self._group_of:
            return None
        if line_id not in self._drawn:
            number = self._group_of[line_id]
            names = [view.line_id for view in self._groups[number]]
            self._drawn |= zip(names, self._lines(number), strict=True)
        return self._drawn.pop(line_id)

    def _lines(self, number: int) -> list[DrawnLine]:
        """Return the pages of a group of lines, from a process if one has begun them."""
        future = self._futures.get(number)
        if future is not None and not future.cancel():
            try:
                return future.result()
            except BrokenProcessPool:
                pass  # the process died
        return self._drawing.lines(self._groups[number])
