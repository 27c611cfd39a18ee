"""The toolbox in the window of QGIS: the chain from a job file, twice; run as window.py is."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from qgis.core import QgsProject, QgsVectorLayer
from qgis.PyQt.QtCore import QPoint, Qt, QTimer
from qgis.PyQt.QtTest import QTest
from qgis.PyQt.QtWidgets import QApplication, QDockWidget, QToolButton, QTreeView
from qgis.utils import iface
from window import Hands, picture, scene

NAME = "Run the whole chain"


def tree():
    """Return the tree of the toolbox."""
    return iface.mainWindow().findChild(QDockWidget, "ProcessingToolbox").findChild(QTreeView)


def toolbox_button():
    """Return the button of the toolbar that shows the toolbox."""
    for one in iface.mainWindow().findChildren(QToolButton):
        named = one.defaultAction() is not None and "Toolbox" in one.defaultAction().text()
        if named and one.isVisible():
            return one
    raise LookupError("toolbox")


def rows(model, parent):
    """Return the indices below one."""
    return [model.index(row, 0, parent) for row in range(model.rowCount(parent))]


def shown(view, parent):
    """Return the names below an index, nested."""
    return [[one.data(), shown(view, one)] if view.model().rowCount(one) else one.data()
            for one in rows(view.model(), parent)]  # fmt: skip


def provider(view):
    """Return the index of leakgeo, or None."""
    named = [one for one in rows(view.model(), view.rootIndex()) if "leakgeo" in one.data()]
    return named[0] if named else None


def dialog():
    """Return the dialog of an algorithm that is open, or None."""
    found = [w for w in QApplication.topLevelWidgets()
             if w.isVisible() and hasattr(w, "runButton")]  # fmt: skip
    return found[-1] if found else None


def open_dialog(hands, view):
    """Open the dialog of the chain by a double click in the toolbox."""
    names = {one.data(): one for one in rows(view.model(), provider(view))}
    view.scrollTo(names[NAME])
    at = view.visualRect(names[NAME]).center()
    hands.clicks += 2
    QTest.mouseClick(view.viewport(), Qt.LeftButton, Qt.NoModifier, at)
    # Later, as the dialog does not return before it is closed.
    QTimer.singleShot(0, lambda: QTest.mouseDClick(view.viewport(), Qt.LeftButton, Qt.NoModifier,
                                                   at))  # fmt: skip
    yield lambda: dialog() is not None


def values():
    """Return what the dialog would run with, without what is empty."""
    given = dialog().createProcessingParameters()
    return {name: value for name, value in given.items() if value not in (None, "", [])}


def run(hands, view, record, pictures, name):
    """Open the dialog and run; return what it proposed, and the clicks so far."""
    yield from open_dialog(hands, view)
    proposed = values()
    dialog().resize(1000, 820)
    yield lambda: not iface.mapCanvas().isDrawing()
    picture(dialog(), pictures and f"{pictures}/dialog-{name}.png")
    file = Path(record)
    before = file.stat().st_mtime_ns if file.exists() else 0
    hands.click(dialog().runButton())
    clicks = hands.take()["clicks"]
    yield lambda: file.exists() and file.stat().st_mtime_ns != before
    yield lambda: bool(groups()) and dialog().runButton().isEnabled()
    picture(dialog(), pictures and f"{pictures}/log-{name}.png")
    dialog().close()
    yield lambda: dialog() is None
    return {**proposed, "clicks": clicks}


def groups():
    """Return the groups of the layer list, each with the names of its layers."""
    root = QgsProject.instance().layerTreeRoot()
    return [[one.name(), [node.name() for node in one.findLayers()]] for one in root.findGroups()]


def seen(name):
    """Return what the layers of the project of a name show: features by their line."""
    found = {}
    for layer in QgsProject.instance().mapLayersByName(name):
        for row in layer.getFeatures():
            found.setdefault(row["line_id"], []).append(row["run_id"])
    return found


@scene
def twice(job, record, gone, pictures):
    """Run the chain from the job of the project; return clicks, proposals, and layers after."""
    for name in ("routes", "readings"):
        layer = QgsVectorLayer(f"{job}|layername={name}", name, "ogr")
        QgsProject.instance().addMapLayer(layer)
    yield lambda: not iface.mapCanvas().isDrawing()
    iface.zoomFull()
    hands, told = Hands(), {}
    dock = iface.mainWindow().findChild(QDockWidget, "ProcessingToolbox")
    told["toolbox_open"] = dock.isVisible()
    if not dock.isVisible():
        hands.click(toolbox_button())
        yield dock.isVisible
    view = tree()
    yield lambda: provider(view) is not None
    index = provider(view)
    view.scrollTo(index)
    arrow = view.visualRect(index)
    hands.click(view.viewport(), QPoint(arrow.left() - view.indentation() // 2,
                                        arrow.center().y()))  # fmt: skip
    yield lambda: view.isExpanded(index)
    told["toolbox"] = shown(view, provider(view))
    picture(iface.mainWindow(), pictures and f"{pictures}/toolbox.png")
    told["first"] = yield from run(hands, view, record, pictures, "first")
    told["marks"] = seen("Marks")
    yield from settled(pictures, "layers-first")
    keep_one_and_add_one(job)
    with closing(sqlite3.connect(job)) as base, base:
        base.execute("DELETE FROM readings WHERE line_id = ?", [gone])
    told["second"] = yield from run(hands, view, record, pictures, "second")
    told["groups"], told["marks_after"] = groups(), seen("Marks")
    told["marks_counted"] = [
        one.featureCount() for one in QgsProject.instance().mapLayersByName("Marks")
    ]
    told["kept"] = [one.name() for one in QgsProject.instance().mapLayers().values()]
    yield from settled(pictures, "layers-second")
    told["by_hand"] = yield from opened_by_hand(Path(record).parent, pictures)
    return told


def opened_by_hand(folder, pictures):
    """Open the project of the result by hand, move the map, and let the plugin open it as well."""
    from leakgeo_desktop.opening import open_result
    from leakgeo_desktop.result_file import ResultFile

    project = QgsProject.instance()
    project.setDirty(False)
    iface.addProject(str(folder / "result.qgz"))
    yield from settled(pictures, "by-hand")
    iface.mapCanvas().zoomScale(150.0)
    names, view = top_names(), iface.mapCanvas().extent().toString()
    open_result(project, ResultFile(folder))
    yield from settled(pictures, "by-hand-again")
    return {"before": names, "after": top_names(),
            "views": [view, iface.mapCanvas().extent().toString()]}  # fmt: skip


def top_names():
    """Return the names at the root of the layer list."""
    return [one.name() for one in QgsProject.instance().layerTreeRoot().children()]


def settled(pictures, name):
    """Wait until the map is drawn, and take a picture of the window."""
    iface.mapCanvas().refresh()
    yield lambda: not iface.mapCanvas().isDrawing()
    picture(iface.mainWindow(), pictures and f"{pictures}/{name}.png")


def keep_one_and_add_one(job):
    """Open marks once more outside the group, and put a layer of the job into the group."""
    (marks,) = QgsProject.instance().mapLayersByName("Marks")
    copy = QgsVectorLayer(marks.source(), "Marks", "ogr")
    QgsProject.instance().addMapLayer(copy, False)
    QgsProject.instance().layerTreeRoot().addLayer(copy)
    fittings = QgsVectorLayer(f"{job}|layername=contacts", "fittings", "ogr")
    QgsProject.instance().addMapLayer(fittings, False)
    (group,) = QgsProject.instance().layerTreeRoot().findGroups()
    group.addLayer(fittings)
