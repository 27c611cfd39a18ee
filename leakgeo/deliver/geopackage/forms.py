"""Forms of the layers in a GIS: the card of the line first, then all columns."""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from leakgeo.deliver.qgis.expressions import escaped
from leakgeo.deliver.qgis.forms import container
from leakgeo.deliver.views import sentences
from leakgeo.job.schema import load_schemas

if TYPE_CHECKING:
    from collections.abc import Sequence

#: Columns of the card, in its order, and their labels.
CARD = {"held_by": "What holds the dig", "message": "Place", "next_action": "Next",
        "evidence": "Evidence"}  # fmt: skip
#: Layers whose form begins with the card.
LAYERS = ("lines", "marks")
# Too long for a tip that follows the pointer.
_LONG = ("evidence",)
_FIRST, _REST = "Before anyone digs", "All columns"
_CAUTIONS = "Cautions"
#: What QGIS takes from a style with a form.
CATEGORIES = "Fields|Forms|MapTips"


def add_form(root: ET.Element, layer: str, lists: Sequence[str] = ()) -> None:
    """Add form, labels and map tip of a layer to its QML; nothing for a layer without a card.

    Parameters
    ----------
    root : xml.etree.ElementTree.Element
        Element ``qgis`` of the style, or layer of a project.
    layer : str
    lists : sequence of str
        Columns with the holds, the cautions and the evidence as HTML, if the layer has them.
    """
    if layer not in LAYERS:
        return
    _widgets(root, lists)
    aliases = ET.SubElement(root, "aliases")
    for name, label in CARD.items():
        ET.SubElement(aliases, "alias", field=name, name=label)
    ET.SubElement(root, "editorlayout").text = "tablayout"
    form = ET.SubElement(root, "attributeEditorForm")
    # On a page of its own the card takes the whole height, so that its texts need no scrolling.
    card = container(container(form, _FIRST), sentences.CAUTION)
    for name, label in _boxes(lists).items():
        # A text that the line does not have would be shown as NULL.
        box = container(card, label, f'"{name}" IS NOT NULL')
        ET.SubElement(box, "attributeEditorField", name=name, showLabel="0")
    rest = container(form, _REST)
    for name in load_schemas("output")[layer].columns:
        if name not in CARD:
            ET.SubElement(rest, "attributeEditorField", name=name, showLabel="1")
    ET.SubElement(root, "mapTip", enabled="1").text = _map_tip()


def form_qml(layer: str, version: str) -> str:
    """Return the QML of a table without geometry: its form alone.

    Examples
    --------
    >>> "attributeEditorForm" in form_qml("lines", "3.22.0")
    True
    """
    root = ET.Element("qgis", version=version, styleCategories=CATEGORIES)
    add_form(root, layer)
    ET.indent(root)
    return ET.tostring(root, encoding="unicode")


def _boxes(lists: Sequence[str]) -> dict[str, str]:
    """Return columns and titles of the boxes: with lists, the holds are listed first."""
    if not lists:
        return CARD
    held_by, *others, evidence = CARD
    holds, cautions, known = lists
    return {holds: CARD[held_by], **{name: CARD[name] for name in others},
            cautions: _CAUTIONS, known: CARD[evidence]}  # fmt: skip


def _widgets(root: ET.Element, lists: Sequence[str]) -> None:
    """Let the texts of the card take several lines."""
    fields = ET.SubElement(root, "fieldConfiguration")
    for name in (*CARD, *lists):
        widget = ET.SubElement(ET.SubElement(fields, "field", name=name), "editWidget",
                               type="TextEdit")  # fmt: skip
        options = ET.SubElement(ET.SubElement(widget, "config"), "Option", type="Map")
        ET.SubElement(options, "Option", name="IsMultiline", type="bool", value="true")
        if name in lists:
            ET.SubElement(options, "Option", name="UseHtml", type="bool", value="true")


def _map_tip() -> str:
    """Return the map tip as HTML; QGIS evaluates the expressions, and text is escaped."""
    shown = {name: escaped(f'"{name}"') for name in ("line_id", *CARD) if name not in _LONG}
    rows = [f"'<p><b>{CARD[name]}:</b> ' || {value} || '</p>'"
            for name, value in shown.items() if name in CARD]  # fmt: skip
    cells = ", ".join(f"coalesce({row}, '')" for row in rows)
    return f"<h4>[% {shown['line_id']} %]</h4>[% concat({cells}) %]<p>{sentences.CAUTION}</p>"
