"""Styles in QML, the format of QGIS."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from leakgeo.deliver.geopackage.forms import CATEGORIES, LAYERS, add_form
from leakgeo.deliver.qgis.labels import add_label
from leakgeo.deliver.qgis.project_parts import scale_attributes
from leakgeo.deliver.qgis.symbols import GEOMETRY, VERSION, add_renderer
from leakgeo.deliver.views.colours import INK

if TYPE_CHECKING:
    from leakgeo.deliver.geopackage.styles import Style
    from leakgeo.wording import Wording


# A run writes each style several times, and every run the same ones.
@lru_cache(maxsize=128)
def qml(style: Style, words: Wording, *others: Style) -> str:
    """Return a style as QML: one rule per symbol, labels, and the form.

    Parameters
    ----------
    style : Style
    words : Wording
        Of the form.
    *others : Style
        Symbols for the other kinds of geometry of a table that has several.

    Returns
    -------
    str
        XML that QGIS reads from a file or from ``layer_styles``.

    Examples
    --------
    >>> from leakgeo.deliver.geopackage.styles import Paint, StyleRule, Style
    >>> red = Style("marks", "Marks", "point", (StyleRule("All", (Paint(fill="#ff0000"),)),))
    >>> from leakgeo.wording import wording
    >>> "RuleRenderer" in qml(red, wording())
    True
    """
    more = f"|{CATEGORIES}" if style.layer in LAYERS else ""
    categories = f"Symbology|Labeling|Rendering{more}"
    root = ET.Element("qgis", scale_attributes(style.scale), version=VERSION,
                      styleCategories=categories,
                      labelsEnabled=str(int(style.words is not None)))  # fmt: skip
    add_renderer(root, style, *others)
    if style.words is not None:
        add_label(root, style.words, style.kind, INK)
    add_form(root, style.layer, words)
    if not others:  # QGIS opens each kind of geometry as a layer, all with the style of the table
        ET.SubElement(root, "layerGeometryType").text = GEOMETRY[style.kind]
    ET.indent(root)
    return ET.tostring(root, encoding="unicode")
