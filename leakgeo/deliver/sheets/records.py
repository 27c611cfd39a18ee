"""Sheets of what is recorded beside the walks: the meter test, and the dig with its repair."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.deliver.report.parts import height_of
from leakgeo.deliver.sheets.parts import boxes, rows_to_fill, space, text
from leakgeo.job.typed.headers import header
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from reportlab.platypus import Flowable

    from leakgeo.deliver.report.sketch import Size
    from leakgeo.deliver.sheets.line import SheetLine
    from leakgeo.wording import Wording

# Rows of the meter test, and what may be chosen in each.
_METER = (
    ("meter_name", ""), ("volume_unit", "volume_units"), ("resolution", ""), ("start_time", ""),
    ("start_reading", ""), ("end_time", ""), ("end_reading", ""), ("water_used", "yes_no"),
    ("house_valve", "open_shut"),
)  # fmt: skip
_TESTS = 3
_UTILITIES = 6


def meter_sheet(line: SheetLine, words: Wording, page: Size) -> list[Flowable]:
    """Return the sheet of a meter test, with space for several."""
    tests = [words.text(Reason("sheet_test", number=k + 1)) for k in range(_TESTS)]
    body = []
    for name, choices in _METER:
        label = words.term(name, "sheet")
        known = line.meter if name == "meter_name" else ""
        offered = words.term(choices, "sheet") if choices else known
        body.append((label, *[offered] * _TESTS))
    shares = (0.31, *[0.23] * _TESTS)
    remark = boxes([[(header("remark", words), "", 1.0)]], page.width, 120.0)
    return [*_top("meter", line, words, page.width), space(6),
            rows_to_fill(("", *tests), shares, body, page.width, 46.0), space(8),
            *remark]  # fmt: skip


def dig_sheet(line: SheetLine, words: Wording, page: Size) -> list[Flowable]:
    """Return the sheet of a dig: what must be cleared, what was found, and the repair."""
    heads = [words.term(name, "sheet") for name in ("utility", "answer", "seen", "exposed")]
    parts = [
        *_top("dig", line, words, page.width), space(5),
        *_boxes((("ticket", 0.34), ("ticket_from", 0.33), ("ticket_until", 0.33)), words, page),
        rows_to_fill(heads, (0.28, 0.26, 0.22, 0.24), [[""] * 4] * _UTILITIES, page.width, 24.0),
        *_boxes((("competent", 0.34), ("locator", 0.33), ("mark_by", 0.33)), words, page),
        space(6),
        *_boxes((("found", 0.5), ("time", 0.25), ("depth", 0.25)), words, page),
        *_boxes((("from_mark", 0.5), ("pipe_from", 0.25), ("pipe_to", 0.25)), words, page),
        *_boxes((("cause", 0.5), ("repaired", 0.5)), words, page),
    ]  # fmt: skip
    free = page.height - height_of(parts, page.width) - 6.0
    last = [(words.term("sketch", "sheet"), "", 0.62), (header("remark", words), "", 0.38)]
    return [*parts, *boxes([last], page.width, free)]


def _top(name: str, line: SheetLine, words: Wording, width: float) -> list[Flowable]:
    title, how = words.term(name, "sheet"), words.term(f"how_{name}", "sheet")
    head = [[(header("line_id", words), line.line_id, 0.25),
             (header("address", words), line.address, 0.35), (header("crew", words), "", 0.2),
             (header("date", words), "", 0.2)]]  # fmt: skip
    return [text(title, 15, bold=True, spaceAfter=3), text(how, 9, spaceAfter=4),
            *boxes(head, width)]  # fmt: skip


def _boxes(row: tuple[tuple[str, float], ...], words: Wording, page: Size) -> list[Flowable]:
    offered = {"found": "found_codes", "repaired": "yes_no"}
    return boxes([[(words.term(name, "sheet"),
                    words.term(offered[name], "sheet") if name in offered else "", share)
                   for name, share in row]], page.width, 34.0)  # fmt: skip
