"""The compiled heart: how well a leak at a given place explains the readings of one line.

For one candidate place the constants of the sound (depth, decay, floor ...) are fitted by
Gauss-Newton and integrated out by Laplace's approximation. Coupling that is alike for stops close
together is an exponentially correlated process, filtered in order of chainage (Kalman 1960) at a
cost linear in the readings. Bursts and bad contacts make noise heavy-tailed: Student's t as a
scale mixture of normals, with weights found by the variational rule of Tipping and Lawrence
(Neurocomputing 69, 2005).

All of it stands in one file: numba's cache of a compiled function doesn't see that one which it
calls has changed in another.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from leakgeo.compiled import compiled

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Ints

# Places of the constants in the vector that is fitted: two for the ground, one for the share of
# sound that comes by the pipe, one for how unlike the pipe decays to the two sides of the leak,
# three for each filter band from BANDS on, shifts and stretches of walks whose positions share an
# error, steps between walks, bands and surfaces, the level, and, where another source is fitted,
# three for it at the end.
DEPTH, SMEAR, PIPED, SIDE, BANDS = 0, 1, 2, 3, 4
DECAY, FLOOR, SOIL, PER_BAND = 0, 1, 2, 3
# In a table of natural constants a band has the share of the pipe's path besides.
SHARE = PER_BAND
OTHER_LEVEL, OTHER_AWAY, OTHER_PLACE, PER_OTHER = 0, 1, 2, 3

# What may sound: nothing, one source, or a leak and another source.
SILENT, ONE, TWO = 0, 1, 2

# Columns of the table of readings. The load is how much of the coupling a reading carries, the
# lever by how much a stretch of its walk moves it. A reading on another line is so far aside of
# this one, and so far along a branch that leaves it at the tee; ALONG tells how far apart two are.
X, Y, VARIANCE, POSITION_VARIANCE, SMEAR_M, LOAD, LEVER = 0, 1, 2, 3, 4, 5, 6
ALONG, ASIDE, TEE, BRANCH = 7, 8, 9, 10
# Columns of the table of codes. The first reading of a stop has the number of them, the next ones
# -1, -2 ..., as they are turned into its contrasts; from STEPS_AT on come places of steps in level,
# the walk's first.
BAND, STOP, SHIFT_AT, FRAME_AT, STRETCH_AT, STEPS_AT, WALK_AT = 0, 1, 2, 3, 4, 5, 5

# Entries of the noise vector.
COUPLING_VARIANCE, COUPLING_LENGTH, SCALE, CONTRAST_SCALE, TAIL = 0, 1, 2, 3, 4

_DB = 10.0 / math.log(10.0)
_MOST_ITERATIONS = 12
_SETTLED = 0.02
_LONGEST_STEP = 1.0
# A place that can't come so near to the best, in nats, isn't fitted to the end.
_HOPELESS = 16.0
# Below this error, in metres squared, the level is as good as straight over it.
_SMALL_VARIANCE = 0.01


@compiled
def level_index(model: int, size: int) -> int:
    """Place of the level among `size` constants."""
    return size - 1 - (PER_OTHER if model == TWO else 0)


@compiled
def _natural(model: int, theta: Floats) -> Floats:
    """Constants as the formula takes them, out of the logarithms that are fitted."""
    natural = theta.copy()
    natural[DEPTH] = math.exp(2.0 * theta[DEPTH])
    natural[SMEAR] = math.exp(2.0 * theta[SMEAR])
    natural[SIDE] = math.exp(theta[SIDE])
    level_at = level_index(model, theta.size)
    if model == TWO:
        natural[level_at + 1 + OTHER_LEVEL] = math.exp(theta[level_at + 1 + OTHER_LEVEL])
        natural[level_at + 1 + OTHER_AWAY] = math.exp(2.0 * theta[level_at + 1 + OTHER_AWAY])
    return natural


@compiled
def _band_constants(theta: Floats, codes: Ints) -> Floats:
    """Decay, floor, soil decay and share of each band in natural units, shape (bands, 4)."""
    bands = int(codes[:, BAND].max()) + 1
    table = np.empty((bands, PER_BAND + 1))
    for b in range(bands):
        table[b, DECAY] = math.exp(theta[BANDS + PER_BAND * b + DECAY])
        table[b, SHARE] = 1.0 / (1.0 + math.exp(-theta[PIPED]))
        table[b, FLOOR] = math.exp(theta[BANDS + PER_BAND * b + FLOOR])
        table[b, SOIL] = math.exp(theta[BANDS + PER_BAND * b + SOIL])
    return table


@compiled
def _source_power(
    plan: float, piped_m: float, height2: float, band: Floats, decay: float
) -> tuple[float, float, float, float, float]:
    """Direct and piped power, height, and slant by the ground and by the pipe.

    `decay` is that of the pipe on the side of the leak that the reading is on.
    """
    slant2 = height2 + plan * plan
    height, slant = math.sqrt(height2), math.sqrt(slant2)
    by_pipe = slant if plan == piped_m else math.sqrt(height2 + piped_m * piped_m)
    log_ratio = math.log(height2 / slant2)
    direct = (1.0 - band[SHARE]) * math.exp(log_ratio - band[SOIL] * (slant - height))
    piped = band[SHARE] * math.exp(-decay * (by_pipe - height))
    return direct, piped, height, slant, by_pipe


@compiled
def _away(reading: Floats, x: float, place: float) -> tuple[float, float]:
    """How far a reading at `x` is from the source: over the ground, and along the pipe."""
    if reading[BRANCH] > 0.0:
        return math.hypot(x - place, reading[ASIDE]), abs(place - reading[TEE]) + reading[BRANCH]
    return x - place, x - place


@compiled
def _side(reading: Floats, piped_m: float) -> float:
    """Side of the leak that a reading is on, as a sign; 0 on a branch, whose side isn't told."""
    return 0.0 if reading[BRANCH] > 0.0 else math.copysign(1.0, piped_m)


@compiled
def _decay(mean: float, unlike: float, side: float) -> float:
    """Decay of the pipe on a side of the leak; a power would say it shorter, and take longer."""
    if side > 0.0:
        return mean * unlike
    return mean / unlike if side < 0.0 else mean


@compiled
def _seen_at(reading: Floats, code: Ints, natural: Floats) -> float:
    """Chainage of a reading in the frame, its walk shifted and stretched as fitted."""
    x = reading[X]
    if code[SHIFT_AT] >= 0:
        x += natural[code[SHIFT_AT]]
    if code[FRAME_AT] >= 0:
        x -= natural[code[FRAME_AT]]
    if code[STRETCH_AT] >= 0:
        x += natural[code[STRETCH_AT]] * reading[LEVER]
    return float(x)


@compiled
def _slope_by_place(reading: Floats, code: Ints, steep: float, slopes: Floats) -> None:
    """Fill the slopes by what `_seen_at` depends on, from the slope by chainage."""
    if code[SHIFT_AT] >= 0:
        slopes[code[SHIFT_AT]] = steep
    if code[FRAME_AT] >= 0:
        slopes[code[FRAME_AT]] = -steep
    if code[STRETCH_AT] >= 0:
        slopes[code[STRETCH_AT]] = steep * reading[LEVER]


@compiled
def _level_of_walk(natural: Floats, code: Ints, level_at: int, slopes: Floats) -> float:
    """Level of one reading but for the sound, with its steps; begins `slopes`."""
    slopes[:] = 0.0
    level = float(natural[level_at])
    slopes[level_at] = 1.0
    for at in code[STEPS_AT:]:
        if at >= 0:
            level += natural[at]
            slopes[at] = 1.0
    return level


@compiled
def _predict(
    model: int, place: float, natural: Floats, band: Floats, reading: Floats, code: Ints,
    slopes: Floats,
) -> tuple[float, float]:  # fmt: skip
    """Level of one reading and, in `slopes`, its derivatives by the constants.

    Also gives the variance that the error of its position lends to the level.
    """
    level_at = level_index(model, slopes.size)
    level = _level_of_walk(natural, code, level_at, slopes)
    if model == SILENT:
        return level, 0.0

    depth2, smear2 = natural[DEPTH], natural[SMEAR] * reading[SMEAR_M] ** 2
    x = _seen_at(reading, code, natural)
    plan, piped_m = _away(reading, x, place)
    # The expected level over an error of position is that of a wider source.
    height2 = depth2 + smear2 + reading[POSITION_VARIANCE]
    side = _side(reading, piped_m)
    decay = _decay(band[DECAY], natural[SIDE], side)
    direct, piped, height, slant, by_pipe = _source_power(plan, piped_m, height2, band, decay)
    power = direct + piped + band[FLOOR]
    steep = 0.0
    if model == TWO:
        other, steep = _other(level_at + 1, natural, x, reading[POSITION_VARIANCE], power, slopes)
        power += other
    unit = _DB / power
    by_height2 = direct * (1.0 / height2 - 1.0 / slant**2)
    by_height2 += direct * band[SOIL] * 0.5 * (1.0 / height - 1.0 / slant)
    by_height2 += piped * decay * 0.5 * (1.0 / height - 1.0 / by_pipe)
    slopes[DEPTH] = unit * by_height2 * 2.0 * depth2
    slopes[SMEAR] = unit * by_height2 * 2.0 * smear2
    b = BANDS + PER_BAND * code[BAND]
    slopes[b + SOIL] = -unit * direct * band[SOIL] * (slant - height)
    slopes[b + DECAY] = -unit * piped * decay * (by_pipe - height)
    slopes[SIDE] = side * slopes[b + DECAY]
    slopes[PIPED] = unit * (piped * (1.0 - band[SHARE]) - direct * band[SHARE])
    slopes[b + FLOOR] = unit * band[FLOOR]
    level += _DB * math.log(power)
    steep -= (2.0 * direct / slant + direct * band[SOIL]) * unit * plan / slant
    steep -= piped * decay * unit * piped_m / by_pipe
    _slope_by_place(reading, code, steep, slopes)
    if reading[POSITION_VARIANCE] > _SMALL_VARIANCE:
        rest = power - direct - piped
        return level, _position_variance(
            plan, piped_m, depth2 + smear2, band, decay, reading[POSITION_VARIANCE], rest
        )
    return level, steep * steep * reading[POSITION_VARIANCE]


@compiled
def _other(
    at: int, natural: Floats, x: float, position_variance: float, power: float, slopes: Floats
) -> tuple[float, float]:
    """Power of the other source and the level's slope by chainage; fills the slopes of its own."""
    away2 = natural[at + OTHER_AWAY]
    aside = x - natural[at + OTHER_PLACE]
    slant2 = away2 + aside * aside + position_variance
    other = natural[at + OTHER_LEVEL] * away2 / slant2
    unit = _DB * other / (power + other)
    slopes[at + OTHER_LEVEL] = unit
    slopes[at + OTHER_AWAY] = unit * 2.0 * (1.0 - away2 / slant2)
    slopes[at + OTHER_PLACE] = unit * 2.0 * aside / slant2
    return float(other), float(-unit * 2.0 * aside / slant2)


@compiled
def _position_variance(
    plan: float, piped_m: float, height2: float, band: Floats, decay: float, variance: float,
    rest: float,
) -> float:  # fmt: skip
    """Variance of the level over an error of position too large for a straight line.

    By three Gauss-Hermite nodes.
    """
    away = math.sqrt(3.0 * variance)
    mean, square = 0.0, 0.0
    for k in range(3):
        moved = (k - 1) * away
        direct, piped, _, _, _ = _source_power(plan + moved, piped_m + moved, height2, band, decay)
        level = _DB * math.log(direct + piped + rest)
        share = 2.0 / 3.0 if k == 1 else 1.0 / 6.0
        mean += share * level
        square += share * level * level
    return float(max(square - mean * mean, 0.0))


class Work(NamedTuple):
    """Room that a fit works in, made once for all places of a scan."""

    table: Floats
    variance: Floats
    robust: Floats
    keep: Floats
    load: Floats
    process: Ints
    state: Floats
    held: Floats
    gain: Floats
    spread: Floats
    square: Floats
    matrix: Floats
    right: Floats
    bent: int


@compiled
def _processes(codes: Ints) -> Ints:
    """Which coupling process each reading shows: that of the sums, 0, or of a contrast."""
    return np.maximum(-codes[:, STOP], 0)


@compiled
def _memory(x: Floats, process: Ints, length: float) -> Floats:
    """What the coupling keeps from the reading before it of the same process."""
    keep = np.zeros(x.size)
    before = np.full(int(process.max()) + 1, -np.inf)
    for i in range(x.size):
        keep[i] = math.exp(-(x[i] - before[process[i]]) / length)
        before[process[i]] = x[i]
    return keep


@compiled
def _gains(variance: Floats, noise: Floats, work: Work) -> None:
    """Run the variances of the coupling filter: gain and innovation spread."""
    contrast = noise[COUPLING_VARIANCE] * noise[CONTRAST_SCALE]
    total = noise[COUPLING_VARIANCE] * noise[SCALE]
    work.held[:] = contrast
    work.held[0] = total
    for i in range(variance.size):
        p, load = work.process[i], work.load[i]
        prior = contrast if p else total
        now = prior + work.keep[i] ** 2 * (work.held[p] - prior)
        spread = load**2 * now + variance[i]
        work.gain[i] = now * load / spread
        work.held[p] = now * (1.0 - work.gain[i] * load)
        work.spread[i] = math.sqrt(spread)


@compiled
def _whiten(work: Work) -> None:
    """Turn the columns of the table, in place, into their standardised innovations."""
    table, state, width = work.table, work.state, work.table.shape[1]
    state[:] = 0.0
    for i in range(table.shape[0]):
        p, load, keep, gain = work.process[i], work.load[i], work.keep[i], work.gain[i]
        unit = 1.0 / work.spread[i]
        for c in range(width):
            expected = keep * state[p, c]
            innovation = table[i, c] - load * expected
            state[p, c] = expected + gain * innovation
            table[i, c] = innovation * unit


@compiled
def _unexplained(variance: Floats, work: Work) -> None:
    """Mean square, in `work.square`, of what each residual keeps after the smoothed coupling.

    The disturbance smoother, which needs only the filter's gains (Durbin and Koopman, Time Series
    Analysis by State Space Methods, 2012, section 4.5).
    """
    n, last = work.table.shape[0], work.table.shape[1] - 1
    pull, weight = work.state[:, 0], work.held
    pull[:] = 0.0
    for i in range(n):
        p, load = work.process[i], work.load[i]
        expected = work.keep[i] * pull[p]
        innovation = work.table[i, last] - load * expected
        pull[p] = expected + work.gain[i] * innovation
        work.square[i] = innovation / work.spread[i] ** 2
    pull[:] = 0.0
    weight[:] = 0.0
    for i in range(n - 1, -1, -1):
        p, load, gain = work.process[i], work.load[i], work.gain[i]
        precision, scaled = 1.0 / work.spread[i] ** 2, work.square[i]
        left = variance[i] * (scaled - gain * pull[p])
        inverse = precision + gain**2 * weight[p]
        work.square[i] = left * left + variance[i] * (1.0 - variance[i] * inverse)
        back = 1.0 - gain * load
        pull[p] = work.keep[i] * (load * scaled + back * pull[p])
        weight[p] = work.keep[i] ** 2 * (load**2 * precision + back * back * weight[p])


@compiled
def _cholesky(matrix: Floats) -> float:
    """Factor a positive definite matrix in place (lower half); gives its log determinant."""
    log_det = 0.0
    for i in range(matrix.shape[0]):
        square = matrix[i, i]
        for j in range(i):
            total = matrix[i, j]
            for k in range(j):
                total -= matrix[i, k] * matrix[j, k]
            total /= matrix[j, j]
            matrix[i, j] = total
            square -= total * total
        matrix[i, i] = math.sqrt(square)
        log_det += math.log(square)
    return log_det


@compiled
def _solve(factor: Floats, right: Floats) -> None:
    """Solve with a Cholesky factor, in place."""
    n = right.size
    for i in range(n):
        total = right[i]
        for k in range(i):
            total -= factor[i, k] * right[k]
        right[i] = total / factor[i, i]
    for i in range(n - 1, -1, -1):
        right[i] /= factor[i, i]
        for k in range(i):
            right[k] -= factor[i, k] * right[i]


@compiled
def linearise(
    model: int, place: float, theta: Floats, readings: Floats, codes: Ints,
    table: Floats, variance: Floats, noise: Floats,
) -> None:  # fmt: skip
    """Fill `table`, a row a reading, with the slopes by the constants and, last, the residuals."""
    p = theta.size
    natural, bands = _natural(model, theta), _band_constants(theta, codes)
    for i in range(readings.shape[0]):
        band = bands[codes[i, BAND]]
        level, displaced = _predict(
            model, place, natural, band, readings[i], codes[i], table[i, :p]
        )
        table[i, p] = readings[i, Y] - level
        scale = noise[SCALE] if codes[i, STOP] > 0 else noise[CONTRAST_SCALE]
        variance[i] = readings[i, VARIANCE] * scale + displaced
    _mix(table, codes)


@compiled
def linearise_all(
    model: int, places: Floats, thetas: Floats, readings: Floats, codes: Ints,
    tables: Floats, variances: Floats, noise: Floats,
) -> None:  # fmt: skip
    """Do it for each of some places, each with its own row of constants."""
    for k in range(places.size):
        linearise(
            model, places[k], thetas[k], readings, codes, tables[k], variances[k], noise
        )  # fmt: skip


@compiled
def _mix(table: Floats, codes: Ints) -> None:
    """Turn the readings of each stop into their sum and contrasts, by Helmert's rotation.

    What bands share at a stop (contact, coupling, a burst) is then in the first alone.
    """
    for i in range(codes.shape[0]):
        size = codes[i, STOP]
        if size < 2:
            continue
        for c in range(table.shape[1]):
            total = table[i, c]
            for k in range(1, size):
                value = table[i + k, c]
                table[i + k, c] = (total - k * value) / math.sqrt(k * (k + 1.0))
                total += value
            table[i, c] = total / math.sqrt(size)


@compiled
def _normal_equations(
    table: Floats, theta: Floats, mean: Floats, precision: Floats, matrix: Floats, right: Floats
) -> float:
    """Set up the Gauss-Newton step of a whitened table; gives twice the misfit."""
    p = theta.size
    misfit = 0.0
    matrix[:] = 0.0
    for j in range(p):
        off = mean[j] - theta[j]
        misfit += precision[j] * off * off
        right[j] = precision[j] * off
        matrix[j, j] = precision[j]
    for i in range(table.shape[0]):
        left = table[i, p]
        misfit += left * left
        for j in range(p):
            right[j] += table[i, j] * left
        # All of the square, not its half: rows of one length go several numbers at a time.
        for j in range(p):
            slope = table[i, j]
            for k in range(p):
                matrix[j, k] += slope * table[i, k]
    return misfit


@compiled
def make_work(readings: Floats, codes: Ints, size: int, noise: Floats) -> Work:
    """Make room for the readings, shape (n, 11), and `size` constants."""
    n = readings.shape[0]
    bent = BANDS + PER_BAND * (int(codes[:, BAND].max()) + 1)
    bent = max(bent, int(codes[:, SHIFT_AT].max()) + 1, int(codes[:, STRETCH_AT].max()) + 1)
    process = _processes(codes)
    processes = int(process.max()) + 1
    return Work(
        np.empty((n, size + 1)), np.empty(n), np.empty(n),
        _memory(readings[:, ALONG], process, noise[COUPLING_LENGTH]), readings[:, LOAD].copy(),
        process, np.empty((processes, size + 1)), np.empty(processes), np.empty(n), np.empty(n),
        np.empty(n), np.empty((size, size)), np.empty(size), bent,
    )  # fmt: skip


@compiled
def _weigh(first: bool, weight: Floats, noise: Floats, work: Work) -> None:
    """Weigh each reading by what it leaves unexplained, and rerun the filter's variances."""
    if first:
        for i in range(weight.size):
            work.robust[i] = work.variance[i] / weight[i]
        _gains(work.robust, noise, work)
    _unexplained(work.robust, work)
    tail = noise[TAIL]
    for i in range(weight.size):
        weighed = (tail * work.variance[i] + work.square[i]) / (tail + 1.0)
        weight[i] = work.variance[i] / weighed
        work.robust[i] = weighed
    _gains(work.robust, noise, work)


@compiled
def _newton(step: Floats, work: Work) -> tuple[float, float]:
    """Gauss-Newton step, in `step`: what it gains of twice the misfit, and the log determinant."""
    step[:] = work.right
    log_det = _cholesky(work.matrix)
    _solve(work.matrix, step)
    gained = 0.0
    for j in range(step.size):
        gained += work.right[j] * step[j]
    return gained, log_det


@compiled
def _longest(step: Floats, bent: int) -> float:
    """Longest step of the first constants, `bent` of them, that the level isn't straight in."""
    longest = 1e-9
    for j in range(bent):
        longest = max(longest, abs(step[j]))
    return longest


@compiled
def fit_at(
    model: int, place: float, theta: Floats, weight: Floats, readings: Floats, codes: Ints,
    mean: Floats, precision: Floats, noise: Floats, work: Work, least: float = -np.inf,
) -> float:  # fmt: skip
    """Log evidence of a source at `place`, its constants integrated out.

    Parameters
    ----------
    model : int
        `SILENT`, `ONE` or `TWO`.
    place : float
        Candidate chainage, in metres.
    theta : ndarray of float, shape (p,)
        Constants to start from; holds the fitted ones afterwards.
    weight : ndarray of float, shape (n,)
        Weights of the readings to start from; holds the fitted ones afterwards.
    readings : ndarray of float, shape (n, 11)
        Chainage, level, variance, variance of position, smear, load, lever, distance along whatever
        line it is on (rising), and how far aside, at which tee and how far along a branch; metres,
        decibels.
    codes : ndarray of int, shape (n, 9)
        Band; readings of the stop; places among the constants of the shift, the frame's shift, the
        stretch, and of the steps of walk, band, turn and surface, negative for none.
    mean, precision : ndarray of float, shape (p,)
        Normal prior of the constants.
    noise : ndarray of float, shape (5,)
        Coupling variance and length, scale of all variances but the contrasts', scale of those,
        degrees of Student's t.
    work : Work
    least : float
        A fit that won't come to this evidence is broken off.

    Returns
    -------
    float
        Natural logarithm of the evidence.
    """
    step, anchor = np.zeros(theta.size), theta.copy()
    bound, log_det, trust = -np.inf, 0.0, 1.0
    for iteration in range(_MOST_ITERATIONS):
        linearise(model, place, theta, readings, codes, work.table, work.variance, noise)
        _weigh(iteration == 0, weight, noise, work)
        _whiten(work)
        misfit = _normal_equations(work.table, theta, mean, precision, work.matrix, work.right)
        reached = _tails(weight, noise[TAIL]) - 0.5 * misfit - np.sum(np.log(work.spread))
        if reached < bound - _SETTLED:
            # The step overshot: go back, and take a shorter one the same way.
            trust *= 0.4
            theta[:] = anchor + trust * step
            continue
        trust = min(1.0, 2.0 * trust) if iteration else 1.0
        risen = reached - bound
        bound = reached
        anchor[:] = theta
        gained, log_det = _newton(step, work)
        if gained < _SETTLED or risen < _SETTLED or reached + gained < least:
            bound += 0.5 * min(gained, _SETTLED)
            break
        step *= min(trust, _LONGEST_STEP / _longest(step, work.bent))
        theta += step
    theta[:] = anchor
    size = 0.5 * readings.shape[0] * math.log(2.0 * math.pi)
    return float(bound + 0.5 * np.sum(np.log(precision)) - 0.5 * log_det - size)


@compiled
def _tails(weight: Floats, tail: float) -> float:
    """What the mixing weights add to the variational bound on the log evidence."""
    a = (tail + 1.0) / 2.0
    constant = 0.5 * tail * math.log(0.5 * tail) - math.lgamma(0.5 * tail)
    constant += a + math.lgamma(a) - 0.5 * math.log(a)
    total = 0.0
    for w in weight:
        total += constant - 0.5 * tail * math.log(a / w) - 0.5 * tail * w
    return total


@compiled
def scan(
    model: int, places: Floats, starts: Floats, readings: Floats, codes: Ints,
    mean: Floats, precision: Floats, noise: Floats, frame: int, fitted: Floats, variance: Floats,
    first: int, best: float,
) -> Floats:  # fmt: skip
    """Log evidence of a source at each of `places`.

    Parameters are those of `fit_at`; a fit begins from its row of `starts`, or, where there is one
    row only, from the constants of the place before. `fitted`, shape (len(places), p), receives the
    constants. It begins at `places[first]`, goes on to the end, and then from there to the
    beginning. Places far below `best`, or the best of them, are fitted in the rough.
    `frame` is the place among them of the shift of the walk whose positions `places` are given in,
    whose variance `variance` receives; or negative.

    Returns
    -------
    ndarray of float, shape (len(places),)
    """
    evidence = np.empty(places.size)
    variance[:] = 0.0
    weight = np.ones(readings.shape[0])
    moving = starts[0].copy()
    work = make_work(readings, codes, moving.size, noise)
    for turn in range(places.size):
        k = first + turn if first + turn < places.size else places.size - 1 - turn
        if starts.shape[0] > 1:
            moving[:] = starts[k]
        elif k == first - 1:
            moving[:] = fitted[first]
        evidence[k] = fit_at(
            model, places[k], moving, weight, readings, codes, mean, precision, noise, work,
            best - _HOPELESS,
        )  # fmt: skip
        best = max(best, evidence[k])
        fitted[k] = moving
        if frame >= 0:
            variance[k] = _variance_of(frame, work.matrix)
    return evidence


@compiled
def _variance_of(at: int, factor: Floats) -> float:
    """Posterior variance of one constant, from the Cholesky factor of the precision."""
    unit = np.zeros(factor.shape[0])
    unit[at] = 1.0
    _solve(factor, unit)
    return float(unit[at])


@compiled
def scales(
    model: int, place: float, theta: Floats, readings: Floats, codes: Ints,
    mean: Floats, precision: Floats, noise: Floats, entry: int, trials: Floats,
) -> Floats:  # fmt: skip
    """Log evidence at one place for each of some values of one entry of the noise.

    Parameters are those of `fit_at`; `theta` isn't changed.

    Returns
    -------
    ndarray of float, shape (len(trials),)
    """
    evidence = np.empty(trials.size)
    tried, weight, moving = noise.copy(), np.ones(readings.shape[0]), theta.copy()
    work = make_work(readings, codes, theta.size, noise)
    for k in range(trials.size):
        tried[entry] = trials[k]
        evidence[k] = fit_at(
            model, place, moving, weight, readings, codes, mean, precision, tried, work
        )
    return evidence


@compiled
def least_variance(
    places: Floats, theta: Floats, readings: Floats, codes: Ints, precision: Floats, noise: Floats,
    at: int,
) -> Floats:  # fmt: skip
    """Least variance that the constant `at` can be told with, for a leak at each of `places`.

    Parameters are those of `fit_at`; noise is taken as normal.

    Returns
    -------
    ndarray of float, shape (len(places),)
    """
    least = np.empty(places.size)
    work = make_work(readings, codes, theta.size, noise)
    for k in range(places.size):
        linearise(ONE, places[k], theta, readings, codes, work.table, work.variance, noise)
        _gains(work.variance, noise, work)
        _whiten(work)
        _normal_equations(work.table, theta, theta, precision, work.matrix, work.right)
        _cholesky(work.matrix)
        least[k] = _variance_of(at, work.matrix)
    return least
