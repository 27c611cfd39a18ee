"""The page of a record: where, when, what was seen, the sketch, the meter, and lines to sign."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from reportlab.lib.colors import HexColor
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, SimpleDocTemplate, Spacer, Table

from leakgeo.deliver.records.sketch import HEIGHT, dig_sketch
from leakgeo.deliver.report.document import MARGIN, write_pdf
from leakgeo.deliver.report.fonts import LEAST_SIZE, REGULAR, drawn, fitted, para
from leakgeo.deliver.report.parts import TIGHT, height_of, pairs
from leakgeo.deliver.report.sketch import Size
from leakgeo.deliver.views.colours import INK
from leakgeo.provenance import now_utc, utc_text
from leakgeo.reason import Reason
from leakgeo.wording import wording

if TYPE_CHECKING:
    from datetime import tzinfo

    from reportlab.pdfgen.canvas import Canvas

    from leakgeo.deliver.records.facts import DigRecord
    from leakgeo.dig.closed_line import MeterShown
    from leakgeo.wording import Wording

_LABELS, _SCALES = 152.0, (1.0, 0.9, 0.8)
_LOOK = [("LEFTPADDING", (0, 0), (-1, -1), 7), ("RIGHTPADDING", (0, 0), (-1, -1), 5),
         ("TOPPADDING", (0, 0), (-1, -1), 3), ("BOTTOMPADDING", (0, 0), (-1, -1), 5),
         ("BOX", (0, 0), (-1, -1), 1.2, HexColor(INK)),
         ("VALIGN", (0, 0), (-1, -1), "TOP")]  # fmt: skip


def write_page(record: DigRecord, path: Path, units: str, language: str) -> None:
    """Write the page of a record as a PDF; a record of many words continues on a second page.

    Parameters
    ----------
    record : DigRecord
    path : pathlib.Path
        An existing file is replaced once the new one is complete.
    units : {"si", "us"}
        Units of the texts, and the paper: A4 for SI, letter for US.
    language : str

    Raises
    ------
    OutputError
        If the file can't be written.
    """
    say = wording(units, language)
    write_pdf(
        path, lambda page: _story(record, say, page), paper="letter" if units == "us" else "a4",
        title=f"{_title(say)} {record.dig_id}",
        foot=partial(_foot, record=record, when=_page_written(say)),
    )  # fmt: skip


def _title(say: Wording) -> str:
    return say.term("title", "record")


def _story(record: DigRecord, say: Wording, page: Size) -> list[Flowable]:
    """Return the parts of the page in the largest type that fits it."""
    for scale in _SCALES:
        parts = _parts(record, say, page.width, scale)
        if height_of(parts, page.width) <= page.height:
            break
    return parts


def _parts(record: DigRecord, say: Wording, width: float, scale: float) -> list[Flowable]:
    sketch = dig_sketch(record, say, Size(width, HEIGHT))
    under = para(say.term("not_scaled", "record"), LEAST_SIZE, spaceAfter=4)
    return [
        *_head(record, say, width),
        *_superseded(record, say, width, scale),
        Spacer(1, 5),
        _box(_found(record, say), say.text(record.believed), width, scale),
        Spacer(1, 8),
        *([sketch, under] if sketch is not None else []),
        *pairs(facts(record, say), [_LABELS, width - _LABELS], 9 * scale),
        Spacer(1, 6),
        para(say.term("caution", "record"), 8.5 * scale, bold=True, spaceAfter=6),
        _signatures(say, width),
    ]


def _head(record: DigRecord, say: Wording, width: float) -> list[Flowable]:
    left = [para(record.line_id or say.term("unknown", "record"), 15, bold=True),
            para(f"{_title(say)}: {record.dig_id}", 9)]  # fmt: skip
    right = [para(text, 9, alignment=2) for text in (record.address, record.work_order) if text]
    return [Table([[left, right or ""]], colWidths=[width * 0.6, width * 0.4], style=TIGHT,
                  splitInRow=1)]  # fmt: skip


def _superseded(record: DigRecord, say: Wording, width: float, scale: float) -> list[Flowable]:
    """Return a black band on a record that another one corrects."""
    if not record.superseded_by:
        return []
    text = say.text(Reason("record_superseded", by=record.superseded_by))
    cell = para(text, 11 * scale, bold=True, textColor=HexColor("#ffffff"))
    look = [*_LOOK, ("BACKGROUND", (0, 0), (-1, -1), HexColor(INK))]
    return [Spacer(1, 5), Table([[cell]], colWidths=[width], style=look)]


def _box(found: str, believed: str, width: float, scale: float) -> Table:
    rows = [[para(found, 12 * scale, bold=True)], [para(believed, 10 * scale)]]
    return Table(rows, colWidths=[width], style=_LOOK, splitInRow=1)


def _found(record: DigRecord, say: Wording) -> str:
    """Return what was found, and where, as one line."""
    what = _term(record.dig["found"], say)
    text = what[:1].upper() + what[1:]
    if record.place is not None:
        text = f"{text}, {say.text(record.place)}"
    return f"{text}."


def _term(value: object, say: Wording) -> str:
    if pd.isna(value):  # type: ignore[call-overload]
        return say.term("unknown", "record")
    if isinstance(value, (bool, np.bool_)):
        return say.term("yes" if value else "no", "record")
    return say.term(str(value), "record")


def facts(record: DigRecord, say: Wording) -> list[tuple[str, str]]:
    """Return the facts of a record as (label, text) pairs; what is not known is left out."""
    v, mark = record.dig, record.mark
    rows = [
        ("time", _time(v["time"], record.zone, say)), ("crew", _text(v["crew"])),
        ("leak_at", _along(record.chainage_m("leak_chainage_m"), say)),
        ("exposed", _span(record, say)),
        ("repaired", _term(v["repaired"], say) if v["found"] == "leak" else ""),
        ("cause", _text(v["cause"])),
        ("before", _meter(record.before, record.zone, say)),
        ("after", _meter(record.after, record.zone, say)),
        ("mark", "" if mark is None else f"{say.text(mark.place)}; {_along(mark.chainage_m, say)}"),
        ("off_mark", _off_mark(record.off_mark_m, say)),
        ("run", "" if mark is None else ", ".join(
            text for text in (mark.run_id, say.day(utc_text(mark.written))) if text)),
        ("photos", _text(v["photos"])), ("note", _text(v["note"])),
        ("supersedes", _text(v["supersedes"])), ("superseded_by", record.superseded_by),
    ]  # fmt: skip
    return [(say.term(name, "record"), text) for name, text in rows if text]


def _text(value: Any) -> str:
    return "" if pd.isna(value) else str(value)


def _time(value: Any, zone: tzinfo, say: Wording) -> str:
    """Return a time on the clock of a zone, with its distance from UTC."""
    if pd.isna(value):
        return ""
    local = value.astimezone(zone)
    hours = f"{local:%z}"
    ahead = f"{hours[:3]}:{hours[3:5]}" if local.utcoffset() else ""
    return f"{say.day(f'{local:%Y-%m-%d %H:%M}')} UTC{ahead}"


def _along(at_m: float, say: Wording) -> str:
    if not np.isfinite(at_m):
        return ""
    return f"{say.quantities.length(at_m)} {say.term('along', 'record')}"


def _span(record: DigRecord, say: Wording) -> str:
    ends = [record.chainage_m(name) for name in ("exposed_from_m", "exposed_to_m")]
    if not np.isfinite(ends).all():
        return ""
    return " \u2013 ".join(say.quantities.length(end) for end in sorted(ends))


def _meter(shown: MeterShown | None, zone: tzinfo, say: Wording) -> str:
    if shown is None:
        return ""
    given = {"minutes": round(shown.minutes, 1), "day": f"{shown.time.astimezone(zone):%Y-%m-%d}"}
    if not shown.turns:
        return say.text(Reason("record_stood", **given))
    litres = shown.litres_per_day * shown.minutes / 1440.0
    return say.text(Reason("record_turned", loss=say.quantities.litres(litres), **given))


def _off_mark(off_m: float, say: Wording) -> str:
    if not np.isfinite(off_m):
        return ""
    way = say.term("toward_start" if off_m < 0 else "toward_end", "record")
    length = say.quantities.length(abs(off_m))
    # What rounds to nothing has no direction.
    return length if length == say.quantities.length(0.0) else f"{length} {way}"


def _signatures(say: Wording, width: float) -> Table:
    asks = [[para(say.term(name, "record"), 7.5) for name in ("signed_crew", "signed_utility")]]
    look = [("GRID", (0, 0), (-1, -1), 0.7, HexColor(INK)), ("VALIGN", (0, 0), (-1, -1), "TOP")]
    return Table(asks, colWidths=[width / 2] * 2, rowHeights=[46], style=look)


def _page_written(say: Wording) -> str:
    """Return when this page is written: it is written again once its record is corrected."""
    return say.text(Reason("record_page_written", at=utc_text(now_utc())))


def _foot(canvas: Canvas, document: SimpleDocTemplate, record: DigRecord, when: str) -> None:
    canvas.saveState()
    canvas.setFont(REGULAR, 7.5)
    wide = document.pagesize[0] - 2 * MARGIN - 12
    for line, text in enumerate((record.job, record.simulated)):
        shown = fitted(text, REGULAR, 7.5, wide - 240) if text else ""
        canvas.drawString(MARGIN + 6, (9 - 3.5 * line) * mm, shown)
    right = document.pagesize[0] - MARGIN - 6
    canvas.drawRightString(right, 9 * mm, drawn(f"{when}; {record.dig_id}, {document.page}"))
    canvas.restoreState()
