"""CRS and view of the map of a result, for a project that was empty before."""

from __future__ import annotations

from qgis.core import QgsCoordinateReferenceSystem, QgsRectangle
from qgis.PyQt.QtCore import QTimer

from .result_xml import elements

_ENDS = ("xmin", "ymin", "xmax", "ymax")


class ViewOfEmpty:
    """The view of a result, shown if nothing was on the map when this was made.

    Parameters
    ----------
    project : QgsProject
    """

    def __init__(self, project):
        self.project = project
        self.empty = not any(layer.isSpatial() for layer in project.mapLayers().values())

    def show(self, root):
        """Take over CRS and view, after QGIS has chosen both by the first layer."""
        if self.empty and not self.project.fileName():
            QTimer.singleShot(0, lambda: self._show(root))

    def _show(self, root):
        from qgis.utils import iface

        for element in elements(root, "projectCrs"):
            crs = QgsCoordinateReferenceSystem()
            if crs.readXml(element):
                self.project.setCrs(crs)
        for element in elements(root, "mapcanvas", "extent"):
            ends = [float(element.firstChildElement(name).text()) for name in _ENDS]
            if iface is not None:
                iface.mapCanvas().setExtent(QgsRectangle(*ends))
                iface.mapCanvas().refresh()
