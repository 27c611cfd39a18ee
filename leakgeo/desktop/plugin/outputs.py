"""Outputs of a step, declared so that QGIS models can use them as inputs of other algorithms."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path
from urllib.parse import quote, urlencode

from qgis.core import (
    QgsProcessing,
    QgsProcessingOutputFile,
    QgsProcessingOutputFolder,
    QgsProcessingOutputHtml,
    QgsProcessingOutputNumber,
    QgsProcessingOutputRasterLayer,
    QgsProcessingOutputVectorLayer,
)

from .language import tr
from .parameters import geometry_kinds

RESULT = "result.gpkg"
# Types of columns in memory, where they are not named as in the contract.
_IN_MEMORY = {"number": "double"}
# Characters of a CRS in WKT that stay as they are in a source.
_PLAIN = ':,[]" /().'


def writes_result(step):
    """Return whether a command writes a folder of results, as the steps do."""
    return any((p["name"], p["kind"]) == ("out", "folder") for p in step["parameters"])


def fault_counts(document):
    """Return the outputs of `check`: the number of faults by their effect."""
    effects = [fault["effect"] for fault in document.get("faults", [])]
    return {"rejected": effects.count("rejected"), "noted": effects.count("noted")}


def output_definitions(step, catalog):
    """Return the output definitions of a step: its files, and its layers in result.gpkg."""
    if step["name"] == "check":
        return [QgsProcessingOutputNumber("rejected", tr("Faults with rows left out")),
                QgsProcessingOutputNumber("noted", tr("Notes"))]  # fmt: skip
    if not writes_result(step):
        return []
    layers = {layer["name"]: layer for layer in catalog["output_layers"]}
    used_names = {parameter["name"] for parameter in step["parameters"]}
    products = (*catalog["files"], *step["makes"])
    return [_definition(p, output_name(p, used_names), layers.get(p)) for p in products]


def output_name(product, used_names):
    """Return the output name of a layer or file, different from every parameter name."""
    name = product.replace(".", "_")
    return f"{name}_layer" if name in used_names else name


def _definition(product, name, layer):
    if layer is not None:
        kinds = geometry_kinds(layer)
        kind = kinds[0] if len(kinds) == 1 else QgsProcessing.TypeVector
        return QgsProcessingOutputVectorLayer(name, layer["title"], kind)
    types = {".html": QgsProcessingOutputHtml, ".tif": QgsProcessingOutputRasterLayer,
             "": QgsProcessingOutputFolder}  # fmt: skip
    return types.get(Path(product).suffix, QgsProcessingOutputFile)(name, product)


def output_values(step, catalog, out):
    """Return the value of each output by name; None for one that the run did not make."""
    layers = {layer["name"]: layer for layer in catalog["output_layers"]}
    used_names = {parameter["name"] for parameter in step["parameters"]}
    counts, without_rows = row_counts(out), _without_rows(out)
    values = {}
    for product in (*catalog["files"], *step["makes"]):
        if product in layers:
            value = layer_source(out, product) if product in counts else None
            if product in without_rows:
                value = _empty_source(layers[product], out)
        else:
            value = str(Path(out) / product) if (Path(out) / product).exists() else None
        values[output_name(product, used_names)] = value
    return values


def layer_source(out, layer):
    """Return the source of a result layer as QGIS opens it."""
    return f"{Path(out) / RESULT}|layername={layer}"


def _without_rows(out):
    """Return the layers that the run made, and that are not in result.gpkg as they have no row."""
    found = query(out, "SELECT 1 FROM gpkg_contents WHERE table_name = 'run_record'")
    records = query(out, "SELECT record FROM run_record") if found else []
    return json.loads(records[0][0]).get("without_rows", {}) if records else {}


def _empty_source(layer, out):
    """Return the source of an empty layer in memory, for the next algorithm of a model."""
    kind = layer["geometry_types"][-1] if layer["geometry_types"] else "NoGeometry"
    sql = (
        "SELECT organization, organization_coordsys_id, definition "
        "FROM gpkg_spatial_ref_sys JOIN gpkg_geometry_columns USING (srs_id) LIMIT 1"
    )
    systems = query(out, sql) if layer["geometry_types"] else []
    given = [("field", f"{column['name']}:{_IN_MEMORY.get(column['type'], column['type'])}")
             for column in layer["columns"]]  # fmt: skip
    for name, number, text in systems:
        given.append(("crs", f"EPSG:{number}" if name.upper() == "EPSG" else f"WKT:{text}"))
    # QGIS decodes no CRS.
    return f"memory://{kind}?{urlencode(given, quote_via=quote, safe=_PLAIN)}"


def query(out, sql):
    """Return the rows of a query on result.gpkg, opened read-only; none if there is no file."""
    path = Path(out) / RESULT
    if not path.is_file():
        return []
    with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as base:
        return base.execute(sql).fetchall()


def row_counts(out):
    """Return the number of rows of each layer in result.gpkg."""
    tables = query(out, "SELECT table_name FROM gpkg_contents WHERE table_name <> 'layer_styles'")
    return {name: query(out, f'SELECT count(*) FROM "{name}"')[0][0] for (name,) in tables}
