"""The pipe network: routes split at junctions, with distances and shortest paths along them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import connected_components, dijkstra

from leakgeo.route.junctions import Junctions, junctions_of

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Ints
    from leakgeo.route.lines import Lines

__all__ = ["Junctions", "Network", "junctions_of", "network_of"]

# Places of a line nearer than this are one node.
_SAME_PLACE_M = 1e-6
# Limits the memory of one Dijkstra search.
_SOURCES_PER_BATCH = 256


@dataclass(frozen=True, eq=False)
class Network:
    """Sections of routes between nodes; a node is an end, a junction or a stop.

    Parameters
    ----------
    nodes : int
        Number of nodes.
    line : ndarray of int, shape (s,)
        Line of each section; sections are sorted by line, then chainage.
    begin_m, end_m : ndarray of float, shape (s,)
        Chainages of its ends.
    tail, head : ndarray of int, shape (s,)
        Nodes at its beginning and its end.
    first : ndarray of int, shape (l + 1,)
        Index of each line's first section.
    part : ndarray of int, shape (nodes,)
        Connected part of each node.
    stop : ndarray of int, shape (n,)
        Node of each stop that was passed to `network_of`.
    """

    nodes: int
    line: Ints
    begin_m: Floats
    end_m: Floats
    tail: Ints
    head: Ints
    first: Ints
    part: Ints
    stop: Ints

    @property
    def length_m(self) -> Floats:
        """Ground length of each section, shape (s,)."""
        return self.end_m - self.begin_m

    def section_at(self, line: Ints, chainage_m: Floats) -> Ints:
        """Return the section of each place, shape (n,); a node belongs to the section before it."""
        # Chainages of later lines are shifted beyond those of earlier ones, for a single search.
        lift = 1.0 + float(self.end_m.max(initial=0.0))
        found = np.searchsorted(self.end_m + lift * self.line, chainage_m + lift * line)
        return np.asarray(np.clip(found, self.first[line], self.first[line + 1] - 1))

    def graph(self, weight: Floats | None = None) -> csr_array:
        """Return the symmetric matrix of weights between nodes, shape (nodes, nodes).

        Parameters
        ----------
        weight : ndarray of float, shape (s,), optional
            Positive weight of each section; its length if None. Of parallel sections the lightest
            counts.
        """
        return (self._by_length if weight is None else self._graph(weight))[0]

    @cached_property
    def _by_length(self) -> tuple[csr_array, Ints, Ints]:
        return self._graph(self.length_m)

    def _graph(self, weight: Floats) -> tuple[csr_array, Ints, Ints]:
        """Return weights between nodes, and the lightest section and key of each pair of nodes."""
        key = self._pair_key(self.tail, self.head)
        order = np.lexsort((weight, key))
        order = order[(self.tail != self.head)[order]]
        section = order[np.unique(key[order], return_index=True)[1]]
        w = weight[section]
        i, j = self.tail[section], self.head[section]
        both = (np.concatenate([w, w]), (np.concatenate([i, j]), np.concatenate([j, i])))
        graph = coo_array(both, shape=(self.nodes, self.nodes)).tocsr()
        return graph, section, key[section]

    def distance_m(
        self, line_a: Ints, chainage_a_m: Floats, line_b: Ints, chainage_b_m: Floats,
        limit: float = np.inf,
    ) -> Floats:  # fmt: skip
        """Return the distance along the network between pairs of places.

        Parameters
        ----------
        line_a, line_b, chainage_a_m, chainage_b_m : ndarray, shape (n,)
        limit : float
            Longer paths between nodes are not searched for.

        Returns
        -------
        ndarray of float, shape (n,)
            Inf where the places are not connected.
        """
        a, b = self.section_at(line_a, chainage_a_m), self.section_at(line_b, chainage_b_m)
        best = np.where(a == b, np.abs(chainage_a_m - chainage_b_m), np.inf)
        ways_a = [(self.tail[a], chainage_a_m - self.begin_m[a]),
                  (self.head[a], self.end_m[a] - chainage_a_m)]  # fmt: skip
        ways_b = [(self.tail[b], chainage_b_m - self.begin_m[b]),
                  (self.head[b], self.end_m[b] - chainage_b_m)]  # fmt: skip
        for node_a, out in ways_a:
            for node_b, back in ways_b:
                best = np.minimum(best, out + self._node_distances(node_a, node_b, limit) + back)
        return best

    def shortest_paths(self, start: Ints, goal: Ints) -> tuple[Ints, Ints]:
        """Return the sections of the shortest paths between pairs of nodes, in one search.

        Parameters
        ----------
        start, goal : ndarray of int, shape (n,)
            Each start must be in a different connected part.

        Returns
        -------
        pair, section : ndarray of int, shape (k,)
            Index of the pair and section, sorted by pair, then from start to goal.
        """
        _, before, source = dijkstra(
            self.graph(), indices=start, min_only=True, return_predecessors=True
        )
        pair = np.flatnonzero(source[goal] == start)
        node, steps = goal[pair], []
        while len(pair := pair[(more := before[node] >= 0)]):
            steps.append((pair, before[node[more]], node[more]))
            node = before[node[more]]
        if not steps:
            return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
        # Steps run from the goals back: reverse them, then sort by pair.
        which, i, j = (np.concatenate(column) for column in zip(*steps[::-1], strict=True))
        _, section, key = self._by_length
        order = np.argsort(which, kind="stable")
        return which[order], section[np.searchsorted(key, self._pair_key(i, j))][order]

    def _pair_key(self, i: Ints, j: Ints) -> Ints:
        """Return one number for each unordered pair of nodes."""
        return np.asarray(np.minimum(i, j) * np.int64(self.nodes) + np.maximum(i, j))

    def _node_distances(self, node_a: Ints, node_b: Ints, limit: float) -> Floats:
        """Return the distance between pairs of nodes."""
        source, back = np.unique(node_a, return_inverse=True)
        graph, found = self.graph(), np.empty(len(node_a))
        for begin in range(0, len(source), _SOURCES_PER_BATCH):
            away = dijkstra(graph, indices=source[begin : begin + _SOURCES_PER_BATCH], limit=limit)
            these = (back >= begin) & (back < begin + _SOURCES_PER_BATCH)
            found[these] = away[back[these] - begin, node_b[these]]
        return found


def network_of(
    lines: Lines,
    junctions: Junctions,
    stop_line: Ints | None = None,
    stop_chainage_m: Floats | None = None,
) -> Network:
    """Split the lines at their junctions, and at given stops, into one network.

    A junction is one node: the gap between its routes as drawn is an error of the traces, and has
    no length.

    Parameters
    ----------
    lines : Lines
    junctions : Junctions
        As `junctions_of` returns them.
    stop_line : ndarray of int, shape (n,), optional
        Lines of further nodes, such as fittings.
    stop_chainage_m : ndarray of float, shape (n,), optional
        Their chainages.

    Returns
    -------
    Network
    """
    count = len(lines.length_m)
    stops = np.empty(0, dtype=np.int64) if stop_line is None else stop_line
    at = np.empty(0) if stop_chainage_m is None else stop_chainage_m
    own = np.arange(count)
    line = np.concatenate([own, own, junctions.line_a, junctions.line_b, stops])
    ends = [np.zeros(count), lines.length_m]
    chainage = np.concatenate([*ends, junctions.chainage_a_m, junctions.chainage_b_m, at])
    vertex, kept = _vertices(line, chainage)
    a, b = np.split(vertex[2 * count : 2 * count + 2 * len(junctions.line_a)], 2)
    node = _components(len(kept), a, b)
    line, chainage = line[kept], chainage[kept]
    same = np.flatnonzero(line[1:] == line[:-1])
    sections = (line[same], chainage[same], chainage[same + 1], node[same], node[same + 1])
    nodes = int(node.max(initial=-1)) + 1
    part = _components(nodes, node[same], node[same + 1])
    first = np.searchsorted(line[same], np.arange(count + 1))
    return Network(nodes, *sections, first, part, node[vertex[len(vertex) - len(at) :]])


def _vertices(line: Ints, chainage: Floats) -> tuple[Ints, Ints]:
    """Return the vertex number of each place, in order along the lines, and a row per vertex."""
    order = np.lexsort((chainage, line))
    step = (np.diff(line[order]) != 0) | (np.diff(chainage[order]) > _SAME_PLACE_M)
    fresh = np.concatenate([[True], step])[: len(order)]
    vertex = np.empty(len(order), dtype=np.int64)
    vertex[order] = np.cumsum(fresh) - 1
    return vertex, order[fresh]


def _components(count: int, a: Ints, b: Ints) -> Ints:
    """Return the connected component of each of `count` nodes joined by edges `a`, `b`."""
    graph = coo_array((np.ones(len(a)), (a, b)), shape=(count, count))
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.int64)
