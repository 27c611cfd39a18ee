"""Drawing of the plot of a line, in the colours of the answer and of the window."""

from __future__ import annotations

from qgis.PyQt.QtCore import QPointF, QRectF, Qt
from qgis.PyQt.QtGui import QColor, QPainterPath, QPalette, QPen

from .language import local_number
from .plot_layout import BESIDE_PX, SYMBOL_PX
from .plot_scale import short_name, ticks

# Lightness of a colour, 0 to 255, below which it is dark.
_DARK = 128
_LIGHT, _BLACK = "#e6e6e6", "#14181d"
_DOT_PX = 4.0
# Lines of text at the cursor: place and probability.
_CURSOR_TEXTS = 2
# Opacity of search zones, of the band of the level's error, and of the odds, 0 to 255.
_ZONE_ALPHA, _BAND_ALPHA, _ODDS_ALPHA = 70, 45, 120
_ZONE_ALPHAS_DARK = (110, 70, 45, 25)


class PlotDrawing:
    """Draws the plot of an answer.

    Parameters
    ----------
    painter : QPainter
    layout : PlotLayout
    palette : QPalette
    """

    def __init__(self, painter, layout, palette):
        self.painter, self.layout, self.palette = painter, layout, palette
        self.answer, self.plot, self.scale = layout.answer, layout.plot, layout.scale
        self.level, self.odds, self.metrics = layout.level, layout.odds, layout.metrics
        self.dark = palette.color(QPalette.ColorRole.Base).lightness() < _DARK

    def draw(self, cursor_m, pointer, texts):
        """Draw everything: the plot, then what is at the pointer or the cursor."""
        self._draw_legend()
        self._clipped(1.0, self._draw_zones)
        self._draw_levels_axis()
        self._draw_pipe_axis()
        self._clipped(_DOT_PX + 1.0, self._draw_odds, self._draw_level, self._draw_marks,
                      self._draw_stops)  # fmt: skip
        self._draw_next()
        self._draw_fittings()
        self._draw_cursor(cursor_m)
        self._draw_said(cursor_m, pointer, texts)

    def _clipped(self, margin, *draws):
        """Draw inside the areas alone."""
        self.painter.save()
        self.painter.setClipRect(QRectF(
            self.level.left() - margin, self.level.top() - 1.0, self.level.width() + 2 * margin,
            self.odds.bottom() - self.level.top() + 2.0,
        ))  # fmt: skip
        for draw in draws:
            draw()
        self.painter.restore()

    # Colours

    def _ink(self, alpha=255):
        colour = QColor(ink_of(self.palette))
        colour.setAlpha(alpha)
        return colour

    def _colour(self, name, alpha=255):
        """Return a colour of the answer, or of the zone of that row; lighter on a dark window."""
        colours = self.answer["colours"]
        colour = QColor(colours[name] if isinstance(name, str) else colours["zones"][name])
        if self.dark and colour.lightness() < 150:
            colour = colour.lighter(165)
        colour.setAlpha(alpha)
        return colour

    def _zone_colour(self, rank):
        """Return the colour of a zone: the likelier, the more it differs from the window."""
        row = min(rank, len(self.answer["colours"]["zones"])) - 1
        if self.dark:
            return self._colour(0, _ZONE_ALPHAS_DARK[min(row, len(_ZONE_ALPHAS_DARK) - 1)])
        return self._colour(row, _ZONE_ALPHA)

    # Axes

    def _draw_levels_axis(self):
        painter, level, height = self.painter, self.level, self.metrics.height()
        most = max(int(level.height() / (2.2 * height)), 2)
        for db in ticks(self.layout.low, self.layout.high, most):
            y = self.layout.y(db)
            painter.setPen(QPen(self._ink(35), 1))
            painter.drawLine(QPointF(level.left(), y), QPointF(level.right(), y))
            self._draw_beside_axis(y - height / 2, local_number(f"{db:g}"))
        self._draw_beside_axis(self.odds.top() - 1, self.layout.highest_text)
        words, unit = self.answer["words"], self.plot["unit"]["name"]
        head = height * len(self.layout.legend) + 5 + self.metrics.ascent()
        painter.drawText(QPointF(BESIDE_PX, head), words["level"])
        painter.drawText(QPointF(BESIDE_PX, self.odds.top() - 4), f"{words['odds']} / {unit}")
        painter.setPen(QPen(self._ink(90), 1))
        painter.drawLine(level.bottomLeft(), level.bottomRight())

    def _draw_beside_axis(self, top, text):
        self.painter.setPen(self._ink(200))
        box = QRectF(0, top, self.level.left() - 4, self.metrics.height())
        self.painter.drawText(
            box, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, text
        )

    def _draw_pipe_axis(self):
        painter, odds, unit = self.painter, self.odds, self.plot["unit"]
        painter.setPen(QPen(self._ink(90), 1))
        painter.drawLine(odds.bottomLeft(), odds.bottomRight())
        ends = (x / unit["metres"] for x in self.layout.shown)
        most = max(int(odds.width() / (1.8 * self.metrics.horizontalAdvance("1000"))), 2)
        for x in ticks(*ends, most):
            px, text = self.scale.px(x * unit["metres"]), local_number(f"{x:g}")
            painter.setPen(QPen(self._ink(120), 1))
            painter.drawLine(QPointF(px, odds.bottom()), QPointF(px, odds.bottom() + 3))
            painter.setPen(self._ink(200))
            half = self.metrics.horizontalAdvance(text) / 2
            y = odds.bottom() + self.metrics.height() + 3
            painter.drawText(QPointF(px - half, y), text)
        height = self.metrics.height()
        box = QRectF(odds.left(), self.layout.height - height - 2, odds.width(), height)
        painter.drawText(
            box, Qt.AlignmentFlag.AlignHCenter, f"{unit['name']} {self.answer['words']['axis']}"
        )

    # What the answer has

    def _draw_zones(self):
        top, height = self.level.top(), self.odds.bottom() - self.level.top()
        for zone in self.plot["zones"]:
            begin, end = (self.scale.px(x) for x in zone["x"])
            area = QRectF(begin, top, max(end - begin, 2.0), height)
            self.painter.fillRect(area, self._zone_colour(zone["rank"]))

    def _draw_odds(self):
        values, odds = self.plot["odds"], self.odds
        points = [(x, d) for x, d in zip(values["x"], values["density"]) if d is not None]
        if not points:
            return
        unit = (odds.height() - 2) / (self.layout.highest or 1.0)
        path = QPainterPath(QPointF(self.scale.px(points[0][0]), odds.bottom()))
        for x, d in points:
            path.lineTo(self.scale.px(x), odds.bottom() - d * unit)
        path.lineTo(self.scale.px(points[-1][0]), odds.bottom())
        self.painter.fillPath(path, self._colour(0, _ODDS_ALPHA))
        self.painter.setPen(QPen(self._colour(0), 1.2))
        self.painter.drawPath(path)

    def _draw_level(self):
        values, y = self.plot["odds"], self.layout.y
        points = [(self.scale.px(x), db, sd or 0.0)
                  for x, db, sd in zip(values["x"], values["db"], values["sd"])
                  if db is not None]  # fmt: skip
        if not points:
            return
        band = QPainterPath(QPointF(points[0][0], y(points[0][1] + points[0][2])))
        for x, db, sd in points:
            band.lineTo(x, y(db + sd))
        for x, db, sd in reversed(points):
            band.lineTo(x, y(db - sd))
        self.painter.fillPath(band, self._colour("level", _BAND_ALPHA))
        curve = QPainterPath(QPointF(points[0][0], y(points[0][1])))
        for x, db, _ in points:
            curve.lineTo(x, y(db))
        self.painter.setPen(QPen(self._colour("level", 170), 1.3))
        self.painter.drawPath(curve)

    def _draw_marks(self):
        for mark in self.plot["marks"]:
            x = self.scale.px(mark["x"])
            self.painter.setPen(QPen(self._colour("mark"), 1.4, Qt.PenStyle.DashLine))
            self.painter.drawLine(QPointF(x, self.level.top()), QPointF(x, self.odds.bottom()))
            kind = "mark" if mark["located"] else "likeliest"
            self._draw_symbol(kind, QPointF(x, self.odds.bottom() - 8))

    def _draw_stops(self):
        for reading, at in self.layout.stops:
            if at is not None:
                self._draw_symbol(reading["state"], at)

    def _draw_symbol(self, kind, at):
        """Draw the symbol of a stop, mark, zone or fitting: shapes differ, not only colours."""
        painter, r = self.painter, _DOT_PX
        crosses = {"not_used": (r, self._ink(190), 1.4), "mark": (6.0, self._colour("mark"), 2.2)}
        rings = {"aside": (r, self._ink(220), 1.4), "likeliest": (5.5, self._colour("mark"), 2.2),
                 "next": (6.0, self._colour("water"), 1.6)}  # fmt: skip
        painter.setBrush(Qt.BrushStyle.NoBrush)
        if kind == "used":
            painter.setPen(QPen(self.palette.color(QPalette.ColorRole.Base), 1))
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

    def _draw_next(self):
        """Draw numbers of the next stops above the plot, the first ones where there is room."""
        painter, radius = self.painter, self.metrics.height() / 2 + 1
        y, taken = self.level.top() - radius - 2, []
        for stop in sorted(self.plot["next"], key=lambda each: each["order"]):
            x = self.scale.px(stop["x"])
            if not self.layout.is_inside(x):
                continue
            painter.setPen(QPen(self._colour("water", 170), 1, Qt.PenStyle.DotLine))
            painter.drawLine(QPointF(x, y + radius), QPointF(x, self.odds.bottom()))
            if any(abs(x - other) < 2 * radius for other in taken):
                continue
            taken.append(x)
            painter.setPen(QPen(self._colour("water"), 1.6))
            painter.setBrush(self.palette.color(QPalette.ColorRole.Base))
            painter.drawEllipse(QPointF(x, y), radius, radius)
            painter.setPen(self._ink())
            box = QRectF(x - radius, y - radius, 2 * radius, 2 * radius)
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, str(stop["order"]))

    def _draw_fittings(self):
        """Draw ticks of fittings on the axis, with names where there is room."""
        painter, bottom, end = self.painter, self.odds.bottom(), -1e9
        for fitting in sorted(self.plot["fittings"], key=lambda each: each["x"]):
            x = self.scale.px(fitting["x"])
            if not self.layout.is_inside(x):
                continue
            painter.setPen(QPen(self._ink(), 1.8))
            painter.drawLine(QPointF(x, bottom - 5), QPointF(x, bottom + 5))
            name = short_name(fitting["name"], self.answer["line"])
            width = self.metrics.horizontalAdvance(name)
            begin = min(max(x - width / 2, 2.0), self.layout.width - width - 2.0)
            if begin > end + BESIDE_PX:
                painter.setPen(self._ink(220))
                painter.drawText(QPointF(begin, bottom + 2 * self.metrics.height() + 3), name)
                end = begin + width

    def _draw_legend(self):
        height = self.metrics.height()
        for number, row in enumerate(self.layout.legend):
            y = 3 + number * height
            for kind, word, x in row:
                self._draw_symbol(kind, QPointF(BESIDE_PX + x + 6, y + height / 2))
                self.painter.setPen(self._ink(210))
                at = QPointF(BESIDE_PX + x + SYMBOL_PX, y + self.metrics.ascent())
                self.painter.drawText(at, word)

    # Pointer and cursor

    def _draw_cursor(self, cursor_m):
        x = None if cursor_m is None else self.scale.px(cursor_m)
        if x is not None and self.layout.is_inside(x):
            self.painter.setPen(QPen(self._ink(), 1))
            self.painter.drawLine(QPointF(x, self.level.top()), QPointF(x, self.odds.bottom()))

    def _draw_said(self, cursor_m, pointer, texts):
        if not texts:
            return
        middle = self.layout.width / 2
        if pointer is not None:
            self._draw_texts(texts, pointer, right=pointer.x() < middle)
            return
        at = QPointF(self.scale.px(cursor_m), self.odds.top())
        # Beside the peak of the odds, not over it.
        peak = self.scale.px(self.plot["marks"][0]["x"]) if self.plot["marks"] else middle
        self._draw_texts(texts[:_CURSOR_TEXTS], at, right=at.x() >= peak)

    def _draw_texts(self, texts, at, *, right):
        """Draw texts in a box on one side of a point, or on the other if there is more room."""
        painter, room = self.painter, BESIDE_PX
        longest = max(self.metrics.horizontalAdvance(text) for text in texts)
        rooms = {True: self.layout.width - at.x() - 18.0, False: at.x() - 18.0}
        widest = min(longest + 2 * room + 4.0, max(rooms.values()))
        right = right if rooms[right] >= widest else rooms[True] > rooms[False]
        flags, text = (
            Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop | Qt.TextFlag.TextWordWrap,
            "\n".join(texts),
        )
        inner = QRectF(0, 0, widest - 2 * room, 1000)
        height = painter.boundingRect(inner, flags, text).height() + 2 * room
        left = at.x() + 14 if right else at.x() - 14 - widest
        top = min(max(at.y() + 10, 4.0), max(self.layout.height - height - 4.0, 4.0))
        box = QRectF(left, top, widest, height)
        painter.setPen(QPen(self._ink(120), 1))
        painter.setBrush(self.palette.color(QPalette.ColorRole.ToolTipBase))
        painter.drawRoundedRect(box, 3, 3)
        painter.setPen(self.palette.color(QPalette.ColorRole.ToolTipText))
        painter.drawText(box.adjusted(room, room, -room, -room), flags, text)


def ink_of(palette):
    """Return the colour of texts, which differs from the window's.

    A theme may colour texts by its style sheet, and leave the palette as it was.
    """
    base = palette.color(QPalette.ColorRole.Base).lightness()
    usual = [
        QColor(palette.color(role))
        for role in (QPalette.ColorRole.Text, QPalette.ColorRole.WindowText)
    ]
    either = QColor(_LIGHT if base < _DARK else _BLACK)
    return next((c for c in usual if abs(c.lightness() - base) > _DARK), either)
