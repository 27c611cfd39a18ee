"""The yardstick: a locator that is told every true constant of the line.

Hidden from it are only where the leak is, and the noise: coupling, placing, bursts, bad contacts,
rounding, and errors of position. Its share within a foot is the most that one could hope for from
these readings, up to the approximations named below.

Approximations: expectation propagation for the outliers; errors of position enter through the
exact mean and covariance of the level that they cause, taken as normal, save the shift of the whole
fine walk, which is integrated over; the correlation of the coupling is that between reported stops,
softened by their error.

Of satellite fixes it knows that a crew walks in even steps (their length, and how unevenly they are
paced, but not where a walk started): without that, fifteen loud stops in a row would pass for
fifteen independent witnesses of where the leak is, and the answer would be too bold.
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
LEAK_PRIOR = 0.92
SHIFT_M = 0.2  # Finer than sound can resolve, or the sum over shifts would miss its peak.
_ORDER = 8
_EXACT_SD_M = 0.2  # Below it the error of position is as good as normal in the level.


def informed(field) -> Estimate:
    """Locate the leak knowing all but the leak's position and the noise."""
    end = 0.05 * field.length_m
    far = field.length_m - end
    views, step, rough = _views(field)
    known = np.linspace(end, far, int(np.ceil((far - end) / rough)) + 1)
    value = sum(view.log_evidence(known) for view in views)
    if step < rough:
        more = np.arange(end, far, step)
        more = more[np.interp(more, known, value) > value.max() - 14.0]
        known = np.append(known, more)
        value = np.append(value, sum(view.log_evidence(more) for view in views))
        known, first = np.unique(known.round(6), return_index=True)
        value = value[first]
    grid = np.arange(end, far + 1e-9, GRID_M)
    curve = CubicSpline(known, value)(grid)
    mass = np.exp(curve - curve.max())
    quiet = sum(float(view.log_evidence(None)[0]) for view in views)
    gain = curve.max() + np.log(mass.mean()) - quiet
    odds = LEAK_PRIOR / (1 - LEAK_PRIOR) * np.exp(np.clip(gain, -50, 50))
    return from_density(grid, mass / mass.sum(), float(odds / (1 + odds)))


def _views(field):
    """Take all readings at once, or the walks apart where each has a shift of its own."""
    every = np.ones(field.level.size, dtype=bool)
    sd = field.survey.position_sd_m
    if sd < 1:
        return [View(field, every, field.walk == 1)], (0.1 if sd < _EXACT_SD_M else 0.2), 0.4
    walks = [field.walk == k for k in np.unique(field.walk)]
    return [View(field, rows, rows) for rows in walks], 0.6, 0.6


class View:
    """Readings of a field as the informed locator sees them; those of `shifted` move as one."""

    def __init__(self, field, rows, shifted) -> None:
        self.field, self.truth = field, field.truth
        noise = field.truth.noise
        self.walk, self.shifted = field.walk[rows], shifted[rows]
        self.band = np.array([self.truth.bands.index(b) for b in field.band[rows]])
        self.stop = np.unique(field.stop[rows], return_inverse=True)[1]
        self.same_stop = self.stop[:, None] == self.stop
        low, high = intervals(field)
        self.low, self.high = low[rows], high[rows]
        self.out = Outliers(
            noise.burst_share,
            noise.burst_readings,
            noise.burst_db,
            noise.bad_contact_share,
            noise.bad_contact_db,
        )
        place, cov = positions(field)
        self.stop_m, self.error_cov = place[rows], cov[np.ix_(rows, rows)]
        self._errors()
        self._covariance()

    def _errors(self) -> None:
        """Split errors of position into a shift of the fine walk and the rest."""
        cov, moves = self.error_cov, self.shifted
        self.shifts, self.shift_log_weight = np.zeros(1), np.zeros(1)
        if cov.max() > _EXACT_SD_M**2 and moves.any():
            first = np.unique(self.stop[moves], return_index=True)[1]
            stops = cov[np.ix_(moves, moves)][np.ix_(first, first)]
            shift_var = 0.999 / np.linalg.solve(stops, np.ones(len(first))).sum()
            cov = cov - shift_var * np.outer(moves, moves)
            reach = 2.8 * np.sqrt(shift_var)
            self.shifts = np.linspace(-reach, reach, 2 * int(np.ceil(reach / SHIFT_M)) + 1)
            weight = np.exp(-0.5 * self.shifts**2 / shift_var)
            self.shift_log_weight = np.log(weight / weight.sum())
        self.rest_sd = np.sqrt(np.diagonal(cov))
        self.rho = cov / np.outer(self.rest_sd, self.rest_sd)
        nodes = 9 if self.rest_sd.max() < _EXACT_SD_M else 20
        self.node, weight = np.polynomial.hermite_e.hermegauss(nodes)
        self.weight = weight / weight.sum()
        each = np.eye(_ORDER + 1)
        self.hermite = np.array(
            [
                np.polynomial.hermite_e.hermeval(self.node, each[k]) / np.sqrt(factorial(k))
                for k in range(_ORDER + 1)
            ]
        )

    def _covariance(self) -> None:
        noise, several = self.truth.noise, len(self.truth.bands) > 1
        share = noise.reading_shared_by_bands if several else 0.0
        self.own_sd = noise.reading_sd_db * np.sqrt(1 - share)
        coupled = noise.coupling_sd_db**2 * self._coupling(noise.coupling_length_m)
        same_band = self.band[:, None] == self.band
        coupled = coupled * np.where(same_band, 1.0, noise.coupling_shared_by_bands)
        shared = share * noise.reading_sd_db**2 * self.same_stop
        self.cov = coupled + shared + 1e-6 * np.eye(self.band.size)

    def _coupling(self, length_m):
        """Correlation of coupling by reported distance, softened by the error between two stops."""
        apart = self.stop_m[:, None] - self.stop_m
        var = np.diagonal(self.error_cov)
        gap = np.sqrt(np.maximum(var[:, None] + var - 2 * self.error_cov, 0.0))
        node, weight = np.polynomial.hermite_e.hermegauss(9)
        soft = sum(
            w * coupling_correlation(apart + gap * x, length_m)
            for x, w in zip(node, weight / weight.sum(), strict=True)
        )
        soft = np.where(self.same_stop, 1.0, soft)
        lowest = np.linalg.eigvalsh(soft)[0]
        return soft + max(1e-6 - lowest, 0.0) * np.eye(apart.shape[0])

    def _levels(self, leak_m, shift_m):
        """Level at each node of each stop's error, for pairs of leak and shift: (g, n, nodes)."""
        f, survey = self.field, self.field.survey
        stop = self.stop_m[:, None] + self.rest_sd[:, None] * self.node
        stop = stop - shift_m[:, None, None] * self.shifted[:, None]
        stop = np.clip(stop, 0.0, f.length_m)
        offset = survey.sensor_offset_db + np.asarray(survey.gain_db)[self.walk]
        level = np.empty(stop.shape)
        for k in range(len(self.truth.bands)):
            rows = self.band == k
            leak = None if leak_m is None else leak_m[:, None, None]
            level[:, rows] = self.truth.level_db(k, stop[:, rows], leak)
        return level + offset[:, None]

    def log_evidence(self, leak_m):
        """Log probability of the readings for each leak, or for none, shape (g,)."""
        g = 1 if leak_m is None else leak_m.size
        shift = np.tile(self.shifts, g)
        leaks = None if leak_m is None else np.repeat(leak_m, self.shifts.size)
        value = np.concatenate(
            [
                self._some(None if leaks is None else leaks[i : i + 64], shift[i : i + 64])
                for i in range(0, shift.size, 64)
            ]
        )
        joint = value.reshape(g, -1) + self.shift_log_weight
        return np.logaddexp.reduce(joint, axis=1)

    def _some(self, leak_m, shift_m):
        level = self._levels(leak_m, shift_m)
        coefficient = np.einsum("gnq,kq,q->kgn", level, self.hermite, self.weight, optimize=True)
        mean = coefficient[0]
        spread = np.einsum("gnq,q->gn", (level - mean[..., None]) ** 2, self.weight)
        cov = np.repeat(self.cov[None], mean.shape[0], axis=0)
        power = np.ones_like(self.rho)
        for c in coefficient[1:]:
            power = power * self.rho
            cov += power * c[:, :, None] * c[:, None, :]
        diagonal = np.arange(mean.shape[1])
        rest = spread - (coefficient[1:] ** 2).sum(axis=0)
        cov[:, diagonal, diagonal] += np.maximum(rest, 0.0)
        return log_evidence(mean, cov, self.low, self.high, self.own_sd, self.stop, self.out)


def intervals(field) -> tuple[np.ndarray, np.ndarray]:
    """Interval of the level that each displayed value stands for; infinite at the ends."""
    y = field.level
    low, high, top = y - 0.5, y + 0.5, DECIBEL_TOP
    if field.unit == "scale":
        low = field.survey.full_db + 20 * np.log10(np.maximum(y - 0.5, 1e-3) / SCALE_TOP)
        high, top = field.survey.full_db + 20 * np.log10((y + 0.5) / SCALE_TOP), SCALE_TOP
    return np.where(y <= 0, -np.inf, low), np.where(y >= top, np.inf, high)


def positions(field) -> tuple[np.ndarray, np.ndarray]:
    """Give the most likely place of each row's stop, and the covariance of what is left of error.

    Taped stops stand where the tape says, with its error. Fixes are joined with even steps, walk by
    walk: normal laws, with a flat one for where the walk started.
    """
    survey, same_stop = field.survey, field.stop[:, None] == field.stop
    if field.taped:
        return field.chainage_m, survey.position_sd_m**2 * same_stop
    first = np.searchsorted(field.stop, np.arange(field.stop[-1] + 1))
    walk, seq = field.walk[first], field.seq[first]
    drift = survey.common_share * fix_correlation(walk, survey.common_readings)
    cov = survey.position_sd_m**2 * (drift + (1 - survey.common_share) * np.eye(walk.size))
    precision = np.linalg.inv(cov)
    step = np.asarray(survey.step_m)[walk] * seq
    even = (np.eye(walk.size) - _mean_of_walk(walk)) / survey.stride_sd_m**2
    left = np.linalg.inv(precision + even)
    place = left @ (precision @ unclipped_chainage(field)[first] + even @ step)
    return place[field.stop], left[np.ix_(field.stop, field.stop)]


def _mean_of_walk(walk) -> np.ndarray:
    same = walk[:, None] == walk
    return same / same.sum(axis=1)


def unclipped_chainage(field) -> np.ndarray:
    """Chainage of fixes on the trace, its end legs prolonged."""
    xy, trace = field.xy, field.trace_xy
    chainage = field.chainage_m.copy()
    first, last = trace[1] - trace[0], trace[-1] - trace[-2]
    before = (xy - trace[0]) @ first / np.hypot(*first)
    after = (xy - trace[-1]) @ last / np.hypot(*last)
    total = np.hypot(*np.diff(trace, axis=0).T).sum()
    chainage = np.where(chainage <= 0, np.minimum(before, 0), chainage)
    return np.where(chainage >= total - 1e-9, total + np.maximum(after, 0), chainage)
