"""Expressions of what holds a dig, and of its cautions, and the card of a line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from leakgeo.deliver.geopackage import forms as labels
from leakgeo.deliver.qgis.expressions import escaped, layer_id, literal
from leakgeo.deliver.views import sentences

if TYPE_CHECKING:
    from collections.abc import Collection

#: Column that the project computes for lines and marks.
CARD = "card"
_CAUTIONS = "Cautions"


@dataclass(frozen=True)
class Given:
    """What the expressions may refer to.

    Parameters
    ----------
    layers : collection of str
        Names of the layers of the project.
    checked : bool
        Whether clearance was checked; its layers may have no rows.
    """

    layers: Collection[str]
    checked: bool


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
    if not given.checked:
        return literal(sentences.NOT_CHECKED)
    status = of_line("dig_status") if layer == "marks" else '"dig_status"'
    none = literal(f"{sentences.NO_HOLD}. {sentences.CAUTION}")
    mark = f"get_feature({literal(layer_id('marks'))}, 'line_id', \"line_id\")"
    unmarked = "true" if "marks" not in given.layers else f"{mark} IS NULL"
    no_dig = f"WHEN {unmarked} THEN {literal(sentences.NO_DIG)}" if layer == "lines" else ""
    return (f"CASE {no_dig} WHEN \"status\" <> 'located' THEN {literal(sentences.NOT_LOCATED)} "
            f"WHEN {status} = 'no_hold_recorded' THEN {none} "
            f"ELSE {literal(sentences.NO_REASON)} END")  # fmt: skip


def hold_messages(layer: str, given: Given) -> str:
    """Return the texts of the holds as an array; what is said without a record if there is none."""
    none = f"array({without_holds(layer, given)})"
    if "holds" not in given.layers:
        return none
    return f"with_variable('h', {messages('holds', layer)}, if(array_length(@h) > 0, @h, {none}))"


def caution_messages(layer: str, given: Given) -> str:
    """Return the texts of the cautions as an array."""
    return messages("cautions", layer) if "cautions" in given.layers else "array()"


def card_html(layer: str, given: Given) -> str:
    """Return the card of a mark or a line as HTML: holds, place, next action, cautions, evidence.

    Parameters
    ----------
    layer : {"lines", "marks"}
    given : Given
    """
    evidence = '"evidence"' if layer == "lines" else f'coalesce("evidence", {of_line("evidence")})'
    line, caution = escaped('"line_id"'), literal(f"</h3><p>{sentences.CAUTION}</p>")
    parts = [
        f"'<h3>' || {line} || {caution}",
        _section(labels.CARD["held_by"], _html_list(hold_messages(layer, given))),
        *(_section(labels.CARD[name], escaped(f'"{name}"')) for name in ("message", "next_action")),
        _section(_CAUTIONS, _html_list(caution_messages(layer, given))),
        _section(labels.CARD["evidence"], escaped(evidence)),
    ]
    return f"concat({', '.join(parts)})"


def _section(title: str, html: str) -> str:
    return f"coalesce({literal(f'<h4>{title}</h4>')} || {html}, '')"


def _html_list(texts: str) -> str:
    """Return an array of texts as a list in HTML; null if it is empty."""
    each = f"'<li>' || {escaped('@element')} || '</li>'"
    return (f"with_variable('t', {texts}, if(array_length(@t) > 0, "
            f"'<ul style=\"margin-left:-24px\">' || "
            f"array_to_string(array_foreach(@t, {each}), '') || '</ul>', NULL))")  # fmt: skip
