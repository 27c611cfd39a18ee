"""Parts of the pipe network that closed valves isolate."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from leakgeo.find.weights import load_weights
from leakgeo.route.network import network_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.arrays import Bools, Ints, Objects
    from leakgeo.route.junctions import Junctions
    from leakgeo.route.lines import Lines
    from leakgeo.route.network import Network

# A valve at an end of its line is put this far into it, so that it closes that line alone.
_INTO_LINE_M = 0.05


@dataclass(frozen=True, order=True)
class Place:
    """A place on a line."""

    line: int
    chainage_m: float


@dataclass(frozen=True)
class Isolated:
    """What an isolation test isolates, as it concerns one line.

    Parameters
    ----------
    stretches : tuple of (float, float)
        Isolated stretches of the line: chainages of the valves at their ends; infinite where a
        stretch reaches the end of the line.
    beyond_start, beyond_end : bool
        Whether the pipe beyond an end of the line is isolated with it.
    connected : float
        Share of the pipe of the joined lines, next to the junctions, that is isolated with it.
    others : float
        Share of the isolated pipe that is on other lines.
    """

    stretches: tuple[tuple[float, float], ...]
    beyond_start: bool
    beyond_end: bool
    connected: float
    others: float

    @property
    def whole(self) -> bool:
        """Whether all of the line is isolated."""
        return self.stretches == ((-np.inf, np.inf),)


@dataclass(frozen=True, eq=False)
class IsolatedPart:
    """A connected part of the network between closed valves.

    Parameters
    ----------
    by_line : mapping of int to Isolated
        By index of the line; also lines that join the part and are not in it.
    valves : tuple of str
        Closed valves around the part, sorted.
    open_ends : tuple of (int, int)
        Ends of lines in the part that join no other line: index of the line, and -1 for its start
        or 1 for its end.
    through : frozenset of str
        Valves, shut or not, with the part on both sides of them.
    around : bool
        Whether water may get into the part around the place of a flow measurement.
    """

    by_line: Mapping[int, Isolated]
    valves: tuple[str, ...]
    open_ends: tuple[tuple[int, int], ...]
    through: frozenset[str] = frozenset()
    around: bool = False


@dataclass(frozen=True, eq=False)
class ValveNetwork:
    """The pipe network with a node at each valve and each place of a measurement.

    Parameters
    ----------
    lines : Lines
    network : Network
    valve : mapping of str to int
        Node of each valve; -1 for a valve at a tee, which may be on any side of it.
    place : mapping of Place to int
        Node of each place of a measurement.
    joined : tuple of ndarray of int, shape (j,)
        Line, and section of another line next to their junction.
    ways : ndarray of int, shape (nodes,)
        Number of ends of sections at each node.
    """

    lines: Lines
    network: Network
    valve: Mapping[str, int]
    place: Mapping[Place, int]
    joined: tuple[Ints, Ints]
    ways: Ints

    @classmethod
    def of(
        cls, lines: Lines, junctions: Junctions, valves: Mapping[str, Place], places: set[Place]
    ) -> ValveNetwork:
        """Put valves and places of measurements, by their names, on the network of the lines."""
        stops = [*valves.values(), *sorted(places)]
        line = np.array([stop.line for stop in stops], dtype=np.int64)
        at = np.array([stop.chainage_m for stop in stops], dtype=float)
        inset = np.minimum(_INTO_LINE_M, lines.length_m[line] / 2.0)
        at = np.clip(at, inset, lines.length_m[line] - inset)
        network = network_of(lines, junctions, line, at)
        ends = np.concatenate([network.tail, network.head])
        ways = np.bincount(ends, minlength=network.nodes)
        node = np.where(ways[network.stop] == 2, network.stop, -1)
        return cls(
            lines, network, dict(zip(valves, node.tolist(), strict=False)),
            dict(zip(stops[len(valves) :], network.stop[len(valves) :].tolist(), strict=True)),
            _joined(network, junctions), ways,
        )  # fmt: skip

    def part_at(self, place: Place, closed: set[str], flow: int | None) -> IsolatedPart | None:
        """Return the part around a place, with some valves closed.

        Parameters
        ----------
        place : Place
        closed : set of str
            Closed valves; each has a node.
        flow : int or None
            None if all of the part around the place counts, as for a pressure; else only what lies
            downstream of it, with the direction of flow: 1 along the line, -1 against it, 0 where
            not known.

        Returns
        -------
        IsolatedPart or None
            None if the place is so near a valve, or the flow so unknown, that the side is unknown.
        """
        cuts = {name: self.valve[name] for name in sorted(closed)}
        nodes = [*cuts.values(), *([] if flow is None else [self.place[place]])]
        label = parts_between(self.network, np.array(nodes, dtype=np.int64))
        own = _part_of(self.network, label, self._sections_at(place, flow), known=bool(flow))
        if own is None:
            return None
        at = None if flow is None else self.place[place]
        return self.part_of(label == own, sorted(closed), at)

    def part_of(self, inside: Bools, closed: Sequence[str], at: int | None = None) -> IsolatedPart:
        """Return a part by its sections.

        Parameters
        ----------
        inside : ndarray of bool, shape (s,)
            Whether each section of the network is in the part.
        closed : sequence of str
            Closed valves.
        at : int, optional
            Node at which a flow is measured.
        """
        # Ends of sections in the part at each node: none, some of them, or all.
        touching = self._touching(inside)
        nodes = [self.valve[name] for name in closed]
        border = [n for n, node in zip(closed, nodes, strict=True)
                  if 0 < touching[node] < self.ways[node]]  # fmt: skip
        within = (touching == self.ways) & (self.ways > 1)
        names, node = self._valves
        through = frozenset(names[(node >= 0) & within[node]].tolist())
        # Of a flow that runs past both ends of the place only a part is measured.
        around = at is not None and bool(within[at])
        part = self._described(inside, tuple(border))
        return replace(part, through=through, around=around)

    @cached_property
    def _valves(self) -> tuple[Objects, Ints]:
        names = np.array(list(self.valve), dtype=object)
        return names, np.array(list(self.valve.values()), dtype=np.int64)

    def _touching(self, inside: Bools) -> Ints:
        """Return the number of ends of sections in a part at each node."""
        ends = np.concatenate([self.network.tail[inside], self.network.head[inside]])
        return np.bincount(ends, minlength=self.network.nodes)

    def _sections_at(self, place: Place, flow: int | None) -> Ints:
        """Return the sections that a place may be in or, with a flow, that it measures."""
        net = self.network
        if flow is None:
            beside = load_weights("leakgeo.find.evidence", "isolation")["place"]["beside_m"]
            near = (net.begin_m - beside <= place.chainage_m) & (
                place.chainage_m <= net.end_m + beside
            )
            return np.flatnonzero(near & (net.line == place.line))
        node = self.place[place]
        own = net.line == place.line
        after = np.flatnonzero(own & (net.tail == node))
        before = np.flatnonzero(own & (net.head == node))
        return after if flow > 0 else before if flow < 0 else np.concatenate([before, after])

    def branch_end(self, line: int) -> int:
        """Return the only free end of a line: -1 its start, 1 its end; 0 for both or neither."""
        first, last = self.network.first[line], self.network.first[line + 1] - 1
        start, end = self.ways[self.network.tail[first]], self.ways[self.network.head[last]]
        return int(end == 1) - int(start == 1)

    def _described(self, inside: Bools, valves: tuple[str, ...]) -> IsolatedPart:
        net, length = self.network, self.network.length_m
        line, section = self.joined
        count = len(self.lines.length_m)
        beside = np.bincount(line, length[section], count)
        shared = np.bincount(line, length[section] * inside[section], count)
        connected = shared / np.where(beside > 0.0, beside, 1.0)
        own = np.bincount(net.line, length * inside, count)
        ends = self._open_ends(inside)
        concerned = np.flatnonzero((own > 0.0) | (connected > 0.0)).tolist()
        by_line = {
            k: Isolated(
                self._stretches(k, inside), (k, -1) in ends, (k, 1) in ends,
                float(connected[k]), float(1.0 - own[k] / own.sum()),
            )
            for k in concerned
        }  # fmt: skip
        return IsolatedPart(by_line, valves, tuple(sorted(ends)))

    def open_ends(self) -> list[tuple[int, int]]:
        """Return the ends of lines that join no other line: line, and -1 or 1; sorted."""
        return sorted(self._open_ends(np.ones(len(self.network.line), dtype=bool)))

    def _open_ends(self, inside: Bools) -> set[tuple[int, int]]:
        """Return the ends of lines in a part that join no other line."""
        net, ways = self.network, self.ways
        ends = set()
        both = (-1, net.first[:-1], net.tail), (1, net.first[1:] - 1, net.head)
        for side, section, node in both:
            lone = inside[section] & (ways[node[section]] == 1)
            ends |= {(int(k), side) for k in np.flatnonzero(lone)}
        return ends

    def _stretches(self, line: int, inside: Bools) -> tuple[tuple[float, float], ...]:
        """Return the stretches of a line in a part; a valve near an end of the line is at it."""
        net, at_end = self.network, load_weights("leakgeo.find.evidence", "isolation")["place"]
        own = np.arange(net.first[line], net.first[line + 1])
        own = own[inside[own]]
        gaps = np.flatnonzero(np.diff(own) != 1) + 1
        length, near = float(self.lines.length_m[line]), at_end["at_end_m"]
        found = []
        for run in np.split(own, gaps) if len(own) else []:
            begin, end = float(net.begin_m[run[0]]), float(net.end_m[run[-1]])
            found.append((-np.inf if begin <= min(near, length / 2.0) else begin,
                          np.inf if end >= length - min(near, length / 2.0) else end))  # fmt: skip
        return tuple(found)


def _joined(network: Network, junctions: Junctions) -> tuple[Ints, Ints]:
    """Return each line with the sections of other lines next to its junctions with them."""
    line = np.concatenate([junctions.line_a, junctions.line_b])
    other = np.concatenate([junctions.line_b, junctions.line_a])
    at = np.concatenate([junctions.chainage_b_m, junctions.chainage_a_m])
    line, other, at = line[line != other], other[line != other], at[line != other]
    before = network.section_at(other, at)
    after = np.minimum(before + 1, network.first[other + 1] - 1)
    after = np.where(network.end_m[before] <= at, after, before)
    pairs = np.unique([np.tile(line, 2), np.concatenate([before, after])], axis=1)
    return pairs[0], pairs[1]


def parts_between(network: Network, cut: Ints) -> Ints:
    """Return the connected part of each section if the network is cut at some nodes."""
    is_cut = np.zeros(network.nodes, dtype=bool)
    is_cut[cut] = True
    ends = np.concatenate([network.tail, network.head])
    ends = np.where(is_cut[ends], network.nodes + np.arange(len(ends)), ends)
    ends = np.unique(ends, return_inverse=True)[1]
    tail, head = np.split(ends, 2)
    count = int(ends.max(initial=-1)) + 1
    graph = coo_array((np.ones(len(tail)), (tail, head)), shape=(count, count))
    return np.asarray(connected_components(graph, directed=False)[1][tail], dtype=np.int64)


def _part_of(network: Network, label: Ints, sections: Ints, *, known: bool) -> int | None:
    """Return the part that sections are in; of several only one may be longer than a stub."""
    parts = np.unique(label[sections])
    if known or len(parts) == 1:
        return int(parts[0])
    stub = 2.0 * load_weights("leakgeo.find.evidence", "isolation")["place"]["beside_m"]
    length = np.bincount(label, network.length_m)[parts]
    return int(parts[np.argmax(length)]) if (length > stub).sum() <= 1 else None
