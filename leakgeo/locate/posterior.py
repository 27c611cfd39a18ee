"""The posterior of the leak's place along one line, and the odds that there is a leak at all."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.locate import kernel

if TYPE_CHECKING:
    from leakgeo.arrays import Floats
    from leakgeo.locate.prior import Problem
    from leakgeo.sound.constants import Constants

STEP_M = 0.05
COARSE_M = 0.25
# Places this many nats below the best hold under 1e-4 of the probability: no finer look there.
DEEP_NATS = 10.0
# Scales of the noise that a line's own readings choose from, about what is assumed.
_SCALES = np.array([0.35, 0.5, 0.7, 1.0, 1.4, 2.0, 2.8, 4.0])


@dataclass(frozen=True)
class Posterior:
    """Where the leak is along one line, and whether there is one.

    Parameters
    ----------
    chainage_m : ndarray of float, shape (g,)
        Middles of cells that are `STEP_M` long or a little less.
    probability : ndarray of float, shape (g,)
        Of the leak being in each cell, given that there is one; sums to one.
    leak_probability : float
        That there is a leak on the line at all.
    second_probability : float
        That another steady source sounds besides a leak, given a leak.
    constants : ndarray of float, shape (p,)
        Fitted constants at the likeliest place, in the kernel's order.
    """

    chainage_m: Floats
    probability: Floats
    leak_probability: float
    second_probability: float
    constants: Floats


@dataclass(frozen=True)
class _Scan:
    """Log evidence by place, and the constants fitted there."""

    places: Floats
    evidence: Floats
    fitted: Floats

    @property
    def best(self) -> int:
        return int(np.argmax(self.evidence))

    def mean_evidence(self) -> float:
        """Log of the evidence averaged over the line: every place is as likely beforehand."""
        top = self.evidence.max()
        return float(top + np.log(np.mean(np.exp(self.evidence - top))))


def posterior(
    problem: Problem, length_m: float, constants: Constants, leak_prior: float
) -> Posterior:
    """Work out where the leak is on a line, and the probability that there is one.

    Models are compared by evidence: silence, another source alone, a leak, a leak with another
    source. Each has its place scanned, its constants integrated out, its noise level chosen by
    the readings.

    Parameters
    ----------
    problem : Problem
    length_m : float
        Ground length of the line.
    constants : Constants
    leak_prior : float
        Probability of a leak before listening.

    Returns
    -------
    Posterior
    """
    coarse = np.linspace(0.0, length_m, max(int(np.ceil(length_m / COARSE_M)), 1) + 1)
    first = _scan(kernel.ONE, coarse, problem)
    tuned = _tuned(kernel.ONE, first, problem, constants)
    one = _refined(kernel.ONE, _scan(kernel.ONE, coarse, tuned), tuned)
    two = _with_other(one, coarse, tuned, constants)
    silent = _silent_evidence(problem, constants)
    alone = _scan(kernel.ONE, coarse[::2], _beside(tuned, constants)).mean_evidence()
    return _weigh(length_m, one, two, silent, alone, constants, leak_prior)


def _scan(model: int, places: Floats, problem: Problem, start: Floats | None = None) -> _Scan:
    fitted = np.empty((len(places), len(problem.mean)))
    evidence = kernel.scan(
        model, places, problem.mean if start is None else start, problem.readings, problem.codes,
        problem.mean, problem.precision, problem.noise, fitted,
    )  # fmt: skip
    return _Scan(places, evidence, fitted)


def _tuned(model: int, scan: _Scan, problem: Problem, constants: Constants) -> Problem:
    """Let the readings say how noisy they are, at the likeliest place: a weighted mean in log."""
    place, start = scan.places[scan.best], scan.fitted[scan.best]
    trials = [_scaled(problem, factor) for factor in _SCALES]
    degrees = constants.noise["scale_degrees"]
    # Scaled inverse chi-square prior of the variance's scale.
    prior = -0.5 * degrees * (np.log(_SCALES) + 1.0 / _SCALES)
    score = prior + np.array([_fit(model, place, trial, start) for trial in trials])
    weight = np.exp(score - score.max())
    return _scaled(problem, float(np.exp(np.average(np.log(_SCALES), weights=weight))))


def _scaled(problem: Problem, factor: float) -> Problem:
    noise = problem.noise.copy()
    noise[kernel.SCALE] *= factor
    return replace(problem, noise=noise)


def _fit(model: int, place: float, problem: Problem, start: Floats) -> float:
    weight = np.ones(len(problem.readings))
    return kernel.fit_at(
        model, place, start.copy(), weight, problem.readings, problem.codes,
        problem.mean, problem.precision, problem.noise,
    )  # fmt: skip


def _refined(model: int, scan: _Scan, problem: Problem) -> _Scan:
    """Look closer wherever the posterior isn't negligible."""
    near = scan.evidence > scan.evidence.max() - DEEP_NATS
    near[1:] |= near[:-1].copy()
    near[:-1] |= near[1:].copy()
    step = max(STEP_M, near.sum() * COARSE_M / 80.0)
    inner = [
        np.linspace(a, b, int(np.ceil((b - a) / step)), endpoint=False)[1:]
        for a, b in zip(scan.places[:-1][near[:-1]], scan.places[1:][near[:-1]], strict=True)
    ]
    places = np.concatenate(inner) if inner else np.empty(0)
    finer = _scan(model, places, problem, scan.fitted[scan.best])
    both = np.concatenate([scan.places, places])
    order = np.argsort(both)
    return _Scan(
        both[order],
        np.concatenate([scan.evidence, finer.evidence])[order],
        np.concatenate([scan.fitted, finer.fitted])[order],
    )


def _beside(problem: Problem, constants: Constants) -> Problem:
    """The same readings, heard as a source beside the pipe rather than in it."""
    mean, precision = problem.mean.copy(), problem.precision.copy()
    mean[kernel.DEPTH] = np.log(constants.other["away_m"])
    precision[kernel.DEPTH] = constants.other["away_ln"] ** -2.0
    share = kernel.BANDS + kernel.SHARE
    mean[share :: kernel.PER_BAND][: _bands(problem)] = -6.0
    return replace(problem, mean=mean, precision=precision)


def _bands(problem: Problem) -> int:
    return int(problem.codes[:, kernel.BAND].max()) + 1


def _silent_evidence(problem: Problem, constants: Constants) -> float:
    scan = _Scan(np.zeros(1), np.zeros(1), problem.mean[None, :])
    tuned = _tuned(kernel.SILENT, scan, problem, constants)
    return _fit(kernel.SILENT, 0.0, tuned, problem.mean)


def _with_other(one: _Scan, coarse: Floats, problem: Problem, constants: Constants) -> _Scan:
    """Scan for a leak while another source sounds where it helps most."""
    starts = []
    for other in coarse[:: max(int(1.5 / COARSE_M), 1)]:
        start = one.fitted[one.best].copy()
        start[kernel.OTHER_PLACE] = other
        place = float(one.places[one.best])
        weight = np.ones(len(problem.readings))
        evidence = kernel.fit_at(
            kernel.TWO, place, start, weight, problem.readings, problem.codes,
            problem.mean, problem.precision, problem.noise,
        )  # fmt: skip
        starts.append((evidence, start))
    best = max(starts, key=lambda s: s[0])[1]
    return _refined(kernel.TWO, _scan(kernel.TWO, coarse, problem, best), problem)


def _weigh(
    length_m: float, one: _Scan, two: _Scan, silent: float, alone: float, constants: Constants,
    leak_prior: float,
) -> Posterior:  # fmt: skip
    """Average the models by their evidence and lay the result out in equal cells."""
    other = constants.other["probability"]
    cells = max(int(np.ceil(length_m / STEP_M)), 1)
    chainage = (np.arange(cells) + 0.5) * (length_m / cells)
    log_one = np.log1p(-other) + np.interp(chainage, one.places, one.evidence)
    log_two = np.log(other) + np.interp(chainage, two.places, two.evidence)
    density = np.logaddexp(log_one, log_two)
    leak = _log_mean(density) + np.log(leak_prior)
    none = np.logaddexp(np.log1p(-other) + silent, np.log(other) + alone) + np.log1p(-leak_prior)
    probability = np.exp(density - density.max())
    return Posterior(
        chainage,
        probability / probability.sum(),
        float(1.0 / (1.0 + np.exp(np.clip(none - leak, -700, 700)))),
        float(np.exp(_log_mean(log_two) - _log_mean(density))),
        one.fitted[one.best],
    )


def _log_mean(log_values: Floats) -> float:
    top = log_values.max()
    return float(top + np.log(np.mean(np.exp(log_values - top))))
