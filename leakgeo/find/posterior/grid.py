"""Log evidence of a source place by place, with closer looks where the leak may be."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.posterior import kernel

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Ints
    from leakgeo.find.posterior.prior import Problem

# Cells of the posterior.
STEP_M = 0.05
# Looks at the line, each in the gaps of the last where the leak may be; the first sees all of it.
LOOKS_M = (0.8, 0.4, 0.2)
# Places this many nats below the best hold under 1e-3 of the probability: no closer look there.
DEEP_NATS = 8.0
# A broad posterior is smooth: no look needs more than this many places.
MOST_PLACES = 60
# Between places looked at closely the evidence can't rise by more than this, in nats.
_MOST_RISE = 1.0


@dataclass(frozen=True)
class Scan:
    """Log evidence by place, and the constants fitted there.

    Parameters
    ----------
    places : ndarray of float, shape (k,)
        Chainages, rising.
    evidence : ndarray of float, shape (k,)
        Natural logarithms.
    fitted : ndarray of float, shape (k, p)
        Constants at each place, in the kernel's order.
    shift_m, shift_variance : ndarray of float, shape (k,)
        By how much the frame that places are given in is shifted; 0 where there is no frame.
    """

    places: Floats
    evidence: Floats
    fitted: Floats
    shift_m: Floats
    shift_variance: Floats

    @property
    def best_m(self) -> float:
        """The best place."""
        return float(self.places[np.argmax(self.evidence)])

    @property
    def best(self) -> Floats:
        """The constants fitted at the best place, shape (p,)."""
        return np.asarray(self.fitted[np.argmax(self.evidence)])

    def at(self, chainage_m: Floats) -> Floats:
        """Log evidence at other places: a cubic near the likely ones, elsewhere straight."""
        if len(self.places) < 3:
            return np.asarray(np.interp(chainage_m, self.places, self.evidence))
        place, evidence = self.places, self.evidence
        near = evidence > evidence.max() - DEEP_NATS
        likely = near[1:] | near[:-1]
        gap = np.clip(np.searchsorted(place, chainage_m, "right") - 1, 0, len(place) - 2)
        width = (place[1:] - place[:-1])[gap]
        share = np.clip((chainage_m - place[gap]) / width, 0.0, 1.0)
        begin, rise = evidence[gap], (evidence[1:] - evidence[:-1])[gap]
        slope = np.gradient(evidence, place, edge_order=2)
        # Hermite's cubic, set off from the straight line.
        off = (slope[gap] * width - rise) * (1.0 - share) - (slope[gap + 1] * width - rise) * share
        most = np.maximum(evidence[gap], evidence[gap + 1]) + _MOST_RISE
        straight = begin + share * rise
        bent = np.minimum(straight + share * (1.0 - share) * off, most)
        return np.asarray(np.where(likely[gap], bent, straight))

    def with_more(self, other: Scan) -> Scan:
        """Both scans, whose places differ, as one."""
        order = np.argsort(np.concatenate([self.places, other.places]), kind="stable")
        return Scan(
            np.concatenate([self.places, other.places])[order],
            np.concatenate([self.evidence, other.evidence])[order],
            np.concatenate([self.fitted, other.fitted])[order],
            np.concatenate([self.shift_m, other.shift_m])[order],
            np.concatenate([self.shift_variance, other.shift_variance])[order],
        )

    def nearest(self, chainage_m: Floats) -> Ints:
        """Which of the places is nearest to each of some others."""
        edges = 0.5 * (self.places[1:] + self.places[:-1])
        return np.searchsorted(edges, chainage_m)

    def joined(self, other: Scan) -> Scan:
        """The better of two scans at every place of either: fits of one model, begun apart."""
        places = np.union1d(self.places, other.places)
        names = ("evidence", "shift_m", "shift_variance")
        mine, others = (
            np.array([np.interp(places, scan.places, getattr(scan, n)) for n in names])
            for scan in (self, other)
        )
        better = mine[0] >= others[0]
        evidence, shift, variance = np.where(better, mine, others)
        fitted = np.where(
            better[:, None],
            self.fitted[self.nearest(places)],
            other.fitted[other.nearest(places)],
        )
        return Scan(places, evidence, fitted, shift, variance)


def fit(model: int, place_m: float, problem: Problem, start: Floats) -> tuple[float, Floats]:
    """Log evidence at one place, and the constants fitted there."""
    weight, fitted = np.ones(len(problem.readings)), start.copy()
    work = kernel.make_work(problem.readings, problem.codes, len(start), problem.noise)
    evidence = kernel.fit_at(
        model, place_m, fitted, weight, problem.readings, problem.codes,
        problem.mean, problem.precision, problem.noise, work,
    )  # fmt: skip
    return evidence, fitted


def scan(
    model: int, places: Floats, problem: Problem, starts: Floats, first: int = 0,
    best: float = -np.inf,
) -> Scan:  # fmt: skip
    """Log evidence at `places`, each fit begun from its own row of `starts`.

    Where there is one row for all, the constants are carried from each place to the next, from
    the place `first` on. Places that fall far short of `best` are fitted in the rough.
    """
    fitted = np.empty((len(places), len(problem.mean)))
    variance = np.empty(len(places))
    evidence = kernel.scan(
        model, places, starts, problem.readings, problem.codes,
        problem.mean, problem.precision, problem.noise, problem.frame, fitted, variance,
        first, best,
    )  # fmt: skip
    shift = fitted[:, problem.frame] if problem.frame >= 0 else np.zeros(len(places))
    return Scan(places, evidence, fitted, shift, variance)


def look(
    model: int, span_m: tuple[float, float], problem: Problem, start: Floats, place_m: float
) -> Scan:
    """Scan a stretch of line, closer and closer wherever the leak may be.

    Parameters
    ----------
    model : int
        `kernel.ONE` or `kernel.TWO`.
    span_m : tuple of float
        Chainages that the stretch begins and ends at.
    problem : Problem
    start : ndarray of float, shape (p,)
        Constants to begin from.
    place_m : float
        Where they were fitted.

    Returns
    -------
    Scan
    """
    places = evenly(span_m, LOOKS_M[0])
    first = int(np.argmin(np.abs(places - place_m)))
    # Walks in a frame that were pulled along from the place before may have lost their peak.
    starts = np.tile(start, (1 if problem.frame < 0 else len(places), 1))
    seen = scan(model, places, problem, starts, first)
    for step in LOOKS_M[1:]:
        places = _between(seen, step)
        if len(places) == 0:
            continue
        starts = seen.fitted[seen.nearest(places)]
        closer = scan(model, places, problem, starts, best=float(seen.evidence.max()))
        seen = seen.with_more(closer)
    return seen


def evenly(span_m: tuple[float, float], step_m: float) -> Floats:
    """Places from one end of a stretch to the other, no more than a step apart.

    Examples
    --------
    >>> evenly((1.0, 2.0), 0.6).tolist()
    [1.0, 1.5, 2.0]
    """
    begin, end = span_m
    return np.linspace(begin, end, max(int(np.ceil((end - begin) / step_m)), 1) + 1)


def _between(seen: Scan, step: float) -> Floats:
    """Places `step` apart, or more where many, in the gaps beside every likely place."""
    near = seen.evidence > seen.evidence.max() - DEEP_NATS
    gaps = np.flatnonzero(near[1:] | near[:-1])
    begin, end = seen.places[gaps], seen.places[gaps + 1]
    step = max(step, float(np.sum(end - begin)) / MOST_PLACES)
    parts = np.maximum(np.ceil((end - begin) / step - 1e-9).astype(int), 1)
    owner = np.repeat(np.arange(len(gaps)), parts - 1)
    first = np.cumsum(parts - 1) - (parts - 1)
    share = (np.arange(len(owner)) - first[owner] + 1) / parts[owner]
    return np.asarray(begin[owner] + share * (end - begin)[owner])


def log_mean(log_values: Floats) -> float:
    """Logarithm of the mean of exponentials: every place is as likely beforehand.

    Examples
    --------
    >>> round(np.exp(log_mean(np.log([1.0, 3.0]))).item(), 9)
    2.0
    """
    top = log_values.max()
    return float(top + np.log(np.mean(np.exp(log_values - top))))
