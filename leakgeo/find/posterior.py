"""The posterior of the leak's place along one line, and the odds that there is a leak at all."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find import kernel
from leakgeo.find.bumps import level_bumps, residual_bumps
from leakgeo.find.frame import log_density, widened
from leakgeo.find.noise import tuned
from leakgeo.find.prior import beside, with_other
from leakgeo.find.scan import STEP_M, Scan, evenly, fit, log_mean, look, scan

if TYPE_CHECKING:
    from leakgeo.arrays import Floats
    from leakgeo.find.prior import Problem
    from leakgeo.sound.constants import Constants

# Of a line longer than this, in metres, only so much is looked at, around the loudest.
LONG_M = 160.0
# Another source has to explain so much more, in nats, to be pursued: else it changes nothing.
_WORTH_NATS = 1.0
# A source beside the pipe is looked for in these steps, and near where a leak would be.
_BESIDE_STEP_M = 0.8
_BESIDE_NATS = 12.0


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
    heard_nats : float
        Log evidence of any sound, a leak's or another's, over that of silence.
    leak_nats : float
        Log evidence of a leak over that of none.
    """

    chainage_m: Floats
    probability: Floats
    leak_probability: float
    second_probability: float
    heard_nats: float
    leak_nats: float


def posterior(
    problem: Problem, length_m: float, constants: Constants, leak_prior: float
) -> Posterior:
    """Work out where the leak is on a line, and the probability that there is one.

    Four models are compared by evidence: silence, another source alone, a leak, a leak with
    another source. Each has its place scanned and its constants integrated out; the level of the
    noise is chosen by the readings.

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
    problem, span = _near_the_sound(problem, length_m)
    span = widened(span, problem)
    place, start = _first_guess(problem, span)
    fitted = tuned(kernel.ONE, place, problem, constants, start)
    one = look(kernel.ONE, span, fitted, start)
    two = _with_other(one, span, fitted, constants)
    alone = _alone_evidence(one, span, fitted, constants)
    silent = _silent_evidence(problem, constants)
    cells = max(int(np.ceil(length_m / STEP_M)), 1)
    chainage = (np.arange(cells) + 0.5) * (length_m / cells)
    leak = log_density(one, chainage, problem)
    both = log_density(two, chainage, problem) if two else leak
    return _weigh(chainage, (leak, both), alone, silent, constants, leak_prior)


def _near_the_sound(problem: Problem, length_m: float) -> tuple[Problem, tuple[float, float]]:
    """Of a long line keep the readings around its loudest stretch, and where to look among them.

    No leak is heard so far off; beyond the span the evidence is taken to be that at its ends.
    """
    if length_m <= LONG_M:
        return problem, (0.0, length_m)
    loudest = float(np.clip(level_bumps(problem)[0], 0.0, length_m))
    span = max(loudest - LONG_M / 2, 0.0), min(loudest + LONG_M / 2, length_m)
    x = problem.readings[:, kernel.X]
    stop = np.flatnonzero((x >= span[0]) & (x <= span[1]))
    kept = replace(problem, readings=problem.readings[stop], codes=problem.codes[stop])
    return kept, span


def _first_guess(problem: Problem, span: tuple[float, float]) -> tuple[float, Floats]:
    """The likeliest of the loudest stretches, and the constants fitted there."""
    places = np.clip(level_bumps(problem), *span)
    starts = [(float(m), start) for m in places for start in _starts(problem, float(m))]
    fits = [(*fit(kernel.ONE, m, problem, start), m) for m, start in starts]
    _, start, place = max(fits, key=lambda f: f[0])
    return place, start


def _starts(problem: Problem, place_m: float) -> list[Floats]:
    """Constants to begin from: as assumed and, in a frame, with all walks loudest at the place."""
    if problem.frame < 0:
        return [problem.mean]
    aligned = problem.mean.copy()
    shift_at, frame = problem.codes[:, kernel.SHIFT_AT], problem.frame
    for other in np.setdiff1d(shift_at, [frame]):
        rows = shift_at == other
        own = replace(problem, readings=problem.readings[rows], codes=problem.codes[rows])
        off, precision = place_m - level_bumps(own)[0], problem.precision[[other, frame]]
        aligned[[other, frame]] += np.array([off, -off]) * precision[::-1] / precision.sum()
    return [problem.mean, aligned]


def _with_other(
    one: Scan, span: tuple[float, float], problem: Problem, constants: Constants
) -> Scan | None:
    """Scan for a leak while another source sounds too; None where that explains nothing more.

    Either of the two may be the leak: the scan is made with the other source where it helps most,
    and once more with it where the leak seemed to be.
    """

    def start_of(other_m: float) -> tuple[Problem, Floats]:
        both = with_other(problem, other_m, span[1] - span[0], constants)
        return both, np.append(one.fitted, both.mean[-kernel.PER_OTHER :])

    tries = [
        fit(kernel.TWO, one.best_m, *start_of(float(m)))
        for m in residual_bumps(problem, one.best_m, one.fitted)
    ]
    best, fitted = max(tries, key=lambda t: t[0], default=(-np.inf, one.fitted))
    if best < one.evidence.max() + _WORTH_NATS:
        return None
    places = (float(np.clip(fitted[-1], *span)), one.best_m)
    first, second = (look(kernel.TWO, span, *start_of(m)) for m in places)
    return first.joined(second)


def _alone_evidence(
    one: Scan, span: tuple[float, float], problem: Problem, constants: Constants
) -> float:
    """Log evidence of a source beside the pipe and no leak; it is where a leak would seem to be."""
    places = evenly(span, _BESIDE_STEP_M)
    near = one.at(places) > one.evidence.max() - _BESIDE_NATS
    near[np.argmin(np.abs(places - one.best_m))] = True
    aside = beside(problem, constants)
    seen = scan(kernel.ONE, places[near], aside, aside.mean)
    return log_mean(seen.evidence) + float(np.log(near.mean()))


def _silent_evidence(problem: Problem, constants: Constants) -> float:
    fitted = tuned(kernel.SILENT, 0.0, problem, constants, problem.mean)
    return fit(kernel.SILENT, 0.0, fitted, problem.mean)[0]


def _weigh(
    chainage: Floats, leaks: tuple[Floats, Floats], alone: float, silent: float,
    constants: Constants, leak_prior: float,
) -> Posterior:  # fmt: skip
    """Average the models by their evidence; those of a leak by itself and with another source."""
    other = constants.other["probability"]
    log_one, log_two = np.log1p(-other) + leaks[0], np.log(other) + leaks[1]
    density = np.logaddexp(log_one, log_two)
    leak = log_mean(density)
    none = float(np.logaddexp(np.log1p(-other) + silent, np.log(other) + alone))
    probability = np.exp(density - density.max())
    log_odds = leak - none + np.log(leak_prior) - np.log1p(-leak_prior)
    return Posterior(
        chainage,
        probability / probability.sum(),
        float(1.0 / (1.0 + np.exp(-np.clip(log_odds, -700, 700)))),
        float(np.exp(log_mean(log_two) - leak)),
        max(leak, alone) - silent,
        leak - none,
    )
