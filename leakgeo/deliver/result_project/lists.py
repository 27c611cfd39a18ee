"""Expressions of what holds a dig, and of its cautions, and the card of a line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from leakgeo.deliver.qgis.expressions import layer_id, literal
from leakgeo.deliver.qgis.words import caution, project_words

if TYPE_CHECKING:
    from collections.abc import Collection

    from leakgeo.wording import Wording

#: Column that the project computes for lines and marks.
CARD = "card"
_SAID = ("not_checked", "no_dig", "not_located", "no_reason")


@dataclass(frozen=True)
class Given:
    """What the expressions may refer to.

    Parameters
    ----------
    layers : collection of str
        Names of the layers of the project.
    checked : bool
        Whether clearance was checked; its layers may have no rows.
    words : Wording
        Units and language of the texts.
    """

    layers: Collection[str]
    checked: bool
    words: Wording


def messages(table: str, layer: str) -> str:
    """Return the texts of ``holds`` or ``cautions`` at a mark or on a line, as an array.

    Parameters
    ----------
    table : {"holds", "cautions"}
    layer : {"lines", "marks"}
        Layer of the feature.
    """
    own = "\"line_id\" = attribute(@parent, 'line_id')"
    if layer == "marks":
        own += " AND \"mark_rank\" = attribute(@parent, 'rank')"
    return (f"coalesce(aggregate({literal(layer_id(table))}, 'array_agg', \"message\", {own}, "
            "order_by:=\"order\"), array())")  # fmt: skip


def of_line(column: str) -> str:
    """Return a column of the line of a mark."""
    line = f"get_feature({literal(layer_id('lines'))}, 'line_id', \"line_id\")"
    return f"attribute({line}, {literal(column)})"


def without_holds(layer: str, given: Given) -> str:
    """Return what is said of a dig for which no hold is recorded; nothing clears it."""
    said = {code: literal(given.words.term(code, "dig_text")) for code in _SAID}
    if not given.checked:
        return said["not_checked"]
    status = of_line("dig_status") if layer == "marks" else '"dig_status"'
    no_hold = given.words.term("no_hold", "dig_text")
    none = literal(f"{no_hold}. {caution(given.words)}")
    mark = f"get_feature({literal(layer_id('marks'))}, 'line_id', \"line_id\")"
    unmarked = "true" if "marks" not in given.layers else f"{mark} IS NULL"
    no_dig = f"WHEN {unmarked} THEN {said['no_dig']}" if layer == "lines" else ""
    return (f"CASE {no_dig} WHEN \"status\" <> 'located' THEN {said['not_located']} "
            f"WHEN {status} = 'no_hold_recorded' THEN {none} "
            f"ELSE {said['no_reason']} END")  # fmt: skip


def hold_messages(layer: str, given: Given) -> str:
    """Return the texts of the holds as an array; what is said without a record if there is none."""
    none = f"array({without_holds(layer, given)})"
    if "holds" not in given.layers:
        return none
    return f"with_variable('h', {messages('holds', layer)}, if(array_length(@h) > 0, @h, {none}))"


def caution_messages(layer: str, given: Given) -> str:
    """Return the texts of the cautions as an array."""
    return messages("cautions", layer) if "cautions" in given.layers else "array()"


def card_text(layer: str, given: Given) -> str:
    """Return the card of a mark or a line: holds, place, next action, cautions, evidence.

    It has no markup: what identifies a feature shows the text of each column as it stands.

    Parameters
    ----------
    layer : {"lines", "marks"}
    given : Given
    """
    evidence = '"evidence"' if layer == "lines" else f'coalesce("evidence", {of_line("evidence")})'
    known, first = project_words(given.words), literal(f"\n{caution(given.words)}")
    parts = [
        f'"line_id" || {first}',
        _section(known["held_by"], bullets(hold_messages(layer, given))),
        *(_section(known[name], f'"{name}"') for name in ("message", "next_action")),
        _section(known["cautions"], bullets(caution_messages(layer, given))),
        _section(known["evidence"], evidence),
    ]
    return f"concat({', '.join(parts)})"


def bullets(texts: str) -> str:
    """Return an array of texts as lines; null if it is empty."""
    return (f"with_variable('t', {texts}, if(array_length(@t) > 0, "
            "array_to_string(array_foreach(@t, '\u2022 ' || @element), '\n'), NULL))")  # fmt: skip


def _section(title: str, text: str) -> str:
    heading = literal(f"\n\n{title.upper()}\n")
    return f"coalesce({heading} || {text}, '')"
