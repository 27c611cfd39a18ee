"""The page of one line: plan, profile, numbers, and the sheet to take to the dig."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Spacer, Table

from leakgeo.deliver import sentences, words
from leakgeo.deliver.report_parts import badge, grid, heading, holds_box, pairs, sign_boxes
from leakgeo.deliver.report_plot import profile_plot
from leakgeo.deliver.report_sketch import Size, plan_sketch
from leakgeo.deliver.report_type import para

if TYPE_CHECKING:
    import geopandas as gpd

    from leakgeo.deliver.view import LineView

BESIDE = 160  # characters of a message that still go beside the plan
KEY = (
    "Cross: the mark, in its 95 % ellipse. Pink: search zones. Hatched white: proposed excavation. "
    "Coloured hatch: utility in conflict. Dots: readings, loud ones yellow, unused ones white. "
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
        *([para(view.message, 9, spaceBefore=3)] if len(view.message) > BESIDE else []),
        *_dig_sheet(view, units, width),
        *_next(view, units, width),
        *([KeepTogether([Spacer(1, 6), sign_boxes(width)])] if view.mark is not None else []),
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
    said += [view.message] if len(view.message) <= BESIDE else []
    return [
        para(sentences.position(view, units), 12, bold=True),
        Spacer(1, 2),
        *(para(text, 8.5, spaceAfter=2.5) for text in said if text),
        *pairs(sentences.facts(view, units), [78, width - 78], 7.5),
    ]


def _dig_sheet(view: LineView, units: str, width: float) -> list[Flowable]:
    if view.mark is None:
        return []
    rows = [sentences.conflict(row, units) for row in view.rows("conflicts")]
    shares = (0.22, 0.12, 0.24, 0.13, 0.29)
    heads = ("Utility in conflict", "Clearance", "How close", "Answer", "To do")
    box = holds_box(view.holds, view.cautions, width)
    return [Spacer(1, 5), box, Spacer(1, 4), *grid(heads, rows, [s * width for s in shares], 7.5)]


def _next(view: LineView, units: str, width: float) -> list[Flowable]:
    """List the stops to listen at next; beside a mark, in one sentence."""
    rows = [sentences.next_reading(row, units) for row in view.rows("next_readings")]
    if not rows:
        return []
    if view.mark is not None:
        places = ", ".join(where for _, where, _ in rows)
        return [Spacer(1, 3), para(f"Before digging, listen once more at {places}.", 8.5)]
    heads = ("No.", "From the start", "Listen next here, because")
    table = grid(heads, rows, [30, 80, width - 110], 7.5)
    return [CondPageBreak(60), *heading("Where to listen next"), *table]
