"""Forms of the layers in a GIS: the card of the line first, then all columns."""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from leakgeo.deliver.qgis.expressions import escaped, literal
from leakgeo.deliver.qgis.forms import container
from leakgeo.deliver.qgis.words import caution, project_words
from leakgeo.job.schema import load_schemas

if TYPE_CHECKING:
    from leakgeo.wording import Wording

#: Columns of the card, in its order; their labels are words of the project.
CARD = ("held_by", "message", "next_action", "evidence")
#: Layers whose form begins with the card.
LAYERS = ("lines", "marks")
# Too long for a tip that follows the pointer.
_LONG = ("evidence",)
#: What QGIS takes from a style with a form.
CATEGORIES = "Fields|Forms|MapTips"


def add_form(root: ET.Element, layer: str, words: Wording, computed: str = "") -> None:
    """Add form, labels and map tip of a layer to its QML; nothing for a layer without a card.

    Parameters
    ----------
    root : xml.etree.ElementTree.Element
        Element ``qgis`` of the style, or layer of a project.
    layer : str
    words : Wording
    computed : str
        Column that has the whole card; the columns of the card are shown if it is empty.
    """
    if layer not in LAYERS:
        return
    known = project_words(words)
    _widgets(root, computed)
    aliases = ET.SubElement(root, "aliases")
    for name in CARD:
        ET.SubElement(aliases, "alias", field=name, name=known[name])
    ET.SubElement(root, "editorlayout").text = "tablayout"
    form = ET.SubElement(root, "attributeEditorForm")
    # On a page of its own the card takes the whole height, so that its texts need no scrolling.
    first = container(form, known["page_card"])
    card = first if computed else container(first, caution(words))
    if computed:
        ET.SubElement(card, "attributeEditorField", name=computed, showLabel="0")
    for name in () if computed else CARD:
        # A text that the line does not have would be shown as NULL.
        box = container(card, known[name], f'"{name}" IS NOT NULL')
        ET.SubElement(box, "attributeEditorField", name=name, showLabel="0")
    rest = container(form, known["page_columns"])
    for name in load_schemas("output")[layer].columns:
        if name not in CARD:
            ET.SubElement(rest, "attributeEditorField", name=name, showLabel="1")
    ET.SubElement(root, "mapTip", enabled="1").text = _map_tip(words)


def form_qml(layer: str, version: str, words: Wording) -> str:
    """Return the QML of a table without geometry: its form alone.

    Examples
    --------
    >>> from leakgeo.wording import wording
    >>> "attributeEditorForm" in form_qml("lines", "3.22.0", wording())
    True
    """
    root = ET.Element("qgis", version=version, styleCategories=CATEGORIES)
    add_form(root, layer, words)
    ET.indent(root)
    return ET.tostring(root, encoding="unicode")


def _widgets(root: ET.Element, computed: str) -> None:
    """Let the texts of the card take several lines."""
    fields = ET.SubElement(root, "fieldConfiguration")
    for name in (*CARD, *([computed] if computed else [])):
        widget = ET.SubElement(ET.SubElement(fields, "field", name=name), "editWidget",
                               type="TextEdit")  # fmt: skip
        options = ET.SubElement(ET.SubElement(widget, "config"), "Option", type="Map")
        ET.SubElement(options, "Option", name="IsMultiline", type="bool", value="true")


def _map_tip(words: Wording) -> str:
    """Return the map tip as HTML; QGIS evaluates the expressions, and text is escaped."""
    known = project_words(words)
    shown = {name: escaped(f'"{name}"') for name in ("line_id", *CARD) if name not in _LONG}
    rows = [f"{literal(f'<p><b>{known[name]}:</b> ')} || {value} || '</p>'"
            for name, value in shown.items() if name in CARD]  # fmt: skip
    cells = ", ".join(f"coalesce({row}, '')" for row in rows)
    return f"<h4>[% {shown['line_id']} %]</h4>[% concat({cells}) %]<p>{caution(words)}</p>"
