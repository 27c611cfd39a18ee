"""Independent and shared errors of good satellite positions."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Ints

# Prior of the share of the variance that is each reading's own, and its weight in readings.
OWN_SHARE, OWN_READINGS = 0.6, 4.0
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
