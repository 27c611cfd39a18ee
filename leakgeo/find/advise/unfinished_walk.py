"""A walk that is not finished: the leak is probably beyond its last stop."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from leakgeo.arrays import Floats
    from leakgeo.find.advise.explanations import Explanations


# The level rises where it is highest at so many last stops, and there are more.
_LAST = 2


class Unfinished(NamedTuple):
    """Stretch of a line beyond the last stop of its walk, from that stop on.

    Parameters
    ----------
    from_m, to_m : float
        Chainage of the last stop and of the end of the line there.
    probability : float
        Probability of a leak on the stretch, or beyond that end of the line.
    rises : bool
        Whether the level is highest at the last two stops.
    """

    from_m: float
    to_m: float
    probability: float
    rises: bool


def unfinished_walk(
    explained: Explanations, chainage_m: Floats, level_db: Floats, length_m: float, step_m: float
) -> Unfinished:
    """Return the stretch beyond the walked part of a line that the leak is likeliest on.

    Parameters
    ----------
    explained : Explanations
    chainage_m, level_db : ndarray of float, shape (n,)
        Readings along the line.
    length_m : float
        Length of the line.
    step_m : float
        A stretch that is no longer than this is walked.

    Returns
    -------
    Unfinished
        Of probability 0 if the walk reached both ends.

    Examples
    --------
    >>> from leakgeo.find.advise.explanations import Explanations
    >>> found = Explanations(np.array([4.0, 18.0]), np.array([0.2, 0.7]), (), (), 0.1)
    >>> walked = np.array([1.0, 4.0, 7.0])
    >>> unfinished_walk(found, walked, np.array([20.0, 24.0, 30.0]), 25.0, 4.0)
    Unfinished(from_m=7.0, to_m=25.0, probability=0.7, rises=True)
    """
    stops = np.unique(chainage_m)
    loudest = float(chainage_m[np.argmax(level_db)])
    enough = len(stops) > _LAST
    first, last = enough and loudest <= stops[_LAST - 1], enough and loudest >= stops[-_LAST]
    sides = [
        _beyond(explained, stops[0], 0.0, "beyond_start", first),
        _beyond(explained, stops[-1], length_m, "beyond_end", last),
    ]
    open_ = [side for side in sides if abs(side.to_m - side.from_m) > step_m]
    if not open_:
        return sides[-1]._replace(probability=0.0)
    return max(open_, key=lambda side: side.probability)


def _beyond(
    explained: Explanations, stop_m: float, end_m: float, rival: str, rises: bool
) -> Unfinished:
    towards = 1.0 if end_m > stop_m else -1.0
    on_line = explained.place_probability[towards * (explained.place_m - stop_m) > 0.0].sum()
    beyond = sum(each.probability for each in explained.rivals if each.kind == rival)
    return Unfinished(float(stop_m), float(end_m), float(on_line + beyond), bool(rises))
