"""Parts of a project file: the layer tree, layers, CRS, map view, themes and properties."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from leakgeo.deliver.qgis.expressions import layer_id, plain_text
from leakgeo.deliver.qgis.symbols import rgba
from leakgeo.deliver.views import sentences
from leakgeo.deliver.views.colours import INK
from leakgeo.job.crs import is_georeferenced

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from pyproj import CRS

# QGIS warns of projects of versions before its own; the last one of the oldest series tested.
_VERSION = "3.22.16"
#: What QGIS calls a layer without shapes.
NO_SHAPES = "No geometry"
SHAPES = {"point": "Point", "line": "Line", "area": "Polygon"}
_GROUND = "#ffffff"


@dataclass(frozen=True)
class TreeLayer:
    """A layer in the tree of a project.

    Parameters
    ----------
    name, title : str
        Name in the project, from which its id is made, and what people read.
    source : str
        File and table, relative to the project.
    shown, expanded : bool
        Whether it is drawn, and whether its legend is open.
    """

    name: str
    title: str
    source: str
    shown: bool = True
    expanded: bool = False


@dataclass(frozen=True)
class TreeGroup:
    """A group of the layer tree, its layers topmost first."""

    title: str
    layers: tuple[TreeLayer, ...]
    expanded: bool = True


def project_root(title: str, crs: CRS) -> ET.Element:
    """Return an empty project."""
    root = ET.Element("qgis", projectname=title, version=_VERSION)
    ET.SubElement(root, "homePath", path="")
    ET.SubElement(root, "title").text = title
    ET.SubElement(root, "autotransaction", active="0")
    add_crs(ET.SubElement(root, "projectCrs"), crs)
    return root


def project_text(root: ET.Element) -> str:
    """Return a project as XML with its document type."""
    ET.indent(root)
    head = "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n"
    return head + ET.tostring(root, encoding="unicode") + "\n"


def add_crs(parent: ET.Element, crs: CRS) -> None:
    """Add a CRS as QGIS stores it: by its authority, and as WKT; none for a plane of its own."""
    out = ET.SubElement(parent, "spatialrefsys", nativeFormat="Wkt")
    for tag, text in _crs_texts(crs).items():
        ET.SubElement(out, tag).text = text


# A project names the same CRS in each layer.
@lru_cache(maxsize=8)
def _crs_texts(crs: CRS) -> dict[str, str]:
    if not is_georeferenced(crs):
        return {}
    authority = crs.to_authority(min_confidence=100)
    return {
        "wkt": plain_text(crs.to_wkt("WKT2_2019")), "srid": authority[1] if authority else "0",
        "authid": ":".join(authority) if authority else "", "description": plain_text(crs.name),
        "geographicflag": str(crs.is_geographic).lower(),
    }  # fmt: skip


def add_tree(root: ET.Element, groups: Sequence[TreeGroup], order: Sequence[str] = ()) -> None:
    """Add the layer tree.

    Parameters
    ----------
    root : xml.etree.ElementTree.Element
        Project.
    groups : sequence of TreeGroup
        Topmost first.
    order : sequence of str
        Names of the layers as they are drawn, topmost first; as in the tree if empty.
    """
    tree = ET.SubElement(root, "layer-tree-group")
    for group in groups:
        parent = ET.SubElement(tree, "layer-tree-group", name=group.title, checked="Qt::Checked",
                               expanded=str(int(group.expanded)))  # fmt: skip
        for layer in group.layers:
            ET.SubElement(parent, "layer-tree-layer", id=layer_id(layer.name), name=layer.title,
                          source=layer.source, providerKey="ogr",
                          checked="Qt::Checked" if layer.shown else "Qt::Unchecked",
                          expanded=str(int(layer.expanded)))  # fmt: skip
    names = order or [layer.name for group in groups for layer in group.layers]
    drawn = ET.SubElement(tree, "custom-order", enabled=str(int(bool(order))))
    # Read by QGIS 2, and by programs that take over its projects.
    older = ET.SubElement(root, "layerorder")
    for name in names:
        ET.SubElement(drawn, "item").text = layer_id(name)
        ET.SubElement(older, "layer", id=layer_id(name))


def add_map_layer(
    parent: ET.Element, layer: TreeLayer, shape: str, crs: CRS, *, scale: int = 0,
    read_only: bool = False, labels: bool = True,
) -> ET.Element:  # fmt: skip
    """Add a vector layer of a GeoPackage, and return it.

    Parameters
    ----------
    parent : xml.etree.ElementTree.Element
        Element ``projectlayers``.
    layer : TreeLayer
    shape : {"Point", "Line", "Polygon", "No geometry"}
    crs : pyproj.CRS
    scale : int
        The layer is hidden on maps of a smaller scale than one to this; 0 for none.
    read_only : bool
    labels : bool
        Whether the labels are drawn.
    """
    out = ET.SubElement(parent, "maplayer", scale_attributes(scale), type="vector", geometry=shape,
                        labelsEnabled=str(int(labels)), styleCategories="AllStyleCategories",
                        simplifyDrawingHints="0", readOnly=str(int(read_only)),
                        autoRefreshEnabled="0")  # fmt: skip
    ET.SubElement(out, "id").text = layer_id(layer.name)
    ET.SubElement(out, "datasource").text = layer.source
    ET.SubElement(out, "layername").text = layer.title
    if shape != NO_SHAPES:
        add_crs(ET.SubElement(out, "srs"), crs)
    ET.SubElement(out, "provider", encoding="UTF-8").text = "ogr"
    return out


def scale_attributes(scale: int) -> dict[str, str]:
    """Return the attributes that hide a layer on maps of a smaller scale than one to `scale`.

    Examples
    --------
    >>> scale_attributes(5000)
    {'hasScaleBasedVisibilityFlag': '1', 'minScale': '5000', 'maxScale': '0'}
    """
    return {"hasScaleBasedVisibilityFlag": str(int(scale > 0)),
            "minScale": str(scale or 100_000_000), "maxScale": "0"}  # fmt: skip


def add_flags(layer: ET.Element) -> None:
    """Let a layer be identified, removed and searched."""
    flags = ET.SubElement(layer, "flags")
    for name in ("Identifiable", "Removable", "Searchable"):
        ET.SubElement(flags, name).text = "1"


def add_canvas(root: ET.Element, crs: CRS, bounds: Sequence[float]) -> None:
    """Set the view of the map.

    Parameters
    ----------
    root : xml.etree.ElementTree.Element
        Project.
    crs : pyproj.CRS
    bounds : sequence of float, shape (4,)
        West, south, east and north in `crs`.
    """
    canvas = ET.SubElement(root, "mapcanvas", name="theMapCanvas", annotationsVisible="1")
    ET.SubElement(canvas, "units").text = "degrees" if crs.is_geographic else "unknown"
    extent = ET.SubElement(canvas, "extent")
    for name, value in zip(("xmin", "ymin", "xmax", "ymax"), bounds, strict=True):
        ET.SubElement(extent, name).text = f"{value:.10g}"
    ET.SubElement(canvas, "rotation").text = "0"
    add_crs(ET.SubElement(canvas, "destinationsrs"), crs)


def add_theme(
    root: ET.Element, title: str, names: Iterable[str], style: dict[str, str] | None = None
) -> None:
    """Add a map theme.

    Parameters
    ----------
    root : xml.etree.ElementTree.Element
        Element ``visibility-presets`` of the project.
    title : str
    names : iterable of str
        Layers that are drawn.
    style : dict of str to str, optional
        Name of the style of each layer; the default style for others.
    """
    preset = ET.SubElement(root, "visibility-preset", {
        "name": title, "has-expanded-info": "0", "has-checked-group-info": "0",
    })  # fmt: skip
    for name in names:
        ET.SubElement(preset, "layer", id=layer_id(name), visible="1", expanded="0",
                      style=(style or {}).get(name, "default"))  # fmt: skip


def add_properties(root: ET.Element, units: str, caution: str = sentences.CAUTION) -> None:
    """Add units of measuring, relative paths, and a text that stays on the map.

    Parameters
    ----------
    root : xml.etree.ElementTree.Element
        Project.
    units : {"si", "us"}
    caution : str
    """
    feet = units == "us"
    sections: dict[str, dict[str, str | int]] = {
        "Measurement": {"DistanceUnits": "feet" if feet else "meters",
                        "AreaUnits": "ft2" if feet else "m2"},
        "SpatialRefSys": {"ProjectionsEnabled": 1},
        # Lengths are measured on the ground, whatever the CRS.
        "Measure": {"Ellipsoid": "EPSG:7030"},
        "Gui": {"CanvasColorRedPart": 255, "CanvasColorGreenPart": 255,
                "CanvasColorBluePart": 255},
        "Digitizing": {"AvoidIntersectionsMode": 0, "TopologicalEditing": 0},
        "Paths": {"Absolute": False},
        "PositionPrecision": {"Automatic": True, "DecimalPlaces": 2},
        "PAL": {"PlacementEngineVersion": 1, "ShowingPartialsLabels": True},
        "CopyrightLabel": {"Enabled": True, "Label": caution, "Placement": 3,
                           "Font": _caution_font()},
    }  # fmt: skip
    properties = ET.SubElement(root, "properties")
    kinds = {bool: "bool", int: "int", str: "QString"}
    for section, values in sections.items():
        parent = ET.SubElement(properties, section)
        for name, value in values.items():
            out = ET.SubElement(parent, name, type=kinds[type(value)])
            out.text = str(value).lower() if isinstance(value, bool) else str(value)


def _caution_font() -> str:
    """Return the font of the text on the map, readable on a light and on a dark ground."""
    style = ET.Element("text-style", fontFamily="Sans", fontSize="11", fontSizeUnit="Point",
                       fontWeight="75", namedStyle="Bold",
                       textColor=rgba(INK), textOpacity="1")  # fmt: skip
    ET.SubElement(style, "text-buffer", bufferDraw="1", bufferSize="1.2", bufferSizeUnits="MM",
                  bufferColor=rgba(_GROUND), bufferOpacity="1")  # fmt: skip
    return ET.tostring(style, encoding="unicode")
