"""What a step makes, as outputs that the host's models can hand on."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from qgis.core import (
    QgsProcessing,
    QgsProcessingOutputFile,
    QgsProcessingOutputFolder,
    QgsProcessingOutputHtml,
    QgsProcessingOutputRasterLayer,
    QgsProcessingOutputVectorLayer,
)

from .parameters import kinds_of

RESULT = "result.gpkg"


def outputs_of(step, said):
    """Give the outputs of a step: its files, and its layers in result.gpkg."""
    layers = {layer["name"]: layer for layer in said["output_layers"]}
    taken = {told["name"] for told in step["parameters"]}
    names = (*said["files"], *step["makes"])
    return [_output(name, output_name(name, taken), layers.get(name)) for name in names]


def output_name(made, taken):
    """Give the name of an output; that of a parameter isn't used twice."""
    name = made.replace(".", "_")
    return f"{name}_layer" if name in taken else name


def _output(made, name, layer):
    if layer is not None:
        kinds = kinds_of(layer)
        kind = kinds[0] if len(kinds) == 1 else QgsProcessing.TypeVector
        return QgsProcessingOutputVectorLayer(name, layer["title"], kind)
    kinds = {".html": QgsProcessingOutputHtml, ".tif": QgsProcessingOutputRasterLayer,
             "": QgsProcessingOutputFolder}  # fmt: skip
    return kinds.get(Path(made).suffix, QgsProcessingOutputFile)(name, made)


def values(step, said, out):
    """Give the value of each output; None for what this run did not make."""
    layers = {layer["name"] for layer in said["output_layers"]}
    taken = {told["name"] for told in step["parameters"]}
    there = rows(out)
    given = {}
    for made in (*said["files"], *step["makes"]):
        if made in layers:
            value = layer_address(out, made) if made in there else None
        else:
            value = str(Path(out) / made) if (Path(out) / made).exists() else None
        given[output_name(made, taken)] = value
    return given


def layer_address(out, layer, only=""):
    """Give the address of a layer of a result, as the host opens it."""
    return f"{Path(out) / RESULT}|layername={layer}{f'|subset={only}' if only else ''}"


def query(out, sql, *given):
    """Give rows that a query finds in a result; it is only read."""
    path = Path(out) / RESULT
    if not path.is_file():
        return []
    with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as base:
        return base.execute(sql, given).fetchall()


def rows(out):
    """Count the rows of each layer of a result."""
    named = query(out, "SELECT table_name FROM gpkg_contents WHERE table_name <> 'layer_styles'")
    return {name: query(out, f'SELECT count(*) FROM "{name}"')[0][0] for (name,) in named}
