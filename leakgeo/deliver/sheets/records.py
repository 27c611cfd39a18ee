"""Sheets of what is recorded beside the walks: the meter test, and the dig with its repair."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.deliver.report.parts import height_of
from leakgeo.deliver.sheets.parts import boxes, rows_to_fill, space, text
from leakgeo.job.typed.headers import header
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from reportlab.platypus import Flowable

    from leakgeo.deliver.report.sketch import Size
    from leakgeo.deliver.sheets.line import SheetLine
    from leakgeo.wording import Wording

# Rows of the meter test, and what may be chosen in each.
_METER_NAME = "sheet_meter_name"
_METER = (
    (_METER_NAME, ""), ("sheet_volume_unit", "sheet_volume_units"), ("sheet_resolution", ""),
    ("sheet_start_time", ""), ("sheet_start_reading", ""), ("sheet_end_time", ""),
    ("sheet_end_reading", ""), ("sheet_water_used", "sheet_yes_no"),
    ("sheet_house_valve", "sheet_open_shut"),
)  # fmt: skip
_TESTS = 3
# Rows of the dig with the share of each box, and what may be chosen in some.
_TICKET = {"sheet_ticket": 0.34, "sheet_ticket_from": 0.33, "sheet_ticket_until": 0.33}
_UTILITY = {"sheet_utility": 0.28, "sheet_answer": 0.26, "sheet_seen": 0.22, "sheet_exposed": 0.24}
_UTILITIES = 6
_SIGN = {"sheet_competent": 0.34, "sheet_locator": 0.33, "sheet_mark_by": 0.33}
_FOUND = (
    {"sheet_found": 0.5, "sheet_time": 0.25, "sheet_depth": 0.25},
    {"sheet_from_mark": 0.5, "sheet_pipe_from": 0.25, "sheet_pipe_to": 0.25},
    {"sheet_cause": 0.5, "sheet_repaired": 0.5},
)
_CHOICES = {"sheet_found": "sheet_found_codes", "sheet_repaired": "sheet_yes_no"}


def meter_sheet(line: SheetLine, words: Wording, page: Size) -> list[Flowable]:
    """Return the sheet of a meter test, with space for several."""
    tests = [words.text(Reason("sheet_test", number=k + 1)) for k in range(_TESTS)]
    body = []
    for label, choices in _METER:
        known = line.meter if label == _METER_NAME else ""
        offered = words.term(choices) if choices else known
        body.append((words.term(label), *[offered] * _TESTS))
    shares = (0.31, *[0.23] * _TESTS)
    remark = boxes([[(header("remark", words), "", 1.0)]], page.width, 120.0)
    return [
        *_top(("sheet_meter", "sheet_how_meter"), line, words, page.width), space(6),
        rows_to_fill(("", *tests), shares, body, page.width, 46.0), space(8), *remark,
    ]  # fmt: skip


def dig_sheet(line: SheetLine, words: Wording, page: Size) -> list[Flowable]:
    """Return the sheet of a dig: what must be cleared, what was found, and the repair."""
    heads, shares = [words.term(code) for code in _UTILITY], list(_UTILITY.values())
    parts = [
        *_top(("sheet_dig", "sheet_how_dig"), line, words, page.width), space(5),
        *_boxes((_TICKET,), words, page.width),
        rows_to_fill(heads, shares, [[""] * len(heads)] * _UTILITIES, page.width, 24.0),
        *_boxes((_SIGN,), words, page.width), space(6), *_boxes(_FOUND, words, page.width),
    ]  # fmt: skip
    free = page.height - height_of(parts, page.width) - 6.0
    last = [(words.term("sheet_sketch"), "", 0.62), (header("remark", words), "", 0.38)]
    return [*parts, *boxes([last], page.width, free)]


def _top(codes: tuple[str, str], line: SheetLine, words: Wording, width: float) -> list[Flowable]:
    title, how = map(words.term, codes)
    head = [[(header("line_id", words), line.line_id, 0.25),
             (header("address", words), line.address, 0.35), (header("crew", words), "", 0.2),
             (header("date", words), "", 0.2)]]  # fmt: skip
    return [text(title, 15, bold=True, spaceAfter=3), text(how, 9, spaceAfter=4),
            *boxes(head, width)]  # fmt: skip


def _boxes(rows: Sequence[Mapping[str, float]], words: Wording, width: float) -> list[Flowable]:
    return boxes([[(words.term(code), words.term(_CHOICES[code]) if code in _CHOICES else "", share)
                   for code, share in row.items()] for row in rows], width, 34.0)  # fmt: skip
