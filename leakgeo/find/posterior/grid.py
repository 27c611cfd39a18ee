"""Log evidence of a source along a line, on a grid that is refined where the leak is likely."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.posterior import kernel

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.arrays import Floats, Ints
    from leakgeo.find.posterior.problem import Problem

# Length of the cells of the posterior.
STEP_M = 0.05
# Spacings of the grid: the first along the whole line, each next one only where a leak is likely.
SPACINGS_M = (0.8, 0.4, 0.2)
# A place is likely if its log evidence is within this of the best. The others together have a
# probability below 1e-3.
LIKELY_NATS = 8.0
# A refinement has no more places than this: a broad posterior is smooth.
MAX_PLACES = 60
# Largest rise of the interpolated log evidence above the places on both sides.
_MAX_RISE = 1.0


@dataclass(frozen=True)
class Scan:
    """Log evidence of a source at places along a line, and the constants fitted there.

    Parameters
    ----------
    places : ndarray of float, shape (k,)
        Chainages in metres, ascending.
    evidence : ndarray of float, shape (k,)
        Log evidence (natural logarithm).
    fitted : ndarray of float, shape (k, p)
        Constants at each place, in the order of `kernel`.
    shift_m, shift_variance : ndarray of float, shape (k,)
        Shift of the reference walk, in whose coordinates the places are, and its variance; 0
        without a reference walk.
    weights : ndarray of float, shape (k, n)
        Weights of the readings at each place: 1, or less for an outlier.
    """

    places: Floats
    evidence: Floats
    fitted: Floats
    shift_m: Floats
    shift_variance: Floats
    weights: Floats

    @property
    def best_m(self) -> float:
        """Place with the highest evidence."""
        return float(self.places[np.argmax(self.evidence)])

    @property
    def best(self) -> Floats:
        """Constants fitted at that place, shape (p,)."""
        return np.asarray(self.fitted[np.argmax(self.evidence)])

    def interpolate(self, chainage_m: Floats) -> Floats:
        """Return the log evidence at other places: cubic near likely places, linear elsewhere."""
        if len(self.places) < 3:
            return np.asarray(np.interp(chainage_m, self.places, self.evidence))
        place, evidence = self.places, self.evidence
        near = evidence > evidence.max() - LIKELY_NATS
        likely = near[1:] | near[:-1]
        gap = np.clip(np.searchsorted(place, chainage_m, "right") - 1, 0, len(place) - 2)
        width = (place[1:] - place[:-1])[gap]
        share = np.clip((chainage_m - place[gap]) / width, 0.0, 1.0)
        begin, rise = evidence[gap], (evidence[1:] - evidence[:-1])[gap]
        slope = np.gradient(evidence, place, edge_order=2)
        # Cubic Hermite interpolation, as the difference from the straight line.
        off = (slope[gap] * width - rise) * (1.0 - share) - (slope[gap + 1] * width - rise) * share
        highest = np.maximum(evidence[gap], evidence[gap + 1]) + _MAX_RISE
        straight = begin + share * rise
        curved = np.minimum(straight + share * (1.0 - share) * off, highest)
        return np.asarray(np.where(likely[gap], curved, straight))

    def merged(self, other: Scan) -> Scan:
        """Return one scan with the places of both, which must differ."""
        order = np.argsort(np.concatenate([self.places, other.places]), kind="stable")
        return Scan(
            np.concatenate([self.places, other.places])[order],
            np.concatenate([self.evidence, other.evidence])[order],
            np.concatenate([self.fitted, other.fitted])[order],
            np.concatenate([self.shift_m, other.shift_m])[order],
            np.concatenate([self.shift_variance, other.shift_variance])[order],
            np.concatenate([self.weights, other.weights])[order],
        )

    def nearest(self, chainage_m: Floats) -> Ints:
        """Return the index of the place nearest to each chainage."""
        edges = 0.5 * (self.places[1:] + self.places[:-1])
        return np.searchsorted(edges, chainage_m)

    def upper_envelope(self, other: Scan) -> Scan:
        """Return at each place of either scan the one with the higher evidence.

        Both are of one model, fitted from different initial constants.
        """
        places = np.union1d(self.places, other.places)
        names = ("evidence", "shift_m", "shift_variance")
        mine, others = (
            np.array([np.interp(places, scan.places, getattr(scan, n)) for n in names])
            for scan in (self, other)
        )
        better = mine[0] >= others[0]
        evidence, shift, variance = np.where(better, mine, others)
        here, there = self.nearest(places), other.nearest(places)
        fitted, weights = (
            np.where(better[:, None], getattr(self, n)[here], getattr(other, n)[there])
            for n in ("fitted", "weights")
        )
        return Scan(places, evidence, fitted, shift, variance, weights)


def fit(
    model: int, place_m: float, problem: Problem, start: Floats
) -> tuple[float, Floats, Floats]:
    """Return the log evidence of a source at one place, the constants and weights fitted there."""
    fitted, weights = np.empty((1, len(start))), np.empty((1, len(problem.readings)))
    evidence = kernel.scan(
        model, np.array([place_m]), start[None], problem.readings, problem.codes, problem.mean,
        problem.precision, problem.noise, -1, fitted, np.empty(1), weights, 0, -np.inf,
    )  # fmt: skip
    return float(evidence[0]), fitted[0], weights[0]


def scan(
    model: int, places: Floats, problem: Problem, starts: Floats, first: int = 0,
    best: float = -np.inf,
) -> Scan:  # fmt: skip
    """Return the log evidence at `places`, each fitted from its row of initial constants `starts`.

    With a single row, the constants fitted at each place start the fit at the next one, from the
    place `first` outwards. A fit that falls far below `best` is not completed.
    """
    fitted = np.empty((len(places), len(problem.mean)))
    variance, weights = np.empty(len(places)), np.empty((len(places), len(problem.readings)))
    evidence = kernel.scan(
        model, places, starts, problem.readings, problem.codes,
        problem.mean, problem.precision, problem.noise, problem.reference, fitted, variance,
        weights, first, best,
    )  # fmt: skip
    shift = fitted[:, problem.reference] if problem.reference >= 0 else np.zeros(len(places))
    return Scan(places, evidence, fitted, shift, variance, weights)


def adaptive_scan(
    model: int, span_m: tuple[float, float], problem: Problem, start: Floats, place_m: float,
    spacings_m: Sequence[float] = SPACINGS_M,
) -> Scan:  # fmt: skip
    """Scan a stretch of line on a grid that is refined around likely places.

    Parameters
    ----------
    model : int
        `kernel.ONE` or `kernel.TWO`.
    span_m : tuple of float
        Chainages of the ends of the stretch.
    problem : Problem
    start : ndarray of float, shape (p,)
        Initial constants.
    place_m : float
        Place where they were fitted.
    spacings_m : sequence of float
        Spacing of the places along the whole stretch, then of each refinement.

    Returns
    -------
    Scan
    """
    places = evenly_spaced(span_m, spacings_m[0])
    first = int(np.argmin(np.abs(places - place_m)))
    # With a reference walk, constants carried from place to place may have lost the right peak.
    starts = np.tile(start, (1 if problem.reference < 0 else len(places), 1))
    found = scan(model, places, problem, starts, first)
    for spacing in spacings_m[1:]:
        places = _refined_places(found, spacing)
        if len(places) == 0:
            continue
        starts = found.fitted[found.nearest(places)]
        finer = scan(model, places, problem, starts, best=float(found.evidence.max()))
        found = found.merged(finer)
    return found


def evenly_spaced(span_m: tuple[float, float], spacing_m: float) -> Floats:
    """Return places from one end of a stretch to the other, at most `spacing_m` apart.

    Examples
    --------
    >>> evenly_spaced((1.0, 2.0), 0.6).tolist()
    [1.0, 1.5, 2.0]
    """
    begin, end = span_m
    return np.linspace(begin, end, max(int(np.ceil((end - begin) / spacing_m)), 1) + 1)


def _refined_places(found: Scan, spacing_m: float) -> Floats:
    """Return new places in the gaps next to likely places, at most `MAX_PLACES` of them."""
    likely = found.evidence > found.evidence.max() - LIKELY_NATS
    gaps = np.flatnonzero(likely[1:] | likely[:-1])
    begin, end = found.places[gaps], found.places[gaps + 1]
    spacing_m = max(spacing_m, float(np.sum(end - begin)) / MAX_PLACES)
    parts = np.maximum(np.ceil((end - begin) / spacing_m - 1e-9).astype(int), 1)
    owner = np.repeat(np.arange(len(gaps)), parts - 1)
    first = np.cumsum(parts - 1) - (parts - 1)
    share = (np.arange(len(owner)) - first[owner] + 1) / parts[owner]
    return np.asarray(begin[owner] + share * (end - begin)[owner])


def log_mean(log_values: Floats) -> float:
    """Return the log of the mean of exponentials: the evidence under a uniform prior of the place.

    Examples
    --------
    >>> round(np.exp(log_mean(np.log([1.0, 3.0]))).item(), 9)
    2.0
    """
    top = log_values.max()
    return float(top + np.log(np.mean(np.exp(log_values - top))))
