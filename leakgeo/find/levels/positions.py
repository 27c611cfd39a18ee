"""How much of a satellite error is each reading's own, and how much a walk shares."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from leakgeo.arrays import Bools, Floats, Ints

# Before looking, this share of the variance is each reading's own, as firmly as so many readings.
OWN_SHARE, OWN_READINGS = 0.6, 4.0
# A walk is taken to go in even steps if its fixes stray from them no more than so much of their
# variance, and if there are so many; a stop may be off its step by a share of it.
STRAY, FEWEST, OFF_STEP = 2.0, 6, 0.2
# Of a fix's variance that doesn't show as scatter, so much wanders from one stop to the next, as a
# random walk; and of all of it at least so much.
WANDER, LEAST_WANDER = 0.05, 0.003
# Fixes better than this, in metres, need no help.
GOOD_FIX_M = 0.2
# What a receiver says of its error is often too good: its variance is taken to be this much more.
BOLD_CLAIM = 1.05
# That all of it beyond the scatter is shared is believed as firmly as the lean of so many walks.
STATED_WALKS = 3.0
# However alike its offsets, a walk may be shifted along the pipe by this share of the variance.
LEAST_COMMON = 0.03


def split_error(offset_m: Floats, sd_m: Floats, walk: Ints) -> tuple[Floats, Floats]:
    """Split the errors of satellite positions into an own part and one that a walk shares.

    The error across the pipe shows as the offset from it; the error along it, which doesn't show,
    is taken to be of the same make. The scatter of the offsets within a walk is the own part; what
    the stated error has beyond it is shared, and moves the walk as a whole.

    Parameters
    ----------
    offset_m : ndarray of float, shape (n,)
        Signed offset of each reading from its route.
    sd_m : ndarray of float, shape (n,)
        Stated 1-sigma error of each reading, along the pipe.
    walk : ndarray of int, shape (n,)
        Codes of the walks from 0.

    Returns
    -------
    own_sd_m : ndarray of float, shape (n,)
    common_sd_m : ndarray of float, shape (walks,)

    Examples
    --------
    Offsets that all lean the same way by the stated error are a shift of the walk.

    >>> own, common = split_error(np.full(30, 1.5), np.full(30, 1.5), np.zeros(30, dtype=int))
    >>> own.max().round(1), common.round(1)
    (np.float64(0.4), array([1.5]))
    """
    count = np.bincount(walk)
    mean = np.bincount(walk, offset_m) / np.maximum(count, 1)
    variance = np.bincount(walk, sd_m**2) / np.maximum(count, 1)
    scatter = np.bincount(walk, ((offset_m - mean[walk]) / sd_m) ** 2).sum()
    free = float(np.maximum(count - 1, 0).sum())
    own = (OWN_READINGS * OWN_SHARE + scatter) / (OWN_READINGS + free)
    # A walk that leans to one side as a whole shows the shared part too.
    lean = float(np.sum(mean**2 / np.maximum(variance, 1e-12)))
    common = (STATED_WALKS * max(BOLD_CLAIM - own, 0.0) + lean) / (STATED_WALKS + len(count))
    common = max(common, LEAST_COMMON)
    return sd_m * own**0.5, (common * variance) ** 0.5


@dataclass(frozen=True)
class Evened:
    """Chainages of readings whose walks go in even steps.

    Parameters
    ----------
    chainage_m : ndarray of float, shape (n,)
        On the even steps where the walk has them, else as they came.
    own_sd_m : ndarray of float, shape (n,)
        Error of each reading against its walk; NaN where the walk has no even steps.
    common_variance : ndarray of float, shape (n,)
        What is added to the variance that the walk shares, in square metres.
    lever : ndarray of float, shape (n,)
        Steps from the middle of the walk; 0 where it has no even steps.
    step_variance : ndarray of float, shape (n,)
        Of the length of the walk's steps, in square metres.
    """

    chainage_m: Floats
    own_sd_m: Floats
    common_variance: Floats
    lever: Floats
    step_variance: Floats


def even_steps(
    chainage_m: Floats, offset_m: Floats, sd_m: Floats, order: Floats, walk: Ints
) -> Evened:
    """Put the readings of each walk on even steps, where its fixes say that it went so.

    A crew walks a line in equal steps. A straight line through chainage against order, by least
    squares, then knows each stop far better than its fix does. What is left is a shift and a
    stretch of the whole walk, and what a drifting fix wanders about that line: for a random walk a
    fifteenth of what it goes from end to end, and six fifths of it in slope (moments of Brownian
    motion).

    Parameters
    ----------
    chainage_m, offset_m, sd_m : ndarray of float, shape (n,)
        By the fixes: chainage, offset from the route, stated error.
    order : ndarray of float, shape (n,)
        Order within the walk, NaN where it isn't known or the reading has no need.
    walk : ndarray of int, shape (n,)
        Codes of the walks of all lines, from 0.

    Returns
    -------
    Evened

    Examples
    --------
    >>> k = np.arange(20.0)
    >>> fix = 3.0 + 0.3 * k + np.tile([1.0, -1.0], 10)
    >>> evened = even_steps(fix, np.tile([-1.0, 1.0], 10), np.ones(20), k, np.zeros(20, dtype=int))
    >>> bool(np.abs(evened.chainage_m - (3.0 + 0.3 * k)).max() < 0.4)
    True
    """
    known = np.isfinite(order)
    count = np.bincount(walk, known)[walk]
    k = np.where(known, order, 0.0)
    k0 = k - _mean(k, known, walk)
    x0 = chainage_m - _mean(chainage_m, known, walk)
    squares = np.bincount(walk, known * k0**2)[walk]
    step = np.bincount(walk, known * k0 * x0)[walk] / np.where(squares > 0, squares, np.inf)
    stray = np.bincount(walk, known * (x0 - step * k0) ** 2)[walk] / np.maximum(count - 2, 1)
    scatter = (offset_m - _mean(offset_m, known, walk)) ** 2
    own = np.bincount(walk, known * scatter)[walk] / np.maximum(count - 1, 1)
    even = known & (count >= FEWEST) & (squares > 0) & (own > GOOD_FIX_M**2)
    even &= stray <= STRAY * np.maximum(own, 0.1 * sd_m**2)
    wander = WANDER * np.maximum(sd_m**2 - own, 0.0) + LEAST_WANDER * sd_m**2
    slope = own / np.where(squares > 0, squares, 1.0) + 1.2 * wander / np.maximum(count, 1)
    return Evened(
        np.where(even, chainage_m - x0 + step * k0, chainage_m),
        np.where(even, np.sqrt((OFF_STEP * step) ** 2 + wander * count / 15.0), np.nan),
        np.where(even, own / np.maximum(count, 1), 0.0),
        np.where(even, k0, 0.0),
        np.where(even, slope, 0.0),
    )


def _mean(value: Floats, known: Bools, walk: Ints) -> Floats:
    """Mean of the known values of each reading's walk."""
    total = np.bincount(walk, np.where(known, value, 0.0))
    return np.asarray((total / np.maximum(np.bincount(walk, known), 1))[walk])
