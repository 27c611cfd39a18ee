"""The project file: layers, their tree, themes for day and night, snapping and units."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

from pyproj import CRS
from pyproj.exceptions import ProjError

from leakgeo.deliver.field_project.expressions import layer_id
from leakgeo.deliver.field_project.job_styles import setting_of, write_job_form
from leakgeo.deliver.field_project.map_layer import GROUND, LIGHTS, add_crs, add_ground, add_layer
from leakgeo.deliver.field_project.snapping import add_snapping
from leakgeo.deliver.field_project.styles import DAY
from leakgeo.deliver.folder.atomic import out_folder, write_new
from leakgeo.deliver.geopackage.qml import rgba
from leakgeo.deliver.views import sentences
from leakgeo.errors import OutputError
from leakgeo.job.crs import transformer
from leakgeo.job.schema import drawn_layers
from leakgeo.job.sources import FIELD_JOB

if TYPE_CHECKING:
    from leakgeo.deliver.field_project.form_fields import Setting

# QGIS warns of projects of versions before its own; the last one of the oldest series tested.
_VERSION = "3.22.16"
#: Names of the job and of the project in their folder.
PROJECT = "job.qgs"
TITLE = f"Leak survey. {sentences.CAUTION}"
# Groups of the layer tree, topmost first.
_TREE = {
    "Stops and fittings": ("readings", "contacts"),
    "Digs": ("dig_outcomes",),
    "Valves": ("valves",),
    "Pipe": ("routes",),
    "In the way": ("utility_points", "utility_lines", "utility_areas"),
    "Ground and history": ("history_points", "history_areas", "surfaces"),
    "Tests": ("meter_tests", "isolation_tests", "closed_valves", "action_results"),
    "Night": (GROUND,),
}
_CLOSED = ("Ground and history", "Night")


def write_field_project(folder: str | Path, *, crs: Any = "EPSG:4326",
                        units: str | None = None) -> list[Path]:  # fmt: skip
    """Write an empty job with a QGIS project beside it, for a crew in the field.

    The project has a form for each layer, with defaults and checks, and symbols for day and night.
    It uses the GeoPackage and core expressions alone, with relative paths.

    Parameters
    ----------
    folder : str or pathlib.Path
        Folder to write ``job.gpkg`` and ``job.qgs`` into; created if it is missing.
    crs : pyproj.CRS or any value that its constructor takes
        CRS of the layers and of the map.
    units : {"si", "us"}, optional
        Units of the tape, of labels and of measuring; by default us for a CRS in feet, else si.
        Columns stay in SI.

    Returns
    -------
    list of pathlib.Path
        Files written.

    Raises
    ------
    OutputError
        If a file exists or can't be written.
    ParameterError
        If `crs` is neither geographic nor projected.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     [path.name for path in write_field_project(folder, crs="EPSG:2263")]
    ['job.gpkg', 'job.qgs']
    """
    out = out_folder(Path(folder))
    if (out / PROJECT).exists():
        raise OutputError(f"{out / PROJECT} exists. Give another folder, or move the file.")
    job, known = write_job_form(out / FIELD_JOB, crs=crs, units=units), CRS(crs)
    write_new(project_text(known, setting_of(known, units)), out / PROJECT)
    return [job, out / PROJECT]


def project_text(crs: CRS, setting: Setting) -> str:
    """Return the project as XML; the same for the same arguments.

    Parameters
    ----------
    crs : pyproj.CRS
    setting : Setting
    """
    root = ET.Element("qgis", projectname=TITLE, version=_VERSION)
    ET.SubElement(root, "homePath", path="")
    ET.SubElement(root, "title").text = TITLE
    # The form shows the defaults before the row is stored.
    ET.SubElement(root, "evaluateDefaultValues", active="0")
    ET.SubElement(root, "autotransaction", active="0")
    add_crs(ET.SubElement(root, "projectCrs"), crs)
    _add_tree(root)
    add_snapping(root)
    _add_canvas(root, crs)
    layers = ET.SubElement(root, "projectlayers")
    for schema in drawn_layers().values():
        add_layer(layers, schema, setting, crs)
    add_ground(layers, crs)
    _add_order(root)
    _add_properties(root, setting)
    _add_themes(root)
    ET.indent(root)
    head = "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n"
    return head + ET.tostring(root, encoding="unicode") + "\n"


def _titles() -> dict[str, str]:
    return {GROUND: "Dark ground", **{n: s.title for n, s in drawn_layers().items()}}


def _source(name: str) -> str:
    return f"./{FIELD_JOB}|layername={'surfaces' if name == GROUND else name}"


def _add_tree(root: ET.Element) -> None:
    tree, titles = ET.SubElement(root, "layer-tree-group"), _titles()
    for title, names in _groups().items():
        shown = "Qt::Unchecked" if names == (GROUND,) else "Qt::Checked"
        group = ET.SubElement(tree, "layer-tree-group", name=title, checked="Qt::Checked",
                              expanded=str(int(title not in _CLOSED)))  # fmt: skip
        for name in names:
            ET.SubElement(group, "layer-tree-layer", id=layer_id(name), name=titles[name],
                          source=_source(name), providerKey="ogr", checked=shown,
                          expanded="0")  # fmt: skip
    order = ET.SubElement(tree, "custom-order", enabled="0")
    for name in _names():
        ET.SubElement(order, "item").text = layer_id(name)


def _groups() -> dict[str, tuple[str, ...]]:
    """Return the groups of the tree; layers without one are before the last, which is below all."""
    listed = {name for names in _TREE.values() for name in names}
    others = tuple(name for name in drawn_layers() if name not in listed)
    *groups, ground = _TREE.items()
    return dict([*groups, *([("Other", others)] if others else []), ground])


def _names() -> list[str]:
    return [name for names in _groups().values() for name in names]


def _add_order(root: ET.Element) -> None:
    order = ET.SubElement(root, "layerorder")
    for name in _names():
        ET.SubElement(order, "layer", id=layer_id(name))


def _add_canvas(root: ET.Element, crs: CRS) -> None:
    """Set the view to where the CRS is used; a crew zooms to its own place."""
    canvas = ET.SubElement(root, "mapcanvas", name="theMapCanvas", annotationsVisible="1")
    ET.SubElement(canvas, "units").text = "degrees" if crs.is_geographic else "unknown"
    extent = ET.SubElement(canvas, "extent")
    for name, value in zip(("xmin", "ymin", "xmax", "ymax"), _bounds(crs), strict=True):
        ET.SubElement(extent, name).text = f"{value:.6g}"
    ET.SubElement(canvas, "rotation").text = "0"
    add_crs(ET.SubElement(canvas, "destinationsrs"), crs)


def _bounds(crs: CRS) -> tuple[float, float, float, float]:
    area = crs.area_of_use
    if area is None:
        return (-1000.0, -1000.0, 1000.0, 1000.0)
    if crs.is_geographic:
        return area.bounds
    try:
        own = transformer(crs.geodetic_crs, crs)
        return own.transform_bounds(*area.bounds)
    except ProjError:
        return (-1000.0, -1000.0, 1000.0, 1000.0)


def _add_properties(root: ET.Element, setting: Setting) -> None:
    feet = setting.units == "us"
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
        "CopyrightLabel": {"Enabled": True, "Label": sentences.CAUTION, "Placement": 3,
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
                       textColor=rgba(DAY.ink), textOpacity="1")  # fmt: skip
    ET.SubElement(style, "text-buffer", bufferDraw="1", bufferSize="1.2", bufferSizeUnits="MM",
                  bufferColor=rgba(DAY.ground), bufferOpacity="1")  # fmt: skip
    return ET.tostring(style, encoding="unicode")


def _add_themes(root: ET.Element) -> None:
    presets = ET.SubElement(root, "visibility-presets")
    for theme in LIGHTS:
        preset = ET.SubElement(presets, "visibility-preset", {
            "name": theme, "has-expanded-info": "0", "has-checked-group-info": "0",
        })  # fmt: skip
        for name in _names():
            if name == GROUND and theme == "Day":
                continue
            spatial = name != GROUND and bool(drawn_layers()[name].geometry_types)
            ET.SubElement(preset, "layer", id=layer_id(name), visible="1", expanded="0",
                          style=theme if spatial else "default")  # fmt: skip
