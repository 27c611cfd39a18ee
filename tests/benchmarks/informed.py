"""The yardstick: a locator that is told every true constant of the line.

Hidden from it are only where the leak is, and the noise: coupling, placing, bursts, bad contacts,
rounding, and errors of position. Its share within a foot is the most that one could hope for from
these readings, up to the approximations named below.

Approximations: expectation propagation for the outliers; errors of position enter through the
exact mean and covariance of the level that they cause, taken as normal; the correlation of the
coupling is that between reported stops (softened by their error).
"""

from __future__ import annotations

from math import factorial

import numpy as np
from scipy.interpolate import CubicSpline

from leakgeo.simulate.noise import DECIBEL_TOP, SCALE_TOP, coupling_correlation
from leakgeo.simulate.positions import fix_correlation
from tests.benchmarks.ep import Outliers, log_evidence
from tests.benchmarks.estimate import Estimate, from_density

GRID_M = 0.05
_ORDER = 8


def informed(field) -> Estimate:
    """Locate the leak knowing all but the leak's position and the noise."""
    length = field.length_m
    end = 0.05 * length
    view = _View(field)
    coarse = np.linspace(end, length - end, int(np.ceil(0.9 * length / 0.4)) + 1)
    rough = view.log_evidence(coarse)
    quiet = float(view.log_evidence(None)[0])
    fine = np.arange(end, length - end, 0.1)
    fine = fine[np.interp(fine, coarse, rough) > rough.max() - 14.0]
    known = np.concatenate([coarse, fine])
    value = np.concatenate([rough, view.log_evidence(fine)])
    keep = np.unique(known.round(6), return_index=True)[1]
    grid = np.arange(end, length - end + 1e-9, GRID_M)
    curve = CubicSpline(known[keep], value[keep])(grid)
    mass = np.exp(curve - curve.max())
    leak = curve.max() + np.log(mass.mean())
    odds = 0.92 / 0.08 * np.exp(np.clip(leak - quiet, -50, 50))
    return from_density(grid, mass / mass.sum(), float(odds / (1 + odds)))


class _View:
    """A field as the informed locator sees it."""

    def __init__(self, field) -> None:
        self.field, self.truth, noise = field, field.truth, field.truth.noise
        self.band = np.array([self.truth.bands.index(b) for b in field.band])
        self.low, self.high = _intervals(field)
        several = len(self.truth.bands) > 1
        share = noise.reading_shared_by_bands if several else 0.0
        self.own_sd = noise.reading_sd_db * np.sqrt(1 - share)
        same_stop = field.stop[:, None] == field.stop
        same_band = self.band[:, None] == self.band
        coupled = noise.coupling_sd_db**2 * self._coupling(noise.coupling_length_m)
        coupled = coupled * np.where(same_band, 1.0, noise.coupling_shared_by_bands)
        shared = share * noise.reading_sd_db**2 * same_stop
        self.cov = coupled + shared + 1e-6 * np.eye(field.level.size)
        self.out = Outliers(
            noise.burst_share,
            noise.burst_readings,
            noise.burst_db,
            noise.bad_contact_share,
            noise.bad_contact_db,
        )
        self._position()

    def _coupling(self, length_m):
        """Correlation of coupling by reported distance, softened by the error between two stops."""
        s, sd = self.field.chainage_m, self.field.survey.position_sd_m
        apart = np.abs(s[:, None] - s)
        if sd < 0.2:
            return coupling_correlation(apart, length_m)
        node, weight = np.polynomial.hermite_e.hermegauss(9)
        weight = weight / weight.sum()
        gap = self._gap_sd()
        soft = sum(w * coupling_correlation(apart + gap * x, length_m)
                   for x, w in zip(node, weight, strict=True))  # fmt: skip
        return np.where(self.field.stop[:, None] == self.field.stop, 1.0, soft) + 1e-6 * np.eye(s.size)

    def _gap_sd(self):
        return self.field.survey.position_sd_m * np.sqrt(2 - 2 * np.minimum(self._rho(), 1.0))

    def _rho(self):
        """Correlation of position errors between rows."""
        f, s = self.field, self.field.survey
        same_stop = f.stop[:, None] == f.stop
        if f.taped:
            return same_stop.astype(float)
        first = np.searchsorted(f.stop, np.arange(f.stop[-1] + 1))
        drift = fix_correlation(f.walk[first], s.common_readings)[f.stop][:, f.stop]
        return np.where(same_stop, 1.0, s.common_share * drift)

    def _position(self) -> None:
        node, weight = np.polynomial.hermite_e.hermegauss(9 if self.field.survey.position_sd_m < 0.2 else 24)
        self.node, self.weight = node, weight / weight.sum()
        he = np.array([np.polynomial.hermite_e.hermeval(node, np.eye(_ORDER + 1)[k])
                       / np.sqrt(factorial(k)) for k in range(_ORDER + 1)])  # fmt: skip
        self.hermite = he
        self.rho = self._rho()

    def levels(self, leak_m):
        """Level at each stop for leaks, at each node of the stop's error: shape (g, n, nodes)."""
        f, survey = self.field, self.field.survey
        stop = f.chainage_m[:, None] + survey.position_sd_m * self.node
        stop = np.clip(stop, 0.0, f.length_m)
        offset = survey.sensor_offset_db + np.asarray(survey.gain_db)[f.walk]
        level = np.empty(((1 if leak_m is None else leak_m.size), *stop.shape))
        for k in range(len(self.truth.bands)):
            rows = self.band == k
            leak = None if leak_m is None else leak_m[:, None, None]
            level[:, rows] = self.truth.level_db(k, stop[rows], leak)
        return level + offset[:, None]

    def log_evidence(self, leak_m):
        """Log probability of the readings for each leak, or for none."""
        level = self.levels(leak_m)
        coefficient = np.einsum("gnq,kq,q->kgn", level, self.hermite, self.weight)
        mean = coefficient[0]
        g, n = mean.shape
        cov = np.broadcast_to(self.cov, (g, n, n)).copy()
        for k in range(1, _ORDER + 1):
            c = coefficient[k]
            cov += self.rho**k * c[:, :, None] * c[:, None, :]
        rest = level.var(axis=2) * 0
        total = np.einsum("gnq,q->gn", (level - mean[..., None]) ** 2, self.weight)
        rest = np.maximum(total - (coefficient[1:] ** 2).sum(axis=0), 0.0)
        cov[:, np.arange(n), np.arange(n)] += rest
        args = (self.low, self.high, self.own_sd, self.field.stop, self.out)
        return np.concatenate(
            [log_evidence(mean[i : i + 64], cov[i : i + 64], *args) for i in range(0, g, 64)]
        )


def _intervals(field):
    """Interval of the level that each displayed value stands for."""
    y = field.level
    if field.unit == "db":
        low, high, top = y - 0.5, y + 0.5, DECIBEL_TOP
    else:
        with np.errstate(divide="ignore"):
            low = field.survey.full_db + 20 * np.log10(np.maximum(y - 0.5, 0) / SCALE_TOP)
        high = field.survey.full_db + 20 * np.log10((y + 0.5) / SCALE_TOP)
        top = SCALE_TOP
    return np.where(y <= 0, -np.inf, low), np.where(y >= top, np.inf, high)
