"""Independent and shared errors of satellite positions, and walks with evenly spaced stops."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from leakgeo.arrays import Bools, Floats, Ints

# Prior of the share of the variance that is each reading's own, and its weight in readings.
OWN_SHARE, OWN_READINGS = 0.6, 4.0
# The stops of a walk count as evenly spaced if the variance of the fixes about even spacing is at
# most this multiple of their own variance, and if there are at least this many stops. The third is
# the standard deviation of a stop about even spacing, as a share of the spacing.
MAX_VARIANCE_RATIO, MIN_STOPS, STOP_SD_SHARE = 2.0, 6, 0.2
# Drift from stop to stop, as a random walk: share of the variance that is not scatter, and least
# share of the whole variance.
DRIFT_SHARE, MIN_DRIFT_SHARE = 0.05, 0.003
# Fixes with a smaller standard deviation than this are not put on even spacing.
GOOD_FIX_M = 0.2
# Receivers often state too small an error: factor of the stated variance.
STATED_VARIANCE_FACTOR = 1.05
# Weight, in walks, of the prior that all variance beyond the scatter is shared.
STATED_WALKS = 3.0
# Least share of the variance that a walk shares, however small the mean of its offsets.
MIN_SHARED = 0.03


def split_error(offset_m: Floats, sd_m: Floats, walk: Ints) -> tuple[Floats, Floats]:
    """Split the errors of satellite positions into an independent and a shared part.

    The offset of a reading from its route shows the error across the pipe. The error along the
    pipe is assumed to be of the same kind. The scatter of the offsets within a walk is the
    independent part; the rest of the stated error is shared, and shifts the walk as a whole.

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
        Independent error of each reading.
    shared_sd_m : ndarray of float, shape (walks,)
        Shared error of each walk.

    Examples
    --------
    Equal offsets of the size of the stated error are a shift of the walk.

    >>> own, shared = split_error(np.full(30, 1.5), np.full(30, 1.5), np.zeros(30, dtype=int))
    >>> own.max().round(1), shared.round(1)
    (np.float64(0.4), array([1.5]))
    """
    count = np.bincount(walk)
    mean = np.bincount(walk, offset_m) / np.maximum(count, 1)
    variance = np.bincount(walk, sd_m**2) / np.maximum(count, 1)
    scatter = np.bincount(walk, ((offset_m - mean[walk]) / sd_m) ** 2).sum()
    free = float(np.maximum(count - 1, 0).sum())
    own = (OWN_READINGS * OWN_SHARE + scatter) / (OWN_READINGS + free)
    # The mean offset of a walk shows the shared part too.
    bias = float(np.sum(mean**2 / np.maximum(variance, 1e-12)))
    stated = max(STATED_VARIANCE_FACTOR - own, 0.0)
    shared = (STATED_WALKS * stated + bias) / (STATED_WALKS + len(count))
    shared = max(shared, MIN_SHARED)
    return sd_m * own**0.5, (shared * variance) ** 0.5


@dataclass(frozen=True)
class EvenSpacing:
    """Chainages of readings after walks with evenly spaced stops were put on even spacing.

    Parameters
    ----------
    chainage_m : ndarray of float, shape (n,)
        On even spacing where the walk has it, else unchanged.
    own_sd_m : ndarray of float, shape (n,)
        Error of each reading relative to its walk; NaN without even spacing.
    shared_variance : ndarray of float, shape (n,)
        Added to the shared variance of the walk, in square metres.
    stops_from_middle : ndarray of float, shape (n,)
        Number of stops from the middle of the walk; 0 without even spacing.
    spacing_variance : ndarray of float, shape (n,)
        Variance of the spacing of the walk, in square metres.
    """

    chainage_m: Floats
    own_sd_m: Floats
    shared_variance: Floats
    stops_from_middle: Floats
    spacing_variance: Floats


def even_spacing(
    chainage_m: Floats, offset_m: Floats, sd_m: Floats, order: Floats, walk: Ints
) -> EvenSpacing:
    """Put the readings of each walk on even spacing, if its fixes agree with that.

    Crews usually listen at equal distances. A straight line fitted to chainage against order then
    places each stop far better than its fix. There remain a shift and a stretch of the whole walk,
    and the drift of the fixes about the line. Drift is a random walk: its variance about the line
    is 1/15, and that of the fitted rise from end to end 6/5, of its variance from end to end
    (moments of Brownian motion).

    Parameters
    ----------
    chainage_m, offset_m, sd_m : ndarray of float, shape (n,)
        Chainage, offset from the route and stated error of the fixes.
    order : ndarray of float, shape (n,)
        Order within the walk; NaN if not known, or if the reading is not to be moved.
    walk : ndarray of int, shape (n,)
        Codes of the walks of all lines, from 0.

    Returns
    -------
    EvenSpacing

    Examples
    --------
    >>> k = np.arange(20.0)
    >>> fix = 3.0 + 0.3 * k + np.tile([1.0, -1.0], 10)
    >>> offset, walk = np.tile([-1.0, 1.0], 10), np.zeros(20, dtype=int)
    >>> even = even_spacing(fix, offset, np.ones(20), k, walk)
    >>> bool(np.abs(even.chainage_m - (3.0 + 0.3 * k)).max() < 0.4)
    True
    """
    known = np.isfinite(order)
    count = np.bincount(walk, known)[walk]
    k = np.where(known, order, 0.0)
    k0 = k - _mean(k, known, walk)
    x0 = chainage_m - _mean(chainage_m, known, walk)
    squares = np.bincount(walk, known * k0**2)[walk]
    spacing = np.bincount(walk, known * k0 * x0)[walk] / np.where(squares > 0, squares, np.inf)
    misfit = np.bincount(walk, known * (x0 - spacing * k0) ** 2)[walk] / np.maximum(count - 2, 1)
    scatter = (offset_m - _mean(offset_m, known, walk)) ** 2
    own = np.bincount(walk, known * scatter)[walk] / np.maximum(count - 1, 1)
    even = known & (count >= MIN_STOPS) & (squares > 0) & (own > GOOD_FIX_M**2)
    even &= misfit <= MAX_VARIANCE_RATIO * np.maximum(own, 0.1 * sd_m**2)
    drift = DRIFT_SHARE * np.maximum(sd_m**2 - own, 0.0) + MIN_DRIFT_SHARE * sd_m**2
    slope = own / np.where(squares > 0, squares, 1.0) + 1.2 * drift / np.maximum(count, 1)
    return EvenSpacing(
        np.where(even, chainage_m - x0 + spacing * k0, chainage_m),
        np.where(even, np.sqrt((STOP_SD_SHARE * spacing) ** 2 + drift * count / 15.0), np.nan),
        np.where(even, own / np.maximum(count, 1), 0.0),
        np.where(even, k0, 0.0),
        np.where(even, slope, 0.0),
    )


def _mean(value: Floats, known: Bools, walk: Ints) -> Floats:
    """Return for each reading the mean of the known values of its walk."""
    total = np.bincount(walk, np.where(known, value, 0.0))
    return np.asarray((total / np.maximum(np.bincount(walk, known), 1))[walk])
