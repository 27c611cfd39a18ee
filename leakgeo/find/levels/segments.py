"""Runs of paced stops: where a crew turned back, how long its steps were, where its stops were."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Ints
    from leakgeo.sound.walk_law import WalkLaw

# Least number of stops of a run; probability that a walk has a further one; most of them.
LEAST_STOPS, TURN_PROBABILITY, MOST_RUNS = 3, 0.3, 6
# Probability that the order of a walk is not that of its stops, and how far these then scatter.
NO_ORDER, SCATTERS_M = 0.02, (0.7, 1.5, 3.0, 6.0, 12.0)
# Before the fixes: standard deviations of the start of a run about the middle of the fixes, and of
# its step about 0.
START_SD_M, STEP_SD_M = 50.0, 1.2
# Paced stops: standard deviation of a stop about its place, in metres and as a share of the step,
# and that of each step, whose errors add up, as a share.
STOP_SD_M, STOP_SHARE, STEP_SHARE = 0.04, 0.03, 0.06
# Width of a node of the steps, as a share of its step.
NODE_SHARE = 0.03


def turns(fix_m: Floats, covariance: Floats) -> tuple[Ints, float]:
    """Return the runs of one walk, and the log evidence that it is a walk of runs.

    Runs are straight lines of chainage against order. A break is added where it raises the evidence
    most, as long as that is likelier than no break.

    Parameters
    ----------
    fix_m : ndarray of float, shape (n,)
        Fixes along the route, in the order of the walk.
    covariance : ndarray of float, shape (n, n)
        Of their errors.

    Returns
    -------
    run : ndarray of int, shape (n,)
        Number of the run of each stop, from 0.
    log_odds : float
        Log odds that the stops were walked in this order, and not in another.

    Examples
    --------
    >>> there, back = np.arange(0.0, 20.0, 1.2), np.arange(8.0, 12.0, 0.3)
    >>> fix = np.append(there, back)
    >>> turns(fix, 0.25 * np.eye(len(fix)))[0].tolist() == [0] * 17 + [1] * 14
    True
    """
    n = len(fix_m)
    off = fix_m - fix_m.mean()
    precision = np.linalg.inv(covariance)
    weighed = precision @ off
    gram, base = _by_start(_by_start(precision).T), float(off @ weighed)
    toward = _by_start(weighed[:, None])[:, 0]
    starts = np.zeros(1, dtype=np.int64)
    best = float(_run_evidence(starts[None], gram, toward)[0])
    toll = float(np.log(TURN_PROBABILITY) - np.log(max(n - 1, 1)))
    while len(starts) < MOST_RUNS:
        free = np.arange(LEAST_STOPS, n - LEAST_STOPS + 1)
        free = free[np.abs(free[:, None] - starts).min(axis=1) >= LEAST_STOPS]
        if len(free) == 0:
            break
        more = np.column_stack([np.tile(starts, (len(free), 1)), free])
        more.sort(axis=1)
        tried = _run_evidence(more, gram, toward) + (len(starts) * toll)
        first = int(np.argmax(tried))
        if tried[first] <= best:
            break
        starts, best = more[first], float(tried[first])
    run = np.searchsorted(starts, np.arange(n), side="right") - 1
    walked = best + float(np.log1p(-TURN_PROBABILITY) + np.log1p(-NO_ORDER))
    return run, walked - _without_order(off, covariance, base) - float(np.log(NO_ORDER))


def _by_start(table: Floats) -> Floats:
    """Return the products with columns that are 1, or rise by 1 a stop, from each stop on.

    Parameters
    ----------
    table : ndarray of float, shape (n, m)

    Returns
    -------
    ndarray of float, shape (2 n, m)
    """
    level = table[::-1].cumsum(axis=0)[::-1]
    return np.vstack([level, level[::-1].cumsum(axis=0)[::-1] - level])


def _run_evidence(starts: Ints, gram: Floats, toward: Floats) -> Floats:
    """Return the log evidence of runs, relative to that of errors alone, shape (b,).

    Parameters
    ----------
    starts : ndarray of int, shape (b, s)
        First stop of each run, ascending.
    gram, toward : ndarray of float, shape (2 n, 2 n), (2 n,)
        Products of columns that are 1, or rise by 1 a stop, from each stop on to the end, by the
        precision of the fixes; and those with the fixes.
    """
    many, size = starts.shape
    chosen = np.hstack([starts, starts + len(toward) // 2])
    # A run is what begins at its start less what begins at the next one.
    turn = np.zeros((many, 2 * size, 2 * size))
    k = np.arange(size)
    turn[:, k, k] = START_SD_M
    turn[:, k[1:], k[:-1]] = -START_SD_M
    turn[:, size + k, size + k] = STEP_SD_M
    turn[:, size + k[1:], size + k[:-1]] = -STEP_SD_M
    turn[:, k[1:], size + k[:-1]] = -STEP_SD_M * np.diff(starts, axis=1)
    back = turn.transpose(0, 2, 1)
    inner = np.eye(2 * size) + back @ gram[chosen[:, :, None], chosen[:, None, :]] @ turn
    right = back @ toward[chosen][:, :, None]
    fitted = (right.transpose(0, 2, 1) @ np.linalg.solve(inner, right))[:, 0, 0]
    return np.asarray(0.5 * fitted - 0.5 * np.linalg.slogdet(inner)[1])


def _without_order(off: Floats, covariance: Floats, base: float) -> float:
    """Return the log evidence of stops in no order, relative to that of errors alone."""
    log_det = float(np.linalg.slogdet(covariance)[1])
    # The scatters only add to the eigenvalues.
    value, vector = np.linalg.eigh(covariance + START_SD_M**2)
    wide = value + np.square(SCATTERS_M)[:, None]
    square = ((off @ vector) ** 2 / wide).sum(axis=1)
    found = 0.5 * (base - square) - 0.5 * (np.log(wide).sum(axis=1) - log_det)
    return float(np.logaddexp.reduce(found) - np.log(len(found)))


@dataclass(frozen=True)
class Paced:
    """Places of stops by their runs.

    Parameters
    ----------
    chainage_m : ndarray of float, shape (n,)
    own_sd_m : ndarray of float, shape (n,)
        Error of each stop besides shift and stretch of its run.
    stops_from_middle : ndarray of float, shape (n,)
        Number of stops from where shift and stretch of the run are independent.
    shift_sd_m, spacing_sd_m : ndarray of float, shape (runs,)
        Errors of shift and step of each run.
    common_sd_m : float
        Part of the shifts that all runs share.
    """

    chainage_m: Floats
    own_sd_m: Floats
    stops_from_middle: Floats
    shift_sd_m: Floats
    spacing_sd_m: Floats
    common_sd_m: float


@dataclass(frozen=True)
class _Runs:
    """Stops of several runs: number within the run, and the columns of starts and steps."""

    run: Ints
    order: Floats
    columns: Floats

    @property
    def count(self) -> int:
        """Number of runs."""
        return int(self.columns.shape[1]) // 2

    @classmethod
    def of(cls, run: Ints) -> _Runs:
        """Count the stops of each run from its middle."""
        position = np.arange(len(run)) - np.searchsorted(run, run)
        count = np.bincount(run)[run]
        order = position - 0.5 * (count - 1)
        member = (run[:, None] == np.arange(int(run.max()) + 1)).astype(float)
        return cls(run, order, np.hstack([member, member * order[:, None]]))

    def paces(self, step_m: Floats) -> Floats:
        """Return the covariance of the stops about an even pace, shape (n, n)."""
        step = np.abs(step_m)[self.run]
        same = self.run[:, None] == self.run
        position = self.order - self.order[np.searchsorted(self.run, self.run)]
        walked = np.minimum(position[:, None], position)
        found = np.where(same, (STEP_SHARE * step) ** 2 * walked, 0.0)
        found[np.diag_indices_from(found)] += STOP_SD_M**2 + (STOP_SHARE * step) ** 2
        return found


def steps_seen(fix_m: Floats, covariance: Floats, run: Ints) -> tuple[Floats, Floats]:
    """Return the step of each run as its fixes alone show it, and its variance.

    Parameters
    ----------
    fix_m : ndarray of float, shape (n,)
    covariance : ndarray of float, shape (n, n)
    run : ndarray of int, shape (n,)
        Ascending.

    Returns
    -------
    step_m, variance : ndarray of float, shape (runs,)
        Positive along the route. The variance is infinite where nothing is seen.
    """
    return _steps_seen(fix_m, covariance, _Runs.of(run))


def _steps_seen(fix_m: Floats, covariance: Floats, runs: _Runs) -> tuple[Floats, Floats]:
    """Return what `steps_seen` does."""
    count = runs.count
    prior = np.repeat([START_SD_M**2, STEP_SD_M**2], count)
    step: Floats = np.zeros(count)
    variance: Floats = np.full(count, STEP_SD_M**2)
    # The scatter of the paces depends on the step itself.
    for _ in range(2):
        mean, cov = _fitted(runs, fix_m, covariance, np.zeros(2 * count), prior, step)
        step, variance = mean[count:], np.diagonal(cov)[count:]
    precision = np.maximum(1.0 / variance - STEP_SD_M**-2.0, 0.0)
    seen = precision > 1e-6
    with np.errstate(divide="ignore"):
        spread = np.where(seen, 1.0 / precision, np.inf)
    return np.where(seen, step / variance * np.where(seen, spread, 1.0), 0.0), spread


def _fitted(
    runs: _Runs, fix_m: Floats, covariance: Floats, mean: Floats, variance: Floats, step_m: Floats
) -> tuple[Floats, Floats]:
    """Return mean and covariance of starts and steps, given their prior; the fixes are centred."""
    middle = fix_m.mean()
    z = runs.columns
    total = covariance + runs.paces(step_m) + (z * variance) @ z.T
    gain = np.linalg.solve(total, z * variance).T
    found = mean + gain @ (fix_m - middle - z @ mean)
    return found, np.diag(variance) - gain @ (z * variance)


def step_evidence(step_m: Floats, variance: Floats, law: WalkLaw) -> Floats:
    """Return the log likelihood of each step seen at each node of a law, of either direction.

    Parameters
    ----------
    step_m, variance : ndarray of float, shape (s,)
        As `steps_seen` returns them.
    law : WalkLaw

    Returns
    -------
    ndarray of float, shape (s, k)
    """
    return np.asarray(np.logaddexp(*_by_direction(step_m, variance, law)) - np.log(2.0))


def _by_direction(step_m: Floats, variance: Floats, law: WalkLaw) -> tuple[Floats, Floats]:
    known = np.isfinite(variance)[:, None]
    wide = np.where(known, variance[:, None], 1.0) + (NODE_SHARE * law.steps_m) ** 2
    return tuple(
        np.where(known, -0.5 * (step_m[:, None] - sign * law.steps_m) ** 2 / wide
                 - 0.5 * np.log(wide), 0.0)
        for sign in (1.0, -1.0)
    )  # type: ignore[return-value]  # fmt: skip


def _usual_steps(step_m: Floats, variance: Floats, law: WalkLaw) -> tuple[Floats, Floats]:
    """Return the prior of the steps that with what is seen gives the moments of the mixture."""
    score = np.hstack(_by_direction(step_m, variance, law))
    score = score + np.tile(np.log(np.maximum(law.step_weight, 1e-300)), 2)
    weight = np.exp(score - score.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)
    node = np.append(law.steps_m, -law.steps_m)
    width = (NODE_SHARE * node) ** 2
    seen = np.where(np.isfinite(variance), 1.0 / variance, 0.0)[:, None]
    inner = 1.0 / (seen + 1.0 / width)
    at = inner * (seen * step_m[:, None] + node / width)
    mean = np.sum(weight * at, axis=1)
    spread = np.sum(weight * (inner + at**2), axis=1) - mean**2
    precision = 1.0 / spread - seen[:, 0]
    wide = precision < STEP_SD_M**-2.0
    precision = np.where(wide, STEP_SD_M**-2.0, precision)
    toward = (mean / spread - seen[:, 0] * step_m) / precision
    return np.where(wide, 0.0, toward), 1.0 / precision


def placed(fix_m: Floats, covariance: Floats, run: Ints, law: WalkLaw) -> Paced:
    """Place stops by the paces of their runs: mean and covariance of normal laws.

    Parameters
    ----------
    fix_m : ndarray of float, shape (n,)
        Fixes along the route, in the order of the visit.
    covariance : ndarray of float, shape (n, n)
        Of their errors.
    run : ndarray of int, shape (n,)
        Number of the run of each stop, ascending from 0.
    law : WalkLaw

    Returns
    -------
    Paced

    Examples
    --------
    >>> from leakgeo.sound.walk_law import WalkLaw
    >>> law = WalkLaw.of([[0.0, 1.0, 0.0, 1.0]], [[0.3, 1.0]])
    >>> fix = 4.0 + 0.3 * np.arange(15.0) + np.resize([0.5, -0.5], 15)
    >>> paced = placed(fix, 0.25 * np.eye(15), np.zeros(15, dtype=int), law)
    >>> bool(np.abs(paced.chainage_m - 4.0 - 0.3 * np.arange(15)).max() < 0.15)
    True
    """
    runs = _Runs.of(run)
    count = runs.count
    seen, seen_variance = _steps_seen(fix_m, covariance, runs)
    usual, spread = _usual_steps(seen, seen_variance, law)
    mean = np.append(np.zeros(count), usual)
    variance = np.append(np.full(count, START_SD_M**2), spread)
    found, _ = _fitted(runs, fix_m, covariance, mean, variance, usual)
    return _placed_by_steps(fix_m, covariance, runs, usual, spread, found[count:])


def placed_by_steps(
    fix_m: Floats, covariance: Floats, run: Ints, step_m: Floats, variance: Floats, pace_m: Floats
) -> Paced:
    """Place stops by steps whose prior is given.

    Parameters
    ----------
    fix_m, covariance, run
        As for `placed`.
    step_m, variance : ndarray of float, shape (runs,)
        Mean and variance of the step of each run before the fixes, positive along the route.
    pace_m : ndarray of float, shape (runs,)
        Steps that the scatter of the paces is a share of.

    Returns
    -------
    Paced
    """
    return _placed_by_steps(fix_m, covariance, _Runs.of(run), step_m, variance, pace_m)


def _placed_by_steps(
    fix_m: Floats, covariance: Floats, runs: _Runs, step_m: Floats, variance: Floats,
    pace_m: Floats,
) -> Paced:  # fmt: skip
    """Return what `placed_by_steps` does."""
    middle = fix_m.mean()
    z, count = runs.columns, len(step_m)
    expected = middle + z @ np.append(np.zeros(count), step_m)
    before = (z * np.append(np.full(count, START_SD_M**2), variance)) @ z.T + runs.paces(pace_m)
    gain = np.linalg.solve(covariance + before, before).T
    found = expected + gain @ (fix_m - expected)
    return _moments(runs, found, before - gain @ before)


def _moments(runs: _Runs, chainage_m: Floats, covariance: Floats) -> Paced:
    """Split a covariance into shift and stretch of each run, and the rest of each stop."""
    count = runs.count
    # Least squares: the weights of the stops in the mean and in the slope of each run.
    squares = np.sum(runs.columns**2, axis=0)
    weights = (runs.columns / np.where(squares > 0.0, squares, 1.0)).T
    inner = weights @ covariance @ weights.T
    level, slope = np.diagonal(inner)[:count], np.diagonal(inner)[count:]
    both = np.diagonal(inner, count)
    back = np.where(slope > 0.0, both / np.where(slope > 0.0, slope, 1.0), 0.0)
    # Shift and stretch are independent about this stop.
    from_middle = runs.order + back[runs.run]
    shift = np.maximum(level - back * both, 0.0)
    rest = np.diagonal(covariance) - shift[runs.run] - slope[runs.run] * from_middle**2
    turned = weights[:count] - back[:, None] * weights[count:]
    shared = turned @ covariance @ turned.T
    apart = shared[~np.eye(count, dtype=bool)]
    common = min(float(apart.min()), 0.95 * float(shift.min())) if count > 1 else 0.0
    return Paced(
        chainage_m,
        np.sqrt(np.maximum(rest, STOP_SD_M**2)),
        from_middle,
        np.sqrt(shift),
        np.sqrt(np.maximum(slope, 0.0)),
        max(common, 0.0) ** 0.5,
    )
