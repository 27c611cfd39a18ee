"""A plot of one line: levels at the stops, odds of the leak, and what is under the pointer."""

from __future__ import annotations

from qgis.PyQt.QtCore import QPointF, QSize, Qt, pyqtSignal
from qgis.PyQt.QtGui import QPainter, QPalette
from qgis.PyQt.QtWidgets import QSizePolicy, QWidget

from .plot_drawing import PlotDrawing, ink_of
from .plot_layout import PlotLayout

_ZOOM, _LEAST_M = 1.25, 1.0
# Pixels that an arrow key moves the cursor by.
_KEY_PX = 3


class LinePlot(QWidget):
    """The plot of the answer about a line.

    Signals
    -------
    place_clicked : float
        Distance along the pipe in metres.
    stop_clicked : str
        Name of the stop.
    """

    place_clicked = pyqtSignal(float)
    stop_clicked = pyqtSignal(str)

    def __init__(self, parent=None):
        super().__init__(parent)
        self.setObjectName("leakgeoPlot")
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMinimumSize(260, 220)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.answer, self.plot, self.shown = None, None, (0.0, 1.0)
        self.cursor_m, self.pointer, self.note = None, None, ""
        self._laid_out = None, None

    def sizeHint(self):  # noqa: N802 - names of the Qt API, here and below
        """Return the size to begin with."""
        return QSize(420, 320)

    def set_answer(self, answer):
        """Show an answer; None empties the plot. The part shown is kept for the same line."""
        same = answer and self.answer and answer["line"] == self.answer["line"]
        self.answer, self.plot = answer, answer and answer["plot"]
        length = (self.plot or {}).get("length") or 1.0
        if not same or self.shown[1] > length:
            self.shown, self.cursor_m = (0.0, length), None
        self.update()

    def set_note(self, text):
        """Show a text in the middle while there is no answer."""
        self.note = text
        self.update()

    def set_cursor(self, x_m):
        """Put the cursor at a place of the pipe; None removes it."""
        self.cursor_m = x_m
        self.update()

    def layout_of_plot(self):
        """Return where things are; None without an answer, or for a line without a length."""
        if not self.plot or not self.plot["length"]:
            return None
        key = id(self.answer), self.width(), self.height(), self.shown
        if self._laid_out[0] != key:
            layout = PlotLayout(self.answer, self.fontMetrics(), self.width(), self.height(),
                                self.shown)  # fmt: skip
            self._laid_out = key, layout
        return self._laid_out[1]

    def under(self, point):
        """Return what is at a point: kind, value and texts; None outside of the plot."""
        layout = self.layout_of_plot()
        return None if layout is None else layout.under(point)

    def hover_texts(self):
        """Return the texts at the pointer, else at the cursor."""
        if self.pointer is not None:
            found = self.under(self.pointer)
            return found[2] if found else []
        layout = self.layout_of_plot()
        return [] if layout is None or self.cursor_m is None else layout.says_here(self.cursor_m)

    def mouseMoveEvent(self, event):  # noqa: N802
        """Show what is under the pointer."""
        self.pointer = QPointF(event.pos())
        found = self.under(self.pointer)
        self.setCursor(
            Qt.CursorShape.PointingHandCursor
            if found and found[0] == "stop"
            else Qt.CursorShape.CrossCursor
        )
        self.update()

    def leaveEvent(self, _event):  # noqa: N802
        """Show what is at the cursor again."""
        self.pointer = None
        self.update()

    def mouseReleaseEvent(self, event):  # noqa: N802
        """Choose the stop, or the place of the pipe, that was clicked."""
        found = (
            self.under(QPointF(event.pos()))
            if event.button() == Qt.MouseButton.LeftButton
            else None
        )
        if found and found[0] == "stop":
            self.stop_clicked.emit(found[1]["id"])
        elif found:
            self.set_cursor(found[1])
            self.place_clicked.emit(found[1])

    def mouseDoubleClickEvent(self, _event):  # noqa: N802
        """Show the whole line again."""
        if self.layout_of_plot() is not None:
            self.shown = 0.0, self.plot["length"]
            self.update()

    def wheelEvent(self, event):  # noqa: N802
        """Zoom along the pipe about the pointer."""
        layout = self.layout_of_plot()
        if layout is None or not event.angleDelta().y():
            return
        at = layout.scale.metres(event.position().x())
        factor = _ZOOM if event.angleDelta().y() < 0 else 1.0 / _ZOOM
        width = min(max((self.shown[1] - self.shown[0]) * factor, _LEAST_M), self.plot["length"])
        share = (at - self.shown[0]) / (self.shown[1] - self.shown[0])
        begin = min(max(at - share * width, 0.0), self.plot["length"] - width)
        self.shown = begin, begin + width
        self.update()

    def keyPressEvent(self, event):  # noqa: N802
        """Move the cursor along the pipe with the arrow keys."""
        step = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}.get(event.key())
        layout = self.layout_of_plot()
        if step is None or layout is None:
            super().keyPressEvent(event)
            return
        begin = self.cursor_m if self.cursor_m is not None else self.shown[0]
        pixel = (self.shown[1] - self.shown[0]) / layout.level.width()
        self.set_cursor(min(max(begin + _KEY_PX * step * pixel, 0.0), self.plot["length"]))

    def paintEvent(self, _event):  # noqa: N802
        """Draw the plot in the colours of the window."""
        painter, layout = QPainter(self), self.layout_of_plot()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), self.palette().color(QPalette.ColorRole.Base))
        if layout is not None:
            drawing = PlotDrawing(painter, layout, self.palette())
            drawing.draw(self.cursor_m, self.pointer, self.hover_texts())
            return
        painter.setPen(ink_of(self.palette()))
        place = self.rect().adjusted(12, 0, -12, 0)
        painter.drawText(place, Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap, self.note)
