"""Expressions of what holds a dig, and of its cautions, as lists from their layers."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.deliver.qgis.expressions import escaped, layer_id, literal
from leakgeo.deliver.views import sentences

if TYPE_CHECKING:
    from collections.abc import Collection

#: Columns that the project computes for lines and marks.
HOLDS, CAUTIONS, EVIDENCE = LISTS = ("holds_list", "cautions_list", "evidence_text")


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


def evidence_text(layer: str) -> str:
    """Return the evidence of the line as HTML; null if it has none."""
    own = escaped('"evidence"')
    return own if layer == "lines" else f"coalesce({own}, {escaped(of_line('evidence'))})"


def without_holds(layer: str, tables: Collection[str]) -> str:
    """Return what is said of a dig for which no hold is recorded; nothing clears it."""
    if "dig_zones" not in tables:
        return literal(sentences.NOT_CHECKED)
    status = of_line("dig_status") if layer == "marks" else '"dig_status"'
    none = literal(f"{sentences.NO_HOLD}. {sentences.CAUTION}")
    return (f"CASE WHEN \"status\" <> 'located' THEN {literal(sentences.NOT_LOCATED)} "
            f"WHEN {status} = 'no_hold_recorded' THEN {none} "
            f"ELSE {literal(sentences.NO_REASON)} END")  # fmt: skip


def hold_messages(layer: str, tables: Collection[str]) -> str:
    """Return the texts of the holds as an array; what is said without a record if there is none."""
    none = f"array({without_holds(layer, tables)})"
    if "holds" not in tables:
        return none
    return f"with_variable('h', {messages('holds', layer)}, if(array_length(@h) > 0, @h, {none}))"


def html_list(texts: str) -> str:
    """Return an array of texts as a list in HTML; null if it is empty."""
    each = f"'<li>' || {escaped('@element')} || '</li>'"
    return (f"with_variable('t', {texts}, if(array_length(@t) > 0, '<ul>' || "
            f"array_to_string(array_foreach(@t, {each}), '') || '</ul>', NULL))")  # fmt: skip
