"""What of the open project a dialog proposes: the job file, or layers that fit by name and fields.

A wrong layer may go unnoticed, so of two that fit none is proposed.
"""

from __future__ import annotations

import re
import sqlite3
from collections import Counter
from contextlib import closing
from pathlib import Path

from qgis.core import QgsMapLayer, QgsProject, QgsProviderRegistry, QgsUnitTypes, QgsWkbTypes

from .job_layers import place_of

_JOB_TABLES, _RESULT_TABLE = {"routes", "readings"}, "run_record"
_GAPS = re.compile(r"[\s-]+")
_KINDS = {QgsWkbTypes.PointGeometry: "Point", QgsWkbTypes.LineGeometry: "LineString",
          QgsWkbTypes.PolygonGeometry: "Polygon"}  # fmt: skip
SHAPEFILE, _SHAPEFILE_NAME = "ESRI Shapefile", 10
# Nobody works in its metres: every web map has it.
_WEB = "EPSG:3857"
_SHORTEST_FOOT_M, _LONGEST_FOOT_M = 0.304, 0.306


def vector_layers():
    """Return the vector layers of the open project."""
    layers = QgsProject.instance().mapLayers().values()
    return [one for one in layers if one.type() == QgsMapLayer.VectorLayer and one.isValid()]


def tables_of(path):
    """Return the lower-case names of the tables of a GeoPackage; none if it can't be read."""
    try:
        address = f"{Path(path).resolve().as_uri()}?mode=ro"
        with closing(sqlite3.connect(address, uri=True)) as base:
            rows = base.execute("SELECT table_name FROM gpkg_contents").fetchall()
    except (sqlite3.Error, OSError, ValueError):
        return set()
    return {name.lower() for (name,) in rows}


def job_file_of_project(active=None):
    """Return the GeoPackage of the job that layers of the project come from.

    Of several it is that of the active layer. It is ``""`` if there is none or no such choice, or
    if a layer of it has a filter, which the file would ignore.
    """
    layers, found = _without_views(vector_layers()), []
    for path in sorted({place_of(one)[0] for one in layers} - {""}):
        tables = tables_of(path)
        filtered = any(place_of(one)[0] == path and one.subsetString() for one in layers)
        if tables >= _JOB_TABLES and _RESULT_TABLE not in tables and not filtered:
            found.append(path)
    own = place_of(active)[0]
    return own if own in found else (found[0] if len(found) == 1 else "")


def _without_views(layers):
    """Leave out layers with a filter whose whole table is a layer too."""
    whole = {place_of(one) for one in layers if not one.subsetString()} - {("", "")}
    return [one for one in layers if not one.subsetString() or place_of(one) not in whole]


def layers_by_name(specs):
    """Return the ids of the layers of the project that fit, by layer of the job.

    Parameters
    ----------
    specs : list of dict
        Input layers of the catalog.

    Returns
    -------
    dict of str to list of str
        One id for each of the tables that a layer of the job may come from.
    """
    layers = [one for one in _without_views(vector_layers()) if not _is_result(place_of(one)[0])]
    found = {}
    for spec in specs:
        by_table = {}
        for layer in layers:
            for table in _names(spec) & _own_names(layer) if _fits(layer, spec) else ():
                by_table.setdefault(table, {}).setdefault(layer.source(), layer.id())
        # The title stands for the whole layer, as its name does.
        ids = [list(same.values()) for same in _merged(by_table, spec).values()]
        if ids and all(len(same) == 1 for same in ids):
            found[spec["name"]] = list(dict.fromkeys(same[0] for same in ids))
    used = Counter(one for ids in found.values() for one in ids)
    return {name: ids for name, ids in found.items() if all(used[one] == 1 for one in ids)}


def _merged(by_table, spec):
    merged = {}
    for table, same in by_table.items():
        key = spec["name"] if table == _plain(spec["title"]) else table
        merged.setdefault(key, {}).update(same)
    return merged


def _names(spec):
    return {*spec.get("tables", (spec["name"],)), _plain(spec["title"])}


def _own_names(layer):
    """Return the names that a layer goes by: in the project, and in its source."""
    parts = QgsProviderRegistry.instance().decodeUri(layer.providerType(), layer.source())
    stem = Path(parts.get("path") or "").stem
    inside = parts.get("layerName") or parts.get("table") or stem
    return {_plain(layer.name()), _plain(inside)}


def _fits(layer, spec):
    """Return whether geometry and fields of a layer are those of a layer of the job."""
    kinds = {name.replace("Multi", "") for name in spec["geometry_types"]}
    if kinds and _KINDS.get(layer.geometryType()) not in kinds:
        return False
    columns = [(column["name"], column["required"]) for column in spec["columns"]]
    fields = {_plain(field.name()) for field in layer.fields()}
    cut = names_are_cut(layer)
    there = {name for name, _ in columns
             if name in fields or (cut and name[:_SHAPEFILE_NAME] in fields)}  # fmt: skip
    return bool(there) and all(name in there for name, required in columns if required)


def names_are_cut(layer):
    """Return whether a vector layer comes from a format that cuts off names of columns."""
    return layer.dataProvider().storageType() == SHAPEFILE


def _is_result(path):
    return bool(path) and _RESULT_TABLE in tables_of(path)


def _plain(name):
    return _GAPS.sub("_", name.strip().lower())


def in_feet(*systems):
    """Return whether the first CRS with a length unit that people work in has feet."""
    for crs in systems:
        if crs.isValid() and not crs.isGeographic() and crs.authid() != _WEB:
            metres = QgsUnitTypes.fromUnitToUnitFactor(crs.mapUnits(), QgsUnitTypes.DistanceMeters)
            return _SHORTEST_FOOT_M < metres < _LONGEST_FOOT_M
    return False


def crs_of_routes(job_file, route_layer):
    """Return the CRS of the routes: of a layer of the job file, or of the layer of this id."""
    for layer in vector_layers():
        path, name = place_of(layer)
        if layer.id() == route_layer or (job_file and (path, name) == (job_file, "routes")):
            return layer.crs()
    return None


def folder_of(job_file, route_layer):
    """Return the folder beside which results belong; ``""`` if it is not known."""
    if job_file:
        return str(Path(job_file).parent)
    layer = QgsProject.instance().mapLayer(route_layer)
    if layer is None:
        return ""
    parts = QgsProviderRegistry.instance().decodeUri(layer.providerType(), layer.source())
    path = Path(parts.get("path") or "")
    return str(path.parent) if path.is_file() else ""
