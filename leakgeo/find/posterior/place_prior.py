"""Prior density of a leak along the lines: joints, past leaks, repairs, excavations, age."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.arrays import floats
from leakgeo.errors import ParameterError
from leakgeo.find.posterior.past_events import PriorKernels, history_kernels, joint_kernels
from leakgeo.find.weights import load_weights
from leakgeo.reason import Reason
from leakgeo.route.junctions import connected_parts, junctions_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from leakgeo.arrays import Floats, Ints
    from leakgeo.job.model import Job
    from leakgeo.route.junctions import Junctions
    from leakgeo.route.lines import Lines

KINDS = ("fittings", "past_leaks", "repairs", "excavations", "age")
# Kinds of kernels by their numbers.
_EVENTS = KINDS[:4]
# Spacing of numerical integration: the error is far below 1 %, as kernels are a metre wide or more.
_STEP_M = 0.5
# A kernel is cut at this many standard deviations.
_CUT_SD = 4.0
# Least absolute log ratio by age that is reported.
_MIN_REPORTED = 0.1


@dataclass(frozen=True, eq=False)
class PlacePrior:
    """Prior density of a leak along each line and between connected lines.

    Parameters
    ----------
    kernels : PriorKernels
        In order of line.
    length_m : ndarray of float, shape (l,)
    log_mean : ndarray of float, shape (l,)
        Log of the mean of the unnormalised density along each line.
    log_line : ndarray of float, shape (l,)
        Log of the weight of each line by its age. Over the length of a connected network the mean
        weight is one.
    log_age_ratio : ndarray of float, shape (l,)
        Log ratio, by age, of each line to the lines that it joins.
    by_age : callable
        Maps indices of lines and of others to the log ratio of each pair by age.
    limit : float
        Largest ratio of the density at two places of a line.
    """

    kernels: PriorKernels
    length_m: Floats
    log_mean: Floats
    log_line: Floats
    log_age_ratio: Floats
    by_age: Callable[[Ints, Ints], Floats]
    limit: float

    def log_weight(self, line: int, chainage_m: Floats) -> Floats | None:
        """Return the log of the density relative to its mean along the line; None if uniform.

        Parameters
        ----------
        line : int
            Index of the line among the measurable ones.
        chainage_m : ndarray of float, shape (g,)

        Returns
        -------
        ndarray of float, shape (g,), or None
            The mean of its exponential along the line is one.
        """
        if not (self.kernels.line == line).any():
            return None
        where = np.full(len(chainage_m), line)
        return self.log_weights(where, np.asarray(chainage_m, dtype=float))

    def log_weights(self, line: Ints, chainage_m: Floats) -> Floats:
        """Return the same for places on many lines, shape (n,); 0 where the density is uniform."""
        raw = np.log(_unnormalised(self.kernels, self.limit, line, chainage_m, self.length_m))
        return np.asarray(raw - self.log_mean[line])

    def description(self, line: int) -> Reason | None:
        """Describe the priors used for a line; None if none were.

        Examples
        --------
        >>> from leakgeo.find.posterior.past_events import PriorKernels
        >>> one = np.ones(1)
        >>> kernels = PriorKernels(np.zeros(1, int), one, one, one, one, np.array([1]))
        >>> by_age = lambda line, other: 0.0 * line
        >>> PlacePrior(kernels, 9 * one, 0 * one, 0 * one, 0.2 * one, by_age, 3.0).description(0)
        Reason('likelier_by', age='older', events=(Reason('prior_past_leaks', count=1),))
        """
        kind = self.kernels.kind[self.kernels.line == line]
        counts = [(name, int((kind == k).sum())) for k, name in enumerate(_EVENTS)]
        events = tuple(Reason(f"prior_{name}", count=count) for name, count in counts if count)
        log_ratio = float(self.log_age_ratio[line])
        age = "alike"
        if abs(log_ratio) >= _MIN_REPORTED:
            age = "older" if log_ratio > 0 else "newer"
        if events:
            return Reason("likelier_by", events=events, age=age)
        return None if age == "alike" else Reason("likelier_by_age", age=age)


def place_prior(
    job: Job, lines: Lines, priors: str = "all", junctions: Junctions | None = None
) -> PlacePrior:
    """Build the prior density of a leak along the lines of a job.

    Parameters
    ----------
    job : Job
        Contacts, history and ``installed_year`` of the routes are used.
    lines : Lines
    priors : str
        ``all``, ``none``, or a comma-separated choice of ``fittings``, ``past_leaks``,
        ``repairs``, ``excavations`` and ``age``.
    junctions : Junctions, optional
        Junctions of `lines`; computed if None.

    Returns
    -------
    PlacePrior

    Raises
    ------
    ParameterError
        If a prior is unknown.
    """
    wanted, weights = parse_priors(priors), load_place_weights()
    met = junctions_of(lines) if junctions is None else junctions
    kernels = PriorKernels.concatenated([
        joint_kernels(job, lines, met, weights["fittings"], 0) if "fittings" in wanted else None,
        *(history_kernels(job, lines, weights[name], k)
          for k, name in enumerate(KINDS[1:4], start=1) if name in wanted),
    ])  # fmt: skip
    limit = weights["limit"]["times"]
    age = weights["age"] if "age" in wanted else {**weights["age"], "times": 1.0}
    year = floats(lines.table, "installed_year")
    by_age = partial(_log_by_age, year, age)
    mean = _log_mean(kernels, limit, lines.length_m)
    return PlacePrior(
        kernels, lines.length_m, mean, _log_age_weight(lines, met, age),
        _log_age_ratio(met, by_age, year), by_age, limit,
    )  # fmt: skip


def parse_priors(priors: str) -> frozenset[str]:
    """Parse the ``priors`` parameter into the names of the priors to use.

    Examples
    --------
    >>> sorted(parse_priors("age, repairs")), len(parse_priors("all")), len(parse_priors("none"))
    (['age', 'repairs'], 5, 0)
    """
    if priors in ("all", "none", ""):
        return frozenset(KINDS if priors == "all" else ())
    named = frozenset(name.strip() for name in priors.split(","))
    if unknown := sorted(named - set(KINDS)):
        raise ParameterError.of(
            "priors",
            f"{', '.join(unknown)!r} is not known; use all, none, or some of {', '.join(KINDS)}.",
        )
    return named


def load_place_weights() -> Mapping[str, Mapping[str, float]]:
    """Load the weights of the priors; ``place_prior.toml`` explains them."""
    return load_weights("leakgeo.find.posterior", "place_prior")


def _unnormalised(
    kernels: PriorKernels, limit: float, line: Ints, at: Floats, length: Floats
) -> Floats:
    """Return the unnormalised density at places on lines, shape (n,)."""
    # Lines are put end to end, so that one sorted search covers all of them.
    start = np.concatenate([[0.0], np.cumsum(length + 1.0)])
    place = start[line] + np.clip(at, 0.0, length[line])
    order = np.argsort(place, kind="stable")
    low = np.maximum(kernels.begin_m - _CUT_SD * kernels.reach_m, 0.0)
    high = np.minimum(kernels.end_m + _CUT_SD * kernels.reach_m, length[kernels.line])
    a = np.searchsorted(place[order], start[kernels.line] + low)
    b = np.searchsorted(place[order], start[kernels.line] + high, side="right")
    # Every pair of a kernel `k` and a place `where` within its reach.
    k = np.repeat(np.arange(len(a)), b - a)
    where = order[np.arange(len(k)) - np.repeat(np.cumsum(b - a) - (b - a), b - a) + a[k]]
    away = np.maximum(kernels.begin_m[k] - at[where], at[where] - kernels.end_m[k]).clip(0.0)
    excess = kernels.excess[k] * np.exp(-0.5 * (away / kernels.reach_m[k]) ** 2)
    # Of one kind only the strongest counts: several records may be of one leak.
    most = np.zeros((len(at), len(KINDS)))
    np.maximum.at(most, (where, kernels.kind[k]), excess)
    return np.asarray(np.minimum(np.prod(1.0 + most, axis=1), limit))


def _log_mean(kernels: PriorKernels, limit: float, length: Floats) -> Floats:
    """Return the log of the mean unnormalised density of each line; 0 without kernels."""
    near = np.unique(kernels.line)
    cells = np.maximum(np.ceil(length[near] / _STEP_M), 4).astype(np.int64)
    line = np.repeat(near, cells)
    k = np.arange(len(line)) - np.repeat(np.cumsum(cells) - cells, cells)
    at = (k + 0.5) * np.repeat(length[near] / cells, cells)
    total = np.bincount(line, _unnormalised(kernels, limit, line, at, length), len(length))
    count = np.bincount(line, minlength=len(length))
    return np.log(np.where(count > 0, total, 1.0) / np.maximum(count, 1))


def _log_by_age(year: Floats, weight: Mapping[str, float], line: Ints, other: Ints) -> Floats:
    """Return the log ratio of lines to others by age; 0 where a year isn't known."""
    older = ((year[other] - year[line]) / weight["over_years"]).clip(-1.0, 1.0)
    return np.asarray(np.nan_to_num(older * np.log(weight["times"])))


def _log_age_ratio(met: Junctions, by_age: Callable[[Ints, Ints], Floats], year: Floats) -> Floats:
    """Return the mean log ratio by age of each line to the lines that it joins."""
    line, other = (
        np.concatenate([met.line_a, met.line_b]), np.concatenate([met.line_b, met.line_a])
    )  # fmt: skip
    total = np.bincount(line, by_age(line, other), len(year))
    return np.asarray(total / np.maximum(np.bincount(line, minlength=len(year)), 1))


def _log_age_weight(lines: Lines, junctions: Junctions, weight: Mapping[str, float]) -> Floats:
    """Return the log weight of each line by its age within its connected network."""
    year = floats(lines.table, "installed_year")
    part = connected_parts(len(year), junctions)
    known = np.isfinite(year)
    newest = np.full(int(part.max(initial=-1)) + 1, -np.inf)
    np.maximum.at(newest, part[known], year[known])
    older = ((newest[part] - year) / weight["over_years"]).clip(0.0, 1.0)
    raw = np.where(known, 1.0 + (weight["times"] - 1.0) * older, 0.0)
    length = np.where(known, lines.length_m, 0.0)
    total, metres = np.bincount(part, raw * length), np.bincount(part, length)
    mean = np.where(metres > 0, total, 1.0) / np.where(metres > 0, metres, 1.0)
    return np.asarray(np.where(known, np.log(np.where(known, raw, 1.0) / mean[part]), 0.0))
