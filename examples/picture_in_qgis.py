"""Make the QGIS picture of the README; QGIS runs this script, with the plugin installed.

xvfb-run -s "-screen 0 1600x1000x24" qgis --nologo --code examples/picture_in_qgis.py
"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

import processing
from qgis.core import QgsApplication, QgsProject
from qgis.PyQt.QtCore import QTimer
from qgis.PyQt.QtWidgets import QDockWidget
from qgis.utils import iface, loadPlugin, startPlugin, updateAvailablePlugins

TOWN = Path("examples/town").resolve()
# Not among temporary files, as QGIS would put a sign beside each layer.
FOLDER = Path(tempfile.mkdtemp(prefix=".picture-", dir=Path.cwd()))
LINES, AROUND = ("H-101", "H-102"), 42.0


def run() -> None:
    """Run the job of the town, and zoom to two of its marks."""
    updateAvailablePlugins()
    loadPlugin("leakgeo_desktop")
    startPlugin("leakgeo_desktop")
    iface.mainWindow().resize(1280, 800)
    given = {"job_file": str(TOWN / "job.gpkg"), "out": str(FOLDER / "town")}
    processing.runAndLoadResults("leakgeo:run", given)
    # Time for QGIS to open the layers and sheets.
    QTimer.singleShot(10000, zoom_to_marks)


def zoom_to_marks() -> None:
    """Zoom to the marks, and hide other panels."""
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
    QTimer.singleShot(4000, save_picture)


def save_picture() -> None:
    """Save the picture, and exit QGIS."""
    iface.mainWindow().grab().save(str(TOWN / "qgis.png"))
    shutil.rmtree(FOLDER, ignore_errors=True)
    QgsApplication.instance().exit()


QTimer.singleShot(4000, run)
