"""The panel: one line of a job, answered while its stops are entered."""

from __future__ import annotations

import contextlib
import time
from html import escape

from qgis.core import QgsGeometry, QgsProject, QgsRectangle
from qgis.gui import QgsDockWidget
from qgis.PyQt.QtCore import QEvent, Qt, QTimer
from qgis.PyQt.QtGui import QColor, QPalette
from qgis.PyQt.QtWidgets import QListWidgetItem

from .answer_html import answer_html
from .asking import Asker
from .help_pages import open_help
from .job_layers import ROUTES, JobLayers, job_of_project
from .language import language_of_leakgeo, local_number, tr
from .map_overlay import MapOverlay
from .panel_view import PanelView

# Edits that follow each other within this time are one question.
_DEBOUNCE_MS = 250
# The map is zoomed to a line that is shorter than this on the screen.
_SHORT_PX = 80.0


def no_job():
    """Return the state without a job."""
    return tr(
        "No job is open. Open a project that has the readings of a job GeoPackage as a layer, such "
        "as one that New job writes."
    )


def choose_a_line():
    """Return what to do when no line is chosen."""
    return tr("Choose a line above, or select a pipe on the map.")


class Panel(QgsDockWidget):
    """Dock widget with the answer about a line: plot, card, stops, and what if."""

    def __init__(self, iface, provider):
        super().__init__(tr("leakgeo: one line"))
        self.setObjectName("LeakgeoPanel")
        self.iface, self.provider, self.canvas = iface, provider, iface.mapCanvas()
        self.line, self.aside, self.answer, self.asked_at = "", [], None, 0.0
        self.lines_wanted, self._watched = True, []
        self._routes, self._zoom_then = None, False
        self.view = PanelView(self)
        self.setWidget(self.view)
        self.asker, self.layers = Asker(self), JobLayers(self)
        self.overlay = MapOverlay(self.canvas)
        self.debounce, self.scan = self._timer(self._ask), self._timer(self._find_job)
        self._connect()
        self.view.say(no_job())

    def _timer(self, slot):
        timer = QTimer(self)
        timer.setSingleShot(True)
        timer.setInterval(_DEBOUNCE_MS)
        timer.timeout.connect(slot)
        return timer

    def _connect(self):
        self.asker.answered.connect(self._take)
        self.asker.failed.connect(self._tell_failure)
        self.asker.started.connect(lambda: self.view.say(tr("Reading the job ...")))
        self.layers.changed.connect(self.debounce.start)
        self.layers.saved.connect(self._saved)
        view = self.view
        view.lines.activated.connect(lambda row: self.choose(view.lines.itemData(row), zoom=True))
        view.lines.lineEdit().returnPressed.connect(self._typed)
        view.zoom.clicked.connect(self.zoom_to_line)
        view.again.clicked.connect(self.ask_again)
        view.help.clicked.connect(lambda _checked: open_help(part="panel"))
        view.back.clicked.connect(self.back_to_data)
        view.stops.itemChanged.connect(self._ticked)
        view.plot.place_clicked.connect(self.show_on_map)
        view.plot.stop_clicked.connect(self.toggle_aside)
        self._watch(self.visibilityChanged, self._visible)
        project = QgsProject.instance()
        for signal in (project.layersAdded, project.layersRemoved, project.readProject):
            self._watch(signal, lambda *_: self.scan.start())
        self._watch(self.canvas.destinationCrsChanged, self._draw_on_map)
        self.canvas.viewport().installEventFilter(self)

    def _watch(self, signal, slot):
        signal.connect(slot)
        self._watched.append((signal, slot))

    def release(self):
        """End the process, and remove what is drawn on the map."""
        for signal, slot in self._watched:
            signal.disconnect(slot)
        self.debounce.stop()
        self.scan.stop()
        self.canvas.viewport().removeEventFilter(self)
        self.layers.release()
        self._watch_selection(None)
        self.asker.close()
        self.canvas.scene().removeItem(self.overlay)

    # Job and line

    def _visible(self, shown):
        if shown:
            self._find_job()
        elif self.isHidden():
            self.asker.close()

    def _find_job(self):
        """Find the job of the project, and watch its layers."""
        if self.isHidden():
            return
        path = job_of_project(self.iface.activeLayer())
        if path != self.layers.path:
            self._forget()
        self.layers.use(path)
        self._watch_selection(self.layers.layers.get(ROUTES))
        if not path:
            self.asker.close()
            self.view.say(no_job())
        elif self.provider.executable is None:
            self.view.say(self.provider.problem)
        else:
            self.asker.use(self.provider.executable, path)
            self._ask()

    def _forget(self):
        self.line, self.aside, self.answer, self.lines_wanted = "", [], None, True
        self.view.clear(choose_a_line())
        self.overlay.set_answer(None)

    def _watch_selection(self, routes):
        before = self._routes
        if before is routes:
            return
        if before is not None:
            # A layer that was removed has no signals any more.
            with contextlib.suppress(TypeError, RuntimeError):
                before.selectionChanged.disconnect(self._selected)
        self._routes = routes
        if routes is not None:
            routes.selectionChanged.connect(self._selected)

    def _selected(self, *_):
        """Choose the line of the pipe that was selected on the map."""
        routes = self._routes
        column = routes.fields().lookupField("line_id")
        if column < 0 or routes.selectedFeatureCount() != 1 or self.isHidden():
            return
        self.choose(str(routes.selectedFeatures()[0].attribute(column)))

    def choose(self, line, *, zoom=False):
        """Show a line."""
        if not line:
            return
        self.view.show_name(line)
        if line != self.line:
            self.line, self.aside = line, []
            self.answer = None
            self.view.clear("...")
            self.overlay.set_answer(None)
        self._zoom_then = zoom
        self._ask()

    def _typed(self):
        """Choose the line that was typed, by its name or a part of it."""
        self.choose(self.view.line_typed(), zoom=True)

    # Requests and answers

    def ask_again(self):
        """Ask again, with a new list of lines, and with what the ground teaches by now."""
        self.lines_wanted = True
        if self.asker.command is None:
            self._find_job()
        self._ask(learn=True)

    def _saved(self, table):
        self.lines_wanted |= table == ROUTES
        self.debounce.start()

    def _ask(self, *, learn=False):
        """Ask about the line, with the rows that are not saved yet."""
        if self.isHidden() or not self.layers.path or self.asker.command is None:
            return
        try:
            rows, deleted = self.layers.unsaved()
        except ValueError as error:
            crowded = tr("There are too many unsaved edits in {layer}; save them.")
            self.view.say(crowded.format(layer=error))
            return
        with_rows = {
            **({"rows": rows} if rows else {}),
            **({"deleted": deleted} if deleted else {}),
        }
        language = language_of_leakgeo(self.provider.catalog)
        if self.lines_wanted:
            self.asker.ask(lines=True, language=language, **with_rows)
            self.lines_wanted = False
        if self.line:
            self.asked_at = time.monotonic()
            self.asker.ask(line=self.line, aside=self.aside, language=language, learn=learn,
                           **with_rows)  # fmt: skip
            self.view.say(self._awaited())

    def _awaited(self):
        """Return what is said while an answer is awaited."""
        wait = self.asker.seconds_to_start()
        if wait >= 1.0:
            return tr("leakgeo starts again in {seconds} s ...").format(seconds=f"{wait:.0f}")
        return tr("Computing ...") if self.answer is None else tr("Computing again ...")

    def _tell_failure(self, text):
        self.lines_wanted |= self.view.lines.count() == 0
        self.view.say(text, problem=True)

    def _take(self, answer):
        """Show an answer."""
        if "error" in answer:
            self.lines_wanted |= self.view.lines.count() == 0
            self.view.say(answer["error"]["message"], problem=True)
        elif "lines" in answer:
            self.view.show_lines(answer["lines"], self.line)
            if not self.line:
                count = tr("{count} lines.").format(count=len(answer["lines"]))
                self.view.say(f"{count} {choose_a_line()}")
        elif answer["answer"]["line"] == self.line:
            self._show(answer["answer"])

    def _show(self, answer):
        self.answer = answer
        computed = tr("Computed at {time} in {seconds} s.").format(
            time=time.strftime("%H:%M:%S"),
            seconds=local_number(f"{time.monotonic() - self.asked_at:.1f}"),
        )
        self.view.say(f"{answer['says']}. {computed}")
        palette = self.palette()
        dark = palette.color(QPalette.ColorRole.Base).lightness() < 128
        faint = QColor(palette.color(QPalette.ColorRole.Text))
        hold = "#ff7ab8" if dark else answer["colours"]["zones"][0]
        html = answer_html(
            answer, palette.color(QPalette.ColorRole.Text).name(), faint.name(), hold
        )
        what_if = answer["what_if"]
        self.view.show_answer(answer, f"<p><i>{escape(what_if)}</i></p>{html}" if what_if else html)
        self._draw_on_map()
        if self._zoom_then:
            self._zoom_then = False
            self.zoom_to_line()

    # What if

    def toggle_aside(self, stop):
        """Leave a stop out of the answer, or take it in again; the data are unchanged."""
        state = next((r["state"] for r in self.answer["plot"]["readings"] if r["id"] == stop), "")
        if stop in self.aside:
            self.aside.remove(stop)
        elif state == "used":
            self.aside.append(stop)
        else:
            return
        self._ask()

    def _ticked(self, item: QListWidgetItem):
        stop = item.data(Qt.ItemDataRole.UserRole)
        if (item.checkState() == Qt.CheckState.Checked) == (stop in self.aside):
            self.toggle_aside(stop)

    def back_to_data(self):
        """Take every stop in again."""
        self.aside = []
        self._ask()

    # The map

    def _draw_on_map(self):
        self.overlay.set_answer(self.answer)

    def eventFilter(self, watched, event):  # noqa: N802 - name of the Qt API
        """Move the cursor of the plot to the place of the pipe that is clicked on the map."""
        if (
            event.type() == QEvent.Type.MouseButtonRelease
            and event.button() == Qt.MouseButton.LeftButton
        ):
            x = self.overlay.near(event.pos()) if self.isVisible() else None
            if x is not None:
                self.view.plot.set_cursor(x)
                self.overlay.set_cursor(x)
        return super().eventFilter(watched, event)

    def zoom_to_line(self):
        """Zoom the map to the line."""
        if self.overlay.trace is None:
            return
        box = QgsRectangle()
        for point in self.overlay.trace.points:
            box.combineExtentWith(point)
        box.grow(0.08 * max(box.width(), box.height()))
        self.canvas.setExtent(box)
        self.canvas.refresh()

    def show_on_map(self, x_m):
        """Move the map to a place of the pipe, and flash it."""
        trace = self.overlay.trace
        if trace is None:
            return
        point = trace.point(x_m)
        self.overlay.set_cursor(x_m)
        first, last = trace.points[0], trace.points[-1]
        if first.distance(last) / self.canvas.mapUnitsPerPixel() < _SHORT_PX:
            self.zoom_to_line()
        if not self.canvas.extent().buffered(-8 * self.canvas.mapUnitsPerPixel()).contains(point):
            self.canvas.setCenter(point)
            self.canvas.refresh()
        crs = self.canvas.mapSettings().destinationCrs()
        self.canvas.flashGeometries([QgsGeometry.fromPointXY(point)], crs)
