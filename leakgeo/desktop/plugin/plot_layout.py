"""Where things are in the plot of a line, worked out once for an answer and a size."""

from __future__ import annotations

import math

from qgis.PyQt.QtCore import QPointF, QRectF

from .language import local_number
from .plot_scale import Scale

# Nearer than this to a stop, a tick or a mark, in pixels, the pointer is on it.
NEAR_PX = 9.0
#: Distance between texts and what is beside them, and room for a symbol of the legend.
BESIDE_PX, SYMBOL_PX = 6, 16
_LEVEL_SHARE, _RIGHT_PX, _APART_PX = 0.58, 10, 12


class PlotLayout:
    """Areas, scales and places of stops in the plot of an answer.

    Parameters
    ----------
    answer : dict
    metrics : QFontMetrics
    width, height : int
        Of the widget, in pixels.
    shown : tuple of float
        Both ends of the part of the pipe that is shown, in metres.
    """

    def __init__(self, answer, metrics, width, height, shown):
        self.answer, self.plot, self.metrics = answer, answer["plot"], metrics
        self.width, self.height, self.shown = width, height, shown
        self.highest = max((d for d in self.plot["odds"]["density"] if d is not None), default=0.0)
        self.highest_text = local_number(f"{100 * self.highest:.2g} %") if self.highest else ""
        self.legend = self._legend_rows()
        self.level, self.odds = self._areas()
        self.scale = Scale(*shown, self.level.left(), self.level.right())
        self.low, self.high = self._levels()
        self.stops = [(reading, self._place(reading)) for reading in self.plot["readings"]]

    def _areas(self):
        """Return the areas of levels and odds."""
        line = self.metrics.height()
        labels = ("-100", self.highest_text)
        left = max(self.metrics.horizontalAdvance(text) for text in labels) + BESIDE_PX
        top = line * len(self.legend) + line + 8
        # The numbers of the next stops have a row of their own.
        top += line + 8 if self.plot["next"] else 0
        bottom = self.height - 3 * line - 8
        width, height = max(self.width - left - _RIGHT_PX, 10), max(bottom - top, 40)
        level = QRectF(left, top, width, height * _LEVEL_SHARE)
        odds_top = level.bottom() + line + 6
        return level, QRectF(left, odds_top, width, max(bottom - odds_top, 20))

    def _levels(self):
        """Return the lowest and the highest level to show."""
        odds = self.plot["odds"]
        found = [r["db"] for r in self.plot["readings"] if r["db"] is not None]
        found += [db + side * sd for db, sd in zip(odds["db"], odds["sd"])
                  if db is not None and sd is not None for side in (-1, 1)]  # fmt: skip
        low, high = (min(found), max(found)) if found else (0.0, 1.0)
        room = max(0.06 * (high - low), 1.0)
        return low - room, high + room

    def y(self, db):
        """Return the pixel of a level."""
        share = (db - self.low) / (self.high - self.low)
        return self.level.bottom() - share * self.level.height()

    def _place(self, reading):
        """Return the point of a stop; None for one without a place. One without level is below."""
        if reading["x"] is None:
            return None
        db = self.low if reading["db"] is None else reading["db"]
        return QPointF(self.scale.px(reading["x"]), self.y(db))

    def is_inside(self, px):
        """Return whether a pixel is between the ends of the axis."""
        return self.level.left() - 1 <= px <= self.level.right() + 1

    # What is under the pointer

    def under(self, point):
        """Return what is at a point: kind, value and texts; None outside of the plot."""
        near = [(math.hypot(at.x() - point.x(), at.y() - point.y()), k)
                for k, (_, at) in enumerate(self.stops) if at is not None]  # fmt: skip
        away, nearest = min(near, default=(NEAR_PX, 0))
        if away < NEAR_PX:
            reading = self.stops[nearest][0]
            return "stop", reading, reading["says"]
        if not self.is_inside(point.x()):
            return None
        x = min(max(self.scale.metres(point.x()), 0.0), self.plot["length"])
        return "place", x, self._says_of(x, point.x())

    def _says_of(self, x, px):
        """Return what is said of the nearest things at a pixel, of the place, and of its zone."""
        says = []
        for name in ("next", "marks", "fittings"):
            near = [(abs(self.scale.px(each["x"]) - px), k)
                    for k, each in enumerate(self.plot[name]) if each["x"] is not None]  # fmt: skip
            away, nearest = min(near, default=(NEAR_PX, 0))
            says += self.plot[name][nearest]["says"][:1] if away < NEAR_PX else []
        says += self.says_here(x)
        zones = [z for z in self.plot["zones"] if z["x"][0] <= x <= z["x"][1]]
        return says + [text for zone in zones[-1:] for text in zone["says"]]

    def says_here(self, x):
        """Return what is said of a place along the pipe."""
        here = self.plot["here"]
        if not here or not here["says"]:
            return []
        row = round(x / here["step"]) if here["step"] else 0
        return here["says"][min(max(row, 0), len(here["says"]) - 1)]

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

    def _legend_rows(self):
        """Return the entries of the legend in rows that fit the width, each with its x."""
        rows, x = [[]], 0.0
        for kind, word in self._legend():
            needed = SYMBOL_PX + self.metrics.horizontalAdvance(word) + _APART_PX
            if rows[-1] and x + needed > self.width - 2 * BESIDE_PX:
                rows.append([])
                x = 0.0
            rows[-1].append((kind, word, x))
            x += needed
        return rows
