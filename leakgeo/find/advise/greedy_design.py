"""Choosing stops: each where a reading is expected to tell most, given those before it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from leakgeo.arrays import Floats
    from leakgeo.find.advise.predictive import Expected

_BITS = 1.0 / np.log(2.0)


@dataclass(frozen=True)
class Choice:
    """What a stop is worth.

    Parameters
    ----------
    how_many : int
        Stops to choose at the most.
    least_bits : float
        A reading that is expected to tell less isn't worth its while.
    walk_m_per_bit : float
        So many metres of walking are worth one bit.
    apart_m : float
        No two stops are closer than this.
    """

    how_many: int
    least_bits: float
    walk_m_per_bit: float
    apart_m: float


def choose(expected: Expected, choice: Choice) -> tuple[list[int], list[float]]:
    """Choose stops greedily, each given those before it.

    Parameters
    ----------
    expected : Expected
    choice : Choice

    Returns
    -------
    stops : list of int
        Places in ``expected.stop_m``, in the order to take them.
    bits : list of float
        What each is expected to tell.

    Notes
    -----
    Greedy choice comes within 1 - 1/e of the best set where returns are falling (Krause,
    Singh and Guestrin, Journal of Machine Learning Research 9, 2008).
    """
    level, covariance = expected.level_db.copy(), expected.covariance.copy()
    apart, at = np.zeros((len(expected.weight),) * 2, dtype=np.float32), None
    free = np.ones(len(expected.stop_m), dtype=bool)
    chosen: list[int] = []
    bits: list[float] = []
    known = 0.0
    while len(chosen) < choice.how_many and free.any():
        # Bits of a fraction of a thousandth make no difference: half the digits are enough.
        z = (level / np.sqrt(np.diag(covariance))).astype(np.float32)
        told = _told(apart[:, :, None] + (z[:, None] - z) ** 2, expected.weight) - known
        walk = 0.0 if at is None else np.abs(expected.stop_m - at) / choice.walk_m_per_bit
        i = int(np.argmax(np.where(free, told - walk, -np.inf)))
        if told[i] < choice.least_bits:
            break
        chosen.append(i)
        bits.append(float(told[i]))
        apart, known, at = (
            apart + (z[:, None, i] - z[:, i]) ** 2,
            known + told[i],
            expected.stop_m[i],
        )
        free &= np.abs(expected.stop_m - at) >= choice.apart_m - 1e-9
        level, covariance = _given(level, covariance, i)
    return chosen, bits


def _told(square: Floats, weight: Floats) -> Floats:
    """Bits that levels tell of the hypotheses, from their squared distances, shape (k, k, ...).

    Distances are in standard deviations. Of a mixture of normals with one covariance the expected
    logarithm of the density is taken at the logarithm's argument (Huber, Bailey, Durrant-Whyte and
    Hanebeck, On entropy approximation for Gaussian mixture random vectors, 2008), less what that
    gives for one component: exact for little information, and never above what there is to know.

    Examples
    --------
    Two hypotheses as likely as each other hold one bit, which a clear difference tells.

    >>> even = np.array([0.5, 0.5])
    >>> [round(float(_told(np.array([[0.0, d], [d, 0.0]]), even)), 3) for d in (0.04, 4.0, 400.0)]
    [0.007, 0.548, 1.0]
    """
    own = weight.astype(square.dtype)
    likeness = own @ np.exp(square * square.dtype.type(-0.25)).reshape(len(own), -1)
    return np.asarray(-_BITS * (weight @ np.log(likeness.reshape(square.shape[1:]).astype(float))))


def _given(level: Floats, covariance: Floats, known: int) -> tuple[Floats, Floats]:
    """Levels and covariance once there is a reading at `known`, as its innovations see them."""
    gain = covariance[known] / covariance[known, known]
    left = covariance - np.outer(gain, covariance[known])
    # The stop itself is known now, and isn't asked about again.
    left[known, known] = 1.0
    return level - np.outer(level[:, known], gain), left
