"""Evidence of a leak in each section from the levels at fittings: the loops, compiled."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from leakgeo.compiled import compiled
from leakgeo.sound.spreading import DB

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Ints

# Sound this far below the floor lifts it by nothing that a fitting shows.
NOTHING_DB = 15.0
# Student's t with four degrees of freedom: a draught, a drawn tap or a bad contact pulls little.
_DEGREES = 4.0
# The floor is looked for in steps of so many deviations, from so far below the quietest fitting.
_FLOOR_STEP_SD, _FINEST_SD, _BELOW_DB = 1.2, 0.15, 25.0
# Floors less likely than this even if a leak explained the loudest fittings are left out, in nats.
_FLOOR_NATS = 20.0


@compiled
def supports(
    fittings: Ints, begin: Ints, end: Ints, section: Ints, level: Floats, sd: Floats, tail: Ints,
    head: Ints, damped: Floats, steps: Ints, row: Ints, who: Ints, decay: Floats, times: Floats,
    times_weight: Floats, above: Floats, above_weight: Floats, support: Floats,
) -> None:  # fmt: skip
    """Fill in log evidence of a leak in each section over that of none, area by area."""
    lift, tail_db, head_db = np.empty(len(level)), np.empty(len(level)), np.empty(len(level))
    near = np.empty(len(level), dtype=np.int64)
    for p in range(len(begin)):
        own = slice(fittings[p], fittings[p + 1])
        floor, weight = _floors(level[own], sd[own])
        silent = weight.sum()
        for at in range(begin[p], end[p]):
            s = section[at]
            n = _hearers(
                row, who, decay, tail[s], head[s], fittings[p], fittings[p + 1], near, tail_db,
                head_db,
            )  # fmt: skip
            total = 0.0
            for j in range(steps[s]):
                out = damped[s] * (j + 0.5) / steps[s]
                for i in range(n):
                    lift[i] = min(tail_db[i] + out, head_db[i] + damped[s] - out)
                total += _likelihood(
                    n, near, lift, level, sd, floor, weight, times, times_weight, above,
                    above_weight,
                )  # fmt: skip
            support[at] = np.log(total / steps[s] / silent)


@compiled
def _floors(level: Floats, sd: Floats) -> tuple[Floats, Floats]:
    """Floors worth looking at, with the likelihood that no fitting hears anything else."""
    step = sd.min() * max(_FLOOR_STEP_SD / np.sqrt(len(level)), _FINEST_SD)
    low, high = level.min() - _BELOW_DB, level.max() + sd.min()
    floor = low + step * np.arange(int(np.ceil((high - low) / step)) + 1)
    log_likelihood = np.zeros(len(floor))
    for i in range(len(level)):
        log_likelihood -= 2.5 * np.log(1.0 + ((level[i] - floor) / sd[i]) ** 2 / _DEGREES)
    kept = log_likelihood > log_likelihood.max() - _FLOOR_NATS
    return floor[kept], np.exp(log_likelihood[kept] - log_likelihood.max())


@compiled
def _hearers(
    row: Ints, who: Ints, decay: Floats, tail: int, head: int, first: int, beyond: int, near: Ints,
    tail_db: Floats, head_db: Floats,
) -> int:  # fmt: skip
    """List fittings of an area that could hear a section, and the decay from either end of it."""
    a, end_a = row[tail] + np.searchsorted(
        who[row[tail] : row[tail + 1]], np.array([first, beyond])
    )
    b, end_b = row[head] + np.searchsorted(
        who[row[head] : row[head + 1]], np.array([first, beyond])
    )
    n = 0
    while a < end_a or b < end_b:
        left = who[a] if a < end_a else beyond
        right = who[b] if b < end_b else beyond
        near[n] = min(left, right)
        tail_db[n] = decay[a] if left <= right else np.inf
        head_db[n] = decay[b] if right <= left else np.inf
        a += left <= right
        b += right <= left
        n += 1
    return n


@compiled
def _likelihood(
    n: int, near: Ints, decay: Floats, level: Floats, sd: Floats, floor: Floats, weight: Floats,
    times: Floats, times_weight: Floats, above: Floats, above_weight: Floats,
) -> float:  # fmt: skip
    """Likelihood of the levels with a leak at one place, summed over decay, level and floor."""
    if n == 0:
        return float(weight.sum())
    total, ratio = 0.0, np.empty(len(floor))
    for k in range(len(times)):
        for q in range(len(above)):
            ratio[:] = 1.0
            for i in range(n):
                over = above[q] - times[k] * decay[i]
                if over > -NOTHING_DB:
                    lift = DB * np.log(1.0 + np.exp(over / DB))
                    c = near[i]
                    for f in range(len(floor)):
                        away = (level[c] - floor[f]) / sd[c]
                        less = away - lift / sd[c]
                        ratio[f] *= (_DEGREES + away * away) / (_DEGREES + less * less)
            # Ratios are capped far above what decides, so that powers stay finite.
            capped = np.minimum(ratio, 1e100)
            power = capped * capped * np.sqrt(capped)
            total += times_weight[k] * above_weight[q] * (weight * power).sum()
    return float(total)
