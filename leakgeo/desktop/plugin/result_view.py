"""The caution that stays on the map of a result, and its CRS and view in an empty project."""

from __future__ import annotations

from contextlib import suppress

from qgis.core import QgsCoordinateReferenceSystem, QgsRectangle
from qgis.PyQt.QtCore import QMetaObject, QTimer

from .result_xml import elements

# Where QGIS keeps the text on the map.
_LABEL = "CopyrightLabel"
_ENDS = ("xmin", "ymin", "xmax", "ymax")


def add_caution(project, root):
    """Show the caution of a result on the map, unless the project has a text there.

    Parameters
    ----------
    project : QgsProject
    root : QDomElement
        Of the project of the result.
    """
    from qgis.utils import iface

    if project.readBoolEntry(_LABEL, "/Enabled", False)[0]:
        return
    (own,) = elements(root, "properties", _LABEL)
    values = {name: own.firstChildElement(name).text() for name in ("Label", "Font", "Placement")}
    for name, value in values.items():
        project.writeEntry(_LABEL, f"/{name}", int(value) if name == "Placement" else value)
    project.writeEntryBool(_LABEL, "/Enabled", True)
    if iface is not None:
        # QGIS has no function for it; without this, the text is shown from the next opening on.
        with suppress(RuntimeError):
            QMetaObject.invokeMethod(iface.mainWindow(), "projectReadDecorationItems")


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
                self.project.setCrs(crs, True)
        for element in elements(root, "mapcanvas", "extent"):
            ends = [float(element.firstChildElement(name).text()) for name in _ENDS]
            if iface is not None:
                iface.mapCanvas().setExtent(QgsRectangle(*ends))
                iface.mapCanvas().refresh()
