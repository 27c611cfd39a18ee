"""Spreading of leak sound: the level above a buried pipe at a distance from the leak.

Sound reaches the surface on two paths. The direct path through the soil has spherical spreading,
so its power falls with the square of the distance from the leak. The other path follows the pipe
with exponential decay, and rises from the pipe to the surface. Powers of both paths and of the
ambient floor add.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from leakgeo.arrays import Floats

# Level of a power ratio of e, in decibels.
DB = 10.0 / np.log(10.0)


@dataclass(frozen=True)
class Spreading:
    """Constants of the sound of one leak.

    Parameters
    ----------
    depth_m : float
        Depth of the leak below the sensor.
    pipe_decay_db_per_m : float
        Decay of the sound along the pipe.
    pipe_share : float
        Share of the power above the leak that comes along the pipe, 0 to 1.
    soil_decay_db_per_m : float
        Decay of the sound in the soil, in addition to spreading.
    floor : float
        Ambient power relative to the power directly above the leak.
    """

    depth_m: float
    pipe_decay_db_per_m: float = 1.0
    pipe_share: float = 0.0
    soil_decay_db_per_m: float = 0.0
    floor: float = 0.0


def relative_level(distance_m: ArrayLike, spreading: Spreading, smear_m: ArrayLike = 0.0) -> Floats:
    r"""Return the level at a distance along the pipe, relative to that directly above the leak.

    Parameters
    ----------
    distance_m : array_like of float
        Distance along the pipe from the leak.
    spreading : Spreading
    smear_m : array_like of float
        Lateral smear by the surface; added to the depth in quadrature.

    Returns
    -------
    ndarray of float
        Decibels.

    Notes
    -----
    Direct path: :math:`H^2 / (H^2 + d^2) 10^{-\beta (\sqrt{H^2 + d^2} - H) / 10}`; pipe path:
    :math:`10^{-\alpha (\sqrt{H^2 + d^2} - H) / 10}`, where H is the depth with the smear.

    Examples
    --------
    Far from the leak, without a pipe path, the level falls by 6.02 dB per doubling of distance.

    >>> far = relative_level([100.0, 200.0], Spreading(0.5))
    >>> float((far[0] - far[1]).round(2))
    6.02
    """
    distance = np.asarray(distance_m, dtype=float)
    depth2 = spreading.depth_m**2 + np.asarray(smear_m, dtype=float) ** 2
    slant2 = depth2 + distance**2
    run = np.sqrt(slant2) - np.sqrt(depth2)
    direct = depth2 / slant2 * np.exp(-spreading.soil_decay_db_per_m / DB * run)
    piped = np.exp(-spreading.pipe_decay_db_per_m / DB * run)
    share = spreading.pipe_share
    return np.asarray(DB * np.log((1.0 - share) * direct + share * piped + spreading.floor))
