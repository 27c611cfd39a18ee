"""One layer of a result in the project: symbols, labels, map tip, form, and time."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from leakgeo.deliver.geopackage.forms import LAYERS, add_form
from leakgeo.deliver.qgis.drawn_styles import DAY
from leakgeo.deliver.qgis.labels import LABELS, add_label, add_map_tip, tip_rows
from leakgeo.deliver.qgis.project_parts import NO_SHAPES, add_flags, add_map_layer
from leakgeo.deliver.qgis.symbols import add_renderer
from leakgeo.deliver.qgis.words import caution
from leakgeo.deliver.result_project.lists import CARD, card_text
from leakgeo.deliver.views.colours import INK

if TYPE_CHECKING:
    from pyproj import CRS

    from leakgeo.deliver.result_project.layers import ResultLayer
    from leakgeo.deliver.result_project.lists import Given
    from leakgeo.wording import Wording

#: Layer that the temporal controller plays.
READINGS = "readings_on_route"
# Columns of the map tips; lines and marks have their card.
_TIPS = {
    "conflicts": ("kind", "utility_id", "owner", "severity", "response", "action"),
    "dig_zones": ("line_id", "dig_status", "worst_hold"),
    "search_zones": ("line_id", "rank", "probability_leak_here"),
    "next_readings": ("line_id", "order", "reason"),
    READINGS: ("line_id", "walk_id", "time", "level_comparable_db", "used", "reason"),
    "ties": ("line_id", "fixed_point"),
    "survey_bracket": ("line_id", "message"),
    "contact_ranking": ("contact_id", "kind", "rank", "level_db"),
    "air_tests": ("line_id", "message"),
}
# Labels and layers of the job give way to those of the result on maps of smaller scales.
_NEAR = {"contacts": 350, "routes": 800, "readings": 200,
         **dict.fromkeys(("utility_lines", "utility_areas", "utility_points"), 800)}  # fmt: skip
_SCALES = dict.fromkeys(("job_contacts", "job_valves", "job_readings", "job_surfaces"), 1000)
_SORTED = {"lines": "priority", "holds": "order", "cautions": "order", "next_actions": "order"}
# Columns for programs, which have the same content as a text beside them.
_CODES = ("_code", "_values")
_TEXT, _NOT_SET = "10", "-1"


def add_result_layer(parent: ET.Element, layer: ResultLayer, crs: CRS, given: Given) -> None:
    """Add a layer to a project.

    Parameters
    ----------
    parent : xml.etree.ElementTree.Element
        Element ``projectlayers``.
    layer : ResultLayer
    crs : pyproj.CRS
        CRS of the GeoPackage.
    given : Given
        What expressions may refer to.
    """
    style = layer.style
    scale = _SCALES.get(layer.name, 0 if style is None else style.scale)
    out = add_map_layer(parent, layer.in_tree(), layer.shape, crs, scale=scale, read_only=True,
                        labels=layer.shape != NO_SHAPES)  # fmt: skip
    add_flags(out)
    if style is not None:
        add_renderer(out, style)
        _add_labels(out, layer)
    if layer.name in LAYERS:
        _add_card(out, layer.name, given)
        add_form(out, layer.name, given.words, CARD)
    elif layer.schema is not None:
        _add_tip(out, layer, given.words)
    _add_table(out, layer)
    if layer.name == READINGS:
        _add_time(out)
    if "line_id" in layer.columns:
        ET.SubElement(out, "previewExpression").text = '"line_id"'


def _add_labels(out: ET.Element, layer: ResultLayer) -> None:
    style = layer.style
    if style is None:
        return
    if layer.of_job and layer.schema is not None:
        name = layer.schema.name
        if (label := LABELS.get(name)) is not None:
            near = replace(label, scale=min(label.scale, _NEAR.get(name, label.scale)))
            add_label(out, near, style.kind, DAY.ink, DAY.ground)
    elif style.words is not None:
        add_label(out, style.words, style.kind, INK)
    else:
        out.set("labelsEnabled", "0")


def _add_card(out: ET.Element, layer: str, given: Given) -> None:
    """Add a column that QGIS computes: the card with all holds and cautions of the dig."""
    computed = ET.SubElement(out, "expressionfields")
    ET.SubElement(computed, "field", name=CARD, expression=card_text(layer, given), type=_TEXT,
                  subType="0", typeName="", length="0", precision="0", comment="")  # fmt: skip


def _add_tip(out: ET.Element, layer: ResultLayer, words: Wording) -> None:
    if layer.schema is None or layer.style is None:
        return
    if layer.of_job:
        add_map_tip(out, layer.schema, words)
        return
    names = _TIPS.get(layer.name, layer.columns[:4])
    rows = tip_rows(layer.schema, names, words)
    tip = ET.SubElement(out, "mapTip", enabled="1")
    tip.text = f"[% concat({', '.join(rows)}) %]<p>{caution(words)}</p>"


def _add_table(out: ET.Element, layer: ResultLayer) -> None:
    """Hide columns for programs in the table, and those that take long for all rows."""
    by = f'"{_SORTED[layer.name]}"' if layer.name in _SORTED else ""
    table = ET.SubElement(out, "attributetableconfig", sortExpression=by, sortOrder="0",
                          actionWidgetStyle="dropDown")  # fmt: skip
    columns = ET.SubElement(table, "columns")
    computed = (CARD,) if layer.name in LAYERS else ()
    for name in ("fid", *layer.columns, *computed):
        hidden = name in ("fid", "code", "values", *computed) or name.endswith(_CODES)
        ET.SubElement(columns, "column", name=name, type="field", width=_NOT_SET,
                      hidden=str(int(hidden)))  # fmt: skip


def _add_time(out: ET.Element) -> None:
    """Let the temporal controller show each reading from its time on."""
    ET.SubElement(out, "temporal", enabled="1", mode="1", startField="time", endField="",
                  startExpression="", endExpression="", durationField="", fixedDuration="0",
                  durationUnit="s", accumulate="1", limitMode="0")  # fmt: skip
