"""From the frame of a walk that may be shifted to chainage along the line."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.compiled import compiled
from leakgeo.find.posterior.grid import STEP_M, evenly

if TYPE_CHECKING:
    from leakgeo.arrays import Floats
    from leakgeo.find.posterior.grid import Scan
    from leakgeo.find.posterior.prior import Problem

# A walk is looked for no further beyond the ends of its line than this, nor so many deviations.
_FARTHEST_M, _DEVIATIONS = 15.0, 2.5
# Places that far below the best, in nats, hold under 1e-5 of the probability.
_NEGLIGIBLE_NATS = 14.0
# Places closer together than a deviation over this are taken together.
_PARTS = 2.0
# Nothing of a normal lies further off than this; where nothing is, there is still a logarithm.
_FAR_SD, _NEXT_TO_NONE = 8.0, 1e-300


def widened(span_m: tuple[float, float], problem: Problem) -> tuple[float, float]:
    """The span of line as the frame of the problem may see it."""
    if problem.frame < 0:
        return span_m
    reach = min(_DEVIATIONS * float(problem.precision[problem.frame]) ** -0.5, _FARTHEST_M)
    return span_m[0] - reach, span_m[1] + reach


def log_density(scan: Scan, chainage_m: Floats, problem: Problem) -> Floats:
    """Log evidence at each cell of the line.

    Each place in the frame is, on the line, a normal about the place and the shift fitted for it,
    with what is left of the shift's variance; they are added up.

    Parameters
    ----------
    scan : Scan
    chainage_m : ndarray of float, shape (g,)
        Middles of equal cells.
    problem : Problem

    Returns
    -------
    ndarray of float, shape (g,)
    """
    if problem.frame < 0:
        return scan.at(chainage_m)
    seen = evenly((float(scan.places[0]), float(scan.places[-1])), STEP_M)
    evidence = scan.at(seen)
    top = evidence.max()
    likely = evidence > top - _NEGLIGIBLE_NATS
    seen, weight = seen[likely], np.exp(evidence[likely] - top) * (seen[1] - seen[0])
    middle = seen + np.interp(seen, scan.places, scan.shift_m)
    variance = np.interp(seen, scan.places, scan.shift_variance) + STEP_M**2
    weight, middle, sd = _grouped(weight, middle, variance)
    cell = chainage_m[1] - chainage_m[0] if len(chainage_m) > 1 else 2.0 * chainage_m[0]
    density = np.full(len(chainage_m), _NEXT_TO_NONE)
    # On a line of kilometres all the rest is out of reach.
    reach = np.max(sd) * _FAR_SD
    near = (chainage_m > middle.min() - reach) & (chainage_m < middle.max() + reach)
    if near.any():
        edges = np.append(chainage_m[near] - cell / 2, chainage_m[near][-1] + cell / 2)
        density[near] = np.maximum(_spread(weight, middle, sd, edges) / cell, _NEXT_TO_NONE)
    return np.asarray(top + np.log(density))


def _grouped(weight: Floats, middle: Floats, variance: Floats) -> tuple[Floats, Floats, Floats]:
    """Weights, middles and deviations of neighbours taken together: far less than their spread."""
    many = max(int(variance.min() ** 0.5 / (_PARTS * STEP_M)), 1)
    first = np.arange(0, len(weight), many)
    total = np.add.reduceat(weight, first)
    mean = np.add.reduceat(weight * middle, first) / total
    square = np.add.reduceat(weight * (variance + middle**2), first) / total
    return total, mean, np.sqrt(square - mean**2)


@compiled
def _spread(weight: Floats, middle: Floats, sd: Floats, edges: Floats) -> Floats:
    """Weight of a sum of normals between edges that rise."""
    held = np.zeros(edges.size - 1)
    for i in range(weight.size):
        unit = 1.0 / (sd[i] * math.sqrt(2.0))
        begin = max(np.searchsorted(edges, middle[i] - _FAR_SD * sd[i]) - 1, 0)
        end = min(np.searchsorted(edges, middle[i] + _FAR_SD * sd[i]), held.size)
        below = math.erfc((middle[i] - edges[begin]) * unit)
        for j in range(begin, end):
            through = math.erfc((middle[i] - edges[j + 1]) * unit)
            held[j] += 0.5 * weight[i] * (through - below)
            below = through
    return held
