"""Sweeps across a line: where the sound lies across it, and which pipe that explains.

A sweep compares levels at one place along the line. Its loudest place is over the source: over the
trace, the pipe is where it is drawn; beside it, the trace is wrong there, or it is not this pipe.
Sweeps of one line have one source, so they are weighed together: a trace is wrong once, by one
distance, and not anew at each sweep.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import logsumexp

from leakgeo.conversion import FOOT_M
from leakgeo.find.evidence.likelihood import Likelihood
from leakgeo.find.evidence.sweep_readings import (
    load_sweep_weights,
    neighbours_of,
    reach_of,
    sweeps_by_line,
)
from leakgeo.reason import Reason
from leakgeo.sound.spreading import DB, Spreading, relative_level

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.arrays import Floats
    from leakgeo.find.evidence.sweep_readings import Neighbour, Sweep
    from leakgeo.find.posterior.rivals import Rival
    from leakgeo.result import Result
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants

# Step of the grid of places across the line.
STEP_M = 0.1
# Nodes of standard normal priors, for the depth and for the decay in the soil, with weights.
_DEPTHS = ((-1.4, 0.25), (0.0, 0.5), (1.4, 0.25))
_DECAYS = ((-1.2, 0.3), (0.0, 0.4), (1.2, 0.3))
# The same for the floor below the level over the source.
_FLOORS = ((-1.5, 0.15), (-0.75, 0.2), (0.0, 0.3), (0.75, 0.2), (1.5, 0.15))
# Nodes of the noise law that are rarer than this are left out.
_LEAST_COMMON = 0.01
# The loudest place counts as over the trace within this distance of it, or within its error.
OVER_M = 0.5
# A sweep shows no clear peak if its place has a larger error, or silence is likelier than this.
CLEAR_SD_M, CLEAR_SILENT = 1.5, 0.2
# A sweep indicates a mapped line if it is this many times likelier than a source anywhere.
_INDICATED = 1.5
_TINY = 1e-300

OWN, WRONG, OTHER, SILENT = "own_pipe", "trace_wrong", "other", "not_heard"


@dataclass(frozen=True)
class Across:
    """Log likelihoods of the levels of a sweep (natural logarithm), on a grid of places across.

    They are relative to that with the source anywhere, or none heard.

    Parameters
    ----------
    y_m : tuple of float
        Places across, the same for all sweeps of a line.
    source : tuple of float
        With the source at each place, or none heard.
    mapped : mapping of str to float
        With the source over each mapped line that the sweep crosses.
    silent : float
        With none heard.
    """

    y_m: tuple[float, ...]
    source: tuple[float, ...]
    mapped: Mapping[str, float]
    silent: float


@dataclass(frozen=True)
class SweepFinding:
    """Where the sound of a sweep lies across the line, and what explains it.

    Parameters
    ----------
    chainage_m : float
    offset_m, offset_sd_m : float
        Likeliest place of the source across the line, positive to the left, and its standard
        deviation, without regard to the maps.
    probability : mapping of str to float
        Of each explanation of this sweep: ``own_pipe``, ``trace_wrong``, ``other``, ``not_heard``,
        and each mapped line by ``line: `` and its name.
    across : Across
    trace_sd_m : float
    reason : Reason
    earlier : tuple of SweepFinding
        Sweeps of the line that are weighed before it.
    """

    chainage_m: float
    offset_m: float
    offset_sd_m: float
    probability: Mapping[str, float]
    across: Across
    trace_sd_m: float
    reason: Reason
    earlier: tuple[SweepFinding, ...] = ()

    def likelihood(self, chainage_m: Floats, rivals: Sequence[Rival] = ()) -> Likelihood:
        """Return the likelihood of the sweep, given the earlier ones, under each explanation.

        Parameters
        ----------
        chainage_m : ndarray of float, shape (g,)
            Cells of the posterior.
        rivals : sequence of Rival
            Rivals of the posterior, shape (r,).

        Returns
        -------
        Likelihood
            Of kind ``sweep``. A leak or a sounding fitting of the line counts as near up to 2 m
            from the sweep along the line, as far from twice that on, and as a mixture in between. A
            leak beyond an end of the line is far, and an unknown source or a leak on another line
            elsewhere. Without any of them nothing is heard, or another source that the sweeps
            reveal.
        """
        fittings = [r.chainage_m if r.kind == "fitting" else np.inf for r in rivals]
        at = np.nan_to_num(np.append(chainage_m, fittings), nan=np.inf, posinf=np.inf)
        now, before = _together((*self.earlier, self), at), _together(self.earlier, at)
        here, (elsewhere, none, _) = now[0] - before[0], now[1] - before[1]
        # What earlier sweeps revealed is in the unknown rival already, and went on with it.
        was = before[1][2] if self.earlier else -np.inf
        with np.errstate(divide="ignore"):
            more = np.log(max(np.exp(now[1][2]) - np.exp(was + elsewhere), 0.0)) - before[1][1]
        other = here[len(chainage_m) :].copy()
        other[[r.kind == "unknown" for r in rivals]] = elsewhere
        return Likelihood(
            "sweep", here[: len(chainage_m)], float(none), other, float(elsewhere),
            self.reason, float(more),
        )  # fmt: skip

    def over_trace(self, chainage_m: float) -> float:
        """Return how probable it is that a leak at a chainage is within one foot of the trace.

        It is that by this sweep and the earlier ones, relative to that without them; at most 1.
        """
        y, prior = _own_line(self)
        prior, within = prior.sum(axis=0), np.abs(y) <= FOOT_M + STEP_M / 2
        fit = _with_source((*self.earlier, self), np.array([chainage_m]))[0]
        weight = np.exp(fit - fit.max()) * prior
        before = prior[within].sum() / prior.sum()
        return float(min(weight[within].sum() / weight.sum() / before, 1.0))


def _together(sweeps: Sequence[SweepFinding], at_m: Floats) -> tuple[Floats, Floats]:
    """Return log likelihoods of sweeps: with a source on the line at each place; without one.

    The latter are with a source elsewhere, with none, and with one that only the sweeps reveal
    times its prior, shape (3,). All are relative to those with the source anywhere.
    """
    if not sweeps:
        return np.zeros(len(at_m)), np.zeros(3)
    weights = load_sweep_weights()
    where = np.array([each.chainage_m for each in sweeps])
    places = np.append(at_m, where)
    by_place = _with_source(sweeps, places)
    prior = _own_line(sweeps[0])[1].sum(axis=0)
    here = logsumexp(by_place[: len(at_m)], axis=1, b=prior)
    near = logsumexp(by_place[len(at_m) :], axis=1, b=prior)
    # A source beside the line is at one of the places that were swept.
    elsewhere = float(logsumexp(_without(sweeps, by_place[len(at_m) :]), b=1.0 / len(where)))
    silent = float(sum(each.across.silent for each in sweeps))
    only = weights["likelihood"]["only_swept"]
    least = max(near.max(), elsewhere, silent, 0.0)
    least -= len(sweeps) * np.log(weights["likelihood"]["most_odds"])
    elsewhere, silent = np.logaddexp([elsewhere, silent], least)
    # Only as far as the sweeps show a source: one that is not seen changes nothing.
    none = np.logaddexp(np.log1p(-only) + silent, np.log(only) + min(elsewhere, silent))
    revealed = np.log(only * max(np.exp(elsewhere) - np.exp(silent), 0.0) + _TINY)
    return np.logaddexp(here, least), np.array([elsewhere, none, revealed])


def _own_line(sweep: SweepFinding) -> tuple[Floats, Floats]:
    """Return places across, and the prior of own pipe and wrong trace there, shape (2, y)."""
    weights, y = load_sweep_weights(), np.array(sweep.across.y_m)
    table = weights["explanations"]
    wrong_sd = np.hypot(sweep.trace_sd_m, weights["place"]["trace_wrong_sd_m"])
    share = np.array([table[OWN], table[WRONG]]) / (table[OWN] + table[WRONG])
    place = [_normal(y, np.zeros(1), sd) for sd in (sweep.trace_sd_m, wrong_sd)]
    return y, share[:, None] * np.array(place)


def _share(sweep: SweepFinding, at_m: Floats) -> Floats:
    """Return the share of a sweep that is near a source at each chainage."""
    near_m = load_sweep_weights()["likelihood"]["near_m"]
    return np.asarray(np.clip(2.0 - np.abs(at_m - sweep.chainage_m) / near_m, 0.0, 1.0))


def _with_source(sweeps: Sequence[SweepFinding], at_m: Floats) -> Floats:
    """Return log likelihoods of sweeps with a source at chainages and places across (g, y)."""
    total = np.zeros((len(at_m), len(sweeps[0].across.y_m)))
    for each in sweeps:
        total += _mixed(_share(each, at_m)[:, None], np.array(each.across.source))
    return total


def _mixed(share: Floats, near: Floats) -> Floats:
    """Return the log of a mixture of a likelihood and of 1, whose log is 0."""
    with np.errstate(divide="ignore"):
        return np.asarray(np.logaddexp(np.log(share) + near, np.log1p(-share)))


def _without(sweeps: Sequence[SweepFinding], by_place: Floats) -> Floats:
    """Return log likelihoods with a source beside the line, or on another, abreast of each sweep.

    `by_place` are those with the source at each place across, abreast of each sweep. A mapped line
    that carries water is likelier to sound than a place that no map shows. It is brought in only as
    far as the sweeps indicate it rather than any place, since without sweeps it is not
    weighed at all.
    """
    times = load_sweep_weights()["likelihood"]["mapped_times"]
    names = sorted({name for each in sweeps for name in each.across.mapped})
    at = np.array([each.chainage_m for each in sweeps])
    other = logsumexp(by_place, axis=1) - np.log(by_place.shape[1])
    surplus = np.zeros(len(at))
    for name in names:
        # Where it does not cross the line swept, a mapped line is not heard there.
        fits = [(_share(each, at), each.across.mapped.get(name, each.across.silent))
                for each in sweeps]  # fmt: skip
        fit = np.sum([_mixed(share, np.array(near)) for share, near in fits], axis=0)
        least = _INDICATED * np.exp(np.maximum(other, 0.0))
        surplus += times / len(names) * np.maximum(np.exp(fit) - least, 0.0)
    return np.asarray(np.logaddexp(other, np.log(surplus + _TINY)))


def sweep_findings(
    result: Result, lines: Lines, constants: Constants
) -> dict[int, tuple[SweepFinding, ...]]:
    """Evaluate the sweeps across the selected lines.

    Parameters
    ----------
    result : Result
        With ``readings_on_route``.
    lines : Lines
    constants : Constants

    Returns
    -------
    dict of int to tuple of SweepFinding
        By index of the line in `lines`, in order of chainage; lines without a sweep have no entry.
    """
    found: dict[int, tuple[SweepFinding, ...]] = {}
    for line, sweeps in sweeps_by_line(
        result.layers["readings_on_route"], lines, constants
    ).items():
        depth = float(lines.depth_m[line])
        spread = constants.spread
        central = Spreading(
            depth if np.isfinite(depth) and depth > 0.0 else spread["depth_m"],
            soil_decay_db_per_m=spread["soil_decay_db_per_m"],
        )
        reach = max(reach_of(sweep) for sweep in sweeps)
        done: tuple[SweepFinding, ...] = ()
        for sweep in sweeps:
            neighbours = neighbours_of(sweep, line, lines, result.job)
            trace_sd = float(lines.trace_sd_m[line])
            one = evaluate_sweep(sweep, trace_sd, neighbours, central, constants, reach)
            done += (replace(one, earlier=done),)
        found[line] = done
    return found


def evaluate_sweep(
    sweep: Sweep, trace_sd_m: float, neighbours: tuple[Neighbour, ...], central: Spreading,
    constants: Constants, reach_m: float | None = None,
) -> SweepFinding:  # fmt: skip
    r"""Return where the sound of a sweep lies, and how well each explanation fits.

    Parameters
    ----------
    sweep : Sweep
    trace_sd_m : float
        1-sigma trace error of the line swept.
    neighbours : tuple of Neighbour
    central : Spreading
        Depth, and decay in the soil, in the middle of their priors.
    constants : Constants
    reach_m : float, optional
        How far to each side a source is considered; that of the sweep by default.

    Returns
    -------
    SweepFinding
        Without earlier sweeps.

    Notes
    -----
    With the source at y across the line the levels have the mean :math:`a + L(x_i - y)`, L by
    `leakgeo.sound.spreading.relative_level` without a path along the pipe, and a normal error:
    coupling with an exponential correlation, reading noise, rounding. The level a of each group has
    a flat prior (restricted likelihood; Harville 1974, Biometrika 61, 383-385). Depth, decay,
    floor and noise are averaged over their priors, and so is which reading, if any, is an outlier.
    The likelihood of an explanation is the average over its distribution of y.

    Examples
    --------
    >>> from leakgeo.find.evidence.sweep_readings import Sweep
    >>> from leakgeo.sound.constants import load_constants
    >>> x = np.arange(-3.0, 3.1, 0.5)
    >>> level = relative_level(x - 2.0, Spreading(0.9, floor=0.04)).round()
    >>> one = np.ones_like(x)
    >>> sweep = Sweep(17.0, x, level, 0.3 * one, 0.1 * one, one, np.zeros(len(x), int))
    >>> found = evaluate_sweep(sweep, 0.3, (), Spreading(0.9, soil_decay_db_per_m=1.5),
    ...                        load_constants())
    >>> weighed = found.likelihood(np.array([17.0]))
    >>> found.reason.code, round(found.offset_m), bool(weighed.nearby > weighed.leak[0])
    ('sweep_beside', 2, True)
    """
    weights = load_sweep_weights()
    reach = reach_of(sweep) if reach_m is None else reach_m
    count = int(np.ceil(reach / STEP_M))
    y = STEP_M * np.arange(-count, count + 1)
    by_place, silent = _evidence(sweep, y, central, constants)
    places = _places(y, trace_sd_m, neighbours, weights)
    prior = _prior(places, weights)
    missed = weights["likelihood"]["not_heard"]
    heard = {name: float(logsumexp(by_place, b=p)) for name, p in places.items()}
    each = {name: float(np.logaddexp(np.log1p(-missed) + fit, np.log(missed) + silent))
            for name, fit in heard.items()}  # fmt: skip
    far = float(logsumexp([each[name] for name in prior], b=list(prior.values())))
    probability = {name: float(np.exp(np.log(prior[name] * (1.0 - missed)) + fit - far))
                   for name, fit in heard.items()}  # fmt: skip
    probability[SILENT] = float(np.exp(np.log(missed) + silent - far))
    # The distance from where it was taped differs from sweep to sweep.
    source = _smoothed(by_place, weights["place"]["reference_sd_m"])
    source = np.logaddexp(np.log1p(-missed) + source, np.log(missed) + silent) - far
    across = Across(
        tuple(y.tolist()),
        tuple(source.tolist()),
        {name: fit - far for name, fit in each.items() if name.startswith("line: ")},
        silent - far,
    )
    offset, sd = _loudest(y, by_place)
    reason = _reason(sweep, offset, sd, probability)
    return SweepFinding(sweep.chainage_m, offset, sd, probability, across, trace_sd_m, reason)


def _smoothed(log_likelihood: Floats, sd_m: float) -> Floats:
    """Return a log likelihood on the grid of places, averaged over a normal error of the place."""
    top = log_likelihood.max()
    reach = int(np.ceil(4.0 * sd_m / STEP_M))
    kernel = np.exp(-0.5 * (STEP_M * np.arange(-reach, reach + 1) / sd_m) ** 2)
    likelihood = np.pad(np.exp(log_likelihood - top), reach, mode="edge")
    mean = np.convolve(likelihood, kernel / kernel.sum(), mode="valid")
    return np.asarray(np.log(mean + _TINY) + top)


def _evidence(
    sweep: Sweep, y: Floats, central: Spreading, constants: Constants
) -> tuple[Floats, float]:
    """Return the log likelihood with the source at each place across, and with none heard."""
    expected, log_weight = _expected(sweep, y, central, constants)
    # Small numbers, so that a constant in all levels changes nothing.
    level = sweep.level_db - np.array([sweep.level_db[sweep.group == g][0] for g in sweep.group])
    residual = level - np.vstack([np.zeros_like(level), expected])
    law = constants.noise_law.common(_LEAST_COMMON)
    by_noise = [_log_normal(residual, sweep, node, constants) for node in law.nodes]
    fits = logsumexp(by_noise, axis=0, b=law.weight[:, None])
    by_place = logsumexp(fits[1:].reshape(-1, len(y)) + log_weight[:, None], axis=0)
    return np.asarray(by_place), float(fits[0])


def _expected(
    sweep: Sweep, y: Floats, central: Spreading, constants: Constants
) -> tuple[Floats, Floats]:
    """Return levels, shape (constants x places, n), and the log weight of the constants."""
    spread, away = constants.spread, sweep.offset_m - y[:, None]
    parts, weights = [], []
    for d, depth_w in _DEPTHS:
        depth = central.depth_m * np.exp(d * spread["depth_ln"])
        for s, soil_w in _DECAYS:
            soil = central.soil_decay_db_per_m * np.exp(s * spread["soil_decay_ln"])
            bare = np.empty(away.shape)
            for times in np.unique(sweep.soil_times):
                own = sweep.soil_times == times
                law = Spreading(depth, soil_decay_db_per_m=soil * times)
                bare[:, own] = relative_level(away[:, own], law, sweep.smear_m[own])
            for f, floor_w in _FLOORS:
                floor = np.exp(-(spread["floor_below_db"] + f * spread["floor_db"]) / DB)
                parts.append(DB * np.log(np.exp(bare / DB) + floor))
                weights.append(depth_w * soil_w * floor_w)
    return np.concatenate(parts), np.log(weights)


def _log_normal(residual: Floats, sweep: Sweep, node: Floats, constants: Constants) -> Floats:
    """Return the restricted log likelihood of residuals, shape (m, n), with one outlier or none."""
    coupling, length, reading = node
    n = len(sweep.offset_m)
    apart = np.abs(sweep.offset_m[:, None] - sweep.offset_m)
    own = reading**2 + sweep.rounding_sd_db**2
    covariance = coupling**2 * np.exp(-apart / length) + np.diag(own)
    groups = (sweep.group[:, None] == np.unique(sweep.group)).astype(float)
    inverse = np.linalg.inv(covariance)
    middle = groups.T @ inverse @ groups
    precision = inverse - inverse @ groups @ np.linalg.solve(middle, groups.T @ inverse)
    precision = (precision + precision.T) / 2.0
    log_det = np.linalg.slogdet(covariance)[1] + np.linalg.slogdet(middle)[1]
    pull = residual @ precision
    plain = np.sum(pull * residual, axis=1)
    # One reading with more variance: a matrix of rank one (Sherman and Morrison 1950).
    noise = constants.noise
    more = (noise["outlier_times"] - 1.0) * (reading**2 + coupling**2)
    gain = 1.0 + more * np.maximum(np.diag(precision), 0.0)
    share = noise["outlier_share"]
    with_one = -0.5 * (plain[:, None] - more / gain * pull**2 + np.log(gain))
    none = -0.5 * plain
    one = logsumexp(with_one, axis=1) + (n - 1) * np.log1p(-share) + np.log(share)
    return np.asarray(np.logaddexp(none + n * np.log1p(-share), one) - 0.5 * log_det)


def _places(
    y: Floats, trace_sd_m: float, neighbours: tuple[Neighbour, ...],
    weights: Mapping[str, Mapping[str, float]],
) -> dict[str, Floats]:  # fmt: skip
    """Return the distribution over the places across of each explanation."""
    place = weights["place"]
    found = {
        OWN: _normal(y, np.zeros(1), np.hypot(trace_sd_m, place["reference_sd_m"])),
        WRONG: _normal(y, np.zeros(1), np.hypot(trace_sd_m, place["trace_wrong_sd_m"])),
        OTHER: np.full(len(y), 1.0 / len(y)),
    }
    for each in neighbours:
        sd = np.hypot(each.sd_m, place["reference_sd_m"])
        found[f"line: {each.name}"] = _normal(y, each.offset_m, sd)
    return found


def _normal(y: Floats, at: Floats, sd: float) -> Floats:
    weight = np.exp(-0.5 * ((y[:, None] - at) / sd) ** 2).sum(axis=1) + _TINY
    return np.asarray(weight / weight.sum())


def _prior(
    places: Mapping[str, Floats], weights: Mapping[str, Mapping[str, float]]
) -> dict[str, float]:
    table = weights["explanations"]
    mapped = [name for name in places if name.startswith("line: ")]
    share = {name: table[name] for name in (OWN, WRONG, OTHER)}
    share |= dict.fromkeys(mapped, table["mapped_line"] / max(len(mapped), 1))
    total = sum(share.values())
    return {name: value / total for name, value in share.items()}


def _loudest(y: Floats, by_place: Floats) -> tuple[float, float]:
    """Return the likeliest place across, and the standard deviation about it."""
    weight = np.exp(by_place - by_place.max())
    weight /= weight.sum()
    peak = float(y[weight.argmax()])
    near = np.abs(y - peak) <= 1.0
    middle = float(weight[near] @ y[near] / weight[near].sum())
    return round(middle, 3), round(float(np.sqrt(weight @ (y - middle) ** 2)), 3)


def _reason(sweep: Sweep, offset: float, sd: float, probability: Mapping[str, float]) -> Reason:
    lines = {name: p for name, p in probability.items() if name.startswith("line: ")}
    line, at = max(lines, key=lambda name: lines[name], default=None), sweep.chainage_m
    side = "left" if offset > 0.0 else "right"
    if line is not None and lines[line] > 0.5:
        return Reason("sweep_over_other_line", line=line.removeprefix("line: "), chainage_m=at,
                      offset_m=abs(offset), side=side)  # fmt: skip
    if sd > CLEAR_SD_M or probability[SILENT] > CLEAR_SILENT:
        return Reason("sweep_flat", chainage_m=at)
    if abs(offset) <= max(OVER_M, sd):
        return Reason("sweep_over_pipe", chainage_m=at, sd_m=sd)
    outermost = float(np.max(sweep.offset_m * np.sign(offset)))
    if abs(offset) > outermost - OVER_M:
        return Reason("sweep_beyond", chainage_m=at, offset_m=outermost, side=side)
    return Reason("sweep_beside", chainage_m=at, offset_m=abs(offset), side=side)
