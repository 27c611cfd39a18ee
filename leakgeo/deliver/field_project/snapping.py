"""Snapping of the project: stops to fittings and to the pipe, never to its vertices."""

from __future__ import annotations

from xml.etree import ElementTree as ET

from leakgeo.deliver.qgis.expressions import layer_id
from leakgeo.job.schema import drawn_layers

_PIXELS = 10
# Bits of QGIS: vertex, segment, end of a line.
_VERTEX, _SEGMENT, _LINE_END = 1, 2, 32
# A vertex of a pipe would shift a stop along it; a fitting is a place of its own.
_KINDS = {"contacts": _VERTEX, "valves": _VERTEX, "routes": _SEGMENT | _LINE_END}
_ADVANCED, _IN_PIXELS = "3", "1"


def add_snapping(root: ET.Element) -> None:
    """Add the settings of snapping to a project; topological editing is off.

    Parameters
    ----------
    root : xml.etree.ElementTree.Element
        Project.
    """
    common = {"tolerance": str(_PIXELS), "minScale": "0", "maxScale": "0"}
    settings = ET.SubElement(root, "snapping-settings", {
        "enabled": "1", "mode": _ADVANCED, "type": str(_VERTEX), "unit": _IN_PIXELS,
        "intersection-snapping": "0", "self-snapping": "0", "scaleDependencyMode": "0", **common,
    })  # fmt: skip
    layers = ET.SubElement(settings, "individual-layer-settings")
    for name, schema in drawn_layers().items():
        if schema.geometry_types:
            ET.SubElement(layers, "layer-setting", {
                "id": layer_id(name), "enabled": str(int(name in _KINDS)),
                "type": str(_KINDS.get(name, _VERTEX)), "units": _IN_PIXELS, **common,
            })  # fmt: skip
