"""One layer of a job as QGIS stores it: in a project, and as a style."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from leakgeo.deliver.field_project.forms import add_form
from leakgeo.deliver.qgis.drawn_styles import DAY, NIGHT, field_styles
from leakgeo.deliver.qgis.labels import add_labels, add_map_tip
from leakgeo.deliver.qgis.project_parts import (
    NO_SHAPES,
    SHAPES,
    TreeLayer,
    add_flags,
    add_map_layer,
)
from leakgeo.deliver.qgis.symbols import GEOMETRY, VERSION, add_renderer, rgba
from leakgeo.job.schema import drawn_layers
from leakgeo.job.sources import FIELD_JOB

if TYPE_CHECKING:
    from pyproj import CRS

    from leakgeo.deliver.field_project.form_fields import Setting
    from leakgeo.deliver.geopackage.styles import Style
    from leakgeo.deliver.qgis.drawn_styles import Light
    from leakgeo.job.schema import LayerSchema
    from leakgeo.wording import Wording

#: Names of the styles of each layer, and of the map themes.
LIGHTS = {"Day": DAY, "Night": NIGHT}
#: Layer that is always empty; what is outside its areas is dark.
GROUND = "night_ground"
# In the legend, of utilities of no kind.
_NOT_KNOWN = "not known"


def tree_layer(name: str, words: Wording) -> TreeLayer:
    """Return a layer of the job, or the dark ground, in the tree of the project."""
    if name == GROUND:
        source = f'./{FIELD_JOB}|layername=surfaces|subset="fid" < 0'
        return TreeLayer(name, words.title("Dark ground"), source, shown=False)
    title = words.title(drawn_layers()[name].title)
    return TreeLayer(name, title, f"./{FIELD_JOB}|layername={name}")


def add_layer(parent: ET.Element, schema: LayerSchema, setting: Setting, crs: CRS) -> None:
    """Add a layer to a project, with its styles for day and night.

    Parameters
    ----------
    parent : xml.etree.ElementTree.Element
        Element ``projectlayers``.
    schema : LayerSchema
    setting : Setting
    crs : pyproj.CRS
    """
    kind = field_styles(DAY)[schema.name].kind if schema.geometry_types else None
    shapes = SHAPES[kind] if kind else NO_SHAPES
    layer = add_map_layer(parent, tree_layer(schema.name, setting.words), shapes, crs)
    if schema.geometry_types:
        _add_styles(layer, schema, setting)
    _add_settings(layer, schema, setting, DAY)


def add_ground(parent: ET.Element, crs: CRS, words: Wording) -> None:
    """Add the dark ground of the night: what is outside the areas of an empty layer."""
    layer = add_map_layer(parent, tree_layer(GROUND, words), SHAPES["area"], crs)
    manager = ET.SubElement(layer, "map-layer-style-manager", current="default")
    ET.SubElement(manager, "map-layer-style", name="default")
    outside = ET.SubElement(layer, "renderer-v2", type="invertedPolygonRenderer",
                            preprocessing="0", forceraster="0")  # fmt: skip
    inside = ET.SubElement(outside, "renderer-v2", type="singleSymbol", symbollevels="0")
    symbol = ET.SubElement(ET.SubElement(inside, "symbols"), "symbol", type="fill", name="0",
                           alpha="1", clip_to_extent="1", force_rhr="0")  # fmt: skip
    fill = ET.SubElement(symbol, "layer", {"class": "SimpleFill", "enabled": "1", "pass": "0",
                                           "locked": "0"})  # fmt: skip
    options = ET.SubElement(fill, "Option", type="Map")
    settings = {"color": rgba(NIGHT.ground), "style": "solid", "outline_style": "no"}
    for name, value in settings.items():
        ET.SubElement(options, "Option", name=name, value=value, type="QString")
        ET.SubElement(fill, "prop", k=name, v=value)


def style_qml(schema: LayerSchema, setting: Setting, light: Light = DAY) -> str:
    """Return symbols, labels and form of a layer as QML.

    Parameters
    ----------
    schema : LayerSchema
    setting : Setting
    light : Light

    Examples
    --------
    >>> from leakgeo.deliver.field_project.form_fields import Setting
    >>> from leakgeo.job.schema import load_schema
    >>> setting = Setting("si", None, "EPSG:4326", in_project=False)
    >>> "RuleRenderer" in style_qml(load_schema("valves"), setting)
    True
    """
    root = _style(schema, setting, light)
    ET.indent(root)
    return ET.tostring(root, encoding="unicode")


def _style(schema: LayerSchema, setting: Setting, light: Light) -> ET.Element:
    root = ET.Element("qgis", version=VERSION, styleCategories="AllStyleCategories",
                      labelsEnabled=str(int(bool(schema.geometry_types))))  # fmt: skip
    _add_settings(root, schema, setting, light)
    return root


def _add_settings(root: ET.Element, schema: LayerSchema, setting: Setting, light: Light) -> None:
    add_flags(root)
    if schema.geometry_types:
        style = _in_words(field_styles(light)[schema.name], setting.words)
        add_renderer(root, style)
        add_labels(root, schema.name, style.kind, light)
        add_map_tip(root, schema, setting.words)
        if root.tag == "qgis":
            ET.SubElement(root, "layerGeometryType").text = GEOMETRY[style.kind]
    add_form(root, schema, setting)
    ET.SubElement(root, "previewExpression").text = _name_of(schema)


def _in_words(style: Style, words: Wording) -> Style:
    """Return a style with its legend in the language of the crew."""

    def said(title: str) -> str:
        if title[:1].isupper() or title == _NOT_KNOWN:
            return words.title(title)
        column = "surface" if style.layer == "surfaces" and title != "other" else "kind"
        return words.choice(column, title)

    return replace(style, rules=tuple(replace(r, title=said(r.title)) for r in style.rules))


def _name_of(schema: LayerSchema) -> str:
    """Return the expression that names a row in lists."""
    if schema.name == "readings":
        return "coalesce(\"line_id\", '') || ' ' || coalesce(format_date(\"time\", 'HH:mm'), '')"
    named = [f.name for f in schema.fields if f.name in schema.key or f.required]
    return f'"{(named or list(schema.columns))[0]}"'


def _add_styles(layer: ET.Element, schema: LayerSchema, setting: Setting) -> None:
    """Add the named styles; QGIS stores the current one as the settings of the layer."""
    manager = ET.SubElement(layer, "map-layer-style-manager",
                            current=setting.words.title("Day"))  # fmt: skip
    for name, light in LIGHTS.items():
        style = ET.SubElement(manager, "map-layer-style", name=setting.words.title(name))
        if name != "Day":
            style.append(_style(schema, setting, light))
