"""Evidence of readings under a Gaussian process with outliers, by expectation propagation.

For many candidate leaks at once. The levels behind the display are jointly normal given the leak;
a reading is the interval that the display rounds them to, after a burst, a bad contact or neither.
Kinds of outlier follow their Markov chain in the order of listening, and readings in several bands
share the kind. The algorithm is textbook: Rasmussen and Williams, Gaussian Processes for Machine
Learning, section 3.6, with the kinds as one more tree-shaped part of the factor graph.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import log_ndtr, ndtr

_ROOT_2PI = np.sqrt(2 * np.pi)


@dataclass(frozen=True)
class Outliers:
    """Chain of kinds (none, burst, bad contact) and sizes of the shifts, in decibels."""

    burst_share: float
    burst_readings: float
    burst_db: float
    bad_share: float
    bad_db: float
    least_db: float = 2.0

    def start(self) -> np.ndarray:
        """Probability of each kind at any one stop, shape (3,)."""
        p = self.burst_share
        return np.array([(1 - p) * (1 - self.bad_share), p, (1 - p) * self.bad_share])

    def turn(self) -> np.ndarray:
        """Probability of each kind after each, shape (3, 3)."""
        stay = 1 - 1 / self.burst_readings
        come = min(self.burst_share / (1 - self.burst_share) / self.burst_readings, 1.0)
        rows = np.array([come, stay, come])
        return np.column_stack(
            [(1 - rows) * (1 - self.bad_share), rows, (1 - rows) * self.bad_share]
        )


def kind_moments(mean, var, low, high, own_sd, out):
    """Give the probability of each reading by kind, and its two derivatives by the mean.

    Parameters
    ----------
    mean, var : ndarray, shape (g, n)
        Of the level, without the reading.
    low, high : ndarray, shape (n,)
        The interval that the display tells; infinite at its ends.
    own_sd : float
        Standard deviation of what is independent from reading to reading.
    out : Outliers

    Returns
    -------
    ndarray, shape (3, 3, g, n)
        Value, first and second derivative; by kind.
    """
    sd = np.sqrt(var + own_sd**2)
    plain = _interval(_normal, low - mean, high - mean, sd, None)
    burst = _interval(_emg, low - mean - out.least_db, high - mean - out.least_db, sd, out.burst_db)
    bad = _interval(_emg, mean - high - out.least_db, mean - low - out.least_db, sd, out.bad_db)
    bad[1] = -bad[1]
    return np.stack([plain, burst, bad], axis=1)


def _interval(law, low, high, sd, tail):
    a, b = law(np.clip(low, -1e4, 1e4), sd, tail), law(np.clip(high, -1e4, 1e4), sd, tail)
    return np.stack([b[0] - a[0], a[1] - b[1], b[2] - a[2]])


def _normal(u, sd, _tail):
    z = u / sd
    density = np.exp(-0.5 * z**2) / (_ROOT_2PI * sd)
    return ndtr(z), density, -density * z / sd


def _emg(u, sd, tail):
    """Distribution, density and slope of a normal plus an exponential of mean `tail`."""
    z = u / sd
    density = np.exp(np.minimum(-u / tail + 0.5 * (sd / tail) ** 2 + log_ndtr(z - sd / tail), 50))
    density = density / tail
    normal = np.exp(-0.5 * z**2) / (_ROOT_2PI * sd)
    return ndtr(z) - tail * density, density, (normal - density) / tail


def _kinds(like, stop, out):
    """Run the chain of kinds: prior of each row without its own evidence, and the log evidence.

    Parameters
    ----------
    like : ndarray, shape (3, g, n)
        Evidence of each row for each kind.
    stop : ndarray of int, shape (n,)
        Stop of each row, ascending.
    """
    stops = int(stop[-1]) + 1
    at_stop = np.ones((3, like.shape[1], stops))
    np.multiply.at(at_stop, (slice(None), slice(None), stop), like)
    start, turn = out.start(), out.turn()
    ahead, back = np.empty_like(at_stop), np.ones_like(at_stop)
    log_evidence = np.zeros(like.shape[1])
    expected = np.repeat(start[:, None], like.shape[1], axis=1)
    for s in range(stops):
        ahead[:, :, s] = expected
        filtered = ahead[:, :, s] * at_stop[:, :, s]
        total = filtered.sum(axis=0)
        filtered = filtered / total
        log_evidence += np.log(total)
        expected = turn.T @ filtered
    for s in range(stops - 2, -1, -1):
        message = turn @ (at_stop[:, :, s + 1] * back[:, :, s + 1])
        back[:, :, s] = message / message.sum(axis=0)
    prior = (ahead * back)[:, :, stop] * at_stop[:, :, stop] / like
    return prior / prior.sum(axis=0), log_evidence


def log_evidence(mean, cov, low, high, own_sd, stop, out, sweeps=8, damping=0.8):
    """Log probability of the readings for each candidate.

    Parameters
    ----------
    mean : ndarray, shape (g, n)
        Level that each candidate gives at each reading.
    cov : ndarray, shape (n, n) or (g, n, n)
        Covariance of the levels.
    low, high, own_sd, stop, out
        As in `kind_moments`; `stop` ascending from 0, in the order of listening.

    Returns
    -------
    ndarray, shape (g,)
    """
    g, n = mean.shape
    cov = np.broadcast_to(cov, (g, n, n))
    tau, nu = np.zeros((g, n)), np.zeros((g, n))
    var, at = np.diagonal(cov, axis1=1, axis2=2).copy(), np.zeros((g, n))
    prior = np.broadcast_to(out.start()[:, None, None], (3, g, n))
    log_det, fit = np.zeros(g), np.zeros(g)
    for sweep in range(sweeps):
        free = np.maximum(1 / var - tau, 1e-8)
        cav_var = 1 / free
        cav = (at / var - nu) * cav_var
        z, dz, ddz = kind_moments(mean + cav, cav_var, low, high, own_sd, out)
        z = np.maximum(z, 1e-300)
        prior, chain = _kinds(z, stop, out)
        whole = (prior * z).sum(axis=0)
        a = (prior * dz).sum(axis=0) / whole
        b = a**2 - (prior * ddz).sum(axis=0) / whole
        curve = np.clip(b, 1e-8, 0.999 * free)
        new_tau = curve / (1 - cav_var * curve)
        new_nu = (a + cav * curve) / (1 - cav_var * curve)
        if sweep == sweeps - 1:
            break
        keep = damping if sweep else 1.0
        tau, nu = tau + keep * (new_tau - tau), nu + keep * (new_nu - nu)
        at, var, log_det, fit = _posterior(cov, tau, nu)
    each = -0.5 * np.log1p(tau * cav_var) + (2 * cav * nu + nu**2 * cav_var - tau * cav**2) / (
        2 * (1 + tau * cav_var)
    )
    return -0.5 * log_det + 0.5 * fit - each.sum(axis=1) + chain


def _posterior(cov, tau, nu):
    """Mean and variance of the levels, log determinant and fit, given Gaussian sites."""
    n = tau.shape[1]
    root = np.sqrt(tau)
    b = np.eye(n) + root[:, :, None] * cov * root[:, None, :]
    lower = np.linalg.cholesky(b)
    a = np.linalg.solve(lower, root[:, :, None] * cov)
    var = np.diagonal(cov, axis1=1, axis2=2) - (a**2).sum(axis=1)
    at = (cov @ nu[:, :, None])[..., 0] - (a.transpose(0, 2, 1) @ (a @ nu[:, :, None]))[..., 0]
    log_det = 2 * np.log(np.diagonal(lower, axis1=1, axis2=2)).sum(axis=1)
    return at, np.maximum(var, 1e-9), log_det, (nu * at).sum(axis=1)
