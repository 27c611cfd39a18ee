"""Errors of satellite fixes along the pipe, as their offsets across it show them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import gammaln

if TYPE_CHECKING:
    from leakgeo.arrays import Bools, Floats, Ints
    from leakgeo.sound.walk_law import WalkLaw

# Receivers often state too small an error: prior of the factor of the stated variance, as that of
# so many fixes.
STATED_VARIANCE_FACTOR, STATED_FIXES = 1.05, 8.0
# A crew follows the pipe to this distance: an offset that is no error of the fix.
WANDER_M = 0.1
# Offsets below this, in most of the stops of a walk, are of points that were put on the route.
SNAPPED_M, SNAPPED_SHARE = 0.02, 0.8


@dataclass(frozen=True)
class Fixes:
    """Positions of the stops of a visit to one line, in order.

    Parameters
    ----------
    chainage_m, offset_m, sd_m : ndarray of float, shape (n,)
        Place along the route, which is prolonged straight at its ends; offset from it; and stated
        1-sigma error.
    coarse : ndarray of bool, shape (n,)
        Which are satellite fixes with an error that others may share. Tapes and good fixes are
        independent, and as good as stated.
    walk : ndarray of int, shape (n,)
        Codes of the walks from 0, each of neighbouring stops.
    ordered : ndarray of bool, shape (n,)
        Whether the order within the walk is known.
    successive : bool
        Whether the order of the walks is known too.
    trace_sd_m : float
        1-sigma error of the trace of the route.
    """

    chainage_m: Floats
    offset_m: Floats
    sd_m: Floats
    coarse: Bools
    walk: Ints
    ordered: Bools
    successive: bool
    trace_sd_m: float

    @property
    def seen(self) -> Bools:
        """Which offsets show the error of a fix."""
        small = np.abs(self.offset_m) < SNAPPED_M
        share = np.bincount(self.walk, small) / np.maximum(np.bincount(self.walk), 1)
        return np.asarray(self.coarse & (share[self.walk] < SNAPPED_SHARE))


def correlations(fixes: Fixes, law: WalkLaw) -> Floats:
    """Return the correlation of the errors of the fixes at each node of a law, shape (m, n, n)."""
    n = len(fixes.sd_m)
    apart = np.abs(np.arange(n)[:, None] - np.arange(n))
    same = fixes.walk[:, None] == fixes.walk
    # Without an order all stops of a walk are as near as those of a walk are on average.
    apart[same & ~fixes.ordered & (apart > 0)] = n
    stops = np.append(np.arange(n), n / 3.0)
    found = np.empty((len(law.errors), n, n))
    both = fixes.coarse[:, None] & fixes.coarse
    follow = same | (fixes.successive & fixes.ordered[:, None] & fixes.ordered)
    # Looked up, as an exponential of each pair would take most of the time; the last one is 0.
    alone = len(stops)
    within, across = (np.where(both & joined, apart, alone) for joined in (same, follow))
    for k, (share, memory, by_walk) in enumerate(law.errors):
        table = np.append(share * np.exp(-stops / memory), 0.0)
        found[k] = table[within if by_walk else across]
        np.fill_diagonal(found[k], 1.0)
    return found


def offset_evidence(fixes: Fixes, law: WalkLaw) -> tuple[Floats, Floats]:
    """Return what the offsets of a visit show at each node of a law.

    Offsets are normal with an unknown factor of the stated variance, whose prior is inverse gamma:
    their marginal law is a multivariate t (Gelman et al., Bayesian Data Analysis, 3rd ed., 3.2).

    Parameters
    ----------
    fixes : Fixes
    law : WalkLaw

    Returns
    -------
    log_evidence, factor : ndarray of float, shape (m,)
        Log evidence of the offsets, and mean factor of the stated variance.
    """
    return _evidence(fixes, correlations(fixes, law))


def _evidence(fixes: Fixes, correlation: Floats) -> tuple[Floats, Floats]:
    """Return what `offset_evidence` does, from the correlations at the nodes."""
    seen = np.flatnonzero(fixes.seen)
    nodes, n, prior = len(correlation), len(seen), STATED_FIXES
    if n == 0:
        return np.zeros(nodes), np.full(nodes, STATED_VARIANCE_FACTOR)
    known = 1.0 / fixes.sd_m[seen]
    off = fixes.offset_m[seen] * known
    across = correlation[:, seen[:, None], seen] + np.outer(known, known) * fixes.trace_sd_m**2
    across += np.diag(known**2) * WANDER_M**2
    log_det = 2.0 * np.log(np.diagonal(np.linalg.cholesky(across), 0, 1, 2)).sum(axis=1)
    square = np.linalg.solve(across, np.tile(off[:, None], (nodes, 1, 1)))[:, :, 0] @ off
    total = prior * STATED_VARIANCE_FACTOR
    constant = gammaln(0.5 * (prior + n)) - gammaln(0.5 * prior)
    evidence = constant - 0.5 * (log_det + (prior + n) * np.log1p(square / total))
    return evidence, (total + square) / (prior + n - 2.0)


def error_covariance(fixes: Fixes, law: WalkLaw) -> Floats:
    """Return the covariance of the errors of fixes along the route, after their offsets.

    The error along the pipe is assumed to be of the kind of that across it. The covariance is the
    mean over the nodes of the law.

    Parameters
    ----------
    fixes : Fixes
    law : WalkLaw

    Returns
    -------
    ndarray of float, shape (n, n)

    Examples
    --------
    Equal offsets are of an error that the fixes of a walk share.

    >>> from leakgeo.sound.walk_law import WalkLaw
    >>> law = WalkLaw.of([[0.0, 1.0, 0.0, 1.0], [0.9, 40.0, 0.0, 1.0]], [[0.3, 1.0]])
    >>> one, walk = np.ones(20), np.zeros(20, dtype=int)
    >>> fixes = Fixes(np.arange(20.0), 1.5 * one, 1.5 * one, walk == 0, walk, walk == 0, True,
    ...               0.1)
    >>> cov = error_covariance(fixes, law)
    >>> bool(cov[0, 1] > 0.7 * cov[0, 0])
    True
    """
    correlation = correlations(fixes, law)
    evidence, factor = _evidence(fixes, correlation)
    weight = law.error_weight * np.exp(evidence - evidence.max())
    weight /= weight.sum()
    mean = np.tensordot(weight * factor, correlation, 1)
    good = ~fixes.coarse
    mean[good, good] = 1.0
    return np.asarray(mean * np.outer(fixes.sd_m, fixes.sd_m))
