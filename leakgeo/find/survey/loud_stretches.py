"""Loud areas of the network: fittings that one leak may be heard at, apart from those of another.

Sound of one leak only falls with distance. Where fittings between two loud ones are quiet, there
are two sources, and each is looked for by itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.sparse.csgraph import dijkstra

from leakgeo.compiled import compiled

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Ints
    from leakgeo.route.network import Network

# A peak of its own stands out by this much from what lies between it and a louder one: about twice
# what two fittings differ by that hear the same.
STANDS_OUT_DB = 10.0


@dataclass(frozen=True, eq=False)
class Areas:
    """Loud areas, numbered by part of the network, the loudest of each part first.

    Parameters
    ----------
    heard_in, stop : ndarray of int, shape (m,)
        Areas in order, and the stops of the network that are of each. A quiet one at the edge of
        two areas bounds both of them, and is of both.
    area, section : ndarray of int, shape (p,)
        Sections that each area is made of, in order of both. A section between two areas is in
        either.
    """

    heard_in: Ints
    stop: Ints
    area: Ints
    section: Ints


def loud_areas(network: Network, level_db: Floats) -> Areas:
    """Cut the network into areas around fittings that stand out.

    Parameters
    ----------
    network : Network
        Its stops are the fittings.
    level_db : ndarray of float, shape (n,)
        Comparable level at each stop.

    Returns
    -------
    Areas

    Examples
    --------
    Loud at both ends of a line, and quiet in the middle: two areas.

    >>> from leakgeo.route.network import Network
    >>> line, at = np.zeros(2, dtype=int), np.array([0.0, 20.0, 40.0])
    >>> net = Network(3, line, at[:2], at[1:], np.array([0, 1]), np.array([1, 2]),
    ...               np.array([0, 2]), np.zeros(3, dtype=int), np.array([0, 1, 2]))
    >>> areas = loud_areas(net, np.array([30.0, 5.0, 40.0]))
    >>> areas.heard_in.tolist(), areas.stop.tolist()
    ([0, 0, 1, 1], [1, 2, 0, 1])
    """
    node, back = np.unique(network.stop, return_inverse=True)
    if not len(node):
        return Areas(*[np.empty(0, dtype=np.int64)] * 4)
    level = np.full(len(node), -np.inf)
    np.maximum.at(level, back, level_db)
    _, _, source = dijkstra(network.graph(), indices=node, min_only=True, return_predecessors=True)
    nearest = np.where(source >= 0, np.searchsorted(node, source), -1)
    a, b = nearest[network.tail], nearest[network.head]
    edge = np.flatnonzero(a != b)
    area = _numbered(_basins(level, a[edge], b[edge]), level, network.part[node])
    ends = np.concatenate([area[a], area[b]]), np.tile(np.arange(len(a)), 2)
    held = np.unique(np.stack(ends)[:, np.concatenate([a, b]) >= 0], axis=1)
    return Areas(*_heard(area, level, a[edge], b[edge], back), held[0], held[1])


def _basins(level: Floats, a: Ints, b: Ints) -> Ints:
    """Peak that each fitting belongs to, by which fittings lie next to each other."""
    saddle = np.minimum(level[a], level[b])
    order = np.lexsort((b, a, -saddle))
    return _peaks(level, a[order], b[order], saddle[order])


def _heard(area: Ints, level: Floats, a: Ints, b: Ints, back: Ints) -> tuple[Ints, Ints]:
    """Areas with their stops: their own, and quieter ones of other areas next to theirs."""
    quiet, loud = np.where(level[a] < level[b], [a, b], [b, a])
    nodes = pd.DataFrame({
        "area": np.concatenate([area, area[loud]]),
        "node": np.concatenate([np.arange(len(area)), quiet]),
    }).drop_duplicates()  # fmt: skip
    stops = pd.DataFrame({"node": back, "stop": np.arange(len(back))})
    both = nodes.merge(stops, on="node").sort_values(["area", "stop"])
    return both["area"].to_numpy(), both["stop"].to_numpy()


@compiled
def _peaks(level: Floats, a: Ints, b: Ints, saddle: Floats) -> Ints:
    """Peak that each fitting belongs to: basins are flooded together from the highest saddle down.

    A basin whose peak stands out of the saddle stays apart from the one with the higher peak.
    """
    root = np.arange(len(level))
    for e in range(len(a)):
        i, j = a[e], b[e]
        while root[i] != i:
            i = root[i]
        while root[j] != j:
            j = root[j]
        low, high = (i, j) if level[i] < level[j] else (j, i)
        if low != high and level[low] - saddle[e] < STANDS_OUT_DB:
            root[low] = high
    for i in range(len(root)):
        j = i
        while root[j] != j:
            j = root[j]
        root[i] = j
    return root


def _numbered(peak: Ints, level: Floats, part: Ints) -> Ints:
    """Number the areas by part, then by the level of their peaks."""
    tops = np.unique(peak)
    order = np.lexsort((tops, -level[tops], part[tops]))
    number = np.empty(len(peak), dtype=np.int64)
    number[tops[order]] = np.arange(len(tops))
    return number[peak]
