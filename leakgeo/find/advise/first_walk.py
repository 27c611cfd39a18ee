"""The first walk along a line that nobody has listened to: even steps, likeliest stretch first."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from leakgeo.arrays import Floats

# No walk is proposed with more stops than this; on a long main the steps are longer instead.
LONGEST_WALK = 60


def first_walk(stretches: Floats, step_m: float, most: int) -> tuple[Floats, float]:
    """Stops in even steps along stretches of one line, in the order of the stretches.

    Parameters
    ----------
    stretches : ndarray of float, shape (s, 2)
        Chainages that each begins and ends at.
    step_m : float
        Longest step; longer where the stretches would need more stops than `most`.
    most : int

    Returns
    -------
    stop_m : ndarray of float, shape (n,)
        To the centimetre.
    step_m : float
        The longest step there is.

    Examples
    --------
    >>> stops, step = first_walk(np.array([[0.0, 10.0]]), 4.0, 50)
    >>> stops.tolist(), round(step, 2)
    ([1.67, 5.0, 8.33], 3.33)
    """
    begin, end = stretches[:most].T
    length = np.abs(end - begin)
    step = max(step_m, float(length.sum()) / max(most - len(length), 1))
    count = np.maximum(np.ceil(length / step - 1e-9).astype(int), 1)
    owner = np.repeat(np.arange(len(count)), count)
    turn = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    share = (turn + 0.5) / count[owner]
    stop = begin[owner] + share * (end - begin)[owner]
    return np.round(stop, 2)[:most], float(np.max(length / count))
