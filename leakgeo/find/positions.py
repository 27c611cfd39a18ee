"""How much of a satellite error is each reading's own, and how much a walk shares."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Ints

# Before looking, this share of the variance is each reading's own, as firmly as so many readings.
OWN_SHARE, OWN_READINGS = 0.6, 4.0
# However alike its offsets, a walk may be shifted along the pipe by this share of the variance.
LEAST_COMMON = 0.1


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
    (np.float64(0.4), array([1.4]))
    """
    count = np.bincount(walk)
    mean = np.bincount(walk, offset_m) / np.maximum(count, 1)
    variance = np.bincount(walk, sd_m**2) / np.maximum(count, 1)
    scatter = np.bincount(walk, ((offset_m - mean[walk]) / sd_m) ** 2).sum()
    free = float(np.maximum(count - 1, 0).sum())
    own = (OWN_READINGS * OWN_SHARE + scatter) / (OWN_READINGS + free)
    common = np.clip(1.0 - own, LEAST_COMMON, None)
    return sd_m * own**0.5, (common * variance) ** 0.5
