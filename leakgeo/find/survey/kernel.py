"""Compiled loops: evidence of a leak in each section from the levels at fittings."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from leakgeo.compiled import compiled
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
        silent = weight.sum()
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
            support[at] = np.log(total / steps[s] / silent)


@compiled
def _floors(level: Floats, sd: Floats) -> tuple[Floats, Floats]:
    """Return the grid of ambient floors, and the likelihood of each without a leak."""
    step = sd.min() * max(_FLOOR_STEP_SD / np.sqrt(len(level)), _FINEST_SD)
    low, high = level.min() - _BELOW_DB, level.max() + sd.min()
    floor = low + step * np.arange(int(np.ceil((high - low) / step)) + 1)
    log_likelihood = np.zeros(len(floor))
    for i in range(len(level)):
        log_likelihood -= 2.5 * np.log(1.0 + ((level[i] - floor) / sd[i]) ** 2 / _DEGREES)
    kept = log_likelihood > log_likelihood.max() - _FLOOR_NATS
    return floor[kept], np.exp(log_likelihood[kept] - log_likelihood.max())


@compiled
def _audible_fittings(
    row: Ints, fitting: Ints, decay: Floats, tail: int, head: int, first: int, beyond: int,
    audible: Ints, tail_db: Floats, head_db: Floats,
) -> int:  # fmt: skip
    """Return the number of audible fittings of a section; fill them and the decay from its ends."""
    of_tail, of_head = fitting[row[tail] : row[tail + 1]], fitting[row[head] : row[head + 1]]
    a = row[tail] + np.searchsorted(of_tail, first)
    end_a = row[tail] + np.searchsorted(of_tail, beyond)
    b = row[head] + np.searchsorted(of_head, first)
    end_b = row[head] + np.searchsorted(of_head, beyond)
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


@compiled
def _likelihood(
    n: int, audible: Ints, decay: Floats, level: Floats, sd: Floats, floor: Floats, weight: Floats,
    decay_factor: Floats, decay_weight: Floats, source_db: Floats, source_weight: Floats,
) -> float:  # fmt: skip
    """Return the likelihood of the levels with a leak at one place, over decay, level and floor."""
    if n == 0:
        return float(weight.sum())
    total, ratio = 0.0, np.empty(len(floor))
    for k in range(len(decay_factor)):
        for q in range(len(source_db)):
            ratio[:] = 1.0
            for i in range(n):
                over = source_db[q] - decay_factor[k] * decay[i]
                if over > -INAUDIBLE_DB:
                    lift = DB * np.log(1.0 + np.exp(over / DB))
                    c = audible[i]
                    for f in range(len(floor)):
                        away = (level[c] - floor[f]) / sd[c]
                        less = away - lift / sd[c]
                        ratio[f] *= (_DEGREES + away * away) / (_DEGREES + less * less)
            # Ratios are capped far above any decisive value, so that powers stay finite.
            capped = np.minimum(ratio, 1e100)
            power = capped * capped * np.sqrt(capped)
            total += decay_weight[k] * source_weight[q] * (weight * power).sum()
    return float(total)
