"""A plot of one line: levels at the stops, odds of the leak, and what is under the pointer."""

from __future__ import annotations

import math

from qgis.PyQt.QtCore import QPointF, QRectF, QSize, Qt, pyqtSignal
from qgis.PyQt.QtGui import QColor, QPainter, QPainterPath, QPalette, QPen
from qgis.PyQt.QtWidgets import QSizePolicy, QWidget

from .plot_scale import Scale, short_name, ticks

# Nearer than this to a stop, a tick or a mark, in pixels, the pointer is on it.
_NEAR_PX = 9.0
# Lightness of a colour, 0 to 255, below which it is dark.
_DARK = 128
_LIGHT, _BLACK = "#e6e6e6", "#14181d"
_DOT_PX = 4.0
# Lines of text at the cursor: place and probability.
_CURSOR_TEXTS = 2
_BESIDE_PX = 6
_ZOOM, _LEAST_M = 1.25, 1.0
# Opacity of search zones, of the band of the level's error, and of the odds, 0 to 255.
_ZONE_ALPHA, _BAND_ALPHA, _ODDS_ALPHA = 70, 45, 120
_ZONE_ALPHAS_DARK = (110, 70, 45, 25)
_LEVEL_SHARE = 0.58


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
        self.setFocusPolicy(Qt.StrongFocus)
        self.setMinimumSize(260, 220)
        self.setSizePolicy(QSizePolicy.Expanding, QSizePolicy.Expanding)
        self.answer, self.plot, self.shown = None, None, (0.0, 1.0)
        self.cursor_m, self.pointer = None, None
        self.note = ""

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

    # Geometry of the plot

    def _areas(self):
        """Return the areas of levels and odds."""
        line = self.fontMetrics().height()
        labels = ("-100", self._highest_text())
        left = max(self.fontMetrics().horizontalAdvance(text) for text in labels) + _BESIDE_PX
        top = line * len(self._legend_rows(self.width() - 2 * _BESIDE_PX)) + line + 8
        top += line + 8 if self.plot["next"] else 0
        bottom = self.height() - 3 * line - 8
        width, height = max(self.width() - left - 10, 10), max(bottom - top, 40)
        level = QRectF(left, top, width, height * _LEVEL_SHARE)
        odds_top = level.bottom() + line + 6
        return level, QRectF(left, odds_top, width, max(bottom - odds_top, 20))

    def scale(self):
        """Return the scale from metres along the pipe to pixels."""
        level, _ = self._areas()
        return Scale(*self.shown, level.left(), level.right())

    def _levels(self):
        """Return the lowest and the highest level to show."""
        odds = self.plot["odds"]
        found = [r["db"] for r in self.plot["readings"] if r["db"] is not None]
        found += [db + side * sd for db, sd in zip(odds["db"], odds["sd"])
                  if db is not None and sd is not None for side in (-1, 1)]  # fmt: skip
        low, high = (min(found), max(found)) if found else (0.0, 1.0)
        room = max(0.06 * (high - low), 1.0)
        return low - room, high + room

    def place_of(self, reading):
        """Return the point of a stop in the plot; None for one without a place."""
        if reading["x"] is None:
            return None
        level, _ = self._areas()
        low, high = self._levels()
        db = reading["db"] if reading["db"] is not None else low
        y = level.bottom() - (db - low) / (high - low) * level.height()
        return QPointF(self.scale().px(reading["x"]), y)

    # What is under the pointer

    def under(self, point):
        """Return what is at a point: kind, value and texts; None outside of the plot."""
        if not self.plot or not self.plot["length"]:
            return None
        level, _ = self._areas()
        for reading in self.plot["readings"]:
            at = self.place_of(reading)
            if at is not None and math.hypot(at.x() - point.x(), at.y() - point.y()) < _NEAR_PX:
                return "stop", reading, reading["says"]
        x = self.scale().metres(point.x())
        if not level.left() - 2 <= point.x() <= level.right() + 2:
            return None
        return "place", min(max(x, 0.0), self.plot["length"]), self._says_of(x, point.x())

    def _says_of(self, x, px):
        scale = self.scale()
        says = []
        for name in ("next", "marks", "fittings"):
            near = [
                (abs(scale.px(each["x"]) - px), k)
                for k, each in enumerate(self.plot[name])
                if each["x"] is not None
            ]
            away, nearest = min(near, default=(_NEAR_PX, 0))
            says += self.plot[name][nearest]["says"][:1] if away < _NEAR_PX else []
        says += self._here(x)
        zones = [z for z in self.plot["zones"] if z["x"][0] <= x <= z["x"][1]]
        return says + [text for zone in zones[-1:] for text in zone["says"]]

    def _here(self, x):
        """Return what is said of a place along the pipe."""
        here = self.plot["here"]
        if not here or not here["says"]:
            return []
        row = round(x / here["step"]) if here["step"] else 0
        return here["says"][min(max(row, 0), len(here["says"]) - 1)]

    def hover_texts(self):
        """Return the texts at the pointer, else at the cursor."""
        if self.pointer is not None:
            found = self.under(self.pointer)
            return found[2] if found else []
        if self.cursor_m is None or not self.plot:
            return []
        return self._here(self.cursor_m)

    def mouseMoveEvent(self, event):  # noqa: N802
        """Show what is under the pointer."""
        self.pointer = QPointF(event.pos())
        found = self.under(self.pointer)
        self.setCursor(Qt.PointingHandCursor if found and found[0] == "stop" else Qt.CrossCursor)
        self.update()

    def leaveEvent(self, _event):  # noqa: N802
        """Show what is at the cursor again."""
        self.pointer = None
        self.update()

    def mouseReleaseEvent(self, event):  # noqa: N802
        """Choose the stop, or the place of the pipe, that was clicked."""
        found = self.under(QPointF(event.pos())) if event.button() == Qt.LeftButton else None
        if found and found[0] == "stop":
            self.stop_clicked.emit(found[1]["id"])
        elif found:
            self.set_cursor(found[1])
            self.place_clicked.emit(found[1])

    def mouseDoubleClickEvent(self, _event):  # noqa: N802
        """Show the whole line again."""
        if self.plot and self.plot["length"]:
            self.shown = 0.0, self.plot["length"]
            self.update()

    def wheelEvent(self, event):  # noqa: N802
        """Zoom along the pipe about the pointer."""
        if not self.plot or not self.plot["length"] or not event.angleDelta().y():
            return
        at = self.scale().metres(event.position().x())
        factor = _ZOOM if event.angleDelta().y() < 0 else 1.0 / _ZOOM
        width = min(max((self.shown[1] - self.shown[0]) * factor, _LEAST_M), self.plot["length"])
        share = (at - self.shown[0]) / (self.shown[1] - self.shown[0])
        begin = min(max(at - share * width, 0.0), self.plot["length"] - width)
        self.shown = begin, begin + width
        self.update()

    def keyPressEvent(self, event):  # noqa: N802
        """Move the cursor along the pipe with the arrow keys."""
        step = {Qt.Key_Left: -1, Qt.Key_Right: 1}.get(event.key())
        if step is None or not self.plot or not self.plot["length"]:
            super().keyPressEvent(event)
            return
        begin = self.cursor_m if self.cursor_m is not None else self.shown[0]
        pixel = (self.shown[1] - self.shown[0]) / max(self._areas()[0].width(), 1.0)
        self.set_cursor(min(max(begin + 3 * step * pixel, 0.0), self.plot["length"]))

    # Drawing

    def paintEvent(self, _event):  # noqa: N802
        """Draw the plot in the colours of the window."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.Antialiasing)
        painter.fillRect(self.rect(), self.palette().color(QPalette.Base))
        if not self.plot or not self.plot["length"]:
            painter.setPen(self._ink())
            painter.drawText(self.rect().adjusted(12, 0, -12, 0),
                             Qt.AlignCenter | Qt.TextWordWrap, self.note)  # fmt: skip
            return
        level, odds = self._areas()
        scale = self.scale()
        self._draw_legend(painter)
        painter.save()
        painter.setClipRect(QRectF(level.left() - 1, level.top(), level.width() + 2,
                                   odds.bottom() - level.top()))  # fmt: skip
        self._draw_zones(painter, scale, level, odds)
        painter.restore()
        self._draw_frames(painter, scale, level, odds)
        painter.save()
        painter.setClipRect(
            QRectF(
                level.left() - _DOT_PX - 1,
                level.top() - 1,
                level.width() + 2 * _DOT_PX + 2,
                odds.bottom() - level.top() + 2,
            )
        )
        self._draw_odds(painter, scale, odds)
        self._draw_level(painter, scale, level)
        self._draw_marks(painter, scale, level, odds)
        for reading in self.plot["readings"]:
            self._draw_stop(painter, reading)
        painter.restore()
        self._draw_next(painter, scale, level, odds)
        self._draw_fittings(painter, scale, odds)
        self._draw_cursor(painter, scale, level, odds)

    def _ink(self, alpha=255):
        base, palette = self.palette().color(QPalette.Base), self.palette()
        # A theme may colour texts by its style sheet, and leave the palette as it was.
        usual = [QColor(palette.color(role)) for role in (QPalette.Text, QPalette.WindowText)]
        either = QColor(_LIGHT if self._is_dark() else _BLACK)
        colour = next((c for c in usual if abs(c.lightness() - base.lightness()) > _DARK), either)
        colour.setAlpha(alpha)
        return colour

    def _colour(self, name, alpha=255):
        """Return a colour of the answer, lighter where the window is dark."""
        text = self.answer["colours"][name] if isinstance(name, str) else \
            self.answer["colours"]["zones"][name]  # fmt: skip
        colour = QColor(text)
        if self._is_dark() and colour.lightness() < 150:
            colour = colour.lighter(165)
        colour.setAlpha(alpha)
        return colour

    def _draw_zones(self, painter, scale, level, odds):
        for zone in self.plot["zones"]:
            begin, end = (scale.px(x) for x in zone["x"])
            area = QRectF(begin, level.top(), max(end - begin, 2.0), odds.bottom() - level.top())
            painter.fillRect(area, self._zone_colour(zone["rank"]))

    def _zone_colour(self, rank):
        """Return the colour of a zone: the likelier, the more it differs from the window."""
        row = min(rank, len(self.answer["colours"]["zones"])) - 1
        if self._is_dark():
            return self._colour(0, _ZONE_ALPHAS_DARK[min(row, len(_ZONE_ALPHAS_DARK) - 1)])
        return self._colour(row, _ZONE_ALPHA)

    def _is_dark(self):
        return self.palette().color(QPalette.Base).lightness() < _DARK

    def _draw_frames(self, painter, scale, level, odds):
        unit, words = self.plot["unit"], self.answer["words"]
        metrics = self.fontMetrics()
        painter.setPen(QPen(self._ink(90), 1))
        painter.drawLine(level.bottomLeft(), level.bottomRight())
        painter.drawLine(odds.bottomLeft(), odds.bottomRight())
        low, high = self._levels()
        for db in ticks(low, high, max(int(level.height() / (2.2 * metrics.height())), 2)):
            y = level.bottom() - (db - low) / (high - low) * level.height()
            painter.setPen(QPen(self._ink(35), 1))
            painter.drawLine(QPointF(level.left(), y), QPointF(level.right(), y))
            painter.setPen(self._ink(200))
            box = QRectF(0, y - metrics.height() / 2, level.left() - 4, metrics.height())
            painter.drawText(box, Qt.AlignRight | Qt.AlignVCenter, f"{db:g}")
        painter.setPen(self._ink(200))
        head = metrics.height() * len(self._legend_rows(self.width() - 2 * _BESIDE_PX)) + 5
        painter.drawText(QPointF(_BESIDE_PX, head + metrics.ascent()), words["level"])
        title = f"{words['odds']} / {unit['name']}"
        painter.drawText(QPointF(_BESIDE_PX, odds.top() - 4), title)
        box = QRectF(0, odds.top() - 1, level.left() - 4, metrics.height())
        painter.drawText(box, Qt.AlignRight | Qt.AlignVCenter, self._highest_text())
        width = metrics.horizontalAdvance("1000") * 1.8
        y = odds.bottom() + metrics.height() + 6
        low, high = (x / unit["metres"] for x in self.shown)
        last = f"{unit['name']} {words['axis']}"
        for x in ticks(low, high, max(int(level.width() / width), 2)):
            px = scale.px(x * unit["metres"])
            painter.setPen(QPen(self._ink(120), 1))
            painter.drawLine(QPointF(px, odds.bottom()), QPointF(px, odds.bottom() + 3))
            painter.setPen(self._ink(200))
            text = f"{x:g}"
            half = metrics.horizontalAdvance(text) / 2
            painter.drawText(QPointF(px - half, y - 3), text)
        painter.drawText(QRectF(level.left(), self.height() - metrics.height() - 2, level.width(),
                                metrics.height()), Qt.AlignHCenter, last)  # fmt: skip

    def _draw_odds(self, painter, scale, odds):
        values = self.plot["odds"]
        points = [(x, d) for x, d in zip(values["x"], values["density"]) if d is not None]
        if not points:
            return
        highest = self._highest() or 1.0
        path = QPainterPath(QPointF(scale.px(points[0][0]), odds.bottom()))
        for x, d in points:
            path.lineTo(scale.px(x), odds.bottom() - d / highest * (odds.height() - 2))
        path.lineTo(scale.px(points[-1][0]), odds.bottom())
        painter.fillPath(path, self._colour(0, _ODDS_ALPHA))
        painter.setPen(QPen(self._colour(0), 1.2))
        painter.drawPath(path)

    def _highest(self):
        """Return the highest density of the odds, for each unit of length."""
        return max((d for d in self.plot["odds"]["density"] if d is not None), default=0.0)

    def _highest_text(self):
        highest = self._highest()
        return f"{100 * highest:.2g} %" if highest else ""

    def _draw_level(self, painter, scale, level):
        values = self.plot["odds"]
        low, high = self._levels()
        points = [(scale.px(x), db, sd or 0.0)
                  for x, db, sd in zip(values["x"], values["db"], values["sd"])
                  if db is not None]  # fmt: skip
        if not points:
            return

        def y(db):
            return level.bottom() - (db - low) / (high - low) * level.height()

        band = QPainterPath(QPointF(points[0][0], y(points[0][1] + points[0][2])))
        for x, db, sd in points:
            band.lineTo(x, y(db + sd))
        for x, db, sd in reversed(points):
            band.lineTo(x, y(db - sd))
        painter.fillPath(band, self._colour("level", _BAND_ALPHA))
        curve = QPainterPath(QPointF(points[0][0], y(points[0][1])))
        for x, db, _ in points:
            curve.lineTo(x, y(db))
        painter.setPen(QPen(self._colour("level", 170), 1.3))
        painter.drawPath(curve)

    def _draw_marks(self, painter, scale, level, odds):
        for mark in self.plot["marks"]:
            x = scale.px(mark["x"])
            painter.setPen(QPen(self._colour("mark"), 1.4, Qt.DashLine))
            painter.drawLine(QPointF(x, level.top()), QPointF(x, odds.bottom()))
            self._draw_symbol(painter, "mark" if mark["located"] else "likeliest",
                              QPointF(x, odds.bottom() - 8))  # fmt: skip

    def _draw_stop(self, painter, reading):
        at = self.place_of(reading)
        if at is not None:
            self._draw_symbol(painter, reading["state"], at)

    def _draw_symbol(self, painter, kind, at):
        """Draw the symbol of a stop, mark, zone or fitting: shapes differ, not only colours."""
        r = _DOT_PX
        crosses = {"not_used": (r, self._ink(190), 1.4), "mark": (6.0, self._colour("mark"), 2.2)}
        rings = {"aside": (r, self._ink(220), 1.4), "likeliest": (5.5, self._colour("mark"), 2.2),
                 "next": (6.0, self._colour("water"), 1.6)}  # fmt: skip
        painter.setBrush(Qt.NoBrush)
        if kind == "used":
            painter.setPen(QPen(self.palette().color(QPalette.Base), 1))
            painter.setBrush(self._colour("level"))
            painter.drawEllipse(at, r, r)
        elif kind in crosses:
            size, colour, width = crosses[kind]
            painter.setPen(QPen(colour, width))
            painter.drawLine(at + QPointF(-size, -size), at + QPointF(size, size))
            painter.drawLine(at + QPointF(-size, size), at + QPointF(size, -size))
        elif kind in rings:
            size, colour, width = rings[kind]
            painter.setPen(QPen(colour, width))
            painter.drawEllipse(at, size, size)
            if kind == "aside":
                painter.drawLine(at + QPointF(-r - 1, r + 1), at + QPointF(r + 1, -r - 1))
        elif kind == "zone":
            painter.fillRect(QRectF(at.x() - 5, at.y() - 5, 10, 10), self._colour(0, 130))
        else:
            painter.setPen(QPen(self._ink(), 1.6))
            painter.drawLine(at + QPointF(0, -5), at + QPointF(0, 5))

    def _draw_next(self, painter, scale, level, odds):
        metrics = self.fontMetrics()
        radius = metrics.height() / 2 + 1
        y, taken = level.top() - radius - 2, []
        for stop in sorted(self.plot["next"], key=lambda each: each["order"]):
            x = scale.px(stop["x"])
            if not level.left() - 1 <= x <= level.right() + 1:
                continue
            painter.setPen(QPen(self._colour("water", 170), 1, Qt.DotLine))
            painter.drawLine(QPointF(x, y + radius), QPointF(x, odds.bottom()))
            if any(abs(x - other) < 2 * radius for other in taken):
                continue
            taken.append(x)
            painter.setPen(QPen(self._colour("water"), 1.6))
            painter.setBrush(self.palette().color(QPalette.Base))
            painter.drawEllipse(QPointF(x, y), radius, radius)
            painter.setBrush(Qt.NoBrush)
            painter.setPen(self._ink())
            painter.drawText(QRectF(x - radius, y - radius, 2 * radius, 2 * radius),
                             Qt.AlignCenter, str(stop["order"]))  # fmt: skip

    def _draw_fittings(self, painter, scale, odds):
        """Draw ticks of fittings on the axis, with names where there is room."""
        metrics, end = self.fontMetrics(), -1e9
        y = odds.bottom() + 2 * metrics.height() + 5
        for fitting in sorted(self.plot["fittings"], key=lambda each: each["x"]):
            x = scale.px(fitting["x"])
            if not odds.left() - 1 <= x <= odds.right() + 1:
                continue
            painter.setPen(QPen(self._ink(), 1.8))
            painter.drawLine(QPointF(x, odds.bottom() - 5), QPointF(x, odds.bottom() + 5))
            name = short_name(fitting["name"], self.answer["line"])
            width = metrics.horizontalAdvance(name)
            begin = min(max(x - width / 2, 2.0), self.width() - width - 2.0)
            if begin > end + _BESIDE_PX:
                painter.setPen(self._ink(220))
                painter.drawText(QPointF(begin, y - 2), name)
                end = begin + width

    def _draw_cursor(self, painter, scale, level, odds):
        if self.cursor_m is not None:
            x = scale.px(self.cursor_m)
            if level.left() - 1 <= x <= level.right() + 1:
                painter.setPen(QPen(self._ink(), 1))
                painter.drawLine(QPointF(x, level.top()), QPointF(x, odds.bottom()))
        texts = self.hover_texts()
        if texts and self.pointer is not None:
            self._draw_texts(
                painter, texts, self.pointer, right=self.pointer.x() < self.width() / 2
            )
        elif texts:
            at = QPointF(scale.px(self.cursor_m), odds.top())
            # Beside the peak of the odds, not over it.
            peak = scale.px(self.plot["marks"][0]["x"]) if self.plot["marks"] else self.width() / 2
            self._draw_texts(painter, texts[:_CURSOR_TEXTS], at, right=at.x() >= peak)

    def _draw_texts(self, painter, texts, at, *, right):
        """Draw texts in a box on one side of a point, or on the other if there is no room."""
        longest = max(self.fontMetrics().horizontalAdvance(text) for text in texts)
        rooms = {True: self.width() - at.x() - 18.0, False: at.x() - 18.0}
        widest = min(longest + 2 * _BESIDE_PX + 4.0, max(rooms.values()))
        right = right if rooms[right] >= widest else rooms[True] > rooms[False]
        flags = Qt.AlignLeft | Qt.AlignTop | Qt.TextWordWrap
        text = "\n".join(texts)
        inner = QRectF(0, 0, widest - 2 * _BESIDE_PX, 1000)
        height = painter.boundingRect(inner, flags, text).height() + 2 * _BESIDE_PX
        left = at.x() + 14 if right else at.x() - 14 - widest
        top = min(max(at.y() + 10, 4.0), max(self.height() - height - 4.0, 4.0))
        box = QRectF(left, top, widest, height)
        painter.setPen(QPen(self._ink(120), 1))
        painter.setBrush(self.palette().color(QPalette.ToolTipBase))
        painter.drawRoundedRect(box, 3, 3)
        painter.setBrush(Qt.NoBrush)
        painter.setPen(self.palette().color(QPalette.ToolTipText))
        painter.drawText(
            box.adjusted(_BESIDE_PX, _BESIDE_PX, -_BESIDE_PX, -_BESIDE_PX), flags, text
        )

    # Legend

    def _legend(self):
        """Return kinds in the plot, with their words."""
        words = self.answer["words"]
        states = {reading["state"] for reading in self.plot["readings"]}
        named = (("used", "l_used"), ("not_used", "l_unused"), ("aside", "l_aside"))
        kinds = [(kind, words[code]) for kind, code in named if kind in states]
        kinds += [("zone", words["l_zone"])] if self.plot["zones"] else []
        kinds += [("mark" if m["located"] else "likeliest",
                   words["l_mark" if m["located"] else "l_likeliest"])
                  for m in self.plot["marks"][:1]]  # fmt: skip
        kinds += [("next", words["l_next"])] if self.plot["next"] else []
        return kinds + ([("fitting", words["l_fitting"])] if self.plot["fittings"] else [])

    def _legend_rows(self, width):
        """Return the entries of the legend in rows that fit a width, each with its x."""
        rows, x = [[]], 0.0
        for kind, word in self._legend():
            needed = 16 + self.fontMetrics().horizontalAdvance(word) + 12
            if rows[-1] and x + needed > width:
                rows.append([])
                x = 0.0
            rows[-1].append((kind, word, x))
            x += needed
        return rows

    def _draw_legend(self, painter):
        metrics = self.fontMetrics()
        for number, row in enumerate(self._legend_rows(self.width() - 2 * _BESIDE_PX)):
            y = 3 + number * metrics.height()
            for kind, word, x in row:
                at = QPointF(_BESIDE_PX + x + 6, y + metrics.height() / 2)
                self._draw_symbol(painter, kind, at)
                painter.setBrush(Qt.NoBrush)
                painter.setPen(self._ink(210))
                painter.drawText(QPointF(_BESIDE_PX + x + 16, y + metrics.ascent()), word)
