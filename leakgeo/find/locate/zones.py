"""From a posterior to what a crew walks to: pieces to search, and the one spot to mark."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from leakgeo.arrays import Floats

FOOT_M = 0.3048


@dataclass(frozen=True)
class Piece:
    """One stretch to search.

    Parameters
    ----------
    begin_m, end_m : float
        Chainages of its ends.
    probability : float
        That the leak is in it, given that there is one.
    """

    begin_m: float
    end_m: float
    probability: float


def highest_density_pieces(cell_m: float, probability: Floats, share: float) -> list[Piece]:
    """The shortest set of cells that holds at least `share`, as stretches, likeliest first.

    Parameters
    ----------
    cell_m : float
        Length of a cell; the first begins at chainage 0.
    probability : ndarray of float, shape (g,)
        Of each cell; sums to one.
    share : float
        Probability that the stretches hold together.

    Returns
    -------
    list of Piece

    Notes
    -----
    The highest-density region of Hyndman (The American Statistician 50, 1996).

    Examples
    --------
    >>> pieces = highest_density_pieces(0.5, np.array([0.0625, 0.625, 0.0625, 0.25]), 0.8)
    >>> [(piece.begin_m, piece.end_m, piece.probability) for piece in pieces]
    [(0.5, 1.0, 0.625), (1.5, 2.0, 0.25)]
    """
    order = np.argsort(-probability, kind="stable")
    enough = int(np.searchsorted(np.cumsum(probability[order]), share * (1 - 1e-12))) + 1
    inside = np.zeros(len(probability) + 2, dtype=bool)
    inside[order[:enough] + 1] = True
    edges = np.flatnonzero(inside[1:] != inside[:-1])
    total = np.concatenate([[0.0], np.cumsum(probability)])
    pieces = [
        Piece(float(a * cell_m), float(b * cell_m), float(total[b] - total[a]))
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    ]
    return sorted(pieces, key=lambda p: -p.probability)


@dataclass(frozen=True)
class Mark:
    """The spot that most likely has the leak within one foot.

    Parameters
    ----------
    chainage_m : float
    within_foot : float
        Probability that the leak is within one foot along the pipe.
    sd_m : float
        Root mean square distance of the leak from the mark.
    reach_95_m : float
        Distance to either side that holds 95 %.
    """

    chainage_m: float
    within_foot: float
    sd_m: float
    reach_95_m: float


def best_mark(chainage_m: Floats, probability: Floats) -> Mark:
    """Mark the middle of the two feet that hold most of the probability.

    Parameters
    ----------
    chainage_m, probability : ndarray of float, shape (g,)
        Middles of equal cells, and the probability of each.

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
    # A flat top has many equal windows: the middle of the probability settles which.
    near = np.flatnonzero(held >= held.max() - 1e-9)
    median = np.searchsorted(np.cumsum(probability), 0.5)
    at = int(near[np.argmin(np.abs(near - median))])
    away = np.abs(chainage_m - chainage_m[at])
    order = np.argsort(away, kind="stable")
    reach = away[order][min(np.searchsorted(np.cumsum(probability[order]), 0.95), len(away) - 1)]
    mean_square = float(np.sum(probability * away**2))
    return Mark(float(chainage_m[at]), float(held[at]), mean_square**0.5, float(reach) + cell / 2)


def _within(probability: Floats, cells: float) -> Floats:
    """Probability within `cells` of each cell's middle, parts of cells counted in part."""
    n = len(probability)
    total = np.concatenate([[0.0], np.cumsum(probability)])
    middle = np.arange(n) + 0.5
    edge = np.arange(n + 1.0)
    right = np.interp(middle + cells, edge, total)
    return np.asarray(np.clip(right - np.interp(middle - cells, edge, total), 0.0, 1.0))
