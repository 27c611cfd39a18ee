"""The scale of a plot: pixels, ticks at round numbers, and names that fit."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Scale:
    """A linear scale from metres, `begin` to `end`, to pixels, `left` to `right`."""

    begin: float
    end: float
    left: float
    right: float

    def px(self, metres):
        """Return the pixel of a place."""
        share = (metres - self.begin) / (self.end - self.begin)
        return self.left + share * (self.right - self.left)

    def metres(self, px):
        """Return the place at a pixel."""
        share = (px - self.left) / (self.right - self.left)
        return self.begin + share * (self.end - self.begin)


def ticks(low, high, most):
    """Return at most `most` round numbers from `low` to `high`, at equal steps of 1, 2 or 5.

    Examples
    --------
    >>> ticks(0.0, 76.9, 5)
    [0.0, 20.0, 40.0, 60.0]
    >>> ticks(-3.2, 1.1, 9)
    [-3.0, -2.5, -2.0, -1.5, -1.0, -0.5, 0.0, 0.5, 1.0]
    """
    span = high - low
    if not span > 0.0:
        return [low]
    size = 10.0 ** math.floor(math.log10(span / max(most, 1)))
    for factor in (1.0, 2.0, 5.0, 10.0, 20.0):
        step = factor * size
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        if last - first + 1 <= most:
            break
    return [round(k * step, 10) + 0.0 for k in range(first, last + 1)]


def short_name(name, line):
    """Return the name of a fitting without that of its line.

    Examples
    --------
    >>> short_name("H-126/curb_stop", "H-126"), short_name("CS-12", "H-126")
    ('curb_stop', 'CS-12')
    """
    own = name[len(line) :].lstrip("/ -_:") if name.startswith(line) else name
    return own or name
