"""Search zones and the mark, from the posterior along a line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.conversion import FOOT_M

if TYPE_CHECKING:
    from leakgeo.arrays import Bools, Floats


@dataclass(frozen=True)
class Piece:
    """A stretch of a line to search.

    Parameters
    ----------
    begin_m, end_m : float
        Chainages of its ends.
    probability : float
        Probability that the leak is in it, given a leak on the line.
    """

    begin_m: float
    end_m: float
    probability: float


def highest_density_pieces(cell_m: float, probability: Floats, share: float) -> list[Piece]:
    """Return the highest-density region of a posterior as stretches, likeliest first.

    Parameters
    ----------
    cell_m : float
        Length of a cell. The first cell begins at chainage 0.
    probability : ndarray of float, shape (g,)
        Probability of each cell; sums to one.
    share : float
        Smallest total probability of the stretches.

    Returns
    -------
    list of Piece

    Notes
    -----
    Highest-density region after Hyndman (The American Statistician 50, 1996).

    Examples
    --------
    >>> pieces = highest_density_pieces(0.5, np.array([0.0625, 0.625, 0.0625, 0.25]), 0.8)
    >>> [(piece.begin_m, piece.end_m, piece.probability) for piece in pieces]
    [(0.5, 1.0, 0.625), (1.5, 2.0, 0.25)]
    """
    return pieces_of(cell_m, probability, highest_density(probability, share))


def highest_density(probability: Floats, share: float) -> Bools:
    """Return the fewest cells that have `share` of the probability in total, as flags."""
    order = np.argsort(-probability, kind="stable")
    enough = int(np.searchsorted(np.cumsum(probability[order]), share * (1 - 1e-12))) + 1
    inside = np.zeros(len(probability), dtype=bool)
    inside[order[:enough]] = True
    return inside


def pieces_of(cell_m: float, probability: Floats, inside: Bools) -> list[Piece]:
    """Return the flagged cells as stretches, likeliest first."""
    edges = np.flatnonzero(np.diff(np.pad(inside, 1)))
    total = np.concatenate([[0.0], np.cumsum(probability)])
    pieces = [
        Piece(float(a * cell_m), float(b * cell_m), min(float(total[b] - total[a]), 1.0))
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    ]
    return sorted(pieces, key=lambda p: -p.probability)


@dataclass(frozen=True)
class Mark:
    """The point with the highest probability of the leak within one foot.

    Parameters
    ----------
    chainage_m : float
    within_foot_given_leak : float
        Probability that the leak is within one foot along the pipe, given a leak on the line.
    sd_m : float
        Root mean square distance of the leak from the mark.
    reach_95_m : float
        Half-width of the interval about the mark with a probability of 95 %.
    """

    chainage_m: float
    within_foot_given_leak: float
    sd_m: float
    reach_95_m: float


def best_mark(chainage_m: Floats, probability: Floats) -> Mark:
    """Return the mark: the middle of the two-foot window with the highest probability.

    Parameters
    ----------
    chainage_m, probability : ndarray of float, shape (g,)
        Midpoints of equal cells, and the probability of each given a leak.

    Returns
    -------
    Mark

    Examples
    --------
    >>> x = np.arange(0.025, 4, 0.05)
    >>> round(best_mark(x, np.exp(-((x - 2.025) ** 2) / 0.02) / 5.0133).chainage_m, 3)
    2.025
    """
    cell = float(chainage_m[1] - chainage_m[0]) if len(chainage_m) > 1 else 2.0 * FOOT_M
    held = _within(probability, FOOT_M / cell)
    # Of several equal windows the one nearest to the median is taken.
    near = np.flatnonzero(held >= held.max() - 1e-9)
    median = np.searchsorted(np.cumsum(probability), 0.5)
    at = int(near[np.argmin(np.abs(near - median))])
    away = np.abs(chainage_m - chainage_m[at])
    order = np.argsort(away, kind="stable")
    reach = away[order][min(np.searchsorted(np.cumsum(probability[order]), 0.95), len(away) - 1)]
    mean_square = float(np.sum(probability * away**2))
    return Mark(float(chainage_m[at]), float(held[at]), mean_square**0.5, float(reach) + cell / 2)


def _within(probability: Floats, cells: float) -> Floats:
    """Return the probability within `cells` of each cell's midpoint, with fractions of cells."""
    n = len(probability)
    total = np.concatenate([[0.0], np.cumsum(probability)])
    middle = np.arange(n) + 0.5
    edge = np.arange(n + 1.0)
    right = np.interp(middle + cells, edge, total)
    return np.asarray(np.clip(right - np.interp(middle - cells, edge, total), 0.0, 1.0))
