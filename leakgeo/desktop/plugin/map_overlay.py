"""What the panel draws on the map; it is no layer, and is not saved with the project."""

from __future__ import annotations

import math
from bisect import bisect_right

from qgis.core import QgsCoordinateReferenceSystem, QgsCoordinateTransform, QgsPointXY, QgsProject
from qgis.gui import QgsMapCanvasItem
from qgis.PyQt.QtCore import QPointF, QRectF, Qt
from qgis.PyQt.QtGui import QColor, QPainter, QPen

_RADIUS_PX = 10.0
# A click this near to the pipe, in pixels, is on it.
_NEAR_PX = 14.0


class Trace:
    """The route of an answer on the map: places along it, and the nearest place to a point."""

    def __init__(self, route, canvas):
        crs = QgsCoordinateReferenceSystem(route["crs"]) if route["crs"] else (
            QgsCoordinateReferenceSystem.fromWkt(route["wkt"])
        )  # fmt: skip
        if not crs.isValid():
            crs = QgsCoordinateReferenceSystem.fromWkt(route["wkt"])
        to_map = QgsCoordinateTransform(
            crs, canvas.mapSettings().destinationCrs(), QgsProject.instance()
        )
        self.points = [to_map.transform(QgsPointXY(*at)) for at in route["at"]]
        self.along = route["x"]

    def point(self, x_m):
        """Return the place at a distance along the pipe."""
        k = min(max(bisect_right(self.along, x_m), 1), len(self.along) - 1)
        begin, end = self.along[k - 1], self.along[k]
        share = min(max((x_m - begin) / (end - begin), 0.0), 1.0) if end > begin else 0.0
        a, b = self.points[k - 1], self.points[k]
        return QgsPointXY(a.x() + share * (b.x() - a.x()), a.y() + share * (b.y() - a.y()))

    def nearest(self, point):
        """Return the distance along the pipe of the place nearest to a point, and how far it is."""
        best = 0.0, math.inf
        for k in range(1, len(self.points)):
            a, b = self.points[k - 1], self.points[k]
            dx, dy = b.x() - a.x(), b.y() - a.y()
            square = dx * dx + dy * dy
            share = ((point.x() - a.x()) * dx + (point.y() - a.y()) * dy) / square if square else 0
            share = min(max(share, 0.0), 1.0)
            away = math.hypot(a.x() + share * dx - point.x(), a.y() + share * dy - point.y())
            if away < best[1]:
                best = self.along[k - 1] + share * (self.along[k] - self.along[k - 1]), away
        return best

    def part(self, begin, end):
        """Return the points of a part of the pipe."""
        inside = [p for p, x in zip(self.points, self.along) if begin < x < end]
        return [self.point(begin), *inside, self.point(end)]


class MapOverlay(QgsMapCanvasItem):
    """Search zones, next stops by number, and the cursor, drawn over the map."""

    def __init__(self, canvas):
        super().__init__(canvas)
        self.canvas, self.answer, self.trace, self.cursor_m = canvas, None, None, None
        self.setZValue(1000)

    def set_answer(self, answer):
        """Show an answer; None removes it."""
        route = answer["plot"]["route"] if answer else None
        self.answer = answer
        self.trace = Trace(route, self.canvas) if route else None
        if self.trace is None:
            self.cursor_m = None
        self.updateCanvas()

    def set_cursor(self, x_m):
        """Show the cursor at a distance along the pipe."""
        self.cursor_m = x_m
        self.updateCanvas()

    def near(self, pixel):
        """Return the place of the pipe at a pixel of the map; None off the pipe."""
        if self.trace is None:
            return None
        point = self.canvas.getCoordinateTransform().toMapCoordinates(pixel.x(), pixel.y())
        x, away = self.trace.nearest(point)
        return x if away / self.canvas.mapUnitsPerPixel() <= _NEAR_PX else None

    def boundingRect(self):  # noqa: N802 - names of the Qt API, here and below
        """Return the whole map."""
        return QRectF(0.0, 0.0, self.canvas.width(), self.canvas.height())

    def updatePosition(self):  # noqa: N802
        """Draw again as the map moves."""
        self.prepareGeometryChange()
        self.setPos(0.0, 0.0)

    def paint(self, painter, _option=None, _widget=None):
        """Draw zones, next stops and cursor."""
        if self.trace is None:
            return
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        colours = self.answer["colours"]
        for zone in self.answer["plot"]["zones"][-3:]:
            rank = min(zone["rank"], len(colours["zones"]))
            self._draw_part(painter, zone["x"], QColor(colours["zones"][rank - 1]))
        for stop in reversed(self.answer["plot"]["next"]):
            self._draw_stop(painter, stop, QColor(colours["water"]))
        if self.cursor_m is not None:
            self._draw_cursor(painter, QColor(colours["ink"]))

    def _px(self, x_m):
        return QPointF(self.toCanvasCoordinates(self.trace.point(x_m)))

    def _draw_part(self, painter, ends, colour):
        colour.setAlpha(150)
        painter.setPen(QPen(colour, 7, Qt.PenStyle.SolidLine, Qt.PenCapStyle.FlatCap))
        points = [QPointF(self.toCanvasCoordinates(p)) for p in self.trace.part(*ends)]
        for k in range(1, len(points)):
            painter.drawLine(points[k - 1], points[k])

    def _draw_stop(self, painter, stop, colour):
        at = self._px(stop["x"])
        painter.setPen(QPen(colour, 2))
        painter.setBrush(QColor("white"))
        painter.drawEllipse(at, _RADIUS_PX, _RADIUS_PX)
        painter.setPen(QColor("black"))
        box = QRectF(at.x() - _RADIUS_PX, at.y() - _RADIUS_PX, 2 * _RADIUS_PX, 2 * _RADIUS_PX)
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, str(stop["order"]))

    def _draw_cursor(self, painter, colour):
        at = self._px(self.cursor_m)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor("white"), 4))
        painter.drawEllipse(at, 7.0, 7.0)
        painter.setPen(QPen(colour, 2))
        painter.drawEllipse(at, 7.0, 7.0)
        painter.drawLine(at + QPointF(0, -12), at + QPointF(0, 12))
        painter.drawLine(at + QPointF(-12, 0), at + QPointF(12, 0))
