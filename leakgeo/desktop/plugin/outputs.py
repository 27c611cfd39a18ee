"""Outputs of a step, declared so that QGIS models can use them as inputs of other algorithms."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

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
    """Return the value of each output by name; None for one that the run did not write."""
    layers = {layer["name"] for layer in catalog["output_layers"]}
    used_names = {parameter["name"] for parameter in step["parameters"]}
    counts = row_counts(out)
    values = {}
    for product in (*catalog["files"], *step["makes"]):
        if product in layers:
            value = layer_source(out, product) if product in counts else None
        else:
            value = str(Path(out) / product) if (Path(out) / product).exists() else None
        values[output_name(product, used_names)] = value
    return values


def layer_source(out, layer):
    """Return the source of a result layer as QGIS opens it."""
    return f"{Path(out) / RESULT}|layername={layer}"


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
