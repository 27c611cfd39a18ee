"""Sweeps: readings at one place along a line, at several distances across it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

if TYPE_CHECKING:
    from leakgeo.arrays import Bools, Floats, Ints, Objects

# A reading farther than this from the trace is beside the pipe.
ASIDE_M = 0.5
# Longest stretch of line under one sweep, and longest gap between its readings along the line.
LENGTH_M, GAP_M = 1.0, 0.4
# Least width of a sweep; least number of places across the line, and their least distance.
SPAN_M, PLACES, APART_M = 1.5, 3, 0.25
# Error of a taped distance across the line (assumed).
TAPED_SD_M = 0.1
#: A reading farther from its route is off it, whatever it was meant to be.
FARTHEST_M = 15.0
#: Positions with a larger error make no sweep.
MOST_SD_M = 0.5
# Nor do those with this share of its width.
SPAN_SD = 8.0
# Positions of the other readings that scatter across the line this many times their error, and by
# more than `ASIDE_M`, have a larger error than they state. Fewer of them are no evidence for it.
SCATTER_TIMES, LEAST_OTHERS = 3.0, 5
# The direction to a point is across a line if the cosine with the line is below this.
_MOST_COSINE = 0.35
_STEP_M = 0.1
# Standard deviation of a normal distribution over its median absolute deviation.
_SD_PER_MAD = 1.4826


def sweep_places(
    line: Ints, chainage_m: Floats, offset_m: Floats, error_m: Floats, taped: Bools
) -> Floats:
    """Return the chainage of the sweep that each reading is part of.

    Parameters
    ----------
    line : ndarray of int, shape (n,)
        Line of each reading, below 0 for none.
    chainage_m, offset_m : ndarray of float, shape (n,)
        Place along and across the line; NaN where not known.
    error_m : ndarray of float, shape (n,)
        1-sigma error of the offset.
    taped : ndarray of bool, shape (n,)
        Whether the offset was taped.

    Returns
    -------
    ndarray of float, shape (n,)
        NaN for readings of no sweep.

    Examples
    --------
    >>> aside = np.array([-2.0, -1.0, 0.0, 1.0, 0.0])
    >>> at = sweep_places(np.zeros(5, int), np.array([7.0, 7, 7, 7, 9]), aside,
    ...                   np.full(5, 0.1), np.full(5, True))
    >>> at.tolist()
    [7.0, 7.0, 7.0, 7.0, nan]
    """
    found = np.full(len(line), np.nan)
    known = (line >= 0) & np.isfinite(chainage_m) & (np.abs(offset_m) <= FARTHEST_M)
    known &= taped | (error_m <= MOST_SD_M)
    aside = known & (np.abs(offset_m) > ASIDE_M)
    for k in np.unique(line[aside]):
        own = np.flatnonzero(known & (line == k))
        at = _on_line(chainage_m[own], offset_m[own], error_m[own], aside[own])
        fixed = ~taped[own]
        others = offset_m[own[fixed & np.isnan(at)]]
        if _scatters(others, error_m[own[fixed]]):
            at[np.isin(at, at[fixed])] = np.nan
        found[own] = at
    return found


def _on_line(chainage: Floats, offset: Floats, error: Floats, aside: Bools) -> Floats:
    """Return the chainage of the sweep of each reading of one line, NaN for none."""
    found = np.full(len(chainage), np.nan)
    wide = float(np.median(error[aside]))
    x = np.sort(chainage[aside])
    length = LENGTH_M + 2.0 * wide
    for part in np.split(x, 1 + np.flatnonzero(np.diff(x) > GAP_M + wide)):
        if part[-1] - part[0] > length:
            continue
        middle = float((part[0] + part[-1]) / 2.0)
        near = (np.abs(chainage - middle) <= length / 2.0 + 1e-9) & np.isnan(found)
        if _is_across(offset[near], error[near]):
            found[near] = round(middle, 3)
    return found


def _is_across(offset: Floats, error: Floats) -> bool:
    """Return whether readings have enough places across the line, far enough apart."""
    ranked = np.sort(offset)
    if len(ranked) < PLACES or ranked[-1] - ranked[0] < max(SPAN_M, SPAN_SD * float(error.max())):
        return False
    places, last = 1, ranked[0]
    for each in ranked:
        if each - last >= APART_M:
            places, last = places + 1, each
    return places >= PLACES


def _scatters(offset: Floats, error: Floats) -> bool:
    """Return whether positions across a line scatter by far more than their error."""
    if len(offset) < LEAST_OTHERS:
        return False
    spread = _SD_PER_MAD * float(np.median(np.abs(offset - np.median(offset))))
    return spread > max(ASIDE_M, SCATTER_TIMES * float(np.median(error)))


def offsets_across(shapes: Objects, points: Objects) -> Floats:
    """Return the distance of points across lines, positive to the left.

    Parameters
    ----------
    shapes, points : ndarray of LineString and Point, shape (n,)
        In one metre CRS.

    Returns
    -------
    ndarray of float, shape (n,)
        NaN where the direction to the point is not across the line, as beyond an end or outside a
        bend, and where a shape is missing.

    Examples
    --------
    >>> line = shapely.LineString([(0, 0), (9, 0)])
    >>> offsets_across(np.array([line, line]), shapely.points([[4, -2], [12, 0]])).tolist()
    [-2.0, nan]
    """
    along, length = shapely.line_locate_point(shapes, points), shapely.length(shapes)
    feet = _coordinates(shapely.line_interpolate_point(shapes, along))
    away = _coordinates(points) - feet
    distance = np.hypot(away[:, 0], away[:, 1])
    offset, across = np.full((2, len(points)), np.nan), distance > 0.0
    for side, ahead in enumerate((-_STEP_M, _STEP_M)):
        step = np.clip(along + ahead, 0.0, length)
        way = _coordinates(shapely.line_interpolate_point(shapes, step)) - feet
        way *= np.sign(ahead) / np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-12)[:, None]
        beside = np.abs(np.sum(way * away, axis=1)) <= _MOST_COSINE * np.maximum(distance, ASIDE_M)
        across &= beside
        left = way[:, 0] * away[:, 1] - way[:, 1] * away[:, 0]
        offset[side] = np.where(left == 0.0, np.nan, np.copysign(distance, left))
    signed = np.where(np.isnan(offset[0]), offset[1], offset[0])
    return np.where(distance == 0.0, 0.0, np.where(across, signed, np.nan))


def _coordinates(points: Objects) -> Floats:
    """Return the coordinates of points, NaN where one is missing or empty, shape (n, 2)."""
    return np.column_stack([shapely.get_x(points), shapely.get_y(points)])
