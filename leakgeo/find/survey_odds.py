"""Where on the network a leak may be, by the levels at its fittings: odds of each section.

A leak sounds at a level above the ambient floor where it is, and dies away along the pipe by the
decay of each material that the sound runs through. What a fitting hears is that, with the floor
added in power. The floor, the leak's own level and the decay are not known: they are summed over
their ranges. So silence at a fitting excludes what it could have heard, and no more.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse.csgraph import dijkstra

from leakgeo.compiled import compiled
from leakgeo.sound.spreading import DB

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Ints
    from leakgeo.route.network import Network

# Level of a leak above the ambient floor, heard on the pipe beside it: middle and deviation.
ABOVE_DB, ABOVE_SD_DB, LEAST_ABOVE_DB = 25.0, 12.0, 4.0
# How far the decay is from the middle of its material, in deviations of its logarithm.
_DECAY_Z = np.linspace(-2.0, 2.0, 9)
_ABOVE_DB = np.arange(LEAST_ABOVE_DB, 54.0, 6.0)
# Sound this far below the floor lifts it by nothing that a fitting shows.
_NOTHING_DB = 15.0
# Student's t with four degrees of freedom: a draught, a drawn tap or a bad contact pulls little.
_DEGREES = 4.0
# The floor is looked for in steps of so many deviations, from so far below the quietest fitting.
_FLOOR_STEP_SD, _FINEST_SD, _BELOW_DB = 1.2, 0.15, 25.0
# Floors less likely than this even if a leak explained the loudest fittings are left out, in nats.
_FLOOR_NATS = 20.0
# A section is looked at in steps of about so many decibels, no longer than so many metres.
_STEP_DB, _STEP_M, _FEWEST, _MOST = 3.0, 4.0, 2, 200


@dataclass(frozen=True, eq=False)
class Heard:
    """Comparable levels at fittings of a network, in order of their part of it.

    Parameters
    ----------
    node, part : ndarray of int, shape (c,)
        Node that each fitting is at, and the connected part of the network that this is in.
    level_db, sd_db : ndarray of float, shape (c,)
        Level without gain, and how far fittings differ from what the pipe brings them.
    """

    node: Ints
    part: Ints
    level_db: Floats
    sd_db: Floats


@dataclass(frozen=True, eq=False)
class Odds:
    """What the levels say of each section.

    Parameters
    ----------
    probability : ndarray of float, shape (s,)
        That the leak is in the section, given one leak on its part of the network; sums to one over
        the part. NaN where no fitting was heard on it.
    support_nats : ndarray of float, shape (s,)
        Log of how much likelier the levels are with a leak in the section than with none at all.
    """

    probability: Floats
    support_nats: Floats


def section_odds(
    network: Network, heard: Heard, decay_db_per_m: Floats, decay_ln: float,
    prior: Floats | None = None,
) -> Odds:  # fmt: skip
    """Work out the odds of each section from the levels at fittings.

    Parameters
    ----------
    network : Network
        With a node at each fitting.
    heard : Heard
    decay_db_per_m : ndarray of float, shape (s,)
        Middle of the decay along each section.
    decay_ln : float
        Deviation of the logarithm of the decay, shared by all of a part.
    prior : ndarray of float, shape (s,), optional
        Density of a leak in each section before listening, in any unit; even along the pipes if
        None.

    Returns
    -------
    Odds

    Examples
    --------
    Two fittings 40 m apart on a copper service, the first one 15 dB louder: halves of the line.

    >>> from leakgeo.route.network import Network
    >>> line, at = np.zeros(2, dtype=int), np.array([0.0, 20.0, 40.0])
    >>> net = Network(3, line, at[:2], at[1:], np.array([0, 1]), np.array([1, 2]),
    ...               np.array([0, 2]), np.zeros(3, dtype=int), np.array([0, 2]))
    >>> heard = Heard(net.stop, np.zeros(2, dtype=int), np.array([50.0, 35.0]), np.full(2, 3.5))
    >>> odds = section_odds(net, heard, np.full(2, 0.8), 0.8)
    >>> bool(odds.probability[0] > 0.8), float(odds.probability.sum().round(9))
    (True, 1.0)
    """
    part = network.part[network.tail]
    order = np.argsort(part, kind="stable")
    parts = np.unique(heard.part)
    begin, end = (np.searchsorted(part[order], parts, side) for side in ("left", "right"))
    fittings = np.searchsorted(heard.part, np.append(parts, parts.max(initial=0) + 1))
    damped = decay_db_per_m * network.length_m
    steps = np.maximum(damped / _STEP_DB, network.length_m / _STEP_M)
    reach = _reach(network, heard, damped, decay_ln)
    weight = np.exp(-0.5 * _DECAY_Z**2)
    support = np.full(len(part), np.nan)
    _supports(
        fittings, begin, end, order, heard.level_db, heard.sd_db, network.tail, network.head,
        damped, np.clip(np.ceil(steps), _FEWEST, _MOST).astype(np.int64), *reach,
        np.exp(decay_ln * _DECAY_Z), weight / weight.sum(), _ABOVE_DB, _above_weight(), support,
    )  # fmt: skip
    length = network.length_m * (1.0 if prior is None else prior)
    return Odds(_shares(support, length, part), support)


def _above_weight() -> Floats:
    weight = np.exp(-0.5 * ((_ABOVE_DB - ABOVE_DB) / ABOVE_SD_DB) ** 2)
    return np.asarray(weight / weight.sum())


def _shares(support: Floats, length: Floats, part: Ints) -> Floats:
    """Probability of each section among those of its part."""
    top = np.full(int(part.max(initial=-1)) + 1, -np.inf)
    np.fmax.at(top, part, support)
    share = length * np.exp(support - top[part])
    total = np.bincount(part, np.nan_to_num(share), len(top))
    with np.errstate(invalid="ignore"):
        return np.asarray(share / total[part])


def _reach(
    network: Network, heard: Heard, damped: Floats, decay_ln: float
) -> tuple[Ints, Ints, Floats]:
    """Which fittings could hear each node, and the decay on the way: rows of a sparse matrix.

    Fittings of different parts of the network are solved in one search, one of each part a round.
    """
    graph = network.graph(damped)
    weakest = float(np.exp(decay_ln * _DECAY_Z[0]))
    limit = (float(_ABOVE_DB[-1]) + _NOTHING_DB) / weakest
    first = np.searchsorted(heard.part, heard.part)
    turn = np.arange(len(heard.part)) - first
    node, fitting, decay = [], [], []
    for k in range(int(turn.max(initial=-1)) + 1):
        mine = np.flatnonzero(turn == k)
        away = dijkstra(graph, indices=heard.node[mine], min_only=True, limit=limit)
        seen = np.flatnonzero(np.isfinite(away))
        whose = np.searchsorted(heard.part[mine], network.part[seen])
        node.append(seen)
        fitting.append(mine[whose])
        decay.append(away[seen])
    nodes, fittings, decays = (np.concatenate([np.empty(0), *x]) for x in (node, fitting, decay))
    order = np.lexsort((fittings, nodes))
    row = np.searchsorted(nodes[order], np.arange(network.nodes + 1))
    return row, fittings[order].astype(np.int64), decays[order]


@compiled
def _supports(
    fittings: Ints, begin: Ints, end: Ints, order: Ints, level: Floats, sd: Floats, tail: Ints,
    head: Ints, damped: Floats, steps: Ints, row: Ints, who: Ints, decay: Floats, times: Floats,
    times_weight: Floats, above: Floats, above_weight: Floats, support: Floats,
) -> None:  # fmt: skip
    """Fill in log evidence of a leak in each section over that of none, part by part."""
    lift, tail_db, head_db = np.empty(len(level)), np.empty(len(level)), np.empty(len(level))
    near = np.empty(len(level), dtype=np.int64)
    for p in range(len(begin)):
        own = slice(fittings[p], fittings[p + 1])
        floor, weight = _floors(level[own], sd[own])
        silent = weight.sum()
        for s in order[begin[p] : end[p]]:
            n = _hearers(row, who, decay, tail[s], head[s], near, tail_db, head_db)
            total = 0.0
            for j in range(steps[s]):
                out = damped[s] * (j + 0.5) / steps[s]
                for i in range(n):
                    lift[i] = min(tail_db[i] + out, head_db[i] + damped[s] - out)
                total += _likelihood(
                    n, near, lift, level, sd, floor, weight, times, times_weight, above,
                    above_weight,
                )  # fmt: skip
            support[s] = np.log(total / steps[s] / silent)


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
    row: Ints, who: Ints, decay: Floats, tail: int, head: int, near: Ints, tail_db: Floats,
    head_db: Floats,
) -> int:  # fmt: skip
    """List the fittings that could hear either end of a section, and the decay from each end."""
    a, b, n = row[tail], row[head], 0
    while a < row[tail + 1] or b < row[head + 1]:
        left = who[a] if a < row[tail + 1] else np.iinfo(np.int64).max
        right = who[b] if b < row[head + 1] else np.iinfo(np.int64).max
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
                if over > -_NOTHING_DB:
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
