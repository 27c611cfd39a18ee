"""Styles as OGC Styled Layer Descriptors: 1.0.0, and 1.1.0 with Symbology Encoding."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Literal
from xml.etree import ElementTree as ET

from leakgeo.deliver.views.colours import INK

if TYPE_CHECKING:
    from leakgeo.deliver.geopackage.styles import Condition, Paint, Style, StyleRule

Version = Literal["1.0.0", "1.1.0"]
# A pixel of the standard is 0.28 mm wide (OGC 02-070, 05-077r4).
PIXEL_MM = 0.28
_SLD, _SE = "http://www.opengis.net/sld", "http://www.opengis.net/se"
_OGC = "http://www.opengis.net/ogc"
_TESTS = {"=": "PropertyIsEqualTo", "<>": "PropertyIsNotEqualTo", "<": "PropertyIsLessThan",
          ">=": "PropertyIsGreaterThanOrEqualTo"}  # fmt: skip


# A run writes each style several times, and every run the same ones.
@lru_cache(maxsize=128)
def sld(style: Style, version: Version = "1.1.0") -> str:
    """Return a style as an SLD document.

    Parameters
    ----------
    style : Style
    version : {"1.0.0", "1.1.0"}
        Version of SLD; default 1.1.0.

    Returns
    -------
    str
        XML with its declaration.

    Examples
    --------
    >>> from leakgeo.deliver.geopackage.styles import Paint, StyleRule, Style
    >>> red = Style("marks", "Marks", "point", (StyleRule("All", (Paint(fill="#ff0000"),)),))
    >>> "StyledLayerDescriptor" in sld(red), sld(red, "1.0.0").count("<se:")
    (True, 0)
    """
    return _Writer(version).document(style)


@dataclass(frozen=True)
class _Writer:
    """Writes one version of SLD; the two differ in namespaces and names of elements."""

    version: Version

    def document(self, style: Style) -> str:
        root = ET.Element(f"{{{_SLD}}}StyledLayerDescriptor", version=self.version)
        for prefix, uri in (("sld", _SLD), ("ogc", _OGC), ("se", _SE)):
            ET.register_namespace(prefix, uri)
        named = ET.SubElement(root, f"{{{_SLD}}}NamedLayer")
        self._put(named, "Name", style.layer)
        user = ET.SubElement(named, f"{{{_SLD}}}UserStyle")
        self._put(user, "Name", style.layer)
        self._title(user, style.title)
        feature = self._put(user, "FeatureTypeStyle")
        for rule in style.rules:
            self._rule(feature, rule, style)
        if style.label:
            out = self._put(feature, "Rule")
            self._to_scale(out, style.scale if style.words is None else style.words.scale)
            self._label(out, style)
        ET.indent(root)
        return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="unicode")

    def _put(self, parent: ET.Element, tag: str, text: str | None = None) -> ET.Element:
        out = ET.SubElement(parent, f"{{{_SLD if self.version == '1.0.0' else _SE}}}{tag}")
        out.text = text
        return out

    def _title(self, parent: ET.Element, title: str) -> None:
        """Add a title; version 1.1.0 puts it into a Description."""
        inside = parent if self.version == "1.0.0" else self._put(parent, "Description")
        self._put(inside, "Title", title)

    def _value(self, parent: ET.Element, name: str, value: object) -> None:
        tag = "CssParameter" if self.version == "1.0.0" else "SvgParameter"
        self._put(parent, tag, str(value)).set("name", name)

    def _rule(self, feature: ET.Element, rule: StyleRule, style: Style) -> None:
        out = self._put(feature, "Rule")
        self._put(out, "Name", rule.title)
        self._title(out, rule.title)
        if rule.otherwise:
            _all_but(out, [other.where for other in style.rules if not other.otherwise])
        elif rule.where:
            _all_of(ET.SubElement(out, f"{{{_OGC}}}Filter"), rule.where)
        self._to_scale(out, style.scale)
        for paint in rule.paints:
            {"point": self._point, "line": self._line, "area": self._area}[style.kind](out, paint)

    def _stroke(self, parent: ET.Element, paint: Paint) -> None:
        if paint.stroke is None:
            return
        out = self._put(parent, "Stroke")
        self._value(out, "stroke", paint.stroke)
        self._value(out, "stroke-width", _pixels(paint.width_mm))
        if paint.dash_mm:
            self._value(out, "stroke-dasharray", " ".join(map(_pixels, paint.dash_mm)))

    def _fill(self, parent: ET.Element, paint: Paint) -> None:
        """Add a fill even if there is none: some programs draw a marker without one black."""
        out = self._put(parent, "Fill")
        self._value(out, "fill", paint.fill or "#ffffff")
        self._value(out, "fill-opacity", f"{paint.opacity if paint.fill else 0:g}")

    def _to_scale(self, rule: ET.Element, scale: int) -> None:
        """Hide what is drawn by a rule on maps of a smaller scale; 0 hides nothing."""
        if scale:
            self._put(rule, "MaxScaleDenominator", str(scale))

    def _point(self, rule: ET.Element, paint: Paint) -> None:
        graphic = self._put(self._put(rule, "PointSymbolizer"), "Graphic")
        mark = self._put(graphic, "Mark")
        self._put(mark, "WellKnownName", paint.shape or "circle")
        self._fill(mark, paint)
        self._stroke(mark, paint)
        self._put(graphic, "Size", _pixels(paint.size_mm))

    def _line(self, rule: ET.Element, paint: Paint) -> None:
        self._stroke(self._put(rule, "LineSymbolizer"), paint)

    def _area(self, rule: ET.Element, paint: Paint) -> None:
        symbol = self._put(rule, "PolygonSymbolizer")
        self._fill(symbol, paint)
        self._stroke(symbol, paint)

    def _label(self, rule: ET.Element, style: Style) -> None:
        out = self._put(rule, "TextSymbolizer")
        ET.SubElement(self._put(out, "Label"), f"{{{_OGC}}}PropertyName").text = style.label
        font = self._put(out, "Font")
        self._value(font, "font-family", "sans-serif")
        self._value(font, "font-size", "11")
        halo = self._put(out, "Halo")
        self._put(halo, "Radius", "1.5")
        self._value(self._put(halo, "Fill"), "fill", "#ffffff")
        self._value(self._put(out, "Fill"), "fill", INK)


def _all_of(parent: ET.Element, where: tuple[Condition, ...]) -> None:
    if len(where) > 1:
        parent = ET.SubElement(parent, f"{{{_OGC}}}And")
    for column, operator, value in where:
        test = ET.SubElement(parent, f"{{{_OGC}}}{_TESTS[operator]}")
        ET.SubElement(test, f"{{{_OGC}}}PropertyName").text = column
        ET.SubElement(test, f"{{{_OGC}}}Literal").text = _literal(value)


def _all_but(rule: ET.Element, others: list[tuple[Condition, ...]]) -> None:
    """Add the complement of other filters, nulls included.

    An ElseFilter would be shorter, but some programs draw it for every feature.
    """
    either = ET.SubElement(ET.SubElement(rule, f"{{{_OGC}}}Filter"), f"{{{_OGC}}}Or")
    for column in dict.fromkeys(c for where in others for c, _, _ in where):
        null = ET.SubElement(either, f"{{{_OGC}}}PropertyIsNull")
        ET.SubElement(null, f"{{{_OGC}}}PropertyName").text = column
    rest = ET.SubElement(either, f"{{{_OGC}}}Not")
    if len(others) > 1:
        rest = ET.SubElement(rest, f"{{{_OGC}}}Or")
    for where in others:
        _all_of(rest, where)


def _literal(value: str | float | bool) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return value if isinstance(value, str) else f"{value:g}"


def _pixels(millimetres: float) -> str:
    return f"{millimetres / PIXEL_MM:.2f}".rstrip("0").rstrip(".")
