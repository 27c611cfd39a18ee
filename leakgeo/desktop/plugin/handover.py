"""Layers of the host into one temporary GeoPackage: a job, as leakgeo reads it."""

from __future__ import annotations

import re
from pathlib import Path

from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsFeature,
    QgsFeatureRequest,
    QgsFeatureSink,
    QgsFields,
    QgsProcessingException,
    QgsProcessingFeatureSource,
    QgsVectorFileWriter,
    QgsVectorLayerFeatureSource,
    QgsWkbTypes,
)

from .parameters import many_layers

_LAYER = re.compile(r"""^\s*layer\s*=\s*(["'])(.*?)\1""")
_ROW_NUMBERS = ("fid", "ogc_fid")
_TABLE = re.compile(r"^\s*\[{1,2}\s*([A-Za-z_]+)\s*\]{1,2}")


class Source:
    """A layer as it is chosen: its features with edits that are not saved, or the selected ones."""

    def __init__(self, name, source, fields, crs, shapes):
        self.name, self.source, self.fields = name, source, fields
        self.crs, self.shapes = crs, shapes

    def features(self):
        """Give all features; broken shapes too: leakgeo tells of those."""
        if isinstance(self.source, QgsProcessingFeatureSource):
            skip = QgsProcessingFeatureSource.FlagSkipGeometryValidityChecks
            return self.source.getFeatures(QgsFeatureRequest(), skip)
        return self.source.getFeatures(QgsFeatureRequest())


def chosen(algorithm, layers, parameters, context):
    """Give the sources of each layer of the job, by its name; none where it was not chosen."""
    found = {}
    for layer in layers:
        read = _of_layers if many_layers(layer) else _of_source
        sources = read(algorithm, layer["name"], parameters, context)
        for source in sources:
            _check(layer["name"], source)
        if sources:
            found[layer["name"]] = sources
    return found


def _of_source(algorithm, name, parameters, context):
    source = algorithm.parameterAsSource(parameters, name, context)
    if source is None:
        if parameters.get(name):
            raise QgsProcessingException(
                f"{name}: the layer {parameters[name]} can't be opened. Choose another."
            )
        return []
    shapes = source.wkbType() != QgsWkbTypes.NoGeometry
    return [Source(source.sourceName(), source, source.fields(), source.sourceCrs(), shapes)]


def _of_layers(algorithm, name, parameters, context):
    layers = algorithm.parameterAsLayerList(parameters, name, context) or []
    given = parameters.get(name)
    wanted = len(given) if isinstance(given, (list, tuple)) else int(bool(given))
    if len(layers) < wanted:
        raise QgsProcessingException(
            f"{name}: {wanted - len(layers)} of the layers can't be opened. Choose them again."
        )
    return [
        Source(layer.name(), QgsVectorLayerFeatureSource(layer), layer.fields(), layer.crs(),
               layer.isSpatial())
        for layer in layers
    ]  # fmt: skip


def _check(name, source):
    if source.shapes and not source.crs.isValid():
        raise QgsProcessingException(
            f"{name}: the layer {source.name} has no CRS, and none is guessed. Set it in the "
            "layer's properties, under Source."
        )


def write(sources, path, context, stopped, mapping=None):
    """Write the job; gives how many features each layer has."""
    names = mapped_names(mapping) if mapping else {}
    counts = {}
    for name, parts in sources.items():
        # A mapping may name any column; else the host's own row numbers are no column of the user.
        fields = _all_fields(parts, () if mapping else _ROW_NUMBERS)
        target = _Target(str(path), names.get(name, name), fields, context)
        counts[name] = _write_layer(name, target, parts, stopped)
    return counts


def mapped_names(mapping):
    """Give the names under which a mapping looks for layers, by the contract's.

    A layer is handed over under the name that the mapping has for it, so that one mapping does for
    the command line and for here.
    """
    names, table = {}, ""
    for line in Path(mapping).read_text("utf-8-sig", "replace").splitlines():
        header, layer = _TABLE.match(line), _LAYER.match(line)
        table = header.group(1) if header else "" if line.lstrip()[:1] == "[" else table
        if layer and table:
            if table in names:
                raise QgsProcessingException(
                    f"mapping: it puts {table} together from several layers, and only one is "
                    "handed over from here. Merge them first, or run leakgeo on the file itself."
                )
            names[table] = layer.group(2)
    return names


class _Target:
    """A layer of the GeoPackage that is being made."""

    def __init__(self, path, layer, fields, context):
        self.path, self.layer, self.fields, self.context = path, layer, fields, context

    def writer(self, shape, crs):
        """Begin the layer."""
        options = QgsVectorFileWriter.SaveVectorOptions()
        options.driverName, options.layerName = "GPKG", self.layer
        options.layerOptions = ["FID=leakgeo_row", "SPATIAL_INDEX=NO"]
        if Path(self.path).exists():
            options.actionOnExistingFile = QgsVectorFileWriter.CreateOrOverwriteLayer
        transforms = self.context.transformContext()
        return QgsVectorFileWriter.create(self.path, self.fields, shape, crs, transforms, options)


def _write_layer(name, target, parts, stopped):
    # Any shape may come: leakgeo tells of one that does not belong.
    shaped = any(part.shapes for part in parts)
    shape = QgsWkbTypes.Unknown if shaped else QgsWkbTypes.NoGeometry
    writer = target.writer(shape, _one_crs(name, parts))
    count = sum(_write_features(writer, part, target.fields, name, stopped) for part in parts)
    # The writer flushes when it goes.
    error, told = writer.hasError(), writer.errorMessage()
    del writer
    if error:
        raise QgsProcessingException(f"{name}: it can't be handed over ({told}).")
    return count


def _write_features(writer, part, fields, name, stopped):
    places = [part.fields.lookupField(field.name()) for field in fields]
    count = 0
    for feature in part.features():
        if stopped():
            break
        out = QgsFeature(fields)
        values = feature.attributes()
        out.setAttributes([values[i] if 0 <= i < len(values) else None for i in places])
        out.setGeometry(feature.geometry())
        if not writer.addFeature(out, QgsFeatureSink.FastInsert):
            raise QgsProcessingException(
                f"{name}: feature {feature.id()} of {part.name} can't be handed over "
                f"({writer.errorMessage()})."
            )
        count += 1
    return count


def _one_crs(name, parts):
    with_shapes = [part for part in parts if part.shapes]
    if not with_shapes:
        return QgsCoordinateReferenceSystem()
    first = with_shapes[0]
    for part in with_shapes:
        if part.crs != first.crs:
            raise QgsProcessingException(
                f"{name}: {first.name} is in {first.crs.authid()}, and {part.name} in "
                f"{part.crs.authid()}. Reproject one, so that they can be put together."
            )
    return first.crs


def _all_fields(parts, but):
    """Give the columns of all parts, each once; of the same name the first one's type."""
    fields = QgsFields()
    for part in parts:
        for field in part.fields:
            if fields.lookupField(field.name()) < 0 and field.name().lower() not in but:
                fields.append(field)
    return fields
