"""Results in the open project: when they are opened, and read again after a run."""

from __future__ import annotations

from pathlib import Path

from qgis.core import (
    QgsFeature,
    QgsProcessingContext,
    QgsProcessingLayerPostProcessorInterface,
    QgsVectorLayer,
)
from qgis.PyQt.QtCore import QObject, QTimer, pyqtSignal

from .language import tr
from .opening import open_result
from .result_place import path_of

# References that keep post-processors alive until QGIS has called them.
_active = []


def faults_table():
    """Return the name of the table of faults of a job that was checked, or can't be run."""
    return tr("leakgeo: faults of the job")


def refresh(folder, context):
    """Let layers that show files of a folder read them again, as a run has replaced the files.

    QGIS keeps the old files open. A table of faults that an earlier run opened is removed.
    """
    if context.project() is not None:
        _main_thread.replaced.emit(str(folder), context.project())


def load(result, context):
    """Let QGIS open a result at the end of the run.

    QGIS does that for a dialog or a model, by adding layers to the project, and not for a script.
    So it is given an empty layer, whose arrival opens the result, and which is removed again.

    Parameters
    ----------
    result : ResultFile
    context : QgsProcessingContext
        Nothing is opened if it has no project.
    """
    project = context.project()
    if project is None:
        return
    arrival = QgsVectorLayer("none", result.folder.name, "memory")
    opener = _Opener(result)
    _active.append(opener)
    context.temporaryLayerStore().addMapLayer(arrival)
    details = QgsProcessingContext.LayerDetails(arrival.name(), project, arrival.name())
    details.setPostProcessor(opener)
    context.addLayerToLoadOnCompletion(arrival.id(), details)


class _Opener(QgsProcessingLayerPostProcessorInterface):
    """Opens a result when QGIS has added the empty layer to the project."""

    def __init__(self, result):
        super().__init__()
        self.result = result

    def postProcessLayer(self, layer, context, feedback):  # noqa: N802 - name of the QGIS API
        """Schedule the opening, as QGIS still refers to the layer."""
        project, arrival, result = context.project(), layer.id(), self.result

        def opened():
            project.removeMapLayer(arrival)
            open_result(project, result)

        QTimer.singleShot(0, opened)
        if self in _active:
            _active.remove(self)


class _MainThread(QObject):
    """Changes of the project; signals move the calls to the main thread, also from a model."""

    found = pyqtSignal(object, object)
    replaced = pyqtSignal(str, object)

    def __init__(self):
        super().__init__()
        self.found.connect(self.open_faults)
        self.replaced.connect(self.refresh)

    def open_faults(self, faults, project):
        """Open faults as a table, in place of the table of an earlier run."""
        for old in project.mapLayersByName(faults_table()):
            project.removeMapLayer(old.id())
        if not faults:
            return
        columns = "&".join(f"field={name}:string" for name in faults[0])
        table = QgsVectorLayer(f"none?{columns}", faults_table(), "memory")
        features = [QgsFeature(table.fields()) for _ in faults]
        for row, fault in zip(features, faults):
            row.setAttributes([str(value) for value in fault.values()])
        table.dataProvider().addFeatures(features)
        project.addMapLayer(table)

    def refresh(self, folder, project):
        """Read the layers of a folder again, and remove a table of faults."""
        for layer in list(project.mapLayers().values()):
            path = path_of(layer)
            if layer.name() == faults_table():
                project.removeMapLayer(layer.id())
            elif path is not None and Path(folder).resolve() in path.parents:
                layer.dataProvider().reloadData()
                layer.triggerRepaint()


_main_thread = _MainThread()


def open_faults(faults, project):
    """Open the faults of a job as a table in the project; without faults, remove an old table."""
    if project is not None:
        _main_thread.found.emit(faults, project)
