"""Convert evidence from the coordinates of a shifted reference walk to chainage on the line."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.compiled import compiled, compiled_part
from leakgeo.find.posterior.grid import STEP_M, evenly_spaced

if TYPE_CHECKING:
    from leakgeo.arrays import Floats
    from leakgeo.find.posterior.grid import Scan
    from leakgeo.find.posterior.problem import Problem

# A reference walk is searched beyond the ends of its line by at most this distance, and by at most
# this many standard deviations of its shift.
_MAX_REACH_M, _MAX_REACH_SD = 15.0, 2.5
# Places whose log evidence is this far below the best have a probability below 1e-5 together.
_NEGLIGIBLE_NATS = 14.0
# Neighbouring places are merged up to a standard deviation of the shift over this.
_PARTS = 2.0
# A normal is cut at this many standard deviations; a density is never below the least value, so
# that it has a logarithm.
_FAR_SD, _MIN_DENSITY = 8.0, 1e-300


def widened(span_m: tuple[float, float], problem: Problem) -> tuple[float, float]:
    """Return the span of a line extended by the possible shift of the reference walk."""
    if problem.reference < 0:
        return span_m
    variance = 1.0 / float(problem.precision[problem.reference]) + problem.common_shift_variance
    reach = min(_MAX_REACH_SD * variance**0.5, _MAX_REACH_M)
    return span_m[0] - reach, span_m[1] + reach


def log_density(scan: Scan, chainage_m: Floats, problem: Problem) -> Floats:
    """Return the log evidence in each cell of the line.

    A place in the coordinates of the reference walk is a normal density on the line. Its mean is
    the place plus the shift fitted there, its variance that of the shift. The densities are added.

    Parameters
    ----------
    scan : Scan
    chainage_m : ndarray of float, shape (g,)
        Midpoints of equal cells.
    problem : Problem

    Returns
    -------
    ndarray of float, shape (g,)
    """
    if problem.reference < 0:
        return scan.interpolate(chainage_m)
    places = evenly_spaced((float(scan.places[0]), float(scan.places[-1])), STEP_M)
    evidence = scan.interpolate(places)
    top = evidence.max()
    likely = evidence > top - _NEGLIGIBLE_NATS
    places, weight = places[likely], np.exp(evidence[likely] - top) * (places[1] - places[0])
    mean = places + np.interp(places, scan.places, scan.shift_m)
    variance = np.interp(places, scan.places, scan.shift_variance) + STEP_M**2
    variance += problem.common_shift_variance
    weight, mean, sd = _merged(weight, mean, variance)
    cell = chainage_m[1] - chainage_m[0] if len(chainage_m) > 1 else 2.0 * chainage_m[0]
    density = np.full(len(chainage_m), _MIN_DENSITY)
    # The density vanishes on nearly all of a line of kilometres.
    reach = np.max(sd) * _FAR_SD
    near = (chainage_m > mean.min() - reach) & (chainage_m < mean.max() + reach)
    if near.any():
        edges = np.append(chainage_m[near] - cell / 2, chainage_m[near][-1] + cell / 2)
        density[near] = np.maximum(_mixture(weight, mean, sd, edges) / cell, _MIN_DENSITY)
    return np.asarray(top + np.log(density))


def _merged(weight: Floats, mean: Floats, variance: Floats) -> tuple[Floats, Floats, Floats]:
    """Merge neighbouring normals; return weights, means and standard deviations."""
    size = max(int(variance.min() ** 0.5 / (_PARTS * STEP_M)), 1)
    first = np.arange(0, len(weight), size)
    total = np.add.reduceat(weight, first)
    merged_mean = np.add.reduceat(weight * mean, first) / total
    square = np.add.reduceat(weight * (variance + mean**2), first) / total
    return total, merged_mean, np.sqrt(square - merged_mean**2)


@compiled_part
def _reached(ascending: Floats, limit: float) -> int:
    """Return where values reach a limit; `numpy.searchsorted` takes a second to compile."""
    begin, end = 0, ascending.size
    while begin < end:
        middle = (begin + end) // 2
        if ascending[middle] < limit:
            begin = middle + 1
        else:
            end = middle
    return begin


@compiled
def _mixture(weight: Floats, mean: Floats, sd: Floats, edges: Floats) -> Floats:
    """Return the weight of a mixture of normals between ascending edges."""
    mass = np.zeros(edges.size - 1)
    for i in range(weight.size):
        unit = 1.0 / (sd[i] * math.sqrt(2.0))
        begin = max(_reached(edges, mean[i] - _FAR_SD * sd[i]) - 1, 0)
        end = min(_reached(edges, mean[i] + _FAR_SD * sd[i]), mass.size)
        below = math.erfc((mean[i] - edges[begin]) * unit)
        for j in range(begin, end):
            through = math.erfc((mean[i] - edges[j + 1]) * unit)
            mass[j] += 0.5 * weight[i] * (through - below)
            below = through
    return mass
