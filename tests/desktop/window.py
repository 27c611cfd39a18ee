"""Script that QGIS runs in its window: it opens a project and works in it by clicks and keys.

Called as ``qgis --project PROJECT --code window.py`` with ``LEAKGEO_SCENE``: the name of the scene,
its arguments and the file of the answer, as JSON. Only packages of QGIS may be imported here. A
scene is a generator: it yields a condition, and goes on when that holds. Clicks and keys are sent
to the widget that a person would reach, and are counted.
"""

from __future__ import annotations

import json
import os
import time
import traceback
from pathlib import Path

from qgis.core import QgsPointXY, QgsProject, QgsRectangle
from qgis.PyQt.QtCore import QPoint, Qt, QTimer
from qgis.PyQt.QtTest import QTest
from qgis.PyQt.QtWidgets import (
    QApplication,
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QLineEdit,
    QPlainTextEdit,
    QToolButton,
    QWidget,
)
from qgis.utils import iface

SCENES = {}
EVERY_MS, LONGEST_S = 40, 30.0


def scene(function):
    """Register a scene by its name."""
    SCENES[function.__name__] = function
    return function


class Hands:
    """The clicks and keys of a person, counted."""

    def __init__(self):
        self.clicks = self.keys = 0

    def click(self, widget, at=None, button=Qt.LeftButton):
        """Click a widget, in its middle if no place is given."""
        self.clicks += 1
        QTest.mouseClick(widget, button, Qt.NoModifier, at or widget.rect().center())

    def tap(self, point, button=Qt.LeftButton):
        """Click a place of the map."""
        canvas = iface.mapCanvas()
        pixel = canvas.getCoordinateTransform().transform(QgsPointXY(*point))
        at = QPoint(round(pixel.x()), round(pixel.y()))
        QTest.mouseMove(canvas.viewport(), at)
        QApplication.processEvents()
        self.click(canvas.viewport(), at, button)

    def type(self, text):
        """Type into the widget that has the focus."""
        self.keys += len(text)
        QTest.keyClicks(QApplication.focusWidget(), text)

    def press(self, key, widget=None):
        """Press a key in a widget, by default in the one that has the focus."""
        self.keys += 1
        QTest.keyClick(widget or QApplication.focusWidget(), key)

    def take(self):
        """Return the presses since the last call, and begin again."""
        counted = {"clicks": self.clicks, "keys": self.keys}
        self.clicks = self.keys = 0
        return counted


def layer_of(name):
    """Return a layer of the project by the name of its table."""
    for layer in QgsProject.instance().mapLayers().values():
        if f"layername={name}" in layer.source() and "subset" not in layer.source():
            return layer
    raise LookupError(name)


def form():
    """Return the form that is open, or None."""
    shown = [w for w in QApplication.topLevelWidgets() if isinstance(w, QDialog) and w.isVisible()]
    return shown[-1] if shown else None


def opened():
    """Return whether a form is open and has the keys."""
    focus = QApplication.focusWidget()
    return form() is not None and focus is not None and form().isAncestorOf(focus)


def shows(widget, kind):
    """Return whether a widget is of a kind and visible."""
    return isinstance(widget, kind) and widget.isVisible()


def editor(name):
    """Return the visible editor of a column in the open form."""
    found = [w for w in form().findChildren(QWidget, name) if w.isVisible()]
    if not found:
        names = sorted({w.objectName() for w in form().findChildren(QWidget) if w.isVisible()})
        raise LookupError(f"{name} is not among {names}")
    return found[0]


def button(action):
    """Return the tool button of an action."""
    for each in iface.mainWindow().findChildren(QToolButton):
        if each.defaultAction() is action and each.isVisible():
            return each
    raise LookupError(action.text())


def ok(hands):
    """Click OK in the form, and wait until it is gone."""
    buttons = [b for b in form().findChildren(QDialogButtonBox) if b.isVisible()]
    button_ok = buttons[0].button(QDialogButtonBox.Ok)
    yield button_ok.isEnabled
    hands.click(button_ok)
    yield gone


def choose(hands, name, words):
    """Choose a row of a drop-down list by its words: click it, then use the arrows."""
    made = editor(name)
    (box,) = [b for b in (made, *made.findChildren(QComboBox)) if shows(b, QComboBox)]
    row = [box.itemText(i) for i in range(box.count())].index(words)
    hands.click(box)
    yield lambda: box.view().isVisible()
    listed = box.view()
    while listed.currentIndex().row() != row:
        hands.press(Qt.Key_Down if row > listed.currentIndex().row() else Qt.Key_Up, listed)
    hands.press(Qt.Key_Return, listed)
    yield lambda: not listed.isVisible() and box.currentIndex() == row


def edit(hands, name):
    """Choose a layer in the layer tree, and switch on drawing."""
    layer = layer_of(name)
    iface.layerTreeView().setCurrentLayer(layer)
    yield lambda: iface.activeLayer() is layer or iface.activeLayer().id() == layer.id()
    if not layer.isEditable():
        hands.click(button(iface.actionToggleEditing()))
        yield layer.isEditable
    yield iface.actionAddFeature().isEnabled
    hands.click(button(iface.actionAddFeature()))
    yield lambda: iface.actionAddFeature().isChecked()


def save(hands):
    """Save the edits of the layer."""
    layer = iface.activeLayer()
    hands.click(button(iface.actionSaveActiveLayerEdits()))
    yield lambda: not layer.isModified()


def draw(hands, name, points):
    """Draw a line of several vertices, and wait for its form."""
    yield from edit(hands, name)
    for point in points:
        hands.tap(point)
    hands.tap(points[-1], Qt.RightButton)
    yield opened


def enter_hole(hands, place, words, pictures):
    """Draw a hole, and click and type into the boxes of its form."""
    yield from edit(hands, "dig_outcomes")
    hands.tap(place)
    yield opened
    for name, text in words.items():
        kinds = (QLineEdit, QPlainTextEdit)
        (box,) = [w for w in editor(name).findChildren(QWidget) if shows(w, kinds)]
        hands.click(box.viewport() if isinstance(box, QPlainTextEdit) else box)
        hands.type(text)
    picture(form(), pictures and f"{pictures}/dig_outcomes.png")
    yield from ok(hands)
    yield from save(hands)


def gone():
    """Return whether no form is open."""
    return form() is None


def show(points, margin):
    """Zoom the map to some points."""
    box = QgsRectangle()
    for x, y in points:
        box.combineExtentWith(x, y)
    box.grow(margin)
    iface.mapCanvas().setExtent(box)
    iface.mapCanvas().refresh()


def picture(widget, path):
    """Save a widget as a picture, if a path is given."""
    if path:
        widget.grab().save(path)


def finish(answer, path):
    """Write the answer, and end QGIS without questions."""
    Path(path).write_text(json.dumps(answer, default=str), "utf-8")
    os._exit(0)


class Player:
    """It advances a scene whenever its condition holds."""

    def __init__(self, steps, path):
        self.steps, self.path = steps, path
        self.condition, self.since = (lambda: True), time.monotonic()
        self.timer = QTimer()
        self.timer.timeout.connect(self.go_on)
        self.timer.start(EVERY_MS)

    def go_on(self):
        """Advance the scene by a step; end QGIS at its end, or with its error."""
        try:
            if self.condition():
                self.condition, self.since = next(self.steps), time.monotonic()
            elif time.monotonic() - self.since > LONGEST_S:
                self._fail(f"waited at line {self.steps.gi_frame.f_lineno}")
        except StopIteration as end:
            finish(end.value, self.path)
        except Exception:
            self._fail(traceback.format_exc())

    def _fail(self, error):
        shown = [w.windowTitle() for w in QApplication.topLevelWidgets() if w.isVisible()]
        finish({"error": f"{error}; open are {shown}"}, self.path)


@scene
def field_day(route, fittings, stops, utility, hole, pictures):
    """Draw a pipe, its fittings, a gas main, and enter stops; return the presses of each stop.

    A hole is entered at the end, with words in the boxes of its form.
    """
    hands, answer = Hands(), {}
    show(route, 6.0)
    yield lambda: not iface.mapCanvas().isDrawing()
    yield from draw(hands, "routes", route)
    QTest.keyClick(QApplication.focusWidget(), Qt.Key_A, Qt.ControlModifier)
    hands.type("T-1")
    picture(form(), pictures and f"{pictures}/routes.png")
    yield from ok(hands)
    yield from save(hands)
    yield from edit(hands, "contacts")
    for name, point in fittings.items():
        hands.tap(point)
        yield opened
        hands.press(Qt.Key_Home)
        QTest.keyClick(QApplication.focusWidget(), Qt.Key_A, Qt.ControlModifier)
        hands.type(name)
        picture(form(), pictures and f"{pictures}/contacts.png")
        yield from ok(hands)
    yield from save(hands)
    yield from draw(hands, "utility_lines", utility)
    yield from choose(hands, "kind", "gas")
    picture(form(), pictures and f"{pictures}/utility_lines.png")
    yield from ok(hands)
    yield from save(hands)
    yield from edit(hands, "readings")
    hands.take()
    answer["stops"] = []
    for number, (point, level, more) in enumerate(stops):
        hands.tap(point)
        yield opened
        focus = QApplication.focusWidget().objectName()
        hands.type(level)
        for name, value in more.items():
            if name == "tape":
                (field,) = [w for w in editor(name).findChildren(QLineEdit) if w.isVisible()]
                hands.click(field)
                hands.type(value)
            else:
                yield from choose(hands, name, value)
        picture(form(), pictures and f"{pictures}/stop-{number}.png")
        yield from ok(hands)
        answer["stops"].append({**hands.take(), "focus": focus})
    yield from save(hands)
    answer["to_save"] = hands.take()
    yield from enter_hole(hands, route[1], hole, pictures)
    picture(iface.mainWindow(), pictures and f"{pictures}/window.png")
    return answer


def begin():
    """Play the scene once the window is ready."""
    given = json.loads(os.environ["LEAKGEO_SCENE"])
    iface.mainWindow().resize(1500, 950)
    steps = SCENES[given["name"]](**given["arguments"])
    iface.player = Player(steps, given["answer"])


QTimer.singleShot(500, begin)
