"""The order in which a van drives to places, and its way along a network of streets."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from leakgeo.arrays import Floats, Ints, Objects

# Ends of streets that are drawn so close to another street meet it.
_MEETS_M = 1.0
# Vertices of streets closer than this are one.
_SAME_M = 0.1
# A place farther from every street is reached in a straight line.
_FARTHEST_M = 200.0
# Streets so far beyond the places, or by their extent, may be part of a way.
_AROUND_M = 5_000.0
_LEAST_GAIN_M = 1e-6


@dataclass(frozen=True, eq=False)
class Ways:
    """Ways between places: along streets where they connect two places, straight elsewhere.

    Parameters
    ----------
    places : (n, 2) ndarray of float
        In a metre CRS.
    length_m : (n, n) ndarray of float
        In the units of the CRS.
    along_streets : (n, n) ndarray of bool
    off_street_m : (n,) ndarray of float
        From each place to the nearest street; NaN without streets.
    graph : networkx.Graph or None
    nodes : (m, 2) ndarray of float
        Places of the nodes of `graph`; the last n are those of the places on their streets.
    """

    places: Floats
    length_m: Floats
    along_streets: Any
    off_street_m: Floats
    graph: Any
    nodes: Floats

    def line(self, one: int, other: int) -> Any:
        """Return the way from one place to another as a line."""
        ends = self.places[[one, other]]
        if not self.along_streets[one, other]:
            return shapely.LineString(ends)
        import networkx as nx

        first = len(self.nodes) - len(self.places)
        on = nx.dijkstra_path(self.graph, first + one, first + other, weight="length")
        way = shapely.LineString(np.vstack([ends[:1], self.nodes[on], ends[1:]]))
        return shapely.remove_repeated_points(way)


def ways(places: Floats, streets: Objects | None = None) -> Ways:
    """Return the ways between places.

    One-way streets, turns and bridges are not known: streets meet where they share a vertex, or
    where one ends within a metre of another.

    Parameters
    ----------
    places : (n, 2) ndarray of float
        In a metre CRS.
    streets : ndarray of shapely LineString or MultiLineString, optional
        In the same CRS; straight ways without.

    Examples
    --------
    Two places on a street with a corner, and one that no street leads to.

    >>> street = np.array([shapely.LineString([(0, 0), (100, 0), (100, 50)])], dtype=object)
    >>> found = ways(np.array([[0.0, 0.0], [100.0, 40.0], [500.0, 0.0]]), street)
    >>> found.length_m[0].round(1).tolist(), found.along_streets[0].tolist()
    ([0.0, 140.0, 500.0], [True, True, False])
    >>> found.line(0, 1).wkt
    'LINESTRING (0 0, 100 0, 100 40)'
    """
    straight = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
    parts = _near(places, streets)
    if not len(parts):
        never, far = np.zeros(straight.shape, dtype=bool), np.full(len(places), np.nan)
        return Ways(places, straight, never, far, None, places)
    graph, nodes, off_m = _network(places, parts)
    length, along = straight.copy(), np.zeros(straight.shape, dtype=bool)
    first = len(nodes) - len(places)
    for one, found in _driven(graph, first, len(places)):
        for other, driven in found.items():
            if max(off_m[one], off_m[other]) <= _FARTHEST_M:
                access = 0.0 if one == other else off_m[one] + off_m[other]
                length[one, other], along[one, other] = driven + access, True
    return Ways(places, length, along, off_m, graph, nodes)


def _near(places: Floats, streets: Objects | None) -> Objects:
    """Return the parts of the streets that may be on a way."""
    if streets is None or not len(streets) or not len(places):
        return np.empty(0, dtype=object)
    good = shapely.force_2d(streets[shapely.is_geometry(streets) & ~shapely.is_empty(streets)])
    parts = shapely.get_parts(good)
    low, high = places.min(axis=0), places.max(axis=0)
    margin = max(_AROUND_M, float((high - low).max()))
    area = shapely.box(*(low - margin), *(high + margin))
    near: Objects = parts[shapely.intersects(parts, area)]
    return near


def _driven(graph: Any, first: int, count: int) -> Iterator[tuple[int, dict[int, float]]]:
    """Yield for each place the length along streets to the places that streets connect it to."""
    import networkx as nx

    for one in range(count):
        found = nx.single_source_dijkstra_path_length(graph, first + one, weight="length")
        yield one, {k: found[first + k] for k in range(count) if first + k in found}


def _network(places: Floats, parts: Objects) -> tuple[Any, Floats, Floats]:
    """Return the graph of the streets with the places on it, its nodes, and how far places are."""
    import networkx as nx

    xy, owner = shapely.get_coordinates(parts, return_index=True)
    _, first, node = np.unique(
        np.round(xy / _SAME_M), axis=0, return_index=True, return_inverse=True
    )
    nodes, begin, end = xy[first], node[:-1], node[1:]
    kept = (owner[:-1] == owner[1:]) & (begin != end)
    begin, end = begin[kept], end[kept]
    segments: Any = shapely.linestrings(np.stack([nodes[begin], nodes[end]], axis=1))
    tree = shapely.STRtree(segments)
    # Where a street ends beside another one, and where the places are: both part a segment.
    ends = np.flatnonzero(np.bincount(np.append(begin, end), minlength=len(nodes)) == 1)
    which, met = tree.query(shapely.points(nodes[ends]), "dwithin", distance=_MEETS_M)
    ends, other = ends[which], (begin[met] != ends[which]) & (end[met] != ends[which])
    ends, met = ends[other], met[other]
    nearest = tree.query_nearest(shapely.points(places), all_matches=False)[1]
    at, on = np.vstack([nodes[ends], places]), np.append(met, nearest)
    along = shapely.line_locate_point(segments[on], shapely.points(at))
    feet = shapely.get_coordinates(shapely.line_interpolate_point(segments[on], along))
    away = np.hypot(*(at - feet).T)
    new = np.arange(len(nodes), len(nodes) + len(at))
    graph = nx.Graph()
    graph.add_weighted_edges_from(
        zip(ends.tolist(), new.tolist(), away.tolist(), strict=False), "length"
    )
    lengths: Floats = np.asarray(shapely.length(segments))
    pieces = _pieces(begin, end, lengths, on, along, new)
    graph.add_weighted_edges_from(pieces, "length")
    return graph, np.vstack([nodes, feet]), away[len(ends) :]


def _pieces(
    begin: Ints, end: Ints, lengths: Floats, on: Ints, along: Floats, new: Ints
) -> Iterator[tuple[int, int, float]]:
    """Yield the pieces of all segments, parted at the new nodes on them."""
    parted: dict[int, list[tuple[float, int]]] = {}
    for segment, at, node in zip(on.tolist(), along.tolist(), new.tolist(), strict=True):
        parted.setdefault(segment, []).append((at, node))
    both = zip(begin.tolist(), end.tolist(), lengths.tolist(), strict=True)
    for segment, (first, last, length) in enumerate(both):
        stops = [(0.0, first), *sorted(parted.get(segment, ())), (length, last)]
        for (one, a), (other, b) in pairwise(stops):
            yield a, b, other - one


def driving_order(length: Floats) -> list[int]:
    """Return the order of places on a short way that begins at the first and ends anywhere.

    Two ways of networkx, by the nearest next place and by Christofides, are each improved by
    turning round parts of them until none gets shorter; the shorter one is taken.

    Parameters
    ----------
    length : (n, n) ndarray of float
        Symmetric.

    Examples
    --------
    >>> at = np.array([0.0, 5.0, -1.0, 3.0])
    >>> driving_order(np.abs(at[:, None] - at))
    [0, 2, 3, 1]
    """
    count = len(length)
    if count < 3:
        return list(range(count))
    from networkx import DiGraph, Graph
    from networkx.algorithms import approximation

    # The way back costs nothing, so that the round is open.
    there: Any = DiGraph()
    there.add_weighted_edges_from(
        (i, j, 0.0 if j == 0 else float(length[i, j]))
        for i in range(count) for j in range(count) if i != j
    )  # fmt: skip
    nearest = approximation.greedy_tsp(there, source=0)[:-1]
    both: Any = Graph()
    both.add_weighted_edges_from(
        (i, j, float(length[i, j])) for i, j in combinations(range(count), 2)
    )
    around = approximation.christofides(both)[:-1]
    begin = around.index(0)
    around = around[begin:] + around[:begin]
    found = [_shortened(way, length) for way in (nearest, around)]
    return min(found, key=lambda way: length_of(way, length))


def length_of(way: Sequence[int], length: Floats) -> float:
    """Return the length of a way through places in an order."""
    return float(sum(length[one, other] for one, other in pairwise(way)))


def _shortened(way: list[int], length: Floats) -> list[int]:
    """Turn round parts of a way, the first place excepted, as long as that shortens it (2-opt)."""
    best, shorter = length_of(way, length), True
    while shorter:
        shorter = False
        for i, j in combinations(range(1, len(way) + 1), 2):
            turned = [*way[:i], *reversed(way[i:j]), *way[j:]]
            found = length_of(turned, length)
            if found < best - _LEAST_GAIN_M:
                way, best, shorter = turned, found, True
    return way
