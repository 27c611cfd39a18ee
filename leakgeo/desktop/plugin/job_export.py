"""Export of the chosen QGIS layers to a temporary GeoPackage, which leakgeo reads as a job."""

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
    QgsProcessingFeatureSourceDefinition,
    QgsVectorFileWriter,
    QgsVectorLayerFeatureSource,
    QgsWkbTypes,
)

from .language import tr
from .matching import names_are_cut
from .parameters import accepts_many

_LAYER_KEY = re.compile(r"""^\s*layer\s*=\s*(["'])(.*?)\1""")
_FID_COLUMNS = ("fid", "ogc_fid")
_TABLE_HEADER = re.compile(r"^\s*\[{1,2}\s*([A-Za-z_]+)\s*\]{1,2}")


class Source:
    """A chosen QGIS layer: its features, or the selected ones, with unsaved edits."""

    def __init__(self, name, source, fields, crs, has_geometry, *, cut=False):
        self.name, self.source, self.fields = name, source, fields
        self.crs, self.has_geometry = crs, has_geometry
        self.cut = cut  # whether names of fields are cut off

    def features(self):
        """Return all features; invalid geometries are included, as leakgeo reports them."""
        if isinstance(self.source, QgsProcessingFeatureSource):
            skip = QgsProcessingFeatureSource.FlagSkipGeometryValidityChecks
            return self.source.getFeatures(QgsFeatureRequest(), skip)
        return self.source.getFeatures(QgsFeatureRequest())


def chosen_sources(algorithm, layers, values, context):
    """Return the sources of each layer of the job by its name; layers not chosen are left out.

    Parameters
    ----------
    algorithm : QgsProcessingAlgorithm
    layers : list of dict
        Input layers of the catalog.
    values : dict
        Values by parameter name, as QGIS passes them.
    context : QgsProcessingContext

    Returns
    -------
    dict of str to list of Source

    Raises
    ------
    QgsProcessingException
        If a layer can't be opened, or has geometries but no CRS.
    """
    found = {}
    for layer in layers:
        read = _many_sources if accepts_many(layer) else _one_source
        sources = read(algorithm, layer["name"], values, context)
        for source in sources:
            _check_crs(layer["name"], source)
        if sources:
            found[layer["name"]] = sources
    return found


def _one_source(algorithm, name, values, context):
    source = algorithm.parameterAsSource(values, name, context)
    if source is None:
        if values.get(name):
            text = tr("{name}: the layer {layer} can't be opened. Choose another one.")
            raise QgsProcessingException(text.format(name=name, layer=values[name]))
        return []
    has_geometry = source.wkbType() != QgsWkbTypes.NoGeometry
    return [
        Source(source.sourceName(), source, source.fields(), source.sourceCrs(), has_geometry,
               cut=_is_cut(algorithm, name, values, context))
    ]  # fmt: skip


def _is_cut(algorithm, name, values, context):
    value = values.get(name)
    if isinstance(value, QgsProcessingFeatureSourceDefinition):
        value = value.source
    layer = algorithm.parameterAsVectorLayer({name: value}, name, context)
    return layer is not None and names_are_cut(layer)


def _many_sources(algorithm, name, values, context):
    layers = algorithm.parameterAsLayerList(values, name, context) or []
    value = values.get(name)
    expected = len(value) if isinstance(value, (list, tuple)) else int(bool(value))
    if len(layers) < expected:
        text = tr("{name}: {count} of the layers can't be opened. Choose them again.")
        raise QgsProcessingException(text.format(name=name, count=expected - len(layers)))
    return [
        Source(layer.name(), QgsVectorLayerFeatureSource(layer), layer.fields(), layer.crs(),
               layer.isSpatial(), cut=names_are_cut(layer))
        for layer in layers
    ]  # fmt: skip


def _check_crs(name, source):
    if source.has_geometry and not source.crs.isValid():
        text = tr(
            "{name}: the layer {layer} has no CRS. Set it in the properties of the layer, under "
            "Source."
        )
        raise QgsProcessingException(text.format(name=name, layer=source.name))


def export_job(sources, path, context, is_canceled, mapping=None, mark=None):
    """Write the sources to a GeoPackage, and return the number of features by layer of the job.

    Parameters
    ----------
    sources : dict of str to list of Source
    path : pathlib.Path
        GeoPackage to write.
    context : QgsProcessingContext
    is_canceled : callable
        Returns whether to stop; called before each feature.
    mapping : str, optional
        Path of a mapping file, if the job is read with one.
    mark : str, optional
        Description of a layer with the short names of a Shapefile, by which leakgeo knows it.

    Raises
    ------
    QgsProcessingException
        If a layer can't be written, or its sources differ in CRS.
    """
    names = mapped_names(mapping) if mapping else {}
    tables = {names.get(name, name): parts for name, parts in sources.items()}
    counts = export_tables(tables, path, context, is_canceled, mapping, mark)
    return dict(zip(sources, counts.values()))


def export_tables(tables, path, context, is_canceled, mapping=None, mark=None):
    """Write the sources of each table to a GeoPackage, in place of the tables of these names."""
    counts = {}
    for name, parts in tables.items():
        # Without a mapping, which may name any column, the feature ids are no column of the user.
        fields = _all_fields(parts, () if mapping else _FID_COLUMNS)
        description = mark if any(part.cut for part in parts) else None
        output = _OutputLayer(str(path), name, fields, context, description)
        counts[name] = _write_layer(name, output, parts, is_canceled)
    return counts


def mapped_names(mapping):
    """Return the source layer that a mapping file names for each layer of the data contract.

    A layer is exported under the name that the mapping has for it, so that the same mapping works
    here and on the command line.
    """
    names, table = {}, ""
    for line in Path(mapping).read_text("utf-8-sig", "replace").splitlines():
        header, layer = _TABLE_HEADER.match(line), _LAYER_KEY.match(line)
        table = header.group(1) if header else "" if line.lstrip()[:1] == "[" else table
        if layer and table:
            if table in names:
                text = tr(
                    "mapping: {table} comes from several layers, but the plugin exports one. Merge "
                    "them first, or run leakgeo on the source file on the command line."
                )
                raise QgsProcessingException(text.format(table=table))
            names[table] = layer.group(2)
    return names


class _OutputLayer:
    """A layer of the GeoPackage that is written."""

    def __init__(self, path, layer, fields, context, description):
        self.path, self.layer, self.fields, self.context = path, layer, fields, context
        self.description = description

    def writer(self, geometry_type, crs):
        """Return a writer for the layer, with a geometry type and a CRS."""
        options = QgsVectorFileWriter.SaveVectorOptions()
        options.driverName, options.layerName = "GPKG", self.layer
        options.layerOptions = ["FID=leakgeo_row", "SPATIAL_INDEX=NO"]
        if self.description:
            options.layerOptions += [f"DESCRIPTION={self.description}"]
        if Path(self.path).exists():
            options.actionOnExistingFile = QgsVectorFileWriter.CreateOrOverwriteLayer
        transforms = self.context.transformContext()
        return QgsVectorFileWriter.create(
            self.path, self.fields, geometry_type, crs, transforms, options
        )


def _write_layer(name, output, parts, is_canceled):
    # Any geometry type is exported: leakgeo reports those that the layer must not have.
    has_geometry = any(part.has_geometry for part in parts)
    geometry_type = QgsWkbTypes.Unknown if has_geometry else QgsWkbTypes.NoGeometry
    writer = output.writer(geometry_type, _one_crs(name, parts))
    count = sum(_write_features(writer, part, output.fields, name, is_canceled) for part in parts)
    error, message = writer.hasError(), writer.errorMessage()
    # Deleting the writer flushes it.
    del writer
    if error:
        text = tr("{name}: the layer can't be exported ({error}).")
        raise QgsProcessingException(text.format(name=name, error=message))
    return count


def _write_features(writer, part, fields, name, is_canceled):
    indices = [part.fields.lookupField(field.name()) for field in fields]
    count = 0
    for feature in part.features():
        if is_canceled():
            break
        out = QgsFeature(fields)
        values = feature.attributes()
        out.setAttributes([values[i] if 0 <= i < len(values) else None for i in indices])
        out.setGeometry(feature.geometry())
        if not writer.addFeature(out, QgsFeatureSink.FastInsert):
            text = tr("{name}: feature {feature} of {layer} can't be exported ({error}).")
            raise QgsProcessingException(text.format(
                name=name, feature=feature.id(), layer=part.name, error=writer.errorMessage()
            ))  # fmt: skip
        count += 1
    return count


def _one_crs(name, parts):
    spatial = [part for part in parts if part.has_geometry]
    if not spatial:
        return QgsCoordinateReferenceSystem()
    first = spatial[0]
    for part in spatial:
        if part.crs != first.crs:
            text = tr(
                "{name}: {first} is in {crs}, and {second} in {other}. Reproject one, so that both "
                "have the same CRS."
            )
            raise QgsProcessingException(text.format(
                name=name, first=first.name, crs=first.crs.authid(), second=part.name,
                other=part.crs.authid(),
            ))  # fmt: skip
    return first.crs


def _all_fields(parts, excluded):
    """Return the fields of all parts; of fields with the same name, the first."""
    fields = QgsFields()
    for part in parts:
        for field in part.fields:
            if fields.lookupField(field.name()) < 0 and field.name().lower() not in excluded:
                fields.append(field)
    return fields
