"""Probability of a leak in each section of the network, from the levels at its fittings.

The sound of a leak has some level above the ambient floor at the leak, and decays along the pipe
with the decay of each material on the way. The level at a fitting is the power sum of that sound
and the floor. Floor, source level and decay are unknown and are averaged over their ranges. A quiet
fitting therefore excludes only leaks that it could have heard.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse.csgraph import dijkstra

from leakgeo.find.survey.kernel import INAUDIBLE_DB, fill_support

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Ints
    from leakgeo.find.survey.loud_stretches import LoudAreas
    from leakgeo.route.network import Network

# Level of a leak above the ambient floor, on the pipe beside it: mean, deviation and minimum.
SOURCE_DB, SOURCE_SD_DB, MIN_SOURCE_DB = 25.0, 12.0, 4.0
# Grid of the decay, in standard deviations of its logarithm about the median of its material.
_DECAY_Z = np.linspace(-2.0, 2.0, 9)
_SOURCE_GRID_DB = np.arange(MIN_SOURCE_DB, 54.0, 6.0)
# Steps in a section: at most so many decibels and metres, with a minimum and maximum number.
_STEP_DB, _STEP_M, _MIN_STEPS, _MAX_STEPS = 3.0, 4.0, 2, 200


@dataclass(frozen=True, eq=False)
class FittingLevels:
    """Comparable levels at fittings of a network, sorted by loud area.

    Parameters
    ----------
    node, area : ndarray of int, shape (c,)
        Node and loud area of each fitting.
    level_db, sd_db : ndarray of float, shape (c,)
        Level without gain, and its 1-sigma deviation from the level in the pipe.
    """

    node: Ints
    area: Ints
    level_db: Floats
    sd_db: Floats


@dataclass(frozen=True, eq=False)
class SectionOdds:
    """Probability and evidence of a leak in each section of each loud area.

    Parameters
    ----------
    area, section : ndarray of int, shape (p,)
        As in `leakgeo.find.survey.loud_stretches.LoudAreas`.
    probability : ndarray of float, shape (p,)
        Probability that the leak is in the section, given one leak in the area; sums to one.
    support_nats : ndarray of float, shape (p,)
        Log Bayes factor of a leak in the section against no leak.
    """

    area: Ints
    section: Ints
    probability: Floats
    support_nats: Floats


def section_odds(
    network: Network, areas: LoudAreas, levels: FittingLevels, decay_db_per_m: Floats,
    decay_ln: float, prior: Floats | None = None,
) -> SectionOdds:  # fmt: skip
    """Compute the probability and evidence of a leak in each section.

    Parameters
    ----------
    network : Network
        With a node at each fitting.
    areas : LoudAreas
    levels : FittingLevels
    decay_db_per_m : ndarray of float, shape (s,)
        Median of the decay along each section.
    decay_ln : float
        Standard deviation of the logarithm of the decay, common to an area.
    prior : ndarray of float, shape (s,), optional
        Prior density of a leak in each section, in any unit; uniform along the pipes if None.

    Returns
    -------
    SectionOdds

    Examples
    --------
    Two fittings 40 m apart on a copper service; the first one is 15 dB louder.

    >>> from leakgeo.find.survey.loud_stretches import loud_areas
    >>> from leakgeo.route.network import Network
    >>> line, at = np.zeros(2, dtype=int), np.array([0.0, 20.0, 40.0])
    >>> net = Network(3, line, at[:2], at[1:], np.array([0, 1]), np.array([1, 2]),
    ...               np.array([0, 2]), np.zeros(3, dtype=int), np.array([0, 2]))
    >>> level = np.array([50.0, 35.0])
    >>> areas = loud_areas(net, level)
    >>> stop, area = areas.stop, areas.stop_area
    >>> levels = FittingLevels(net.stop[stop], area, level[stop], np.full(2, 3.5))
    >>> odds = section_odds(net, areas, levels, np.full(2, 0.8), 0.8)
    >>> bool(odds.probability[0] > 0.8), float(odds.probability.sum().round(9))
    (True, 1.0)
    """
    number = np.arange(int(levels.area.max(initial=-1)) + 1)
    begin, end = (np.searchsorted(areas.area, number, side) for side in ("left", "right"))
    fittings = np.searchsorted(levels.area, np.append(number, len(number)))
    section_db = decay_db_per_m * network.length_m
    steps = np.maximum(section_db / _STEP_DB, network.length_m / _STEP_M)
    count = np.clip(np.ceil(steps), _MIN_STEPS, _MAX_STEPS)
    reach = _audible(network, levels, section_db, decay_ln)
    weight = np.exp(-0.5 * _DECAY_Z**2)
    support = np.full(len(areas.area), np.nan)
    fill_support(
        fittings, begin, end, areas.section, levels.level_db, levels.sd_db, network.tail,
        network.head, section_db, count.astype(np.int64), *reach,
        np.exp(decay_ln * _DECAY_Z), weight / weight.sum(), _SOURCE_GRID_DB, _source_weight(),
        support,
    )  # fmt: skip
    length = network.length_m * (1.0 if prior is None else prior)
    shares = _shares(support, length[areas.section], areas.area)
    return SectionOdds(areas.area, areas.section, shares, support)


def _source_weight() -> Floats:
    weight = np.exp(-0.5 * ((_SOURCE_GRID_DB - SOURCE_DB) / SOURCE_SD_DB) ** 2)
    return np.asarray(weight / weight.sum())


def _shares(support: Floats, length: Floats, area: Ints) -> Floats:
    """Return the probability of each section among those of its area."""
    top = np.full(int(area.max(initial=-1)) + 1, -np.inf)
    np.maximum.at(top, area, support)
    share = length * np.exp(support - top[area])
    return np.asarray(share / np.bincount(area, share, len(top))[area])


def _audible(
    network: Network, levels: FittingLevels, section_db: Floats, decay_ln: float
) -> tuple[Ints, Ints, Floats]:
    """Return the audible fittings of each node and the decay to them, as rows of a sparse matrix.

    Each search solves one fitting of every connected part.
    """
    graph = network.graph(section_db)
    weakest = float(np.exp(decay_ln * _DECAY_Z[0]))
    limit = (float(_SOURCE_GRID_DB[-1]) + INAUDIBLE_DB) / weakest
    part = network.part[levels.node]  # in order, as areas are numbered by part
    turn = np.arange(len(part)) - np.searchsorted(part, part)
    node, fitting, decay = [], [], []
    for k in range(int(turn.max(initial=-1)) + 1):
        mine = np.flatnonzero(turn == k)
        away = dijkstra(graph, indices=levels.node[mine], min_only=True, limit=limit)
        seen = np.flatnonzero(np.isfinite(away))
        whose = np.searchsorted(part[mine], network.part[seen])
        node.append(seen)
        fitting.append(mine[whose])
        decay.append(away[seen])
    nodes, fittings, decays = (np.concatenate([np.empty(0), *x]) for x in (node, fitting, decay))
    order = np.lexsort((fittings, nodes))
    row = np.searchsorted(nodes[order], np.arange(network.nodes + 1))
    return row, fittings[order].astype(np.int64), decays[order]
