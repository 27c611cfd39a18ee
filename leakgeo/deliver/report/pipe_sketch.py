"""The sketch along the pipe of a line that is not placed on the ground: fittings, stops, mark."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from leakgeo.deliver.report.fonts import BOLD, REGULAR, drawn, fitted
from leakgeo.deliver.report.sheet import Ink, Sheet, Words
from leakgeo.deliver.report.sketch import reading_fills
from leakgeo.deliver.views import colours
from leakgeo.deliver.views.rows import number, text
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from leakgeo.deliver.report.sketch import Size
    from leakgeo.deliver.views.line_view import LineView

_MARGIN, _PIPE_X, _STOPS_X, _LABEL_X, _HALF_ZONE = 20.0, 30.0, 44.0, 74.0, 8.0
_TYPE, _SPACING, _TICK = 7.5, 10.5, 5.0


class _Label(NamedTuple):
    at_m: float
    mark: bool
    words: str


def pipe_sketch(view: LineView, units: str, size: Size) -> Sheet:
    """Draw a line from its start, at the top, to its end, to scale along the pipe alone.

    Parameters
    ----------
    view : LineView
    units : {"si", "us"}
        Units of the taped distances.
    size : Size

    Returns
    -------
    Sheet
    """
    sheet = Sheet(size.width, size.height)
    sheet.box(0, 0, size.width, size.height, Ink(colours.PIPE, "#faf9f5", 0.7))
    labels = sorted(_labels(view))
    places = np.r_[view.profile.chainage_m, [label.at_m for label in labels]]
    places = places[np.isfinite(places)]
    if places.size and np.ptp(places) > 0.0:
        pipe = _Pipe(sheet, float(places.min()), float(places.max()))
        pipe.zones(view)
        pipe.stops(view)
        pipe.labels(labels)
        pipe.marks(view)
    return sheet


def _labels(view: LineView) -> Iterator[_Label]:
    """Yield the fittings and the marks with their distances from the start of the line."""
    for row in view.rows("contact_ranking"):
        at = number(row, "chainage_m")
        if at is not None:
            kind = text(row, "kind") or "fitting"
            name = view.wording.text(Reason("fitting", kind=kind, contact=text(row, "contact_id")))
            yield _Label(at, False, f"{view.wording.quantities.length(at)}   {name}")
    for one in view.by_mark:
        at = number(one.mark, "chainage_m") if one.mark else None
        if at is not None:
            say = view.wording.term
            mark = one.mark_name or say("report_drawn_mark")
            word = mark if view.located else say("report_likeliest")
            yield _Label(at, True, f"{view.wording.quantities.length(at)}   {word}")


@dataclass(frozen=True)
class _Pipe:
    """The pipe on its sheet, from chainage `begin_m` at the top to `end_m`."""

    sheet: Sheet
    begin_m: float
    end_m: float

    def y(self, chainage_m: float) -> float:
        high = self.sheet.height - 2 * _MARGIN
        share = (chainage_m - self.begin_m) / (self.end_m - self.begin_m)
        return float(self.sheet.height - _MARGIN - share * high)

    def zones(self, view: LineView) -> None:
        """Draw the pipe over its search zones."""
        for row in reversed(view.zones):
            begin, end = number(row, "from_chainage_m"), number(row, "to_chainage_m")
            if begin is not None and end is not None:
                fill = colours.zone_colour(int(number(row, "rank") or 99))
                ink = Ink("#5b0145", fill, 0.6, opacity=0.55)
                low, high = self.y(end), self.y(begin)
                self.sheet.box(_PIPE_X - _HALF_ZONE, low, 2 * _HALF_ZONE, high - low, ink)
        top, base = self.y(self.begin_m), self.y(self.end_m)
        self.sheet.line(_PIPE_X, base, _PIPE_X, top, Ink(colours.PIPE, width=2.6))
        say = view.wording.term
        for y, word in ((top + 8, say("report_start")), (base - 12, say("report_end"))):
            self.sheet.words(Words(_PIPE_X, y, word, REGULAR, 7, "middle"))

    def stops(self, view: LineView) -> None:
        """Draw the stops beside the pipe."""
        rows = [r for r in view.rows("readings_on_route") if number(r, "chainage_m") is not None]
        for row, fill in zip(rows, reading_fills(rows), strict=True):
            at = np.array([(_STOPS_X, self.y(number(row, "chainage_m") or 0.0))])
            self.sheet.circles(at, 2.2, Ink("#333333", fill, 0.5))

    def labels(self, labels: Sequence[_Label]) -> None:
        """Name fittings and marks, with leaders where names would cover each other."""
        room = self.sheet.width - _LABEL_X - 6
        for label, y in zip(labels, self._apart([self.y(at) for at, *_ in labels]), strict=True):
            at, font = self.y(label.at_m), BOLD if label.mark else REGULAR
            leader = [(_PIPE_X - _TICK, at), (_STOPS_X + 8, at), (_LABEL_X - 4, y)]
            ink = Ink(colours.INK if label.mark else "#8a8f95", width=1.0 if label.mark else 0.6)
            self.sheet.path([np.array(leader)], ink)
            words = fitted(drawn(label.words), font, _TYPE, room)
            self.sheet.words(Words(_LABEL_X, y - 2.6, words, font, _TYPE))

    def _apart(self, wanted: Sequence[float]) -> Sequence[float]:
        """Return heights in descending order that are apart, near the wanted ones, on the sheet."""
        spacing = min(_SPACING, (self.sheet.height - 16) / max(len(wanted), 1))
        down = [k * spacing for k in range(len(wanted))]
        # Without the spacing the heights need only not rise again.
        moved = np.minimum.accumulate(np.array(wanted) + down) - down
        lowest = 8 + np.array(down[::-1])
        return [float(y) for y in np.maximum(moved, lowest)]

    def marks(self, view: LineView) -> None:
        """Draw each mark as a cross in a ring, a bare ring where it is not located."""
        for one in view.by_mark:
            at = number(one.mark, "chainage_m") if one.mark else None
            if at is None:
                continue
            y, arm = self.y(at), 7.0
            self.sheet.circles(np.array([(_PIPE_X, y)]), 4.5, Ink(colours.INK, "#ffffff", 1.4))
            if view.located:
                for dx, dy in ((arm, 0.0), (0.0, arm)):
                    ink = Ink(colours.INK, width=1.6)
                    self.sheet.line(_PIPE_X - dx, y - dy, _PIPE_X + dx, y + dy, ink)
