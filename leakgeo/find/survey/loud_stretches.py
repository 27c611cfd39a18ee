"""Loud areas of the network: groups of fittings that may hear the same leak.

The sound of a leak only falls with distance. Where fittings between two loud ones are quiet, there
are two sources, and each gets its own area.
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

# Prominence of a separate peak over the saddle to a louder one: about twice the difference between
# two fittings with the same sound.
MIN_PROMINENCE_DB = 10.0


@dataclass(frozen=True, eq=False)
class LoudAreas:
    """Loud areas, numbered by connected part, the loudest of each part first.

    Parameters
    ----------
    stop_area, stop : ndarray of int, shape (m,)
        Area and stop of each member, sorted by area. A quiet stop on the border of two areas is a
        member of both.
    area, section : ndarray of int, shape (p,)
        Area and section of each member, sorted. A section between two areas is in both.
    """

    stop_area: Ints
    stop: Ints
    area: Ints
    section: Ints


def loud_areas(network: Network, level_db: Floats) -> LoudAreas:
    """Divide the network into areas around prominent fittings.

    Parameters
    ----------
    network : Network
        With the fittings as stops.
    level_db : ndarray of float, shape (n,)
        Comparable level at each stop.

    Returns
    -------
    LoudAreas

    Examples
    --------
    A line that is loud at both ends and quiet in the middle has two areas.

    >>> from leakgeo.route.network import Network
    >>> line, at = np.zeros(2, dtype=int), np.array([0.0, 20.0, 40.0])
    >>> net = Network(3, line, at[:2], at[1:], np.array([0, 1]), np.array([1, 2]),
    ...               np.array([0, 2]), np.zeros(3, dtype=int), np.array([0, 1, 2]))
    >>> areas = loud_areas(net, np.array([30.0, 5.0, 40.0]))
    >>> areas.stop_area.tolist(), areas.stop.tolist()
    ([0, 0, 1, 1], [1, 2, 0, 1])
    """
    node, back = np.unique(network.stop, return_inverse=True)
    if not len(node):
        return LoudAreas(*[np.empty(0, dtype=np.int64)] * 4)
    level = np.full(len(node), -np.inf)
    np.maximum.at(level, back, level_db)
    _, _, source = dijkstra(network.graph(), indices=node, min_only=True, return_predecessors=True)
    nearest = np.where(source >= 0, np.searchsorted(node, source), -1)
    a, b = nearest[network.tail], nearest[network.head]
    edge = np.flatnonzero(a != b)
    area = _area_numbers(_basins(level, a[edge], b[edge]), level, network.part[node])
    ends = np.concatenate([area[a], area[b]]), np.tile(np.arange(len(a)), 2)
    held = np.unique(np.stack(ends)[:, np.concatenate([a, b]) >= 0], axis=1)
    areas, sections = np.ascontiguousarray(held)
    return LoudAreas(*_area_stops(area, level, a[edge], b[edge], back), areas, sections)


def _basins(level: Floats, a: Ints, b: Ints) -> Ints:
    """Return the peak that each fitting belongs to, from the levels of neighbouring fittings."""
    saddle = np.minimum(level[a], level[b])
    order = np.lexsort((b, a, -saddle))
    return _merged_basins(level, a[order], b[order], saddle[order])


def _area_stops(area: Ints, level: Floats, a: Ints, b: Ints, back: Ints) -> tuple[Ints, Ints]:
    """Return areas and their stops: own ones, and quieter ones next to them in other areas."""
    quiet, loud = np.where(level[a] < level[b], [a, b], [b, a])
    nodes = pd.DataFrame({
        "area": np.concatenate([area, area[loud]]),
        "node": np.concatenate([np.arange(len(area)), quiet]),
    }).drop_duplicates()  # fmt: skip
    stops = pd.DataFrame({"node": back, "stop": np.arange(len(back))})
    both = nodes.merge(stops, on="node").sort_values(["area", "stop"])
    return both["area"].to_numpy(), both["stop"].to_numpy()


@compiled
def _merged_basins(level: Floats, a: Ints, b: Ints, saddle: Floats) -> Ints:
    """Return the peak that each fitting belongs to, merging basins from the highest saddle down.

    A basin is not merged if its peak has `MIN_PROMINENCE_DB` over the saddle to the higher peak.
    """
    root = np.arange(len(level))
    for e in range(len(a)):
        i, j = a[e], b[e]
        while root[i] != i:
            i = root[i]
        while root[j] != j:
            j = root[j]
        low, high = (i, j) if level[i] < level[j] else (j, i)
        if low != high and level[low] - saddle[e] < MIN_PROMINENCE_DB:
            root[low] = high
    for i in range(len(root)):
        j = i
        while root[j] != j:
            j = root[j]
        root[i] = j
    return root


def _area_numbers(peak: Ints, level: Floats, part: Ints) -> Ints:
    """Number the areas by connected part, then by the level of their peaks."""
    tops = np.unique(peak)
    order = np.lexsort((tops, -level[tops], part[tops]))
    number = np.empty(len(peak), dtype=np.int64)
    number[tops[order]] = np.arange(len(tops))
    return number[peak]
