"""One chainage out of tape and satellite, each weighted by its own error."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from leakgeo.arrays import Floats


def fuse(
    satellite_m: Floats, satellite_sd_m: Floats, tape_m: Floats, tape_sd_m: Floats
) -> tuple[Floats, Floats, Floats]:
    """Combine two measures of the same chainage by inverse variance.

    Parameters
    ----------
    satellite_m, satellite_sd_m : ndarray of float, shape (n,)
        Chainage of the position on the route, and its 1-sigma error along it.
    tape_m, tape_sd_m : ndarray of float, shape (n,)
        Taped chainage and its 1-sigma error; NaN where there is none.

    Returns
    -------
    chainage_m, chainage_sd_m : ndarray of float, shape (n,)
    tape_weight : ndarray of float, shape (n,)
        Share of the tape in the result, 0 where there is none.

    Notes
    -----
    The minimum-variance combination of two independent measures (any textbook on adjustment).

    Examples
    --------
    >>> place, sd, weight = fuse(np.array([10.0]), np.array([1.0]), np.array([11.0]),
    ...                          np.array([0.5]))
    >>> place.round(6).tolist(), sd.round(6).tolist(), weight.round(6).tolist()
    ([10.8], [0.447214], [0.8])
    """
    taped = np.isfinite(tape_m)
    information = np.where(taped, np.nan_to_num(tape_sd_m, nan=1.0) ** -2.0, 0.0)
    total = information + satellite_sd_m**-2.0
    weight = information / total
    tape = np.where(taped, tape_m, satellite_m)
    return satellite_m + weight * (tape - satellite_m), total**-0.5, weight
