"""Compiled loops: evidence of a leak in each section from the levels at fittings."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.compiled import compiled, compiled_part
from leakgeo.sound.spreading import DB

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Ints

# Sound this far below the ambient floor does not raise the level noticeably.
INAUDIBLE_DB = 15.0
# Degrees of freedom of Student's t: outliers (water use, a bad contact) have little influence.
_DEGREES = 4.0
# Grid of floors: step in standard deviations, and range below the quietest fitting.
_FLOOR_STEP_SD, _FINEST_SD, _BELOW_DB = 1.2, 0.15, 25.0
# Floors less likely than the best by this many nats are left out.
_FLOOR_NATS = 20.0


@compiled
def fill_support(
    fittings: Ints, begin: Ints, end: Ints, section: Ints, level: Floats, sd: Floats, tail: Ints,
    head: Ints, section_db: Floats, steps: Ints, row: Ints, fitting: Ints, decay: Floats,
    decay_factor: Floats, decay_weight: Floats, source_db: Floats, source_weight: Floats,
    support: Floats,
) -> None:  # fmt: skip
    """Fill `support` with the log Bayes factor of a leak in each section against no leak."""
    lift, tail_db, head_db = np.empty(len(level)), np.empty(len(level)), np.empty(len(level))
    audible = np.empty(len(level), dtype=np.int64)
    for p in range(len(begin)):
        own = slice(fittings[p], fittings[p + 1])
        floor, weight = _floors(level[own], sd[own])
        silent = _sum(weight)
        for at in range(begin[p], end[p]):
            s = section[at]
            n = _audible_fittings(
                row, fitting, decay, tail[s], head[s], fittings[p], fittings[p + 1], audible,
                tail_db, head_db,
            )  # fmt: skip
            total = 0.0
            for j in range(steps[s]):
                out = section_db[s] * (j + 0.5) / steps[s]
                for i in range(n):
                    lift[i] = min(tail_db[i] + out, head_db[i] + section_db[s] - out)
                total += _likelihood(
                    n, audible, lift, level, sd, floor, weight, decay_factor, decay_weight,
                    source_db, source_weight,
                )  # fmt: skip
            support[at] = math.log(total / steps[s] / silent)


@compiled_part
def _floors(level: Floats, sd: Floats) -> tuple[Floats, Floats]:
    """Return the grid of ambient floors, and the likelihood of each without a leak."""
    # Loops: expressions and reductions of arrays take several times as long to compile.
    quietest, loudest, least_sd = level[0], level[0], sd[0]
    for i in range(1, len(level)):
        quietest, loudest = min(quietest, level[i]), max(loudest, level[i])
        least_sd = min(least_sd, sd[i])
    step = least_sd * max(_FLOOR_STEP_SD / math.sqrt(len(level)), _FINEST_SD)
    low, high = quietest - _BELOW_DB, loudest + least_sd
    size = int(np.ceil((high - low) / step)) + 1
    floor, log_likelihood, best = np.empty(size), np.empty(size), -np.inf
    for f in range(size):
        floor[f], log_likelihood[f] = low + step * f, 0.0
        for i in range(len(level)):
            away = (level[i] - floor[f]) / sd[i]
            log_likelihood[f] -= 2.5 * math.log(1.0 + away * away / _DEGREES)
        best = max(best, log_likelihood[f])
    kept = 0
    for f in range(size):
        if log_likelihood[f] > best - _FLOOR_NATS:
            floor[kept], log_likelihood[kept] = floor[f], math.exp(log_likelihood[f] - best)
            kept += 1
    return floor[:kept], log_likelihood[:kept]


@compiled_part
def _below(values: Ints, begin: int, end: int, limit: int) -> int:
    """Return where ascending values from `begin` to `end` reach a limit."""
    while begin < end:
        middle = (begin + end) // 2
        if values[middle] < limit:
            begin = middle + 1
        else:
            end = middle
    return begin


@compiled_part
def _audible_fittings(
    row: Ints, fitting: Ints, decay: Floats, tail: int, head: int, first: int, beyond: int,
    audible: Ints, tail_db: Floats, head_db: Floats,
) -> int:  # fmt: skip
    """Return the number of audible fittings of a section; fill them and the decay from its ends."""
    a = _below(fitting, row[tail], row[tail + 1], first)
    end_a = _below(fitting, a, row[tail + 1], beyond)
    b = _below(fitting, row[head], row[head + 1], first)
    end_b = _below(fitting, b, row[head + 1], beyond)
    n = 0
    while a < end_a or b < end_b:
        left = fitting[a] if a < end_a else beyond
        right = fitting[b] if b < end_b else beyond
        audible[n] = min(left, right)
        tail_db[n] = decay[a] if left <= right else np.inf
        head_db[n] = decay[b] if right <= left else np.inf
        a += left <= right
        b += right <= left
        n += 1
    return n


@compiled_part
def _likelihood(
    n: int, audible: Ints, decay: Floats, level: Floats, sd: Floats, floor: Floats, weight: Floats,
    decay_factor: Floats, decay_weight: Floats, source_db: Floats, source_weight: Floats,
) -> float:  # fmt: skip
    """Return the likelihood of the levels with a leak at one place, over decay, level and floor."""
    total, ratio = 0.0, np.empty(len(floor))
    if n == 0:
        return _sum(weight)
    for k in range(len(decay_factor)):
        for q in range(len(source_db)):
            for f in range(len(floor)):
                ratio[f] = 1.0
            for i in range(n):
                over = source_db[q] - decay_factor[k] * decay[i]
                if over > -INAUDIBLE_DB:
                    lift = DB * math.log(1.0 + math.exp(over / DB))
                    c = audible[i]
                    for f in range(len(floor)):
                        away = (level[c] - floor[f]) / sd[c]
                        less = away - lift / sd[c]
                        ratio[f] *= (_DEGREES + away * away) / (_DEGREES + less * less)
            total += decay_weight[k] * source_weight[q] * _mean_power(ratio, weight)
    return float(total)


@compiled_part
def _mean_power(ratio: Floats, weight: Floats) -> float:
    """Return the weighted sum of the powers of the ratios that Student's t has."""
    total = 0.0
    for f in range(len(ratio)):
        # Ratios are capped far above any decisive value, so that powers stay finite.
        capped = min(ratio[f], 1e100)
        total += weight[f] * (capped * capped * math.sqrt(capped))
    return total


@compiled_part
def _sum(values: Floats) -> float:
    total = 0.0
    for value in values:
        total += value
    return total
