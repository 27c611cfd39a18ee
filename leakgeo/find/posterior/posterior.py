"""The posterior of the leak's place along one line, and the odds that there is a leak at all."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.locate.reference_walk import log_density, widened
from leakgeo.find.posterior import kernel
from leakgeo.find.posterior.grid import STEP_M, Scan, evenly, fit, log_mean, look, scan
from leakgeo.find.posterior.noise import tuned
from leakgeo.find.posterior.prior import beside, with_other
from leakgeo.find.posterior.prior_kernels import level_bumps, residual_bumps

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from leakgeo.arrays import Floats
    from leakgeo.find.locate.branches import Arm
    from leakgeo.find.posterior.prior import Problem
    from leakgeo.sound.constants import Constants

# Of a line longer than this, in metres, only so much is looked at, around the loudest.
LONG_M = 160.0
# Another source has to explain so much more, in nats, to be pursued: else it changes nothing.
_WORTH_NATS = 1.0
# A source beside the pipe is looked for in these steps, and near where a leak would be.
_BESIDE_STEP_M = 0.8
_BESIDE_NATS = 12.0
# What is believed otherwise of such a source.
_BESIDE = [kernel.DEPTH, kernel.PIPED]


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
    elsewhere : tuple of (int, float, float)
        Other lines by their places, the probability that the leak is on each instead, and where.
    second_probability : float
        That another steady source sounds besides a leak, given a leak.
    heard_nats : float
        Log evidence of any sound, a leak's or another's, over that of silence.
    leak_nats : float
        Log evidence of a leak over that of none.
    log_evidence : float
        Of all of it, the prior of a leak taken in: what the readings say for this way to see them.
    """

    chainage_m: Floats
    probability: Floats
    leak_probability: float
    elsewhere: tuple[tuple[int, float, float], ...]
    second_probability: float
    heard_nats: float
    leak_nats: float
    log_evidence: float


def posterior(
    problem: Problem, length_m: float, constants: Constants, leak_prior: float,
    log_weight: Callable[[Floats], Floats] = np.zeros_like, arms: Sequence[Arm] = (),
    span: tuple[float, float] | None = None,
) -> Posterior:  # fmt: skip
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
    log_weight : callable
        Gives for chainages the logarithm of how much likelier a leak is there before listening
        than on an average metre of the line.
    arms : sequence of Arm
        Stretches of other lines that the leak may be on.
    span : tuple of float, optional
        Stretch of the line that the readings are of, if that is settled.

    Returns
    -------
    Posterior
    """
    if span is None:
        span = heard_span(problem, length_m)
        problem = _within(problem, span)
    chainage = _cells(0.0, length_m)
    (fitted, one), leaks = _leak_along(problem, span, chainage, constants)
    leaks = leaks + log_weight(chainage)
    others = [_on_arm(arm, constants) for arm in arms]
    alone = _alone_evidence(one, widened(span, problem), fitted, constants)
    silent = _silent_evidence(problem, constants)
    return _weigh(chainage, length_m, leaks, others, alone, silent, constants, leak_prior)


def _cells(begin_m: float, end_m: float) -> Floats:
    """Middles of equal cells."""
    cells = max(int(np.ceil((end_m - begin_m) / STEP_M)), 1)
    return np.asarray(begin_m + (np.arange(cells) + 0.5) * ((end_m - begin_m) / cells))


def _leak_along(
    problem: Problem, span: tuple[float, float], chainage: Floats, constants: Constants
) -> tuple[tuple[Problem, Scan], Floats]:
    """Scan for a leak; log evidence at each cell of it by itself, and with another source."""
    span = widened(span, problem)
    place, start = _first_guess(problem, span)
    fitted = tuned(kernel.ONE, place, problem, constants, start)
    one = look(kernel.ONE, span, fitted, start, place)
    two = _with_other(one, span, fitted, constants)
    other = constants.other["probability"]
    leak = log_density(one, chainage, fitted)
    both = log_density(two, chainage, fitted) if two else leak
    return (fitted, one), np.stack([np.log1p(-other) + leak, np.log(other) + both])


def _on_arm(arm: Arm, constants: Constants) -> tuple[Arm, Floats, Floats]:
    """Cells of a stretch of another line, and the log evidence of a leak in each."""
    cells = _cells(arm.begin_m, arm.end_m)
    _, leaks = _leak_along(arm.problem, (arm.begin_m, arm.end_m), cells, constants)
    return arm, cells, np.logaddexp(*leaks) + arm.log_weight(cells)


def heard_span(problem: Problem, length_m: float) -> tuple[float, float]:
    """Where on a line to look: all of it, or of a long one the stretch around its loudest.

    No leak is heard so far off; beyond the span the evidence is taken to be that at its ends.
    """
    if length_m <= LONG_M:
        return 0.0, length_m
    loudest = float(np.clip(level_bumps(problem)[0], 0.0, length_m))
    return max(loudest - LONG_M / 2, 0.0), min(loudest + LONG_M / 2, length_m)


def _within(problem: Problem, span: tuple[float, float]) -> Problem:
    x = problem.readings[:, kernel.X]
    stop = np.flatnonzero((x >= span[0]) & (x <= span[1]))
    if len(stop) == len(x):
        return problem
    return replace(problem, readings=problem.readings[stop], codes=problem.codes[stop])


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
        return both, np.append(one.best, both.mean[-kernel.PER_OTHER :])

    tries = [
        fit(kernel.TWO, one.best_m, *start_of(float(m)))
        for m in residual_bumps(problem, one.best_m, one.best)
    ]
    best, fitted = max(tries, key=lambda t: t[0], default=(-np.inf, one.best))
    if best < one.evidence.max() + _WORTH_NATS:
        return None
    places = (float(np.clip(fitted[-1], *span)), one.best_m)
    first, second = (look(kernel.TWO, span, *start_of(m), one.best_m) for m in places)
    return first.joined(second)


def _alone_evidence(
    one: Scan, span: tuple[float, float], problem: Problem, constants: Constants
) -> float:
    """Log evidence of a source beside the pipe and no leak; it is where a leak would seem to be."""
    places = evenly(span, _BESIDE_STEP_M)
    near = one.at(places) > one.evidence.max() - _BESIDE_NATS
    near[np.argmin(np.abs(places - one.best_m))] = True
    aside = beside(problem, constants)
    starts = one.fitted[one.nearest(places[near])]
    starts[:, _BESIDE] = aside.mean[_BESIDE]
    seen = scan(kernel.ONE, places[near], aside, starts)
    return log_mean(seen.evidence) + float(np.log(near.mean()))


def _silent_evidence(problem: Problem, constants: Constants) -> float:
    fitted = tuned(kernel.SILENT, 0.0, problem, constants, problem.mean)
    return fit(kernel.SILENT, 0.0, fitted, problem.mean)[0]


def _weigh(
    chainage: Floats, length_m: float, leaks: Floats, others: Sequence[tuple[Arm, Floats, Floats]],
    alone: float, silent: float, constants: Constants, leak_prior: float,
) -> Posterior:  # fmt: skip
    """Average the models by their evidence, all lines by the metre."""
    other = constants.other["probability"]
    density = np.logaddexp(*leaks)
    metres = np.array([length_m, *(arm.end_m - arm.begin_m for arm, _, _ in others)])
    parts = np.array([log_mean(density), *(log_mean(d) for _, _, d in others)]) + np.log(metres)
    leak = float(np.logaddexp.reduce(parts) - np.log(metres.sum()))
    none = float(np.logaddexp(np.log1p(-other) + silent, np.log(other) + alone))
    log_odds = leak - none + np.log(leak_prior) - np.log1p(-leak_prior)
    somewhere = 1.0 / (1.0 + np.exp(-np.clip(log_odds, -700, 700)))
    share = somewhere * np.exp(parts - np.logaddexp.reduce(parts))
    evidence = np.logaddexp(np.log(leak_prior) + leak, np.log1p(-leak_prior) + none)
    probability = np.exp(density - density.max())
    return Posterior(
        chainage,
        probability / probability.sum(),
        float(share[0]),
        tuple(
            (arm.line, float(p), float(cells[np.argmax(d)]))
            for (arm, cells, d), p in zip(others, share[1:], strict=True)
        ),
        float(np.exp(log_mean(leaks[1]) - log_mean(density))),
        max(leak, alone) - silent,
        leak - none,
        float(evidence),
    )
