"""Where along a line a leak is likelier before listening: joints, past leaks, digs, age."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache, partial
from importlib.resources import files
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.arrays import floats
from leakgeo.errors import ParameterError
from leakgeo.find.posterior.past_events import Bumps, history_bumps, joint_bumps
from leakgeo.route.junctions import connected_parts, junctions_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from leakgeo.arrays import Floats, Ints
    from leakgeo.job.model import Job
    from leakgeo.route.junctions import Junctions
    from leakgeo.route.lines import Lines

KINDS = ("fittings", "past_leaks", "repairs", "excavations", "age")
_WORDS = {
    "fittings": ("joint or fitting", "joints or fittings"),
    "past_leaks": ("past leak", "past leaks"),
    "repairs": ("repair", "repairs"),
    "excavations": ("excavation", "excavations"),
}
# Bumps are at least a metre wide: sums in such steps are good to far better than a percent.
_STEP_M = 0.5
# Beyond so many deviations a bump is nothing.
_WIDE = 4.0
# A line this much likelier or less likely by its age than those it joins is said to be so.
_TOLD = 0.1


@dataclass(frozen=True, eq=False)
class PlacePrior:
    """Density of a leak before listening, along each line and between connected lines.

    Parameters
    ----------
    bumps : Bumps
        What makes a place likelier, in order of line.
    length_m : ndarray of float, shape (l,)
    log_mean : ndarray of float, shape (l,)
        Logarithm of the mean weight along each line, which is taken out.
    log_line : ndarray of float, shape (l,)
        Logarithm of the weight of each line by its age; over the length of a connected part the
        mean weight is one.
    log_older : ndarray of float, shape (l,)
        Logarithm by which each line is likelier than the lines that it joins, by their ages.
    by_age : callable
        The same for one line over another, by their places.
    limit : float
        No place is more than this many times likelier than another of its line.
    """

    bumps: Bumps
    length_m: Floats
    log_mean: Floats
    log_line: Floats
    log_older: Floats
    by_age: Callable[[Ints, Ints], Floats]
    limit: float

    def log_weight(self, line: int, chainage_m: Floats) -> Floats | None:
        """Give the log of the density along a line over an even one, None where it is even.

        Parameters
        ----------
        line : int
            Place of the line among the measurable ones.
        chainage_m : ndarray of float, shape (g,)

        Returns
        -------
        ndarray of float, shape (g,), or None
            Its exponential has a mean of one along the line.
        """
        if not (self.bumps.line == line).any():
            return None
        where = np.full(len(chainage_m), line)
        return self.log_weights(where, np.asarray(chainage_m, dtype=float))

    def log_weights(self, line: Ints, chainage_m: Floats) -> Floats:
        """Give the same for places on many lines, shape (n,); 0 where the density is even."""
        raw = np.log(_raw(self.bumps, self.limit, line, chainage_m, self.length_m))
        return np.asarray(raw - self.log_mean[line])

    def words(self, line: int) -> str:
        """Name what was used for a line, ``""`` where nothing was.

        Examples
        --------
        >>> from leakgeo.find.posterior.past_events import Bumps
        >>> one = np.ones(1)
        >>> bumps = Bumps(np.zeros(1, int), one, one, one, one, np.array([1]))
        >>> by_age = lambda line, other: 0.0 * line
        >>> PlacePrior(bumps, 9 * one, 0 * one, 0 * one, 0.2 * one, by_age, 3.0).words(0)
        '1 past leak, and older than the pipes it joins'
        """
        kind = self.bumps.kind[self.bumps.line == line]
        counts = [(int((kind == k).sum()), _WORDS[name]) for k, name in enumerate(_WORDS)]
        told = ", ".join(f"{n} {one if n == 1 else many}" for n, (one, many) in counts if n)
        by_age = float(self.log_older[line])
        if abs(by_age) < _TOLD:
            return told
        age = f"{'older' if by_age > 0 else 'newer'} than the pipes it joins"
        return f"{told}, and {age}" if told else age


def place_prior(
    job: Job, lines: Lines, priors: str = "all", junctions: Junctions | None = None
) -> PlacePrior:
    """Gather what makes a leak likelier at some places than at others, before listening.

    Parameters
    ----------
    job : Job
        Its contacts and history are used, and the routes' ``installed_year``.
    lines : Lines
    priors : str
        ``all``, ``none``, or some of ``fittings, past_leaks, repairs, excavations, age``.
    junctions : Junctions, optional
        Of `lines`; found here if None.

    Returns
    -------
    PlacePrior

    Raises
    ------
    ParameterError
        If a prior is named that there isn't.
    """
    wanted, weights = chosen(priors), load_place_weights()
    met = junctions_of(lines) if junctions is None else junctions
    bumps = Bumps.joined([
        joint_bumps(job, lines, met, weights["fittings"], 0) if "fittings" in wanted else None,
        *(history_bumps(job, lines, weights[name], k)
          for k, name in enumerate(KINDS[1:4], start=1) if name in wanted),
    ])  # fmt: skip
    limit = weights["limit"]["times"]
    age = weights["age"] if "age" in wanted else {**weights["age"], "times": 1.0}
    year = floats(lines.table, "installed_year")
    by_age = partial(_log_by_age, year, age)
    mean = _log_mean(bumps, limit, lines.length_m)
    return PlacePrior(
        bumps, lines.length_m, mean, _age_weights(lines, met, age), _log_older(met, by_age, year),
        by_age, limit,
    )  # fmt: skip


def chosen(priors: str) -> frozenset[str]:
    """Read which priors are wanted.

    Examples
    --------
    >>> sorted(chosen("age, repairs")), len(chosen("all")), len(chosen("none"))
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


@cache
def load_place_weights() -> Mapping[str, Mapping[str, float]]:
    """Load the weights of the priors, as ``place_prior.toml`` explains them."""
    text = (files("leakgeo.find.posterior") / "place_prior.toml").read_text("utf-8")
    weights: Mapping[str, Mapping[str, float]] = tomllib.loads(text)
    return weights


def _raw(bumps: Bumps, limit: float, line: Ints, at: Floats, length: Floats) -> Floats:
    """Weight of each place, not yet set to a mean of one, shape (n,)."""
    # Lines are laid one behind the other, so that one search serves them all.
    start = np.concatenate([[0.0], np.cumsum(length + 1.0)])
    place = start[line] + np.clip(at, 0.0, length[line])
    order = np.argsort(place, kind="stable")
    low = np.maximum(bumps.begin_m - _WIDE * bumps.reach_m, 0.0)
    high = np.minimum(bumps.end_m + _WIDE * bumps.reach_m, length[bumps.line])
    a = np.searchsorted(place[order], start[bumps.line] + low)
    b = np.searchsorted(place[order], start[bumps.line] + high, side="right")
    bump = np.repeat(np.arange(len(a)), b - a)
    where = order[np.arange(len(bump)) - np.repeat(np.cumsum(b - a) - (b - a), b - a) + a[bump]]
    away = np.maximum(bumps.begin_m[bump] - at[where], at[where] - bumps.end_m[bump]).clip(0.0)
    more = bumps.more[bump] * np.exp(-0.5 * (away / bumps.reach_m[bump]) ** 2)
    # Of one kind the strongest counts: two records of one leak are not two leaks.
    most = np.zeros((len(at), len(KINDS)))
    np.maximum.at(most, (where, bumps.kind[bump]), more)
    return np.asarray(np.minimum(np.prod(1.0 + most, axis=1), limit))


def _log_mean(bumps: Bumps, limit: float, length: Floats) -> Floats:
    """Log of the mean weight along each line; 0 where nothing is near it."""
    near = np.unique(bumps.line)
    cells = np.maximum(np.ceil(length[near] / _STEP_M), 4).astype(np.int64)
    line = np.repeat(near, cells)
    k = np.arange(len(line)) - np.repeat(np.cumsum(cells) - cells, cells)
    at = (k + 0.5) * np.repeat(length[near] / cells, cells)
    total = np.bincount(line, _raw(bumps, limit, line, at, length), len(length))
    count = np.bincount(line, minlength=len(length))
    return np.log(np.where(count > 0, total, 1.0) / np.maximum(count, 1))


def _log_by_age(year: Floats, weight: Mapping[str, float], line: Ints, other: Ints) -> Floats:
    """Log by which lines are likelier than others; 0 where a year isn't known."""
    older = ((year[other] - year[line]) / weight["over_years"]).clip(-1.0, 1.0)
    return np.asarray(np.nan_to_num(older * np.log(weight["times"])))


def _log_older(met: Junctions, by_age: Callable[[Ints, Ints], Floats], year: Floats) -> Floats:
    """Mean of that over the lines that each line joins."""
    line, other = (
        np.concatenate([met.line_a, met.line_b]), np.concatenate([met.line_b, met.line_a])
    )  # fmt: skip
    total = np.bincount(line, by_age(line, other), len(year))
    return np.asarray(total / np.maximum(np.bincount(line, minlength=len(year)), 1))


def _age_weights(lines: Lines, junctions: Junctions, weight: Mapping[str, float]) -> Floats:
    """Log weight of each line by its age among those that it is connected to."""
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
