"""Symbols of a style as QGIS stores them."""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from reportlab.lib.colors import HexColor

from leakgeo.deliver.views.colours import INK

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.deliver.geopackage.styles import Condition, Paint, Style, StyleRule

VERSION = "3.22.0"  # oldest version of QGIS tested
_SYMBOLS = {"point": "marker", "line": "line", "area": "fill"}
_TYPES = {"point": "Point", "line": "Line", "area": "Polygon"}
_MARKERS = {"x": "cross2"}
GEOMETRY = {"point": "0", "line": "1", "area": "2"}


def add_renderer(root: ET.Element, *styles: Style) -> ET.Element:
    """Add the symbols of a style to its QML or to a layer of a project, and return them.

    Of several styles each has the rules of its kind of geometry.
    """
    renderer = ET.SubElement(root, "renderer-v2", type="RuleRenderer", symbollevels="0",
                             forceraster="0", enableorderby="0")  # fmt: skip
    rules = ET.SubElement(renderer, "rules", key="{leakgeo}")
    symbols = ET.SubElement(renderer, "symbols")
    of_kind = [(style.kind, rule) for style in styles for rule in style.rules]
    groups = {style.kind: _group(rules, style) for style in styles if len(styles) > 1}
    for place, (kind, rule) in enumerate(of_kind):
        _rule(groups.get(kind, rules), rule, place)
        _symbol(symbols, rule, kind, place)
    return renderer


def _group(rules: ET.Element, style: Style) -> ET.Element:
    where = f"geometry_type($geometry) = '{_TYPES[style.kind]}'"
    return ET.SubElement(rules, "rule", key=f"{{{style.kind}}}", label=style.title, filter=where)


def _rule(rules: ET.Element, rule: StyleRule, place: int) -> None:
    out = ET.SubElement(rules, "rule", key=f"{{{place}}}", symbol=str(place), label=rule.title)
    if rule.otherwise:
        out.set("filter", "ELSE")
    elif rule.where:
        out.set("filter", " AND ".join(map(_condition, rule.where)))


def _condition(where: Condition) -> str:
    column, operator, value = where
    if isinstance(value, bool):
        return f'"{column}" {operator} {str(value).upper()}'
    literal = f"{value:g}" if isinstance(value, float) else "'{}'".format(value.replace("'", "''"))
    return f'"{column}" {operator} {literal}'


def _symbol(symbols: ET.Element, rule: StyleRule, kind: str, place: int) -> None:
    out = ET.SubElement(symbols, "symbol", type=_SYMBOLS[kind], name=str(place), alpha="1",
                        clip_to_extent="1", force_rhr="0")  # fmt: skip
    for paint in rule.paints:
        if kind == "point":
            _layer(out, "SimpleMarker", _marker(paint))
            continue
        if kind == "area" and paint.fill is not None:
            colour = rgba(paint.fill, paint.opacity)
            _layer(out, "SimpleFill", {"color": colour, "style": "solid", "outline_style": "no"})
        if paint.stroke is not None:
            _layer(out, "SimpleLine", _line(paint))


def _marker(paint: Paint) -> Mapping[str, str]:
    shape = paint.shape or "circle"
    return {
        "name": _MARKERS.get(shape, shape), "size": f"{paint.size_mm:g}", "size_unit": "MM",
        "color": rgba(paint.fill or "#ffffff", paint.opacity if paint.fill else 0.0),
        "outline_color": rgba(paint.stroke or "#ffffff"),
        "outline_style": "solid" if paint.stroke else "no",
        "outline_width": f"{paint.width_mm:g}", "outline_width_unit": "MM",
    }  # fmt: skip


def _line(paint: Paint) -> Mapping[str, str]:
    return {
        "line_color": rgba(paint.stroke or INK), "line_width": f"{paint.width_mm:g}",
        "line_width_unit": "MM", "joinstyle": "miter", "capstyle": "flat",
        "use_custom_dash": str(int(bool(paint.dash_mm))), "customdash_unit": "MM",
        "customdash": ";".join(f"{d:g}" for d in paint.dash_mm) or "5;2",
    }  # fmt: skip


def _layer(symbol: ET.Element, kind: str, settings: Mapping[str, str]) -> None:
    """Write settings twice, as QGIS 3 does: newer versions read ``Option``, older ``prop``."""
    out = ET.SubElement(symbol, "layer", {"class": kind, "enabled": "1", "locked": "0",
                                          "pass": "0"})  # fmt: skip
    options = ET.SubElement(out, "Option", type="Map")
    for name, value in settings.items():
        ET.SubElement(options, "Option", name=name, value=value, type="QString")
    for name, value in settings.items():
        ET.SubElement(out, "prop", k=name, v=value)


def rgba(colour: str, opacity: float = 1.0) -> str:
    """Return a hex colour as red, green, blue and alpha, each 0 to 255."""
    solid = HexColor(colour)
    parts = (solid.red, solid.green, solid.blue, opacity)
    return ",".join(str(round(255 * part)) for part in parts)
