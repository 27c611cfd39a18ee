"""Forms of the layers in a GIS: the card of the line first, then all columns."""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from leakgeo.deliver.views import sentences
from leakgeo.job.schema import load_schemas

if TYPE_CHECKING:
    from collections.abc import Sequence

#: Columns of the card, in its order, and their labels.
CARD = {"held_by": "What holds the dig", "message": "Place", "next_action": "Next"}
#: Layers whose form begins with the card.
LAYERS = ("lines", "marks")
_FIRST, _REST = "Before anyone digs", "All columns"
#: What QGIS takes from a style with a form.
CATEGORIES = "Fields|Forms|MapTips"


def add_form(root: ET.Element, layer: str) -> None:
    """Add form, labels and map tip of a layer to its QML; nothing for a layer without a card.

    Parameters
    ----------
    root : xml.etree.ElementTree.Element
        Element ``qgis`` of the style.
    layer : str
    """
    if layer not in LAYERS:
        return
    _widgets(root)
    aliases = ET.SubElement(root, "aliases")
    for name, label in CARD.items():
        ET.SubElement(aliases, "alias", field=name, name=label)
    ET.SubElement(root, "editorlayout").text = "tablayout"
    form = ET.SubElement(root, "attributeEditorForm")
    _container(form, f"{_FIRST}: {sentences.CAUTION}", list(CARD))
    _container(form, _REST, [c for c in load_schemas("output")[layer].columns if c not in CARD])
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


def _widgets(root: ET.Element) -> None:
    """Let the texts of the card take several lines."""
    fields = ET.SubElement(root, "fieldConfiguration")
    for name in CARD:
        widget = ET.SubElement(ET.SubElement(fields, "field", name=name), "editWidget",
                               type="TextEdit")  # fmt: skip
        options = ET.SubElement(ET.SubElement(widget, "config"), "Option", type="Map")
        ET.SubElement(options, "Option", name="IsMultiline", type="bool", value="true")


def _container(form: ET.Element, title: str, columns: Sequence[str]) -> None:
    box = ET.SubElement(form, "attributeEditorContainer", name=title, groupBox="1",
                        columnCount="1", showLabel="1", visibilityExpressionEnabled="0",
                        visibilityExpression="")  # fmt: skip
    for name in columns:
        ET.SubElement(box, "attributeEditorField", name=name, showLabel="1")


def _map_tip() -> str:
    """Return the map tip as HTML; QGIS evaluates the expressions, and text is escaped."""
    rows = [f"'<p><b>{label}:</b> ' || {_escaped(name)} || '</p>'" for name, label in CARD.items()]
    cells = ", ".join(f"coalesce({row}, '')" for row in rows)
    return f"<h4>[% {_escaped('line_id')} %]</h4>[% concat({cells}) %]<p>{sentences.CAUTION}</p>"


def _escaped(column: str) -> str:
    """Return a QGIS expression: the value of a column with the signs of markup replaced."""
    return f"""replace(replace("{column}", '&', '&amp;'), '<', '&lt;')"""
