"""Make the README's picture of a result in QGIS; QGIS runs this, with the plugin installed.

xvfb-run -s "-screen 0 1600x1000x24" qgis --nologo --code examples/picture_in_qgis.py
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import processing
from qgis.core import QgsApplication, QgsProject, QgsVectorLayer
from qgis.PyQt.QtCore import QTimer
from qgis.PyQt.QtWidgets import QDockWidget
from qgis.utils import iface, loadPlugin, startPlugin, updateAvailablePlugins

TOWN = Path("examples/town").resolve()
INPUTS = ("surfaces", "meter_tests", "utilities", "contacts", "readings", "routes")
SHOWN, LINES, AROUND = ("utilities", "routes"), ("H-101", "H-102"), 42.0


def run() -> None:
    """Open the town, run it, and look at two of its marks."""
    updateAvailablePlugins()
    loadPlugin("leakgeo_desktop")
    startPlugin("leakgeo_desktop")
    iface.mainWindow().resize(1280, 800)
    given = {}
    for name in INPUTS:
        given[name] = QgsVectorLayer(f"{TOWN / 'job.gpkg'}|layername={name}", name, "ogr")
        QgsProject.instance().addMapLayer(given[name])
        node = QgsProject.instance().layerTreeRoot().findLayer(given[name].id())
        node.setItemVisibilityChecked(name in SHOWN)
    processing.runAndLoadResults("leakgeo:run", {**given, "out": f"{tempfile.mkdtemp()}/out"})
    QTimer.singleShot(3000, look)


def look() -> None:
    """Bring the marks into view, and leave out what is not of them."""
    for dock in iface.mainWindow().findChildren(QDockWidget):
        dock.setVisible(dock.objectName() == "Layers")
    iface.messageBar().clearWidgets()
    (marks,) = QgsProject.instance().mapLayersByName("Marks")
    boxes = [m.geometry().boundingBox() for m in marks.getFeatures() if m["line_id"] in LINES]
    for box in boxes[1:]:
        boxes[0].combineExtentWith(box)
    boxes[0].grow(AROUND)
    iface.mapCanvas().setExtent(boxes[0])
    iface.mapCanvas().refresh()
    QTimer.singleShot(4000, shoot)


def shoot() -> None:
    """Keep the picture, and end."""
    iface.mainWindow().grab().save(str(TOWN / "qgis.png"))
    QgsApplication.instance().exit()


QTimer.singleShot(4000, run)
