"""The page of one line: plan, profile, numbers, and the sheet to take to the dig."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reportlab.platypus import Flowable, KeepTogether, Spacer, Table

from leakgeo.deliver import sentences, words
from leakgeo.deliver.report_parts import badge, grid, heading, holds_box, pairs, sign_boxes
from leakgeo.deliver.report_plot import profile_plot
from leakgeo.deliver.report_request import request_parts
from leakgeo.deliver.report_sketch import Size, plan_sketch
from leakgeo.deliver.report_type import para

if TYPE_CHECKING:
    import geopandas as gpd

    from leakgeo.deliver.view import LineView

KEY = (
    "Cross: the mark, in its 95 % ellipse (a bare ring: no mark yet). "
    "Pink: search zones. Hatched white: proposed excavation. "
    "Dashed white: white line to ask marks for. Dotted round it: spoil no nearer (2 ft). "
    "Coloured hatch: utility in conflict; dotted, letter and ?: of unknown position. "
    "Dots: readings, loud ones yellow, unused ones white. "
    "Numbered rings: listen next."
)
_TIGHT = [("LEFTPADDING", (0, 0), (-1, -1), 0), ("RIGHTPADDING", (0, 0), (-1, -1), 0),
          ("TOPPADDING", (0, 0), (-1, -1), 0), ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
          ("VALIGN", (0, 0), (-1, -1), "TOP")]  # fmt: skip


def has_page(view: LineView) -> bool:
    """Tell whether a line has a place to show: a mark or a zone."""
    return view.mark is not None or bool(view.zones)


def line_page(
    view: LineView, utilities: gpd.GeoDataFrame | None, units: str, width: float
) -> list[Flowable]:
    """Make the page of a line with a mark or zones; long lists run on to a second page.

    Parameters
    ----------
    view : LineView
    utilities : geopandas.GeoDataFrame or None
        All utilities of the job, in the line's metre CRS.
    units : {"si", "us"}
    width : float
        Of the page between its margins, in points.
    """
    plot = profile_plot(view, units, Size(width, 126))
    return [
        _top(view, width),
        Spacer(1, 5),
        _plan_and_numbers(view, utilities, units, width),
        *([Spacer(1, 4), plot] if plot is not None else []),
        *([para(view.message, 9, spaceBefore=3)] if view.mark is None and view.message else []),
        *_dig_sheet(view, units, width),
        *_next(view, units, width),
    ]


def _top(view: LineView, width: float) -> Table:
    side = 150.0
    left = [para(view.line_id, 15, bold=True), para(words.status_text(view.status), 9)]
    right = badge(view.dig_text, held=bool(view.holds), width=side)
    return Table([[left, right]], colWidths=[width - side, side], style=_TIGHT, splitInRow=1)


def _plan_and_numbers(
    view: LineView, utilities: gpd.GeoDataFrame | None, units: str, width: float
) -> Table:
    plan = width * 0.52
    sketch = plan_sketch(view, utilities, units, Size(plan, 205))
    numbers = _numbers(view, units, width - plan - 10)
    under = [sketch, para(KEY, 6.5, spaceBefore=2), *(_place(pair) for pair in view.places)]
    return Table([[under, "", numbers]], colWidths=[plan, 10, width - plan - 10], style=_TIGHT)


def _place(pair: tuple[str, str]) -> Flowable:
    return para(f"{pair[0]}: {pair[1]}", 8)


def _numbers(view: LineView, units: str, width: float) -> list[Flowable]:
    said = [sentences.error(view, units), *sentences.odds(view, units), sentences.limits(view)]
    return [
        para(sentences.position(view, units), 12, bold=True),
        Spacer(1, 2),
        *(para(text, 8.5, spaceAfter=2.5) for text in said if text),
        *pairs(sentences.facts(view, units), [78, width - 78], 7.5),
    ]


def _dig_sheet(view: LineView, units: str, width: float) -> list[Flowable]:
    """Keep what goes to the dig on one sheet: below the plot if there is room, else by itself."""
    if view.mark is None:
        return []
    rows = [sentences.conflict(row, units) for row in view.rows("conflicts")]
    shares = (0.18, 0.1, 0.17, 0.1, 0.45)
    heads = ("Utility in conflict", "Clearance", "How close", "Answer", "To do")
    title = f"Dig sheet: {view.line_id}" if view.located else f"Not a dig yet: {view.line_id}"
    parts = [
        para(title, 10, bold=True, spaceBefore=4, spaceAfter=2),
        holds_box(view.holds, view.cautions, width),
        Spacer(1, 3),
        *grid(heads, rows, [s * width for s in shares], 7),
        *(para(sentences.other_place(row, units), 8, spaceBefore=3)
          for row in view.rows("dig_alternatives")),
        *request_parts(view, units, width),
    ]  # fmt: skip
    if view.located:
        parts += [*_once_more(view, units), Spacer(1, 4), sign_boxes(width)]
    return [KeepTogether(parts)]


def _once_more(view: LineView, units: str) -> list[Flowable]:
    rows = [sentences.next_reading(row, units) for row in view.rows("next_readings")]
    if not rows:
        said = sentences.advice(view, units)
        return [para(said, 8.5, spaceBefore=2)] if said else []
    places = ", ".join(dict.fromkeys(where for _, where, _ in rows))
    return [para(f"Before digging, listen once more at {places}.", 8.5, spaceBefore=2)]


def _next(view: LineView, units: str, width: float) -> list[Flowable]:
    rows = [sentences.next_reading(row, units) for row in view.rows("next_readings")]
    said = sentences.advice(view, units)
    if view.located or not (rows or said):
        return []
    first = [*heading("Where to listen next"), *([para(said, 8.5)] if said else [])]
    if not rows:
        return first
    heads = ("No.", "From the start", "How to tape it, and why here")
    table = grid(heads, rows, [30, 80, width - 110], 7.5)
    return [*first, *table]
