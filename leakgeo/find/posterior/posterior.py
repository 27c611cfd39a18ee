"""Posterior of the position of a leak along a line, and the probability of a leak."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from leakgeo.find.posterior import kernel
from leakgeo.find.posterior.grid import (
    LIKELY_NATS,
    SPACINGS_M,
    STEP_M,
    Scan,
    adaptive_scan,
    fit,
    log_mean,
    scan,
)
from leakgeo.find.posterior.initial_fit import initial_fit
from leakgeo.find.posterior.level_peaks import level_peaks, residual_peaks
from leakgeo.find.posterior.noise import LineNoise, line_noise
from leakgeo.find.posterior.passing import passing_sources, prior_of_each
from leakgeo.find.posterior.problem import hump, with_other_source
from leakgeo.find.posterior.reference_walk import log_density, widened
from leakgeo.find.posterior.rivals import Rival, load_rival_weights
from leakgeo.sound.spreading import DB

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from leakgeo.arrays import Floats
    from leakgeo.find.locate.nearby_lines import NearbyStretch
    from leakgeo.find.posterior.problem import Problem
    from leakgeo.find.posterior.rivals import OpenEnd, SoundingFitting
    from leakgeo.sound.constants import Constants

# Of a longer line only a stretch of this length around the loudest readings is searched.
MAX_SPAN_M = 160.0
# A second source is fitted along the line if one fit with it raises the log evidence by this much.
_MIN_GAIN_NATS = 1.0
# Spacings of the grid for a hump of any width, whose evidence is smooth.
_HUMP_SPACINGS_M = (1.6, 0.8, 0.4)
# Standard deviation of the place of a fitting, as taped or drawn.
_FITTING_SD_M = 0.5
# Least probability that on a line with many fittings that may sound none of them does.
_LEAST_QUIET = 0.2
# Constants whose prior differs for a hump of any width.
_OF_HUMP = [kernel.DEPTH, kernel.PIPED]


@dataclass(frozen=True)
class Posterior:
    """Posterior of the leak on one line.

    Parameters
    ----------
    chainage_m : ndarray of float, shape (g,)
        Midpoints of equal cells of `STEP_M` or a little less.
    probability : ndarray of float, shape (g,)
        Probability of the leak in each cell, given a leak on the line; sums to one.
    leak_probability : float
        Probability of a leak on the line.
    on_nearby_lines : tuple of (int, float, float)
        Index of each nearby line, the probability that the leak is there instead, and its
        likeliest chainage.
    other_source_probability : float
        Probability of another steady source besides the leak, given a leak.
    sound_log_bf : float
        Log Bayes factor of a source of any kind against silence.
    leak_log_bf : float
        Log Bayes factor of a leak against no leak.
    log_evidence : float
        Log evidence of the model, averaged over leak and no leak.
    misfit_times : float
        Standard deviation of what the best explanation leaves unexplained on this line, relative to
        the middle of the noise law; far above 1, the level is not that of one source.
    rivals : tuple of Rival
        Explanations of the sound without a leak on the line; what is left of their probability and
        that of a leak is that of no sound at all.
    """

    chainage_m: Floats
    probability: Floats
    leak_probability: float
    on_nearby_lines: tuple[tuple[int, float, float], ...]
    other_source_probability: float
    sound_log_bf: float
    leak_log_bf: float
    log_evidence: float
    misfit_times: float = 1.0
    rivals: tuple[Rival, ...] = ()


def posterior(
    problem: Problem, length_m: float, constants: Constants, leak_prior: float,
    log_weight: Callable[[Floats], Floats] = np.zeros_like,
    stretches: Sequence[NearbyStretch] = (), span: tuple[float, float] | None = None,
    fittings: Sequence[SoundingFitting] = (), open_ends: Sequence[OpenEnd] = (),
) -> Posterior:  # fmt: skip
    """Compute the posterior of the leak on a line.

    Explanations of the readings are compared by their evidence: silence, a fitting that sounds,
    another source at an unknown place, a leak beyond an end of the line, a leak on it, and a leak
    with another source. Each is evaluated along the line with its constants integrated out, and
    averaged over the noise law.

    Parameters
    ----------
    problem : Problem
    length_m : float
        Ground length of the line.
    constants : Constants
    leak_prior : float
        Probability of a leak before listening.
    log_weight : callable
        Maps chainages to the log of the prior density of a leak, relative to its mean along the
        line.
    stretches : sequence of NearbyStretch
        Stretches of nearby lines that may have the leak.
    span : tuple of float, optional
        Stretch of the line to search, to which the readings are restricted already. By default
        `search_span` chooses it.
    fittings : sequence of SoundingFitting
        Fittings of the line that may sound by themselves.
    open_ends : sequence of OpenEnd
        Ends of the line beyond which the pipe may leak.

    Returns
    -------
    Posterior
    """
    if span is None:
        span = search_span(problem, length_m)
        problem = _restricted(problem, widened(span, problem))
    chainage = cells_of(0.0, length_m)
    often = [f for f in fittings if f.probability >= _with_leak()["least_probability"]]
    found = _leak_evidence(problem, span, chainage, constants, often)
    others = [_stretch_evidence(stretch, constants) for stretch in stretches]
    leaks = found.leaks + log_weight(chainage)
    rivals = [*_sounding(found, chainage, fittings), *_beyond(found, open_ends, span, problem)]
    done = _combined(chainage, length_m, leaks, others, found, rivals, constants, leak_prior)
    return replace(done, misfit_times=found.noise.times(constants.noise_law))


@dataclass(frozen=True)
class _LeakEvidence:
    """Log evidence by cell of a leak: alone, with another source, and with each fitting.

    `one` is a leak alone, not weighted by its prior. `scan` is that of its physics, `noise` are the
    noise vectors that all are averaged over, `silent` is the evidence of ambient noise alone, and
    `elsewhere` that of another source and no leak, weighted by its prior.
    """

    leaks: Floats
    one: Floats
    scan: Scan
    noise: LineNoise
    silent: float
    elsewhere: float


def cells_of(begin_m: float, end_m: float) -> Floats:
    """Return the midpoints of the equal cells of a stretch, of `STEP_M` or a little less."""
    cells = max(int(np.ceil((end_m - begin_m) / STEP_M)), 1)
    return np.asarray(begin_m + (np.arange(cells) + 0.5) * ((end_m - begin_m) / cells))


def _leak_evidence(
    problem: Problem, span: tuple[float, float], chainage: Floats, constants: Constants,
    fittings: Sequence[SoundingFitting] = (),
) -> _LeakEvidence:  # fmt: skip
    """Return the log evidence of a leak by cell, averaged over the noise of the line.

    `fittings` are those that may hide a leak elsewhere.
    """
    span = widened(span, problem)
    place, start = initial_fit(problem, span)
    noise = line_noise(problem, place, start, constants.noise_law)
    problem = replace(problem, noise=noise.centre)
    one = adaptive_scan(kernel.ONE, span, problem, start, place)
    two = _scan_with_other_source(one, span, problem, constants, noise)
    other, shapeless = constants.other["probability"], constants.other["hump_share"]
    any_width = log_density(_hump_scan(one, span, problem, constants, noise), chainage, problem)
    leak = log_density(noise.averaged(kernel.ONE, one, problem), chainage, problem)
    both = log_density(two, chainage, problem) if two else leak
    leak = np.logaddexp(np.log1p(-shapeless) + leak, np.log(shapeless) + any_width)
    hidden = [
        log_density(_scan_with_fitting(f, one, span, problem, constants, noise), chainage, problem)
        for f in fittings
    ]
    passing = passing_sources(problem, span, chainage, constants)
    chance = prior_of_each(len(passing))
    besides = [other, *(f.probability for f in fittings), *(chance for _ in passing)]
    weight = np.log(_with_quiet(np.array(besides)))
    hidden += [each.leaks for each in passing]
    leaks = np.stack([leak, both, *hidden]) + weight[:, None]
    # Another source has the shapes that a leak has: only what else is known tells it from a leak.
    elsewhere = [np.log(other) + log_mean(leak), *(np.log(chance) + each.alone for each in passing)]
    silent = noise.silent(problem)
    return _LeakEvidence(leaks, leak, one, noise, silent, float(np.logaddexp.reduce(elsewhere)))


def _with_quiet(chance: Floats) -> Floats:
    """Return the probability that no source sounds, and that each of them does; they sum to one.

    Of many sources at most one sounds, so that those of a line with many are less probable.
    """
    chance = chance * min(1.0, (1.0 - _LEAST_QUIET) / float(chance.sum()))
    return np.append(1.0 - chance.sum(), chance)


def _hump_scan(
    one: Scan, span: tuple[float, float], problem: Problem, constants: Constants, noise: LineNoise
) -> Scan:
    """Scan for a leak whose level has a shape that the physics does not foresee."""
    problem = hump(problem, constants)
    start = one.best.copy()
    start[_OF_HUMP] = problem.mean[_OF_HUMP]
    found = adaptive_scan(kernel.ONE, span, problem, start, one.best_m, _HUMP_SPACINGS_M)
    return noise.averaged(kernel.ONE, found, problem)


def _stretch_evidence(
    stretch: NearbyStretch, constants: Constants
) -> tuple[NearbyStretch, Floats, Floats]:
    """Return the cells of a nearby stretch, and the log evidence of a leak in each."""
    span = stretch.begin_m, stretch.end_m
    cells = cells_of(*span)
    found = _leak_evidence(stretch.problem, span, cells, constants)
    return stretch, cells, np.logaddexp.reduce(found.leaks) + stretch.log_weight(cells)


def search_span(problem: Problem, length_m: float) -> tuple[float, float]:
    """Return the stretch of a line to search: all of it, or of a long line `MAX_SPAN_M`.

    It is centred on the loudest readings. Beyond it no leak is heard, and the evidence is constant.
    """
    if length_m <= MAX_SPAN_M:
        return 0.0, length_m
    loudest = float(np.clip(level_peaks(problem)[0], 0.0, length_m))
    return max(loudest - MAX_SPAN_M / 2, 0.0), min(loudest + MAX_SPAN_M / 2, length_m)


class FirstFit(NamedTuple):
    """Likeliest place of a leak by a first fit, and the constants fitted there, shape (p,).

    `problem` has the readings of the stretch `span_m`, which is searched.
    """

    problem: Problem
    span_m: tuple[float, float]
    place_m: float
    start: Floats


def first_fit(problem: Problem, length_m: float) -> FirstFit:
    """Return the likeliest place of a leak on a line by a first fit.

    Parameters
    ----------
    problem : Problem
    length_m : float
        Ground length of the line.
    """
    span = widened(search_span(problem, length_m), problem)
    problem = _restricted(problem, span)
    return FirstFit(problem, span, *initial_fit(problem, span))


def _restricted(problem: Problem, span: tuple[float, float]) -> Problem:
    """Return the problem with the readings of a stretch only."""
    x = problem.readings[:, kernel.X]
    rows = np.flatnonzero((x >= span[0]) & (x <= span[1]))
    if len(rows) == len(x):
        return problem
    return problem.cut(rows)


def _scan_with_other_source(
    one: Scan, span: tuple[float, float], problem: Problem, constants: Constants, noise: LineNoise
) -> Scan | None:
    """Scan for a leak with another source; None if the other source explains nothing more.

    Either of two peaks may be the leak. So one scan starts with the other source where it raises
    the evidence most, and a second with it where the leak was fitted alone.
    """

    def start_of(other_m: float) -> tuple[Problem, Floats]:
        both = with_other_source(problem, other_m, span[1] - span[0], constants)
        return both, np.append(one.best, both.mean[-kernel.PER_OTHER :])

    tries = [
        fit(kernel.TWO, one.best_m, *start_of(float(m)))
        for m in residual_peaks(problem, one.best_m, one.best)
    ]
    best, fitted, _ = max(tries, key=lambda t: t[0], default=(-np.inf, one.best, None))
    if best < one.evidence.max() + _MIN_GAIN_NATS:
        return None
    places = (float(np.clip(fitted[-1], *span)), one.best_m)
    scans = []
    for m in places:
        both, start = start_of(m)
        found = adaptive_scan(kernel.TWO, span, both, start, one.best_m)
        scans.append(noise.averaged(kernel.TWO, found, both))
    return scans[0].upper_envelope(scans[1])


def _scan_with_fitting(
    fitting: SoundingFitting, one: Scan, span: tuple[float, float], problem: Problem,
    constants: Constants, noise: LineNoise,
) -> Scan:  # fmt: skip
    """Scan for a leak while a fitting sounds."""
    at = float(np.clip(fitting.chainage_m, *span))
    both = with_other_source(problem, at, _with_leak()["sd_m"], constants)
    start = np.append(one.best, both.mean[-kernel.PER_OTHER :])
    found = adaptive_scan(kernel.TWO, span, both, start, one.best_m)
    return noise.averaged(kernel.TWO, found, both)


def _with_leak() -> Mapping[str, float]:
    return load_rival_weights()["with_leak"]


def _sounding(
    found: _LeakEvidence, chainage: Floats, fittings: Sequence[SoundingFitting]
) -> list[tuple[Rival, float]]:
    """Return the fittings that may sound, with their prior as probability, and log evidence."""
    rivals = []
    for one in fittings:
        near = np.exp(-0.5 * ((chainage - one.chainage_m) / _FITTING_SD_M) ** 2) + 1e-300
        evidence = float(np.logaddexp.reduce(found.one + np.log(near / near.sum())))
        rivals.append((Rival("fitting", one.probability, one.chainage_m, one.contact_id), evidence))
    return rivals


def _beyond(
    found: _LeakEvidence, ends: Sequence[OpenEnd], span: tuple[float, float], problem: Problem
) -> list[tuple[Rival, float]]:
    """Return a leak beyond each open end, with its prior as probability, and log evidence.

    Beyond an end is searched only if a leak at the end is likelier than silence; elsewhere the
    evidence is that of the last cell, so that leaks beyond it that nobody would hear have no part.
    Or the level rises steadily to the end over all of the readings, as that of a source farther
    away.
    """
    weights = load_rival_weights()["beyond_end"]
    steady = weights["steady_share"]
    rivals = []
    for end in ends:
        cell = 0 if end.kind == "beyond_start" else -1
        evidence = float(found.one[cell])
        likely = evidence > max(found.one.max() - LIKELY_NATS, found.silent + 1.0)
        if likely and end.chainage_m in span:
            reach = weights["reach_m"] * (1.0 if cell else -1.0)
            evidence = _evidence_beyond(found, end.chainage_m, reach, problem, evidence)
        if _is_reached(end, problem):
            side = 1.0 if cell else -1.0
            rise = found.noise.silent(_rising(problem, side, found.noise))
            evidence = float(np.logaddexp(np.log1p(-steady) + evidence, np.log(steady) + rise))
        rivals.append((Rival(end.kind, weights["probability"], end.chainage_m), evidence))
    return rivals


def _evidence_beyond(
    found: _LeakEvidence, end_m: float, reach_m: float, problem: Problem, at_end: float
) -> float:
    """Return the log evidence of a leak within `reach_m` beyond an end, averaged over its place."""
    problem = replace(problem, noise=found.noise.centre)
    at = found.scan.nearest(np.array([end_m]))
    start, end_m = found.scan.fitted[at], end_m - float(found.scan.shift_m[at[0]])
    steps = max(int(np.ceil(abs(reach_m) / SPACINGS_M[0])), 1)
    places = np.sort(end_m + reach_m * np.arange(steps + 1) / steps)
    first = int(np.argmin(np.abs(places - end_m)))
    beyond = found.noise.averaged(
        kernel.ONE, scan(kernel.ONE, places, problem, start, first), problem
    )
    # A level of any shape is as likely beyond the end as at it.
    return log_mean(beyond.evidence) - float(beyond.evidence[first]) + at_end


def _is_reached(end: OpenEnd, problem: Problem) -> bool:
    """Return whether readings come near an end."""
    away = np.abs(problem.readings[:, kernel.X] - end.chainage_m)
    return bool(away.min() <= load_rival_weights()["beyond_end"]["reached_m"])


def _rising(problem: Problem, side: float, noise: LineNoise) -> Problem:
    """Return a problem whose ambient floor rises to the end of the readings on a side."""
    weights = load_rival_weights()["beyond_end"]
    mean, precision = problem.mean.copy(), problem.precision.copy()
    mean[kernel.TREND] = side * weights["rise_db"] / DB
    precision[kernel.TREND] = (weights["rise_sd_db"] / DB) ** -2
    return replace(problem, mean=mean, precision=precision, noise=noise.centre)


def _combined(
    chainage: Floats, length_m: float, leaks: Floats,
    others: Sequence[tuple[NearbyStretch, Floats, Floats]], found: _LeakEvidence,
    rivals: Sequence[tuple[Rival, float]], constants: Constants, leak_prior: float,
) -> Posterior:  # fmt: skip
    """Return the posterior averaged over the models; all lines are weighted by their length."""
    density = np.logaddexp.reduce(leaks)
    metres = np.array([length_m, *(stretch.end_m - stretch.begin_m for stretch, _, _ in others)])
    parts = np.array([log_mean(density), *(log_mean(d) for _, _, d in others)]) + np.log(metres)
    leak = float(np.logaddexp.reduce(parts) - np.log(metres.sum()))
    other = constants.other["probability"]
    alone = found.elsewhere - float(np.log(other))
    rivals = [*rivals, (Rival("unknown", other), alone)]
    without = np.log1p(-leak_prior) + _without_leak(rivals, found.silent, leak_prior)
    score = np.append(np.log(leak_prior) + leak, without)
    evidence = float(np.logaddexp.reduce(score))
    somewhere, _, *explained = np.exp(score - evidence).tolist()
    share = somewhere * np.exp(parts - np.logaddexp.reduce(parts))
    none = float(np.logaddexp.reduce(without))
    probability = np.exp(density - density.max())
    return Posterior(
        chainage,
        probability / probability.sum(),
        float(share[0]),
        tuple(
            (stretch.line, float(p), float(cells[np.argmax(d)]))
            for (stretch, cells, d), p in zip(others, share[1:], strict=True)
        ),
        float(np.exp(log_mean(np.logaddexp.reduce(leaks[1:])) - log_mean(density))),
        max(leak, alone) - found.silent,
        leak + float(np.log1p(-leak_prior)) - none,
        evidence,
        rivals=tuple(
            replace(rival, probability=p) for (rival, _), p in zip(rivals, explained, strict=True)
        ),
    )


def _without_leak(
    rivals: Sequence[tuple[Rival, float]], silent: float, leak_prior: float
) -> Floats:
    """Return the log evidence of silence and of each rival, with their priors without a leak.

    That of a leak beyond an end is relative to a leak on the line. Another source may be all that
    is heard although the line leaks.
    """
    chance, odds = np.array([r.probability for r, _ in rivals]), leak_prior / (1.0 - leak_prior)
    kind = np.array([rival.kind for rival, _ in rivals])
    beyond = np.isin(kind, ("beyond_start", "beyond_end"))
    quiet, *sounding = _with_quiet(chance[~beyond])
    chance[beyond] *= odds
    chance[~beyond] = sounding
    unheard = load_rival_weights()["unknown"]["leak_unheard"]
    chance = np.where(kind == "unknown", chance * (1.0 + unheard * odds), chance)
    evidence = np.array([silent, *(found for _, found in rivals)])
    return np.asarray(np.log([quiet, *chance]) + evidence)
