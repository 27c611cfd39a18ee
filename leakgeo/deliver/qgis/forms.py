"""Pages and boxes of the forms of QGIS."""

from __future__ import annotations

from xml.etree import ElementTree as ET


def container(parent: ET.Element, title: str, shown: str = "") -> ET.Element:
    """Add a page to a form, or a box to a page, shown where an expression is true.

    Parameters
    ----------
    parent : xml.etree.ElementTree.Element
        Element ``attributeEditorForm`` for a page, another container for a box.
    title : str
    shown : str
        Expression of QGIS; always shown if empty.
    """
    box = parent.tag != "attributeEditorForm"
    return ET.SubElement(parent, "attributeEditorContainer", name=title, columnCount="1",
                         showLabel="1", groupBox=str(int(box)),
                         type="GroupBox" if box else "Tab", visibilityExpression=shown,
                         visibilityExpressionEnabled=str(int(bool(shown))))  # fmt: skip
