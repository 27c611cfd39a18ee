"""The layers of a project that are those of one job, and their edits that are not saved yet."""

from __future__ import annotations

import contextlib
import os

from qgis.core import Qgis, QgsFeatureRequest, QgsMapLayer, QgsProject, QgsProviderRegistry
from qgis.PyQt.QtCore import QDate, QDateTime, QObject, Qt, QTime, QVariant, pyqtSignal

READINGS, ROUTES = "readings", "routes"
# More edited rows than this take the window too long to collect.
MOST_ROWS = 1000
# Before this version QGIS stores the clock of a local time as if it were that of UTC.
_STORES_INSTANTS = 33408
_DIGITS = 12


def place_of(layer):
    """Return file and table of a vector layer; empty texts for other layers."""
    if layer is None or layer.type() != QgsMapLayer.VectorLayer or layer.providerType() != "ogr":
        return "", ""
    parts = QgsProviderRegistry.instance().decodeUri("ogr", layer.source())
    path, name = parts.get("path") or "", parts.get("layerName") or ""
    return (os.path.normpath(path), name.lower()) if path.lower().endswith(".gpkg") else ("", "")


def job_of_project(active=None):
    """Return the file of the job: that of the active layer, or of the first layer of readings."""
    layers = list(QgsProject.instance().mapLayers().values())
    found = sorted(path for path, name in map(place_of, layers) if name == READINGS)
    path = place_of(active)[0]
    return path if path in found else (found[0] if found else "")


class JobLayers(QObject):
    """Layers of the project with the rows of one job.

    Signals
    -------
    changed : no value
        A row was edited, saved or reset.
    saved : str
        Edits of the named table were saved.
    """

    changed = pyqtSignal()
    saved = pyqtSignal(str)

    def __init__(self, parent=None):
        super().__init__(parent)
        self.path, self.layers, self._connected = "", {}, []

    def use(self, path):
        """Choose the job, and watch its layers."""
        self.release()
        self.path = path
        for layer in QgsProject.instance().mapLayers().values():
            own, name = place_of(layer)
            if path and own == path and not layer.subsetString():
                self.layers.setdefault(name, layer)
        for name, layer in self.layers.items():
            self._watch(layer.layerModified, self.changed.emit)
            self._watch(layer.afterRollBack, self.changed.emit)
            self._watch(layer.editingStopped, self.changed.emit)
            self._watch(layer.afterCommitChanges, lambda name=name: self.saved.emit(name))

    def _watch(self, signal, slot):
        signal.connect(slot)
        self._connected.append((signal, slot))

    def release(self):
        """Watch nothing."""
        for signal, slot in self._connected:
            # A layer that was removed has no signals any more.
            with contextlib.suppress(TypeError, RuntimeError):
                signal.disconnect(slot)
        self.layers, self._connected = {}, []

    def unsaved(self):
        """Return rows that are not saved, and numbers of rows that are deleted, by table.

        Raises
        ------
        ValueError
            If there are more than `MOST_ROWS`.
        """
        rows, deleted = {}, {}
        for name, layer in self.layers.items():
            buffer = layer.editBuffer() if layer.isEditable() and layer.isModified() else None
            if buffer is None:
                continue
            numbers = {*buffer.changedAttributeValues(), *buffer.changedGeometries(),
                       *buffer.addedFeatures()}  # fmt: skip
            gone = list(buffer.deletedFeatureIds())
            if len(numbers) + len(gone) > MOST_ROWS:
                raise ValueError(name)
            if numbers:
                request = QgsFeatureRequest().setFilterFids(list(numbers))
                found = sorted(layer.getFeatures(request), key=_in_order)
                rows[name] = [_row(feature) for feature in found]
            if gone:
                deleted[name] = gone
        return rows, deleted


def _in_order(feature):
    """Sort stored rows before added ones, whose numbers go down."""
    return feature.id() < 0, abs(feature.id())


def _row(feature):
    names = feature.fields().names()
    row = {name: plain(value) for name, value in zip(names, feature.attributes())}
    row.pop("fid", None)
    if feature.id() > 0:
        row["fid"] = feature.id()
    if feature.hasGeometry():
        row["geometry"] = feature.geometry().asWkt(_DIGITS)
    return row


def plain(value):
    """Return a value of a feature for JSON, as it will be stored."""
    if value is None or (isinstance(value, QVariant) and value.isNull()):
        return None
    if isinstance(value, QDateTime):
        if Qgis.QGIS_VERSION_INT >= _STORES_INSTANTS:
            value = value.toUTC()
        return value.toString("yyyy-MM-ddTHH:mm:ss.zzz") + "Z"
    if isinstance(value, (QDate, QTime)):
        return value.toString(Qt.DateFormat.ISODate)
    if isinstance(value, (bool, int, float, str)):
        return value
    return str(value)
