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

from leakgeo.find.survey.kernel import NOTHING_DB, supports

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Ints
    from leakgeo.find.survey.loud_stretches import Areas
    from leakgeo.route.network import Network

# Level of a leak above the ambient floor, heard on the pipe beside it: middle and deviation.
ABOVE_DB, ABOVE_SD_DB, LEAST_ABOVE_DB = 25.0, 12.0, 4.0
# How far the decay is from the middle of its material, in deviations of its logarithm.
_DECAY_Z = np.linspace(-2.0, 2.0, 9)
_ABOVE_DB = np.arange(LEAST_ABOVE_DB, 54.0, 6.0)
# A section is looked at in steps of about so many decibels, no longer than so many metres.
_STEP_DB, _STEP_M, _FEWEST, _MOST = 3.0, 4.0, 2, 200


@dataclass(frozen=True, eq=False)
class Heard:
    """Comparable levels at fittings of a network, in order of their loud area.

    Parameters
    ----------
    node, area : ndarray of int, shape (c,)
        Node that each fitting is at, and the loud area that it is of.
    level_db, sd_db : ndarray of float, shape (c,)
        Level without gain, and how far fittings differ from what the pipe brings them.
    """

    node: Ints
    area: Ints
    level_db: Floats
    sd_db: Floats


@dataclass(frozen=True, eq=False)
class Odds:
    """What the levels say of each section of each loud area.

    Parameters
    ----------
    area, section : ndarray of int, shape (p,)
        As `leakgeo.find.survey.loud_stretches.Areas` has them.
    probability : ndarray of float, shape (p,)
        That the leak is in the section, given one leak in the area; sums to one over the area.
    support_nats : ndarray of float, shape (p,)
        Log of how much likelier the levels are with a leak in the section than with none at all.
    """

    area: Ints
    section: Ints
    probability: Floats
    support_nats: Floats


def section_odds(
    network: Network, areas: Areas, heard: Heard, decay_db_per_m: Floats, decay_ln: float,
    prior: Floats | None = None,
) -> Odds:  # fmt: skip
    """Work out the odds of each section from the levels at fittings.

    Parameters
    ----------
    network : Network
        With a node at each fitting.
    areas : Areas
    heard : Heard
    decay_db_per_m : ndarray of float, shape (s,)
        Middle of the decay along each section.
    decay_ln : float
        Deviation of the logarithm of the decay, shared by all of an area.
    prior : ndarray of float, shape (s,), optional
        Density of a leak in each section before listening, in any unit; even along the pipes if
        None.

    Returns
    -------
    Odds

    Examples
    --------
    Two fittings 40 m apart on a copper service, the first one 15 dB louder: halves of the line.

    >>> from leakgeo.find.survey.loud_stretches import loud_areas
    >>> from leakgeo.route.network import Network
    >>> line, at = np.zeros(2, dtype=int), np.array([0.0, 20.0, 40.0])
    >>> net = Network(3, line, at[:2], at[1:], np.array([0, 1]), np.array([1, 2]),
    ...               np.array([0, 2]), np.zeros(3, dtype=int), np.array([0, 2]))
    >>> level = np.array([50.0, 35.0])
    >>> areas = loud_areas(net, level)
    >>> heard = Heard(net.stop[areas.stop], areas.heard_in, level[areas.stop], np.full(2, 3.5))
    >>> odds = section_odds(net, areas, heard, np.full(2, 0.8), 0.8)
    >>> bool(odds.probability[0] > 0.8), float(odds.probability.sum().round(9))
    (True, 1.0)
    """
    number = np.arange(int(heard.area.max(initial=-1)) + 1)
    begin, end = (np.searchsorted(areas.area, number, side) for side in ("left", "right"))
    fittings = np.searchsorted(heard.area, np.append(number, len(number)))
    damped = decay_db_per_m * network.length_m
    steps = np.maximum(damped / _STEP_DB, network.length_m / _STEP_M)
    reach = _reach(network, heard, damped, decay_ln)
    weight = np.exp(-0.5 * _DECAY_Z**2)
    support = np.full(len(areas.area), np.nan)
    supports(
        fittings, begin, end, areas.section, heard.level_db, heard.sd_db, network.tail,
        network.head, damped, np.clip(np.ceil(steps), _FEWEST, _MOST).astype(np.int64), *reach,
        np.exp(decay_ln * _DECAY_Z), weight / weight.sum(), _ABOVE_DB, _above_weight(), support,
    )  # fmt: skip
    length = network.length_m * (1.0 if prior is None else prior)
    shares = _shares(support, length[areas.section], areas.area)
    return Odds(areas.area, areas.section, shares, support)


def _above_weight() -> Floats:
    weight = np.exp(-0.5 * ((_ABOVE_DB - ABOVE_DB) / ABOVE_SD_DB) ** 2)
    return np.asarray(weight / weight.sum())


def _shares(support: Floats, length: Floats, area: Ints) -> Floats:
    """Probability of each section among those of its area."""
    top = np.full(int(area.max(initial=-1)) + 1, -np.inf)
    np.maximum.at(top, area, support)
    share = length * np.exp(support - top[area])
    return np.asarray(share / np.bincount(area, share, len(top))[area])


def _reach(
    network: Network, heard: Heard, damped: Floats, decay_ln: float
) -> tuple[Ints, Ints, Floats]:
    """Which fittings could hear each node, and the decay on the way: rows of a sparse matrix.

    Fittings of different parts of the network are solved in one search, one of each part a round.
    """
    graph = network.graph(damped)
    weakest = float(np.exp(decay_ln * _DECAY_Z[0]))
    limit = (float(_ABOVE_DB[-1]) + NOTHING_DB) / weakest
    part = network.part[heard.node]  # in order, as areas are numbered by part
    turn = np.arange(len(part)) - np.searchsorted(part, part)
    node, fitting, decay = [], [], []
    for k in range(int(turn.max(initial=-1)) + 1):
        mine = np.flatnonzero(turn == k)
        away = dijkstra(graph, indices=heard.node[mine], min_only=True, limit=limit)
        seen = np.flatnonzero(np.isfinite(away))
        whose = np.searchsorted(part[mine], network.part[seen])
        node.append(seen)
        fitting.append(mine[whose])
        decay.append(away[seen])
    nodes, fittings, decays = (np.concatenate([np.empty(0), *x]) for x in (node, fitting, decay))
    order = np.lexsort((fittings, nodes))
    row = np.searchsorted(nodes[order], np.arange(network.nodes + 1))
    return row, fittings[order].astype(np.int64), decays[order]
