"""Log evidence of a source place by place, with closer looks where the leak may be."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find import kernel

if TYPE_CHECKING:
    from leakgeo.arrays import Floats
    from leakgeo.find.prior import Problem

# Cells of the posterior.
STEP_M = 0.05
# Looks at the line, each in the gaps of the last where the leak may be; the first sees all of it.
LOOKS_M = (0.8, 0.4, 0.15, 0.075)
# Places this many nats below the best hold under 1e-3 of the probability: no closer look there.
DEEP_NATS = 8.0
# A broad posterior is smooth: no look needs more than this many places.
MOST_PLACES = 60


@dataclass(frozen=True)
class Scan:
    """Log evidence by place, and the constants fitted at the best of them.

    Parameters
    ----------
    places : ndarray of float, shape (k,)
        Chainages, rising.
    evidence : ndarray of float, shape (k,)
        Natural logarithms.
    fitted : ndarray of float, shape (p,)
        Constants at the best place, in the kernel's order.
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

    def at(self, chainage_m: Floats) -> Floats:
        """Log evidence at other places, straight between those looked at."""
        return np.asarray(np.interp(chainage_m, self.places, self.evidence))

    def with_more(self, other: Scan) -> Scan:
        """Both scans, whose places differ, as one."""
        order = np.argsort(np.concatenate([self.places, other.places]), kind="stable")
        return Scan(
            np.concatenate([self.places, other.places])[order],
            np.concatenate([self.evidence, other.evidence])[order],
            self._better(other).fitted,
            np.concatenate([self.shift_m, other.shift_m])[order],
            np.concatenate([self.shift_variance, other.shift_variance])[order],
        )

    def _better(self, other: Scan) -> Scan:
        return self if self.evidence.max() >= other.evidence.max() else other

    def joined(self, other: Scan) -> Scan:
        """The better of two scans at every place of either: fits of one model, begun apart."""
        places = np.union1d(self.places, other.places)
        names = ("evidence", "shift_m", "shift_variance")
        mine, others = (
            np.array([np.interp(places, scan.places, getattr(scan, n)) for n in names])
            for scan in (self, other)
        )
        evidence, shift, variance = np.where(mine[0] >= others[0], mine, others)
        return Scan(places, evidence, self._better(other).fitted, shift, variance)


def fit(model: int, place_m: float, problem: Problem, start: Floats) -> tuple[float, Floats]:
    """Log evidence at one place, and the constants fitted there."""
    weight, fitted = np.ones(len(problem.readings)), start.copy()
    work = kernel.make_work(problem.readings, problem.codes, len(start), problem.noise)
    evidence = kernel.fit_at(
        model, place_m, fitted, weight, problem.readings, problem.codes,
        problem.mean, problem.precision, problem.noise, work,
    )  # fmt: skip
    return evidence, fitted


def scan(model: int, places: Floats, problem: Problem, start: Floats) -> Scan:
    """Log evidence at `places`, the constants carried from each to the next."""
    fitted = np.empty((len(places), len(problem.mean)))
    variance = np.empty(len(places))
    evidence = kernel.scan(
        model, places, start, problem.readings, problem.codes,
        problem.mean, problem.precision, problem.noise, problem.frame, fitted, variance,
    )  # fmt: skip
    shift = fitted[:, problem.frame] if problem.frame >= 0 else np.zeros(len(places))
    return Scan(places, evidence, fitted[np.argmax(evidence)], shift, variance)


def look(model: int, span_m: tuple[float, float], problem: Problem, start: Floats) -> Scan:
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

    Returns
    -------
    Scan
    """
    seen = scan(model, evenly(span_m, LOOKS_M[0]), problem, start)
    for step in LOOKS_M[1:]:
        places = _between(seen, step)
        if len(places) == 0:
            continue
        closer = scan(model, places, problem, seen.fitted)
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
