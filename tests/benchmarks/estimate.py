"""What every locator in the benchmark hands back, and helpers to make one from a density."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

FOOT_M = 0.3048


@dataclass(frozen=True)
class Estimate:
    """A locator's answer for one field; leave out what the locator can't tell.

    Parameters
    ----------
    chainage_m : float or None
        The mark, None where none is made.
    zones_m : ndarray, shape (k, 2), or None
        From and to of the pieces that together hold 90 %.
    probability_within_1ft : float or None
        Claimed probability that the leak is within 0.3048 m of the mark.
    leak_probability : float or None
        Claimed probability that there is a leak.
    status : str
        As the contract names it, or ``""``.
    """

    chainage_m: float | None
    zones_m: np.ndarray | None = None
    probability_within_1ft: float | None = None
    leak_probability: float | None = None
    status: str = ""


def from_density(
    grid_m: np.ndarray, mass: np.ndarray, leak_probability: float, level: float = 0.9
) -> Estimate:
    """Mark the spot with most mass within a foot, and zone the highest density.

    Parameters
    ----------
    grid_m : ndarray, shape (n,)
        Evenly spaced chainages.
    mass : ndarray, shape (n,)
        Probability at each, summing to 1.
    leak_probability : float
        Kept as it is.
    level : float
        Probability that the zones hold.
    """
    step = grid_m[1] - grid_m[0]
    cumulative = np.concatenate([[0.0], np.cumsum(mass)])
    edges = np.concatenate([grid_m - step / 2, [grid_m[-1] + step / 2]])
    upper = np.interp(grid_m + FOOT_M, edges, cumulative)
    within = upper - np.interp(grid_m - FOOT_M, edges, cumulative)
    best = within >= within.max() - 1e-9
    centre = float(grid_m[best][np.argmax(mass[best])])
    order = np.argsort(-mass)
    inside = np.zeros(mass.size, dtype=bool)
    inside[order[: np.searchsorted(np.cumsum(mass[order]), level) + 1]] = True
    change = np.flatnonzero(np.diff(np.concatenate([[0], inside, [0]])))
    zones = np.column_stack([edges[change[::2]], edges[change[1::2]]])
    return Estimate(centre, zones, float(within.max()), leak_probability)
