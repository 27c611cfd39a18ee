"""Compiled evidence of a leak at a given place, from the readings of one line.

At each candidate place the constants of the sound (depth, decay, floor and others) are fitted by
Gauss-Newton and integrated out by Laplace's approximation. The coupling of sensor and ground is a
Matern-3/2 process along the line: two states (Hartikainen and Sarkka, MLSP 2010), filtered in order
of chainage (Kalman 1960) at a cost linear in the readings. A few readings are bursts or bad
contacts: noise is a mixture of two normals (the contaminated normal of Tukey 1960), with the share
of each reading by the variational rule.

All compiled functions are in one file, because numba's cache doesn't notice that a function called
from another file has changed.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from leakgeo.compiled import compiled, compiled_part, inlined

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Ints

# Indices of the constants in the fitted vector `theta`: two for the ground, one for the share of
# sound that comes along the pipe, one for the asymmetry of the pipe's decay to the two sides of the
# leak, one for the trend of the ambient floor along the line, and from BANDS on three for each
# filter band. Then come the lateral errors of lines beside, shifts and stretches of walks with a
# shared position error, level offsets of walks, bands, gain changes and surfaces, the level, and
# for another source three at the end.
DEPTH, SMEAR, PIPED, ASYMMETRY, TREND, BANDS = 0, 1, 2, 3, 4, 5
DECAY, FLOOR, SOIL, PER_BAND = 0, 1, 2, 3
# Additional column of the table of natural constants of the bands: share of the pipe's path.
SHARE = PER_BAND
OTHER_LEVEL, OTHER_AWAY, OTHER_PLACE, PER_OTHER = 0, 1, 2, 3

# Models: no source, one source, a leak and another source.
SILENT, ONE, TWO = 0, 1, 2

# Columns of the table of readings: chainage and level; variances of rounding and position; smear;
# factor of the coupling; number of stops from the middle of the walk, which a stretch of the walk
# multiplies; chainage on its own line, which orders the coupling filter. For a reading on another
# line: distance across the line, chainage of the tee, distance along the branch, which is negative
# where the other line does not join but runs beside. Last, the place relative to the middle of the
# readings, over half their span, the factor of the variance of a reading, and 1 if another source
# was silent at that time.
X, Y, ROUNDING_VARIANCE, POSITION_VARIANCE, SMEAR_M, LOAD, FROM_MIDDLE = 0, 1, 2, 3, 4, 5, 6
ALONG, ACROSS, TEE, BRANCH, CENTRED, READING, OTHER_SILENT = 7, 8, 9, 10, 11, 12, 13
COLUMNS = 14
# Columns of the table of codes: the band; the number of readings of the stop for its first reading,
# and -1, -2, ... for the next ones, which become contrasts; indices among the constants: of the
# shift of the walk, the shift of the reference walk, the stretch, the lateral error of a line
# beside, and from OFFSETS_AT on the level offsets, that of the walk first.
BAND, STOP, SHIFT_AT, REFERENCE_AT, STRETCH_AT, LATERAL_AT, OFFSETS_AT, WALK_AT = (
    0, 1, 2, 3, 4, 5, 6, 6,
)  # fmt: skip

# Entries of the noise vector.
COUPLING_VARIANCE, COUPLING_LENGTH, READING_VARIANCE, OUTLIERS, OUTLIER_TIMES = 0, 1, 2, 3, 4

_DB = 10.0 / math.log(10.0)
_SQRT_3 = math.sqrt(3.0)
_MAX_ITERATIONS = 12
# So many numbers are multiplied before a logarithm is taken, which takes far longer.
_PRODUCT = 8
_TOLERANCE = 0.1
_MAX_STEP = 1.0
# The fit at a place is stopped when its log evidence can't come this close to the best.
_MAX_DEFICIT = 16.0
# Below this position variance, in square metres, the level is linearised over the error.
_SMALL_VARIANCE = 0.01


@compiled_part
def _copy(values: Floats, into: Floats) -> None:
    """Copy an array into another; the assignment of a slice takes seconds to compile."""
    for i in range(into.size):
        into[i] = values[i]


@compiled
def level_index(model: int, size: int) -> int:
    """Return the index of the level among `size` constants."""
    return size - 1 - (PER_OTHER if model == TWO else 0)


@compiled_part
def _natural_constants(model: int, theta: Floats) -> Floats:
    """Convert the fitted logarithms to the constants of the formula."""
    natural = theta.copy()
    natural[DEPTH] = math.exp(2.0 * theta[DEPTH])
    natural[SMEAR] = math.exp(2.0 * theta[SMEAR])
    natural[ASYMMETRY] = math.exp(theta[ASYMMETRY])
    level_at = level_index(model, theta.size)
    if model == TWO:
        natural[level_at + 1 + OTHER_LEVEL] = math.exp(theta[level_at + 1 + OTHER_LEVEL])
        natural[level_at + 1 + OTHER_AWAY] = math.exp(2.0 * theta[level_at + 1 + OTHER_AWAY])
    return natural


@compiled_part
def _band_constants(theta: Floats, codes: Ints) -> Floats:
    """Return decay, floor, soil decay and pipe share of each band, shape (bands, 4)."""
    bands = _most(codes, BAND) + 1
    table = np.empty((bands, PER_BAND + 1))
    for b in range(bands):
        table[b, DECAY] = math.exp(theta[BANDS + PER_BAND * b + DECAY])
        table[b, SHARE] = 1.0 / (1.0 + math.exp(-theta[PIPED]))
        table[b, FLOOR] = math.exp(theta[BANDS + PER_BAND * b + FLOOR])
        table[b, SOIL] = math.exp(theta[BANDS + PER_BAND * b + SOIL])
    return table


@compiled_part
def _source_power(
    plan: float, piped_m: float, aside: float, height2: float, band: Floats, decay: float
) -> tuple[float, float, float, float, float]:
    """Return direct and piped power, height, and slant distances over ground and along the pipe.

    `decay` is that of the pipe on the reading's side of the leak. What comes along the pipe
    spreads from it as from a line; `aside` is the distance across of a reading beside the pipe.
    """
    slant2 = height2 + plan * plan
    height, slant = math.sqrt(height2), math.sqrt(slant2)
    by_pipe = slant if plan == piped_m else math.sqrt(height2 + piped_m * piped_m)
    direct = (1.0 - band[SHARE]) * height2 / slant2 * math.exp(-band[SOIL] * (slant - height))
    piped = band[SHARE] * math.exp(-decay * (by_pipe - height))
    if aside != 0.0:
        beside = math.sqrt(height2 + aside * aside)
        piped *= height / beside * math.exp(-band[SOIL] * (beside - height))
    return direct, piped, height, slant, by_pipe


@inlined
def _aside(reading: Floats, code: Ints, natural: Floats) -> float:
    """Return the distance across of a reading beside the pipe; 0 over the pipe and a branch."""
    if reading[BRANCH] >= 0.0:
        return 0.0
    return float(reading[ACROSS] + (natural[code[LATERAL_AT]] if code[LATERAL_AT] >= 0 else 0.0))


@inlined
def _distances(reading: Floats, x: float, aside: float, place: float) -> tuple[float, float]:
    """Return the distances of a reading at `x` from the source: over ground, and along the pipe."""
    if reading[BRANCH] > 0.0:
        return math.hypot(x - place, reading[ACROSS]), abs(place - reading[TEE]) + reading[BRANCH]
    if reading[BRANCH] < 0.0:
        return math.hypot(x - place, aside), abs(x - place)
    return x - place, x - place


@inlined
def _side(reading: Floats, away: float) -> float:
    """Return the side of the leak that a reading is on, as a sign; 0 on a branch."""
    return 0.0 if reading[BRANCH] > 0.0 else math.copysign(1.0, away)


@inlined
def _decay(mean: float, asymmetry: float, side: float) -> float:
    """Return the decay of the pipe on a side of the leak."""
    # A power would be shorter to write, but slower.
    if side > 0.0:
        return mean * asymmetry
    return mean / asymmetry if side < 0.0 else mean


@inlined
def _reference_chainage(reading: Floats, code: Ints, natural: Floats) -> float:
    """Return the chainage of a reading relative to the reference walk, shifted and stretched."""
    x = reading[X]
    if code[SHIFT_AT] >= 0:
        x += natural[code[SHIFT_AT]]
    if code[REFERENCE_AT] >= 0:
        x -= natural[code[REFERENCE_AT]]
    if code[STRETCH_AT] >= 0:
        x += natural[code[STRETCH_AT]] * reading[FROM_MIDDLE]
    return float(x)


@inlined
def _fill_position_slopes(reading: Floats, code: Ints, slope: float, slopes: Floats) -> None:
    """Fill in the derivatives by shifts and stretch, given the derivative by chainage `slope`."""
    if code[SHIFT_AT] >= 0:
        slopes[code[SHIFT_AT]] = slope
    if code[REFERENCE_AT] >= 0:
        slopes[code[REFERENCE_AT]] = -slope
    if code[STRETCH_AT] >= 0:
        slopes[code[STRETCH_AT]] = slope * reading[FROM_MIDDLE]


@compiled_part
def _level_with_offsets(natural: Floats, code: Ints, level_at: int, slopes: Floats) -> float:
    """Return the level above the leak plus the offsets of one reading; initialises `slopes`."""
    slopes[:] = 0.0
    level = float(natural[level_at])
    slopes[level_at] = 1.0
    for at in code[OFFSETS_AT:]:
        if at >= 0:
            level += natural[at]
            slopes[at] = 1.0
    return level


@compiled_part
def _predict(
    model: int, place: float, natural: Floats, band: Floats, reading: Floats, code: Ints,
    slopes: Floats,
) -> tuple[float, float]:  # fmt: skip
    """Return the expected level of one reading, and its variance from the position error.

    `slopes` receives the derivatives of the level by the constants.
    """
    level_at = level_index(model, slopes.size)
    level = _level_with_offsets(natural, code, level_at, slopes)
    if model == SILENT:
        slopes[TREND] = _DB * reading[CENTRED]
        return level + slopes[TREND] * natural[TREND], 0.0

    depth2, smear2 = natural[DEPTH], natural[SMEAR] * reading[SMEAR_M] ** 2
    x = _reference_chainage(reading, code, natural)
    aside = _aside(reading, code, natural)
    plan, piped_m = _distances(reading, x, aside, place)
    # Averaged over a position error, the level is approximately that of a deeper source.
    height2 = depth2 + smear2 + reading[POSITION_VARIANCE]
    side = _side(reading, x - place)
    decay = _decay(band[DECAY], natural[ASYMMETRY], side)
    direct, piped, height, slant, by_pipe = _source_power(
        plan, piped_m, aside, height2, band, decay
    )
    floor = band[FLOOR] * math.exp(natural[TREND] * reading[CENTRED])
    power = direct + piped + floor
    steep = 0.0
    if model == TWO:
        other, steep = _other_source(
            level_at + 1,
            natural,
            x,
            reading[POSITION_VARIANCE],
            power,
            1.0 - reading[OTHER_SILENT],
            slopes,
        )
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
    slopes[ASYMMETRY] = side * slopes[b + DECAY]
    slopes[PIPED] = unit * (piped * (1.0 - band[SHARE]) - direct * band[SHARE])
    slopes[b + FLOOR] = unit * floor
    slopes[TREND] = unit * floor * reading[CENTRED]
    if aside != 0.0:
        _add_slopes_aside(
            aside, direct, piped, height, slant, band, unit, depth2, smear2, code, slopes
        )
    level += _DB * math.log(power)
    steep -= (2.0 * direct / slant + direct * band[SOIL]) * unit * plan / slant
    steep -= piped * decay * unit * piped_m / by_pipe
    _fill_position_slopes(reading, code, steep, slopes)
    if reading[POSITION_VARIANCE] > _SMALL_VARIANCE:
        rest = power - direct - piped
        return level, _position_variance(
            plan, piped_m, aside, depth2 + smear2, band, decay, reading[POSITION_VARIANCE], rest
        )
    return level, steep * steep * reading[POSITION_VARIANCE]


@compiled_part
def _add_slopes_aside(
    aside: float, direct: float, piped: float, height: float, slant: float, band: Floats,
    unit: float, depth2: float, smear2: float, code: Ints, slopes: Floats,
) -> None:  # fmt: skip
    """Add the derivatives of the factor of a reading beside the pipe, and fill in the lateral."""
    beside = math.sqrt(height * height + aside * aside)
    soil = band[SOIL]
    by_height2 = 0.5 * piped * (1.0 / height**2 - 1.0 / beside**2)
    by_height2 += 0.5 * piped * soil * (1.0 / height - 1.0 / beside)
    slopes[DEPTH] += unit * by_height2 * 2.0 * depth2
    slopes[SMEAR] += unit * by_height2 * 2.0 * smear2
    slopes[BANDS + PER_BAND * code[BAND] + SOIL] -= unit * piped * soil * (beside - height)
    if code[LATERAL_AT] >= 0:
        steep = direct * (2.0 / slant + soil) / slant + piped * (1.0 / beside + soil) / beside
        slopes[code[LATERAL_AT]] = -unit * steep * aside


@compiled_part
def _other_source(
    at: int, natural: Floats, x: float, position_variance: float, power: float, heard: float,
    slopes: Floats,
) -> tuple[float, float]:  # fmt: skip
    """Return the power of the other source and its part of the derivative by chainage.

    `heard` is 0 for a reading while it was silent, else 1. `slopes` receives the derivatives by the
    constants of the other source.
    """
    away2 = natural[at + OTHER_AWAY]
    along = x - natural[at + OTHER_PLACE]
    slant2 = away2 + along * along + position_variance
    other = heard * natural[at + OTHER_LEVEL] * away2 / slant2
    unit = _DB * other / (power + other)
    slopes[at + OTHER_LEVEL] = unit
    slopes[at + OTHER_AWAY] = unit * 2.0 * (1.0 - away2 / slant2)
    slopes[at + OTHER_PLACE] = unit * 2.0 * along / slant2
    return float(other), float(-unit * 2.0 * along / slant2)


@compiled_part
def _position_variance(
    plan: float, piped_m: float, aside: float, height2: float, band: Floats, decay: float,
    variance: float, rest: float,
) -> float:  # fmt: skip
    """Return the variance of the level from a large position error, by 3 Gauss-Hermite nodes."""
    node = math.sqrt(3.0 * variance)
    mean, square = 0.0, 0.0
    for k in range(3):
        error = (k - 1) * node
        direct, piped, _, _, _ = _source_power(
            plan + error, piped_m + error, aside, height2, band, decay
        )
        level = _DB * math.log(direct + piped + rest)
        weight = 2.0 / 3.0 if k == 1 else 1.0 / 6.0
        mean += weight * level
        square += weight * level * level
    return float(max(square - mean * mean, 0.0))


class Work(NamedTuple):
    """Work arrays of a fit, allocated once for all places of a scan."""

    table: Floats
    variance: Floats
    robust: Floats
    kept: Floats
    gap: Floats
    load: Floats
    process: Ints
    state: Floats
    filtered: Floats
    gain: Floats
    innovation_sd: Floats
    square: Floats
    left_out: Floats
    log_share: Floats
    matrix: Floats
    right: Floats
    nonlinear: int


@compiled_part
def _most(codes: Ints, column: int) -> int:
    """Return the largest code of a column; a reduction of numpy takes longer to compile."""
    most = codes[0, column]
    for i in range(1, codes.shape[0]):
        most = max(most, codes[i, column])
    return int(most)


@compiled_part
def _processes(codes: Ints) -> Ints:
    """Return the coupling process of each reading: 0 for sums, 1, 2, ... for contrasts."""
    process = np.zeros(codes.shape[0], dtype=np.int64)
    for i in range(process.size):
        process[i] = max(-codes[i, STOP], 0)
    return process


@compiled_part
def _gaps(x: Floats, process: Ints, processes: int, length: float) -> tuple[Floats, Floats]:
    """Return the gap before each reading of a process, over the length, and its exponential decay.

    The first reading of a process has decay 0.
    """
    kept, gap = np.zeros(x.size), np.zeros(x.size)
    last = np.zeros(processes, dtype=np.int64)
    for i in range(x.size):
        before = last[process[i]] - 1
        if before >= 0:
            gap[i] = _SQRT_3 * (x[i] - x[before]) / length
            kept[i] = math.exp(-gap[i])
        last[process[i]] = i + 1
    return kept, gap


@compiled
def _gains(variance: Floats, noise: Floats, work: Work) -> None:
    """Compute gains and standard deviations of the innovations of the coupling filter."""
    prior, filtered = noise[COUPLING_VARIANCE], work.filtered
    filtered[:] = 0.0
    filtered[:, 0] = filtered[:, 2] = prior
    for i in range(variance.size):
        p, load = work.process[i], work.load[i]
        e, a = work.kept[i], work.gap[i]
        up, off, down = e * (1.0 + a), e * a, e * (1.0 - a)
        # Less than the stationary variance, carried over the gap.
        m, c, g = filtered[p, 0] - prior, filtered[p, 1], filtered[p, 2] - prior
        level = prior + up * up * m + 2.0 * up * off * c + off * off * g
        both = -up * off * m + (up * down - off * off) * c + off * down * g
        slope = prior + off * off * m - 2.0 * off * down * c + down * down * g
        innovation_variance = load**2 * level + variance[i]
        first, second = level * load / innovation_variance, both * load / innovation_variance
        work.gain[i, 0], work.gain[i, 1] = first, second
        filtered[p, 0] = level - first * load * level
        filtered[p, 1] = both - first * load * both
        filtered[p, 2] = slope - second * load * both
        work.innovation_sd[i] = math.sqrt(innovation_variance)


@compiled_part
def _whiten(work: Work) -> None:
    """Replace the columns of the table by their standardised innovations."""
    table, state, width = work.table, work.state, work.table.shape[1]
    state[:] = 0.0
    for i in range(table.shape[0]):
        p, load, e, a = work.process[i], work.load[i], work.kept[i], work.gap[i]
        up, off, down = e * (1.0 + a), e * a, e * (1.0 - a)
        first, second = work.gain[i, 0], work.gain[i, 1]
        unit = 1.0 / work.innovation_sd[i]
        level, slope = state[p, 0], state[p, 1]
        for c in range(width):
            expected = up * level[c] + off * slope[c]
            innovation = table[i, c] - load * expected
            slope[c] = down * slope[c] - off * level[c] + second * innovation
            level[c] = expected + first * innovation
            table[i, c] = innovation * unit


@compiled
def _residual_squares(variance: Floats, work: Work) -> None:
    """Compute in `work.square` the mean square of each residual after the smoothed coupling.

    This is the disturbance smoother, which needs only the gains of the filter (Durbin and
    Koopman, Time Series Analysis by State Space Methods, 2012, section 4.5).
    """
    n, last = work.table.shape[0], work.table.shape[1] - 1
    state, weight = work.state[:, :, 0], work.filtered
    state[:] = 0.0
    for i in range(n):
        p, load, e, a = work.process[i], work.load[i], work.kept[i], work.gap[i]
        up, off, down = e * (1.0 + a), e * a, e * (1.0 - a)
        expected = up * state[p, 0] + off * state[p, 1]
        innovation = work.table[i, last] - load * expected
        state[p, 1] = down * state[p, 1] - off * state[p, 0] + work.gain[i, 1] * innovation
        state[p, 0] = expected + work.gain[i, 0] * innovation
        work.square[i] = innovation / work.innovation_sd[i] ** 2
    state[:] = 0.0
    weight[:] = 0.0
    for i in range(n - 1, -1, -1):
        p, load, e, a = work.process[i], work.load[i], work.kept[i], work.gap[i]
        up, off, down = e * (1.0 + a), e * a, e * (1.0 - a)
        first, second = work.gain[i, 0], work.gain[i, 1]
        precision, scaled = 1.0 / work.innovation_sd[i] ** 2, work.square[i]
        r, s = state[p, 0], state[p, 1]
        m, c, g = weight[p, 0], weight[p, 1], weight[p, 2]
        solved = scaled - first * r - second * s
        left = variance[i] * solved
        inverse = precision + first**2 * m + 2.0 * first * second * c + second**2 * g
        work.square[i] = left * left + variance[i] * (1.0 - variance[i] * inverse)
        # Its error as predicted from the other readings, and the variance of that.
        work.left_out[i, 0], work.left_out[i, 1] = solved / inverse, 1.0 / inverse
        # Back over the reading, then over the gap before it.
        back, side = 1.0 - first * load, -second * load
        r = load * scaled + back * r + side * s
        state[p, 0], state[p, 1] = up * r - off * s, off * r + down * s
        m = load**2 * precision + back * back * m + 2.0 * back * side * c + side * side * g
        c = back * c + side * g
        weight[p, 0] = up * up * m - 2.0 * up * off * c + off * off * g
        weight[p, 1] = up * off * m + (up * down - off * off) * c - off * down * g
        weight[p, 2] = off * off * m + 2.0 * off * down * c + down * down * g


@compiled_part
def _cholesky(matrix: Floats) -> float:
    """Factor a positive definite matrix in place; return its log determinant.

    The upper half receives the factor, the diagonal its inverse there.
    """
    log_det = 0.0
    n, part = matrix.shape[0], 1.0
    for i in range(n):
        square = matrix[i, i]
        inverse = 1.0 / math.sqrt(square)
        matrix[i, i] = inverse
        for k in range(i + 1, n):
            matrix[i, k] *= inverse
        # Row by row, which is vectorised: sums of products are not.
        for j in range(i + 1, n):
            share = matrix[i, j]
            for k in range(j, n):
                matrix[j, k] -= share * matrix[i, k]
        part *= square
        if i % _PRODUCT == _PRODUCT - 1:
            log_det += math.log(part)
            part = 1.0
    return log_det + math.log(part)


@compiled_part
def _solve(factor: Floats, right: Floats) -> None:
    """Solve with a factor of `_cholesky`, in place."""
    n = right.size
    for i in range(n):
        right[i] *= factor[i, i]
        for k in range(i + 1, n):
            right[k] -= factor[i, k] * right[i]
    for i in range(n - 1, -1, -1):
        total = right[i]
        for k in range(i + 1, n):
            total -= factor[i, k] * right[k]
        right[i] = total * factor[i, i]


@compiled
def linearise(
    model: int, place: float, theta: Floats, readings: Floats, codes: Ints,
    table: Floats, variance: Floats, noise: Floats,
) -> None:  # fmt: skip
    """Fill each row of `table` with the derivatives by the constants and, last, the residual."""
    p = theta.size
    natural, bands = _natural_constants(model, theta), _band_constants(theta, codes)
    for i in range(readings.shape[0]):
        band = bands[codes[i, BAND]]
        level, position_variance_db = _predict(
            model, place, natural, band, readings[i], codes[i], table[i, :p]
        )
        table[i, p] = readings[i, Y] - level
        own = readings[i, READING] * noise[READING_VARIANCE] + readings[i, ROUNDING_VARIANCE]
        variance[i] = own + position_variance_db
    _rotate_stops(table, codes)


@compiled
def linearise_all(
    model: int, places: Floats, thetas: Floats, readings: Floats, codes: Ints,
    tables: Floats, variances: Floats, noise: Floats,
) -> None:  # fmt: skip
    """Linearise at several places, each with its own row of constants."""
    for k in range(places.size):
        linearise(
            model, places[k], thetas[k], readings, codes, tables[k], variances[k], noise
        )  # fmt: skip


@compiled_part
def _rotate_stops(table: Floats, codes: Ints) -> None:
    """Rotate the readings of each stop into their sum and contrasts (Helmert's rotation).

    Errors that the bands of a stop share (contact, coupling, a burst) are then in the sum only.
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


@compiled_part
def _normal_equations(
    table: Floats, theta: Floats, mean: Floats, precision: Floats, matrix: Floats, right: Floats
) -> float:
    """Set up the normal equations of a whitened table; return twice the misfit."""
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
        # The full matrix, not half of it: rows of equal length are vectorised.
        for j in range(p):
            slope = table[i, j]
            # The offsets of other lines have no slope here: most of a line that meets many.
            if slope == 0.0:
                continue
            for k in range(p):
                matrix[j, k] += slope * table[i, k]
    return misfit


@compiled
def make_work(readings: Floats, codes: Ints, size: int, noise: Floats) -> Work:
    """Allocate work arrays for readings of shape (n, 14) and `size` constants."""
    n = readings.shape[0]
    nonlinear = BANDS + PER_BAND * (_most(codes, BAND) + 1)
    for column in (SHIFT_AT, STRETCH_AT, LATERAL_AT):
        nonlinear = max(nonlinear, _most(codes, column) + 1)
    process = _processes(codes)
    processes = process[0] + 1
    for i in range(n):
        processes = max(processes, process[i] + 1)
    kept, gap = _gaps(readings[:, ALONG], process, processes, noise[COUPLING_LENGTH])
    return Work(
        np.empty((n, size + 1)), np.empty(n), np.empty(n), kept, gap,
        readings[:, LOAD].copy(), process, np.empty((processes, 2, size + 1)),
        np.empty((processes, 3)), np.empty((n, 2)), np.empty(n), np.empty(n), np.empty((n, 6)),
        np.empty((n, 2)), np.empty((size, size)), np.empty(size), nonlinear,
    )  # fmt: skip


@compiled_part
def _outlier_share(weight: float, less: float) -> float:
    """Return the probability that a reading of some weight is an outlier, within (0, 1)."""
    return min(max((1.0 - weight) / less, 1e-300), 1.0 - 1e-16)


@compiled_part
def _update_weights(first: bool, weight: Floats, noise: Floats, work: Work) -> float:
    """Update the weights of the readings from their residuals, then the variances of the filter.

    Returns the rise of the bound on the log evidence: the divergence of the old shares of the
    outliers from the new ones.
    """
    share, times = noise[OUTLIERS], noise[OUTLIER_TIMES]
    less = 1.0 - 1.0 / times
    if first:
        for i in range(weight.size):
            work.robust[i] = work.variance[i] / weight[i]
            out = _outlier_share(weight[i], less)
            work.log_share[i, 0], work.log_share[i, 1] = math.log(out), math.log(1.0 - out)
        _gains(work.robust, noise, work)
    _residual_squares(work.robust, work)
    before = math.log(share / (1.0 - share)) - 0.5 * math.log(times)
    rise = 0.0
    for i in range(weight.size):
        odds = before + 0.5 * less * work.square[i] / work.variance[i]
        was_out, was_in = work.log_share[i, 0], work.log_share[i, 1]
        work.left_out[i, 2], work.left_out[i, 3] = weight[i], work.robust[i]
        work.left_out[i, 4], work.left_out[i, 5] = was_out, was_in
        old, out = _outlier_share(weight[i], less), 1.0 / (1.0 + math.exp(-odds))
        weight[i] = 1.0 - less * out
        out = _outlier_share(weight[i], less)
        is_out, is_in = math.log(out), math.log(1.0 - out)
        rise += old * (was_out - is_out) + (1.0 - old) * (was_in - is_in)
        work.log_share[i, 0], work.log_share[i, 1] = is_out, is_in
        work.robust[i] = work.variance[i] / weight[i]
    _gains(work.robust, noise, work)
    return rise


@compiled_part
def _newton_step(step: Floats, work: Work) -> tuple[float, float]:
    """Compute the Gauss-Newton `step`; return its gain in twice the misfit, and the log det."""
    _copy(work.right, step)
    log_det = _cholesky(work.matrix)
    _solve(work.matrix, step)
    gained = 0.0
    for j in range(step.size):
        gained += work.right[j] * step[j]
    return gained, log_det


@compiled_part
def _largest_step(step: Floats, nonlinear: int) -> float:
    """Return the largest step of the constants in which the level is nonlinear: the first ones."""
    largest = 1e-9
    for j in range(nonlinear):
        largest = max(largest, abs(step[j]))
    return largest


@compiled_part
def _advance(theta: Floats, step: Floats, share: float) -> None:
    """Shorten a step to a share of it, and add it to the constants."""
    for j in range(step.size):
        step[j] *= share
        theta[j] += step[j]


@compiled_part
def _sum_of_logs(values: Floats) -> float:
    total, part = 0.0, 1.0
    for i in range(values.size):
        part *= values[i]
        if i % _PRODUCT == _PRODUCT - 1:
            total += math.log(part)
            part = 1.0
    return total + math.log(part)


@inlined
def fit_at(
    model: int, place: float, theta: Floats, weight: Floats, readings: Floats, codes: Ints,
    mean: Floats, precision: Floats, noise: Floats, work: Work, least: float,
) -> float:  # fmt: skip
    """Return the log evidence of a source at `place`, with its constants integrated out.

    Parameters
    ----------
    model : int
        `SILENT`, `ONE` or `TWO`.
    place : float
        Chainage of the source in metres.
    theta : ndarray of float, shape (p,)
        Initial constants; overwritten by the fitted ones.
    weight : ndarray of float, shape (n,)
        Initial weights of the readings; overwritten by the fitted ones.
    readings : ndarray of float, shape (n, 14)
        Chainage, level, variance of rounding, variance of the position, smear, factor of the
        coupling, stops from the middle of the walk, chainage on its own line (ascending), distance
        across the line, chainage of the tee, distance along the branch, negative for a reading
        beside the line; metres and decibels. Last, the place relative to the middle of the
        readings, from -1 to 1, the factor of the variance of a reading, and 1 if another source
        was silent at that time.
    codes : ndarray of int, shape (n, 10)
        Band; number of readings of the stop; indices among the constants of the shift, the shift of
        the reference walk, the stretch, the lateral error of a line beside, and the level offsets
        of walk, band, gain change and surface. Negative for none.
    mean, precision : ndarray of float, shape (p,)
        Normal prior of the constants.
    noise : ndarray of float, shape (5,)
        Variance and length of the coupling, variance of a reading, share of the outliers, and how
        many times their variance is that of the others.
    work : Work
    least : float
        The fit is stopped when it can't reach this log evidence.

    Returns
    -------
    float
        Natural logarithm of the evidence.
    """
    step, anchor = np.zeros(theta.size), theta.copy()
    # Of the last step that raised the bound: the steps after it overwrite what is left out.
    left_out, settled_by = work.left_out.copy(), 0.0
    bound, log_det, trust = -np.inf, 0.0, 1.0
    for iteration in range(_MAX_ITERATIONS):
        linearise(model, place, theta, readings, codes, work.table, work.variance, noise)
        settling = _update_weights(iteration == 0, weight, noise, work)
        _whiten(work)
        misfit = _normal_equations(work.table, theta, mean, precision, work.matrix, work.right)
        reached = (
            _mixing_bound(weight, noise, work) - 0.5 * misfit - _sum_of_logs(work.innovation_sd)
        )
        if reached < bound - _TOLERANCE:
            # The step overshot: return, and take a shorter one in the same direction.
            trust *= 0.4
            for j in range(theta.size):
                theta[j] = anchor[j] + trust * step[j]
            continue
        trust = min(1.0, 2.0 * trust) if iteration else 1.0
        risen = reached - bound
        bound, settled_by = reached, settling
        for i in range(left_out.shape[0]):
            _copy(work.left_out[i], left_out[i])
        _copy(theta, anchor)
        gained, log_det = _newton_step(step, work)
        settled = gained < _TOLERANCE and settling < _TOLERANCE
        if settled or risen < _TOLERANCE or reached + gained < least:
            bound += 0.5 * min(gained, _TOLERANCE)
            break
        _advance(theta, step, min(trust, _MAX_STEP / _largest_step(step, work.nonlinear)))
    _copy(anchor, theta)
    size = 0.5 * readings.shape[0] * math.log(2.0 * math.pi)
    beyond = _beyond_bound(noise, left_out) - settled_by
    return float(bound + beyond + 0.5 * _sum_of_logs(precision) - 0.5 * log_det - size)


@compiled_part
def _mixing_bound(weight: Floats, noise: Floats, work: Work) -> float:
    """Return the part of the outliers in the variational bound on the log evidence."""
    log_times = math.log(noise[OUTLIER_TIMES])
    less = 1.0 - 1.0 / noise[OUTLIER_TIMES]
    log_out, log_in = math.log(noise[OUTLIERS]), math.log(1.0 - noise[OUTLIERS])
    total = -0.5 * _sum_of_logs(weight)
    for i in range(weight.size):
        out = _outlier_share(weight[i], less)
        total += out * (log_out - work.log_share[i, 0] - 0.5 * log_times)
        total += (1.0 - out) * (log_in - work.log_share[i, 1])
    return total


@compiled_part
def _beyond_bound(noise: Floats, left_out: Floats) -> float:
    """Return by how much the evidence is above the variational bound before the last update.

    It is the sum over the readings of what the bound falls short if one of them alone may be an
    outlier and the others have their weights: the density of its error, predicted from the others,
    is a mixture of two normals. That is exact for one reading. The bound alone is far too low where
    outliers and a rough coupling are hard to tell apart, and so ranks noises wrongly.
    """
    log_times, less = math.log(noise[OUTLIER_TIMES]), 1.0 - 1.0 / noise[OUTLIER_TIMES]
    log_out, log_in = math.log(noise[OUTLIERS]), math.log(1.0 - noise[OUTLIERS])
    total = 0.0
    for i in range(left_out.shape[0]):
        error, predicted, w = left_out[i, 0], left_out[i, 1], left_out[i, 2]
        robust, square = left_out[i, 3], 0.5 * error * error
        shared = max(predicted - robust, 0.0)
        good, bad = shared + w * robust, shared + noise[OUTLIER_TIMES] * w * robust
        a = log_in - 0.5 * math.log(good) - square / good
        b = log_out - 0.5 * math.log(bad) - square / bad
        exact = max(a, b) + math.log1p(math.exp(-abs(a - b)))
        out = _outlier_share(w, less)
        bound = -0.5 * (math.log(predicted * w) + out * log_times) - square / predicted
        bound += out * (log_out - left_out[i, 4]) + (1.0 - out) * (log_in - left_out[i, 5])
        total += exact - bound
    return total


@compiled
def scan(
    model: int, places: Floats, starts: Floats, readings: Floats, codes: Ints,
    mean: Floats, precision: Floats, noise: Floats, reference: int, fitted: Floats,
    variance: Floats, weights: Floats, first: int, best: float,
) -> Floats:  # fmt: skip
    """Return the log evidence of a source at each of `places`.

    Parameters are those of `fit_at`, and:

    starts : ndarray of float, shape (len(places), p) or (1, p)
        Initial constants of each place. With a single row, the constants fitted at a place start
        the fit at the next one: from `places[first]` to the end, then from there to the beginning.
    reference : int
        Index of the shift of the reference walk among the constants; negative without one.
    fitted : ndarray of float, shape (len(places), p)
        Receives the fitted constants.
    variance : ndarray of float, shape (len(places),)
        Receives the variance of the shift of the reference walk.
    weights : ndarray of float, shape (len(places), n)
        Receives the fitted weights of the readings.
    best : float
        Fits that stay far below this log evidence, or below the best so far, are not completed.

    Returns
    -------
    ndarray of float, shape (len(places),)
    """
    evidence = np.empty(places.size)
    variance[:] = 0.0
    weight = np.ones(readings.shape[0])
    theta = starts[0].copy()
    work = make_work(readings, codes, theta.size, noise)
    for turn in range(places.size):
        k = first + turn if first + turn < places.size else places.size - 1 - turn
        if starts.shape[0] > 1:
            _copy(starts[k], theta)
        elif k == first - 1:
            _copy(fitted[first], theta)
        evidence[k] = fit_at(
            model, places[k], theta, weight, readings, codes, mean, precision, noise, work,
            best - _MAX_DEFICIT,
        )  # fmt: skip
        best = max(best, evidence[k])
        _copy(theta, fitted[k])
        _copy(weight, weights[k])
        if reference >= 0:
            variance[k] = _variance_of(reference, work.matrix)
    return evidence


@compiled_part
def _variance_of(at: int, factor: Floats) -> float:
    """Return the posterior variance of one constant, from the Cholesky factor of the precision."""
    unit = np.zeros(factor.shape[0])
    unit[at] = 1.0
    _solve(factor, unit)
    return float(unit[at])


@compiled
def evidence_by_noise(
    model: int, places: Floats, fitted: Floats, weights: Floats, readings: Floats, codes: Ints,
    mean: Floats, precision: Floats, noises: Floats, steps: int,
) -> Floats:  # fmt: skip
    """Return the log evidence of a source at each of `places` under each of several noises.

    The constants were fitted under one noise; under each other one they take some Newton steps from
    there, of which the first is exact where the level is linear in the constants. Other parameters
    are those of `fit_at`.

    Parameters
    ----------
    places : ndarray of float, shape (k,)
    fitted : ndarray of float, shape (k, p)
        Constants fitted at each place.
    weights : ndarray of float, shape (k, n)
        Weights of the readings fitted there.
    noises : ndarray of float, shape (m, 5)
        Noise vectors.
    steps : int
        Number of Newton steps; each after the first one costs a linearisation.

    Returns
    -------
    ndarray of float, shape (k, m)
    """
    (n, size), count = (readings.shape[0], fitted.shape[1]), places.size
    tables, others = np.empty((count, n, size + 1)), np.empty((count, n))
    alone = noises[0].copy()
    alone[READING_VARIANCE] = 0.0
    linearise_all(model, places, fitted, readings, codes, tables, others, alone)
    evidence, step, weight = np.empty((count, noises.shape[0])), np.empty(size), np.empty(n)
    theta = np.empty(size)
    constant = 0.5 * _sum_of_logs(precision) - 0.5 * n * math.log(2.0 * math.pi)
    for m in range(noises.shape[0]):
        noise = noises[m]
        work = make_work(readings, codes, size, noise)
        for k in range(count):
            _copy(weights[k], weight)
            _copy(fitted[k], theta)
            for i in range(n):
                _copy(tables[k, i], work.table[i])
                work.variance[i] = others[k, i] + readings[i, READING] * noise[READING_VARIANCE]
            for turn in range(steps):
                if turn:
                    _advance(theta, step, min(1.0, _MAX_STEP / _largest_step(step, work.nonlinear)))
                    linearise(
                        model, places[k], theta, readings, codes, work.table, work.variance, noise
                    )
                for again in range(_MAX_ITERATIONS + 1):
                    settling = _update_weights(turn + again == 0, weight, noise, work)
                    if settling < _TOLERANCE:
                        break
                _whiten(work)
                misfit = _normal_equations(
                    work.table, theta, mean, precision, work.matrix, work.right
                )
                gained, log_det = _newton_step(step, work)
            bound = _mixing_bound(weight, noise, work) - _sum_of_logs(work.innovation_sd)
            bound += _beyond_bound(noise, work.left_out) - settling
            evidence[k, m] = bound + constant - 0.5 * (misfit - gained + log_det)
    return evidence


@compiled
def posterior_variances(
    model: int, places: Floats, theta: Floats, weight: Floats, readings: Floats, codes: Ints,
    precision: Floats, noise: Floats, which: Ints,
) -> Floats:  # fmt: skip
    """Return the posterior variance of some constants for a source at each of `places`.

    With weights of 1 it is the Cramér-Rao bound under normal noise. Parameters are those of
    `fit_at`; `which` are the indices of the constants.

    Returns
    -------
    ndarray of float, shape (len(places), len(which))
    """
    found = np.empty((places.size, which.size))
    work = make_work(readings, codes, theta.size, noise)
    for k in range(places.size):
        linearise(model, places[k], theta, readings, codes, work.table, work.variance, noise)
        for i in range(weight.size):
            work.robust[i] = work.variance[i] / weight[i]
        _gains(work.robust, noise, work)
        _whiten(work)
        _normal_equations(work.table, theta, theta, precision, work.matrix, work.right)
        _cholesky(work.matrix)
        for j in range(which.size):
            found[k, j] = _variance_of(which[j], work.matrix)
    return found
