"""The posterior of the leak's place along one line, and the odds that there is a leak at all."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find import kernel
from leakgeo.find.prior import beside, with_other

if TYPE_CHECKING:
    from leakgeo.arrays import Floats
    from leakgeo.find.prior import Problem
    from leakgeo.sound.constants import Constants

# Cells of the posterior.
STEP_M = 0.05
# First look at the line: the sound of a leak is never narrower than its depth.
COARSE_M = 0.5
# Places this many nats below the best hold under 1e-3 of the probability: no finer look there.
DEEP_NATS = 9.0
# Scales of the noise that a line's own readings choose from, about what is assumed.
_SCALES = np.array([0.35, 0.5, 0.7, 1.0, 1.4, 2.0, 2.8, 4.0])
# How far apart another source is looked for.
_OTHER_STEP_M = 2.0
# Another source that explains this much less, in nats, than none is not pursued.
_WORTH_NATS = -1.0


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

    def at(self, chainage: Floats) -> Floats:
        """Log evidence at other places, straight between those looked at."""
        return np.asarray(np.interp(chainage, self.places, self.evidence))


def posterior(
    problem: Problem, length_m: float, constants: Constants, leak_prior: float
) -> Posterior:
    """Work out where the leak is on a line, and the probability that there is one.

    Models are compared by evidence: silence, another source alone, a leak, a leak with another
    source. Each has its place scanned and its constants integrated out; the level of the noise is
    chosen by the readings.

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
    first = _scan(kernel.ONE, coarse[::2], problem)
    tuned = _tuned(kernel.ONE, first, problem, constants)
    start = first.fitted[first.best]
    one = _refined(kernel.ONE, _scan(kernel.ONE, coarse, tuned, start), tuned)
    two = _with_other(one, coarse, tuned, constants)
    silent = _silent_evidence(problem, constants)
    alone = _log_mean(_scan(kernel.ONE, coarse[::2], beside(tuned, constants)).evidence)
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
    score = prior + np.array([_fit(model, place, trial, start.copy()) for trial in trials])
    weight = np.exp(score - score.max())
    return _scaled(problem, float(np.exp(np.average(np.log(_SCALES), weights=weight))))


def _scaled(problem: Problem, factor: float) -> Problem:
    noise = problem.noise.copy()
    noise[kernel.SCALE] *= factor
    return replace(problem, noise=noise)


def _fit(model: int, place: float, problem: Problem, start: Floats) -> float:
    """Log evidence at one place; `start` receives the fitted constants."""
    weight = np.ones(len(problem.readings))
    work = kernel.make_work(problem.readings, len(start), problem.noise)
    return kernel.fit_at(
        model, place, start, weight, problem.readings, problem.codes,
        problem.mean, problem.precision, problem.noise, work,
    )  # fmt: skip


def _refined(model: int, scan: _Scan, problem: Problem) -> _Scan:
    """Look closer, twice, wherever the posterior isn't negligible."""
    for step in (COARSE_M / 3.0, STEP_M):
        places = _between(scan, step)
        finer = _scan(model, places, problem, scan.fitted[scan.best])
        both = np.concatenate([scan.places, places])
        order = np.argsort(both, kind="stable")
        scan = _Scan(
            both[order],
            np.concatenate([scan.evidence, finer.evidence])[order],
            np.concatenate([scan.fitted, finer.fitted])[order],
        )
    return scan


def _between(scan: _Scan, step: float) -> Floats:
    """Places `step` apart, or coarser where many, in the gaps beside every likely place."""
    near = scan.evidence > scan.evidence.max() - DEEP_NATS
    gaps = np.flatnonzero(near[1:] | near[:-1])
    begin, end = scan.places[gaps], scan.places[gaps + 1]
    # A broad posterior is smooth: it needs no more than this many places.
    step = max(step, float(np.sum(end - begin)) / 60.0)
    parts = np.maximum(np.ceil((end - begin) / step - 1e-9).astype(int), 1)
    inner = [
        np.linspace(a, b, n, endpoint=False)[1:] for a, b, n in zip(begin, end, parts, strict=True)
    ]
    return np.concatenate([np.empty(0), *inner])


def _silent_evidence(problem: Problem, constants: Constants) -> float:
    scan = _Scan(np.zeros(1), np.zeros(1), problem.mean[None, :])
    tuned = _tuned(kernel.SILENT, scan, problem, constants)
    return _fit(kernel.SILENT, 0.0, tuned, problem.mean.copy())


def _with_other(one: _Scan, coarse: Floats, problem: Problem, constants: Constants) -> _Scan | None:
    """Scan for a leak while another source sounds where it helps most; None where none helps."""
    place = float(one.places[one.best])
    best, best_evidence = None, one.evidence.max() + _WORTH_NATS
    for other in np.arange(0.0, coarse[-1] + _OTHER_STEP_M / 2, _OTHER_STEP_M):
        both = with_other(problem, float(other), float(coarse[-1]), constants)
        start = np.append(one.fitted[one.best], both.mean[-kernel.PER_OTHER :])
        evidence = _fit(kernel.TWO, place, both, start)
        if evidence > best_evidence:
            best, best_evidence = (both, start), evidence
    if best is None:
        return None
    return _refined(kernel.TWO, _scan(kernel.TWO, coarse, *best), best[0])


def _weigh(
    length_m: float, one: _Scan, two: _Scan | None, silent: float, alone: float,
    constants: Constants, leak_prior: float,
) -> Posterior:  # fmt: skip
    """Average the models by their evidence and lay the result out in equal cells."""
    other = constants.other["probability"]
    cells = max(int(np.ceil(length_m / STEP_M)), 1)
    chainage = (np.arange(cells) + 0.5) * (length_m / cells)
    density = np.log1p(-other) + one.at(chainage)
    log_two = np.log(other) + two.at(chainage) if two else np.full(cells, -np.inf)
    density = np.logaddexp(density, log_two)
    leak = _log_mean(density) + np.log(leak_prior)
    none = np.logaddexp(np.log1p(-other) + silent, np.log(other) + alone) + np.log1p(-leak_prior)
    probability = np.exp(density - density.max())
    return Posterior(
        chainage,
        probability / probability.sum(),
        float(1.0 / (1.0 + np.exp(np.clip(none - leak, -700, 700)))),
        float(np.exp(_log_mean(log_two) - _log_mean(density))) if two else 0.0,
        one.fitted[one.best],
    )


def _log_mean(log_values: Floats) -> float:
    """Log of the mean of exponentials: every place is as likely beforehand."""
    top = log_values.max()
    return float(top + np.log(np.mean(np.exp(log_values - top))))
