"""Sheets that are typed into a job: fittings, walks, the last stretch, and the air test."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.deliver.report.parts import height_of
from leakgeo.deliver.sheets.parts import ROW, boxes, head_height, rows_to_fill, space, text
from leakgeo.job.typed.headers import CODE_TERMS, FITTINGS, STOPS, header
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from reportlab.platypus import Flowable

    from leakgeo.deliver.report.sketch import Size
    from leakgeo.deliver.sheets.line import SheetLine
    from leakgeo.job.typed.headers import SheetKind
    from leakgeo.wording import Wording

# Columns of the rows, and their shares of the width.
_WALK = {"stop": 0.09, "tape": 0.21, "sound_level": 0.15, "surface": 0.19, "air": 0.09,
         "remark": 0.27}  # fmt: skip
_AIR = {"stop": 0.09, "tape": 0.21, "air": 0.09, "sound_level": 0.15, "surface": 0.19,
        "remark": 0.27}  # fmt: skip
_FITTINGS = {"contact_id": 0.23, "kind": 0.21, "tape_from_previous": 0.28, "sound_level": 0.12,
             "remark": 0.16}  # fmt: skip
_HEAD_OF_STOPS = (
    {"line_id": 0.3, "address": 0.45, "date": 0.25},
    {"crew": 0.25, "walk": 0.13, "sensor": 0.26, "gain_db": 0.15, "sound_unit": 0.21},
    {"chainage_from": 0.29, "chainage_toward": 0.29, "tape_unit": 0.14, "surface": 0.28},
)
_HEAD_OF_FITTINGS = (
    {"line_id": 0.3, "address": 0.45, "date": 0.25},
    {"crew": 0.44, "sound_unit": 0.28, "tape_unit": 0.28},
)
# One foot, or nearly.
_STEP = {"us": "{} ft", "si": "{:.1f} m"}
_STEP_LENGTH = {"us": 1, "si": 0.3}
_TAPES = {"us": "38' 6\"", "si": "11.73"}


def fittings_sheet(line: SheetLine, words: Wording, page: Size) -> list[Flowable]:
    """Return the sheet of the fittings of a line."""
    known = [
        (name, words.term(kind, CODE_TERMS["kind"]) if kind else "") for name, kind in line.fittings
    ]

    def body(rows: int) -> list[tuple[str, ...]]:
        pairs = [*known[:rows], *[("", "")] * (rows - len(known))]
        return [(*pair, "", "", "") for pair in pairs]

    head = _head(_HEAD_OF_FITTINGS, FITTINGS, line, words, page.width)
    kinds = _codes("kind", FITTINGS, words)
    legend = [kinds, _unit(words), _example(words)]
    return _sheet(("sheet_fittings", "sheet_how_fittings"), (head, legend), _FITTINGS, body,
                  words, page)  # fmt: skip


def walk_sheet(line: SheetLine, words: Wording, page: Size) -> list[Flowable]:
    """Return the sheet of a walk."""

    def body(rows: int) -> list[tuple[str, ...]]:
        return [(str(k + 1), *[""] * 5) for k in range(rows)]

    head = _head(_HEAD_OF_STOPS, STOPS, line, words, page.width)
    return _sheet(("sheet_walk", "sheet_how_walk"), (head, _legend_of_stops(words)), _WALK, body,
                  words, page)  # fmt: skip


def last_stretch_sheet(line: SheetLine, words: Wording, page: Size) -> list[Flowable]:
    """Return the sheet of the stops of a walk that are a foot apart, numbered on from 101."""
    length, step = _STEP_LENGTH[words.units], _STEP[words.units]

    def body(rows: int) -> list[tuple[str, ...]]:
        return [(str(101 + k), f"+ {step.format(k * length)}:", *[""] * 4) for k in range(rows)]

    head = _head(_HEAD_OF_STOPS, STOPS, line, words, page.width)
    return _sheet(("sheet_last", "sheet_how_last"), (head, _legend_of_stops(words)), _WALK, body,
                  words, page, step=step.format(length))  # fmt: skip


def air_sheet(line: SheetLine, words: Wording, page: Size) -> list[Flowable]:
    """Return the sheet of an air test: pairs of rows with air off and on, numbered from 201."""
    off, on = (words.term(code, CODE_TERMS["air"]) for code in ("off", "on"))

    def body(rows: int) -> list[tuple[str, ...]]:
        return [(str(201 + k // 2), "", on if k % 2 else off, "", "", "")
                for k in range(rows - rows % 2)]  # fmt: skip

    pressure = "air_psi" if words.units == "us" else "air_kpa"
    first = _HEAD_OF_STOPS[:2]
    shares = {"chainage_from": 0.24, "chainage_toward": 0.24, "tape_unit": 0.14, pressure: 0.14,
              "surface": 0.24}  # fmt: skip
    head = _head((*first, shares), STOPS, line, words, page.width)
    legend = [*_legend_of_stops(words), words.text(Reason("air_cautions"))]
    return _sheet(("sheet_air", "sheet_how_air"), (head, legend), _AIR, body, words, page)


def _sheet(
    titles: tuple[str, str], above: tuple[list[Flowable], list[str]], columns: dict[str, float],
    body: Callable[[int], Sequence[Sequence[str]]], words: Wording, page: Size, **values: str,
) -> list[Flowable]:  # fmt: skip
    """Return a sheet with as many rows as its page has space for."""
    head, legend = above
    title, how = (words.text(Reason(code, **values)) for code in titles)
    parts = [text(title, 15, bold=True, spaceAfter=3), text(how, 9, spaceAfter=4), *head, space(3),
             *(text(each, 8, spaceAfter=1) for each in legend), space(4)]  # fmt: skip
    names, shares = [header(column, words) for column in columns], list(columns.values())
    free = page.height - height_of(parts, page.width) - head_height(names, shares, page.width)
    return [*parts, rows_to_fill(names, shares, body(int((free - 2.0) // ROW)), page.width)]


def _head(
    rows: Sequence[dict[str, float]], kind: SheetKind, line: SheetLine, words: Wording,
    width: float,
) -> list[Flowable]:  # fmt: skip
    """Return the boxes of the head, with the headers that typed files have."""
    unit = "ft" if words.units == "us" else "m"
    known = {"line_id": line.line_id, "address": line.address,
             "tape_unit": words.term(unit, CODE_TERMS["tape_unit"]),
             "sound_unit": " | ".join(_words_of("sound_unit", kind, words))}  # fmt: skip
    assert all(column in kind.head for row in rows for column in row)
    return boxes([[(header(column, words), known.get(column, ""), share)
                   for column, share in row.items()] for row in rows], width)  # fmt: skip


def _legend_of_stops(words: Wording) -> list[str]:
    return [
        _unit(words), _codes("sensor", STOPS, words), _codes("surface", STOPS, words),
        "\u00a0\u00a0 ".join((_codes("air", STOPS, words), _example(words))),
    ]  # fmt: skip


def _codes(column: str, kind: SheetKind, words: Wording) -> str:
    """Return the words of the codes of a column, which typed files may have."""
    codes = _words_of(column, kind, words)
    return words.text(Reason("sheet_codes", column=header(column, words), codes=codes))


def _words_of(column: str, kind: SheetKind, words: Wording) -> list[str]:
    codes = kind.schema.field(column).codes
    return [words.term(code, CODE_TERMS[column]) for code in codes]


def _unit(words: Wording) -> str:
    """Return which unit to ring: a wrong one can make a mark look surer than it is."""
    return words.text(Reason("sheet_unit_of_level", column=header("sound_unit", words)))


def _example(words: Wording) -> str:
    return words.text(Reason("sheet_example_tape", example=_TAPES[words.units]))
