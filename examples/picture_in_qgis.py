"""Make the QGIS picture of the README; QGIS runs this script, with the plugin installed.

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
INPUTS = ("surfaces", "meter_tests", "isolation_tests", "closed_valves", "valves", "dig_outcomes",
          "utilities", "contacts", "readings", "routes")  # fmt: skip
SHOWN, LINES, AROUND = ("utilities", "routes"), ("H-101", "H-102"), 42.0


def run() -> None:
    """Load the layers of the town, run the job, and zoom to two of its marks."""
    updateAvailablePlugins()
    loadPlugin("leakgeo_desktop")
    startPlugin("leakgeo_desktop")
    iface.mainWindow().resize(1280, 800)
    given = {}
    for name in INPUTS:
        layer = {"utilities": "utility_lines"}.get(name, name)
        given[name] = QgsVectorLayer(f"{TOWN / 'job.gpkg'}|layername={layer}", name, "ogr")
        QgsProject.instance().addMapLayer(given[name])
        node = QgsProject.instance().layerTreeRoot().findLayer(given[name].id())
        node.setItemVisibilityChecked(name in SHOWN)
    processing.runAndLoadResults("leakgeo:run", {**given, "out": f"{tempfile.mkdtemp()}/out"})
    QTimer.singleShot(3000, zoom_to_marks)


def zoom_to_marks() -> None:
    """Zoom to the marks, and hide other panels."""
    for dock in iface.mainWindow().findChildren(QDockWidget):
        dock.setVisible(dock.objectName() == "Layers")
    iface.messageBar().clearWidgets()
    root = QgsProject.instance().layerTreeRoot()
    for node in (root.children()[0], *root.children()[0].children()[:2]):
        node.setExpanded(False)
        node.setExpanded(True)
    (marks,) = QgsProject.instance().mapLayersByName("Marks")
    boxes = [m.geometry().boundingBox() for m in marks.getFeatures() if m["line_id"] in LINES]
    for box in boxes[1:]:
        boxes[0].combineExtentWith(box)
    boxes[0].grow(AROUND)
    iface.mapCanvas().setExtent(boxes[0])
    iface.mapCanvas().refresh()
    QTimer.singleShot(4000, save_picture)


def save_picture() -> None:
    """Save the picture, and exit QGIS."""
    iface.mainWindow().grab().save(str(TOWN / "qgis.png"))
    QgsApplication.instance().exit()


QTimer.singleShot(4000, run)
