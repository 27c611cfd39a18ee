"""Decibel arithmetic: sums and display scales."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from leakgeo.arrays import Floats


def energy_sum(level_db: ArrayLike, axis: int = -1) -> Floats:
    """Return the level of the sum of incoherent sounds: 10 lg(sum of 10^(L/10)).

    Parameters
    ----------
    level_db : array_like of float
        Levels in decibels.
    axis : int
        Axis to sum over.

    Returns
    -------
    ndarray of float
        Level in decibels.

    Examples
    --------
    >>> energy_sum([60.0, 60.0]).round(4)
    np.float64(63.0103)
    """
    level = np.asarray(level_db, dtype=float)
    top = np.max(level, axis=axis, keepdims=True)
    total = np.sum(10.0 ** ((level - top) / 10.0), axis=axis)
    return np.asarray(np.squeeze(top, axis) + 10.0 * np.log10(total))[()]


def scale_to_db(scale: ArrayLike) -> Floats:
    """Return the level of a linear display value, proportional to amplitude: 20 lg(value).

    Parameters
    ----------
    scale : array_like of float
        Display values, in the display's own units.

    Returns
    -------
    ndarray of float
        Decibels relative to one display unit; NaN for zero and negative values.

    Examples
    --------
    >>> scale_to_db([1.0, 10.0, 0.0])
    array([ 0., 20., nan])
    """
    value = np.asarray(scale, dtype=float)
    positive = value > 0
    return np.asarray(np.where(positive, 20.0 * np.log10(np.where(positive, value, 1.0)), np.nan))[
        ()
    ]


def scale_rounding_db(scale: ArrayLike) -> Floats:
    """Return the standard error in decibels from rounding to a whole display unit.

    A uniform error of one unit has a standard deviation of 1/sqrt(12) units; to first order that
    is 20 / ln(10) / sqrt(12) / value decibels.

    Examples
    --------
    >>> scale_rounding_db(10.0).round(3)
    np.float64(0.251)
    """
    value = np.maximum(np.asarray(scale, dtype=float), 0.5)
    return np.asarray(20.0 / np.log(10.0) / np.sqrt(12.0) / value)[()]
