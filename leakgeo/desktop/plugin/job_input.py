"""The job of a run: a file that the user names, or chosen layers, with edits that are not saved."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from qgis.core import (
    QgsProcessingException,
    QgsProcessingParameterFile,
    QgsProviderRegistry,
    QgsVectorLayerFeatureSource,
)

from .job_export import Source, chosen_sources, export_job, export_tables
from .job_layers import place_of
from .language import tr, tr_catalog
from .matching import vector_layers
from .parameters import layer_parameter

JOB_FILE, _FIELD_JOB = "job_file", "job.gpkg"
_KINDS = "(*.gpkg *.xlsx *.ods *.sqlite *.geojson *.gml *.kml)"


class JobInput:
    """The parameters of a job, and its file or layers for one run.

    Parameters
    ----------
    command : dict
        A command of the catalog.
    catalog : dict
    """

    def __init__(self, command, catalog):
        self.takes = command.get("takes", ["layers"])
        self.layers = catalog["input_layers"] if "layers" in self.takes else []
        self.mark = catalog.get("cut_names_mark")
        self.path, self.sources, self.edits, self.mapping = "", {}, {}, None

    def parameters(self):
        """Return the parameter definitions: the file, then each layer."""
        result = "results" in self.takes
        label = tr("Job file, in place of layers") if self.layers else tr("File of your layers")
        if result:
            label = tr("Job file, or an earlier result, in place of layers")
        # The last one lets a folder or an address be typed.
        kinds = f"{tr('Jobs')} {_KINDS};;{tr('All files and folders')} (*)"
        file = QgsProcessingParameterFile(
            JOB_FILE, label, optional=bool(self.layers), fileFilter=kinds
        )
        file.setHelp(_help(result, bool(self.layers)))
        return [file, *(layer_parameter(layer) for layer in self.layers)]

    def problem(self, values):
        """Return what is wrong with the choice of file and layers; ``""`` if nothing is."""
        chosen = [tr_catalog(layer["title"]) for layer in self.layers if values.get(layer["name"])]
        if values.get(JOB_FILE):
            names = ", ".join(chosen)
            both = tr("A job file is chosen, and layers: clear Job file, or {names}.")
            return both.format(names=names) if names else ""
        missing = [tr_catalog(layer["title"]) for layer in self.layers
                   if layer["required"] and not values.get(layer["name"])]  # fmt: skip
        none = tr("Choose a job file, or layers for {names}.")
        return none.format(names=tr(" and ").join(missing)) if missing else ""

    def read(self, algorithm, values, context):
        """Read file and layers from the values, in the main thread."""
        self.path = algorithm.parameterAsString(values, JOB_FILE, context)
        self.mapping = values.get("mapping") and algorithm.parameterAsFile(
            values, "mapping", context
        )
        if self.path:
            self.edits = _unsaved(_file_of(self.path)) if self.layers else {}
        else:
            self.sources = chosen_sources(algorithm, self.layers, values, context)

    def write(self, scratch, context, feedback):
        """Return the job for the command line; edits and layers are written to `scratch`."""
        job = scratch / _FIELD_JOB
        if not self.path:
            counts = export_job(
                self.sources, job, context, feedback.isCanceled, self.mapping, self.mark
            )
            exported = ", ".join(f"{name} {count}" for name, count in counts.items())
            feedback.pushInfo(tr("Features exported: {counts}.").format(counts=exported))
            return str(job)
        if not self.edits:
            return self.path
        _copy(_file_of(self.path), job)
        export_tables(self.edits, job, context, feedback.isCanceled, self.mapping)
        edited = tr("With edits that are not saved: {layers}.")
        feedback.pushInfo(edited.format(layers=", ".join(self.edits)))
        return str(job)


def _help(result, layers):
    """Return the help of the job file: whether it may be a result, and stand for layers."""
    texts = [tr(
        "A GeoPackage, a workbook or another file of many layers. Type the path of a folder, such "
        "as a File Geodatabase or a field project, or the URL of a PostGIS database."
    )]  # fmt: skip
    if result:
        texts.append(tr("It may be an earlier result: its folder, or result.gpkg."))
    if layers:
        texts.append(tr("Edits of its layers in the open project that are not saved are used too."))
    return " ".join(texts)


def _file_of(path):
    """Return the file of a job; that of a field project is in its folder."""
    inside = Path(path) / _FIELD_JOB
    return os.path.normpath(inside if inside.is_file() else path)


def _unsaved(path):
    """Return the layers of the project with unsaved edits of a job file, by their table."""
    found = {}
    for layer in vector_layers():
        own, _ = place_of(layer)
        if own != path or not (layer.isEditable() and layer.isModified()):
            continue
        table = QgsProviderRegistry.instance().decodeUri("ogr", layer.source()).get("layerName")
        if layer.subsetString() or not table:
            # Rows that a filter hides would be missing.
            text = tr("Save the edits of {layer} first.").format(layer=layer.name())
            raise QgsProcessingException(text)
        source = QgsVectorLayerFeatureSource(layer)
        found[table] = [
            Source(layer.name(), source, layer.fields(), layer.crs(), layer.isSpatial())
        ]
    return found


def _copy(path, copy):
    """Copy a GeoPackage with what its open logs hold."""
    address = f"{Path(path).resolve().as_uri()}?mode=ro"
    try:
        source, target = sqlite3.connect(address, uri=True), sqlite3.connect(str(copy))
        with closing(source), closing(target):
            source.backup(target)
    except sqlite3.Error as error:
        text = tr("{path}: it can't be read ({error}).").format(path=path, error=error)
        raise QgsProcessingException(text) from error
