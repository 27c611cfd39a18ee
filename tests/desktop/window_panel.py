"""The panel in the window of QGIS; run as window.py is, with this folder in PYTHONPATH."""

from __future__ import annotations

import os
import signal
import time

import qgis.utils
from qgis.core import QgsFeature, QgsGeometry, QgsPointXY, QgsProject, QgsVectorLayer
from qgis.PyQt.QtCore import QEvent, QPoint, QPointF, Qt, QTimer
from qgis.PyQt.QtGui import QMouseEvent
from qgis.PyQt.QtTest import QTest
from qgis.PyQt.QtWidgets import QApplication
from qgis.utils import iface
from window import Hands, button, form, gone, picture, scene

BEAT_MS = 20


class Heart:
    """A timer of the window: how long its thread was busy, and was late, between two beats.

    Other programs make beats late too, so the time of the processor is what counts.
    """

    def __init__(self):
        self.last = time.monotonic(), time.thread_time()
        self.late, self.busy, self.during = {}, {}, ""
        self.timer = QTimer()
        self.timer.setTimerType(Qt.PreciseTimer)
        self.timer.timeout.connect(self.beat)
        self.timer.start(BEAT_MS)

    def beat(self):
        """Keep the longest times since the last beat, in milliseconds, by what is going on."""
        now = time.monotonic(), time.thread_time()
        late, busy = (1000.0 * (one - before) for one, before in zip(now, self.last))
        self.late[self.during] = max(self.late.get(self.during, 0.0), late - BEAT_MS)
        self.busy[self.during] = max(self.busy.get(self.during, 0.0), busy)
        self.last = now

    def at(self, what):
        """Name what is going on from now on."""
        self.beat()
        self.during = what


def panel():
    """Return the panel of the plugin."""
    return qgis.utils.plugins["leakgeo_desktop"].panel


def answered(line, since=0):
    """Return whether the newest request about a line is answered."""
    shown = panel()
    return (shown.answer is not None and shown.answer["line"] == line
            and not shown.asker.is_waiting() and not shown.debounce.isActive()
            and shown.asker.asked > since)  # fmt: skip


def hover(plot, x, y):
    """Move the pointer to a place of the plot, and return what it shows there."""
    at = QPointF(round(x), round(y))
    move = QMouseEvent(QEvent.MouseMove, at, Qt.NoButton, Qt.NoButton, Qt.NoModifier)
    QApplication.sendEvent(plot, move)
    return plot.hover_texts()


@scene
def one_line(
    job, line, stop, level, other, pictures, tables=("routes", "readings"), size=(1580, 960),
    width=430,
):  # fmt: skip
    """Open the panel, choose a line, add a stop, ask what if, kill leakgeo; tell what was seen."""
    told, layers = {}, {}
    iface.mainWindow().resize(*size)
    for name in tables:
        layers[name] = QgsVectorLayer(f"{job}|layername={name}", name, "ogr")
        QgsProject.instance().addMapLayer(layers[name])
    yield lambda: not iface.mapCanvas().isDrawing()
    iface.zoomFull()
    heart, plot = Heart(), panel().view.plot
    yield from _toolbar(told, heart, pictures)
    yield from _choose(told, heart, line, width)
    yield from _point(told, heart, plot, pictures)
    yield from _add(told, heart, layers["readings"], stop, level, line)
    _picture(heart, "stop", pictures)
    yield from _what_if(told, heart, plot, line, stop, pictures)
    yield from _kill(told, heart, layers["routes"], other)
    heart.at("")
    told["late_ms"], told["busy_ms"] = heart.late, heart.busy
    if pictures:
        _last_pictures(pictures)
    qgis.utils.unloadPlugin("leakgeo_desktop")
    QApplication.processEvents()
    told["unloaded"] = "leakgeo_desktop" not in qgis.utils.active_plugins
    return told


def _toolbar(told, heart, pictures):
    """Open the whole chain by its button; tell what toolbar, menu and dialog have."""
    heart.at("picture")
    bar = qgis.utils.plugins["leakgeo_desktop"].toolbar
    told["buttons"] = [action.text() for action in bar.bar.actions()]
    menus = [action.menu() for action in iface.pluginMenu().actions() if action.menu()]
    menu = next(menu for menu in menus if bar.run in menu.actions())
    told["menu"] = [menu.title(), [action.text() for action in menu.actions()]]
    picture(menu, pictures and f"{pictures}/menu.png")
    told["icons"] = [not action.icon().pixmap(16, 16).isNull() for action in menu.actions()]
    told["help"] = qgis.utils.plugins["leakgeo_desktop"].provider.algorithm("run").helpUrl()
    Hands().click(button(bar.run))
    yield lambda: form() is not None
    told["dialog"] = form().windowTitle()
    # Its part in Python, without which it would be shown, and run nothing.
    told["parts"] = [type(form()).__name__, type(form().mainWidget()).__name__]
    picture(form(), pictures and f"{pictures}/run.png")
    form().close()
    yield gone


def _choose(told, heart, line, width):
    """Open the panel by its button, and type the name of a line."""
    shown, hands = panel(), Hands()
    view = shown.view
    heart.at("opening")
    hands.click(button(qgis.utils.plugins["leakgeo_desktop"].toolbar.panel))
    yield lambda: view.lines.count() > 0
    iface.mainWindow().resizeDocks([shown], [width], Qt.Horizontal)
    told["lines"] = view.lines.count()
    heart.at("choosing")
    QTest.keyClicks(view.lines.lineEdit(), line)
    QTest.keyClick(view.lines.lineEdit(), Qt.Key_Return)
    yield lambda: answered(line)
    told["card"], told["state"] = view.card.toPlainText(), view.state.text()
    yield lambda: not iface.mapCanvas().isDrawing()


def _point(told, heart, plot, pictures):
    """Point at places of the plot; click the plot, then the map."""
    shown = panel()
    heart.at("hovering")
    found = shown.answer["plot"]
    at = [at for stop, at in plot.layout_of_plot().stops if stop["state"] == "used"][3]
    told["over_stop"] = hover(plot, at.x(), at.y())
    x, y = plot.layout_of_plot().scale.px(sum(found["zones"][-1]["x"]) / 2), plot.height() - 90
    told["over_zone"] = hover(plot, x, y)
    _picture(heart, "hover", pictures)
    heart.at("plot to map")
    QTest.mouseClick(plot, Qt.LeftButton, Qt.NoModifier, QPoint(round(x), y))
    told["overlay"] = shown.overlay.cursor_m
    point = shown.overlay.trace.point(shown.overlay.cursor_m)
    told["in_view"] = iface.mapCanvas().extent().contains(point)
    yield lambda: not iface.mapCanvas().isDrawing()
    heart.at("map to plot")
    told["wanted"] = found["length"] / 3
    Hands().tap(shown.overlay.trace.point(told["wanted"]))
    told["cursor"] = plot.cursor_m


def _kill(told, heart, routes, other):
    """Kill leakgeo, then select the pipe of another line on the map."""
    shown = panel()
    heart.at("killed")
    os.kill(shown.asker.process.processId(), signal.SIGKILL)
    yield lambda: shown.asker.process is None
    told["stopped"] = shown.view.state.text()
    routes.selectByExpression(f"line_id = '{other}'")
    yield lambda: answered(other)
    told["again"], told["selected"] = shown.view.state.text(), shown.view.lines.currentText()


def _last_pictures(pictures):
    """Save pictures of the list of stops, and of the plot, narrow and wide."""
    shown = panel()
    shown.view.tabs.setCurrentIndex(1)
    picture(shown, f"{pictures}/stops.png")
    for wide in (400, 900):
        shown.view.plot.setParent(None)
        shown.view.plot.resize(wide, 340)
        picture(shown.view.plot, f"{pictures}/plot-{wide}.png")


def _picture(heart, name, pictures):
    """Save a picture of the window; the time that it takes is not that of the panel."""
    heart.at("picture")
    picture(iface.mainWindow(), pictures and f"{pictures}/{name}.png")


def _add(told, heart, readings, stop, level, line):
    """Add a stop to the layer, wait for the answer with it, then save it."""
    shown = panel()
    like = shown.answer["plot"]["readings"][2]["id"]
    heart.at("unsaved")
    since = shown.asker.asked
    readings.startEditing()
    (copied,) = readings.getFeatures(f"reading_id = '{like}'")
    new = QgsFeature(copied)
    new.setAttribute("fid", None)
    new.setAttribute("reading_id", stop)
    new.setAttribute("stop_id", None)
    new.setAttribute("sound_level", level)
    new.setAttribute("chainage_m", copied["chainage_m"] + 0.4)
    place = copied.geometry().asPoint()
    new.setGeometry(QgsGeometry.fromPointXY(QgsPointXY(place.x() + 0.1, place.y())))
    assert readings.addFeature(new)
    yield lambda: answered(line, since)
    told["unsaved"] = [r for r in shown.answer["plot"]["readings"] if r["id"] == stop]
    heart.at("saving by QGIS")
    since, begin = shown.asker.asked, time.monotonic()
    assert readings.commitChanges(), readings.commitErrors()
    heart.at("saved")
    yield lambda: answered(line, since)
    told["save_to_answer_s"] = time.monotonic() - begin
    told["saved"] = [r for r in shown.answer["plot"]["readings"] if r["id"] == stop]


def _what_if(told, heart, plot, line, stop, pictures):
    """Leave the stop out by a click in the plot, and take it in again by the button."""
    shown = panel()
    heart.at("what if")
    before = shown.answer["odds"]
    at = next(at for each, at in plot.layout_of_plot().stops if each["id"] == stop)
    since = shown.asker.asked
    QTest.mouseClick(plot, Qt.LeftButton, Qt.NoModifier, QPoint(round(at.x()), round(at.y())))
    yield lambda: answered(line, since)
    told["what_if"] = shown.view.what_if_text.text()
    told["what_if_shown"] = shown.view.what_if.isVisible()
    told["what_if_state"] = [r["state"] for r in shown.answer["plot"]["readings"]
                             if r["id"] == stop]  # fmt: skip
    _picture(heart, "what-if", pictures)
    heart.at("back")
    since = shown.asker.asked
    QTest.mouseClick(shown.view.back, Qt.LeftButton)
    yield lambda: answered(line, since)
    told["back"] = shown.answer["odds"] == before and not shown.view.what_if.isVisible()
