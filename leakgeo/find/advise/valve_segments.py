"""Segments of the pipe network between valves: the smallest parts that valves can cut off."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.evidence.isolated import parts_between

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from leakgeo.arrays import Ints
    from leakgeo.route.network import Network


@dataclass(frozen=True, eq=False)
class Segments:
    """Segments of a network between gates: valves, or meters that part it in the same way.

    Parameters
    ----------
    of_section : ndarray of int, shape (s,)
        Segment of each section of the network.
    sides : ndarray of int, shape (v, 2)
        Segments before and after each gate; equal where pipe leads around it without another gate.
    """

    of_section: Ints
    sides: Ints

    @classmethod
    def of(cls, network: Network, gates: Sequence[int], closed: Sequence[int] = ()) -> Segments:
        """Part a network at gates, and at valves that stay closed.

        Parameters
        ----------
        network : Network
        gates : sequence of int, length v
            Nodes with two ends of sections each.
        closed : sequence of int
            Nodes that nothing passes.
        """
        label = parts_between(network, np.array([*gates, *closed], dtype=np.int64))
        ends = np.concatenate([network.head, network.tail])
        order = np.argsort(ends, kind="stable")
        first = np.searchsorted(ends[order], np.array(gates, dtype=np.int64))
        both = order[np.stack([first, first + 1], axis=1)] if len(gates) else np.empty((0, 2), int)
        return cls(label, label[both % len(network.tail)])

    @property
    def count(self) -> int:
        """Number of segments."""
        return int(self.of_section.max(initial=-1)) + 1

    @cached_property
    def ways(self) -> Mapping[int, Sequence[tuple[int, int]]]:
        """Gates of each segment, with the segment beyond: ``(gate, segment)``."""
        found: dict[int, list[tuple[int, int]]] = {}
        for gate, (a, b) in enumerate(self.sides.tolist()):
            if a != b:
                found.setdefault(a, []).append((gate, b))
                found.setdefault(b, []).append((gate, a))
        return found

    @cached_property
    def loops(self) -> Ints:
        """Code of the loops that each gate is in, shape (v,); 0 for a bridge, which is in none.

        Two gates of equal codes are in the same loops: shut together, they cut the network. Each
        gate outside of a spanning tree closes one loop, and has a random code; that of a gate of
        the tree is the exclusive or of the loops that it is in, as on one side of it just one end
        of such a loop lies.
        """
        code = np.random.default_rng(0).integers(1, 2**63, len(self.sides)).tolist()
        seen, below = set[int](), dict.fromkeys(self.ways, 0)
        trees = []
        for root in self.ways:
            if root not in seen:
                trees.append(self._tree(root))
                seen |= {root, *trees[-1]}
        tree = {gate for one in trees for gate, _ in one.values()}
        for gate, (a, b) in enumerate(self.sides.tolist()):
            if a != b and gate not in tree:
                below[a] ^= code[gate]
                below[b] ^= code[gate]
        for one in trees:
            for segment in reversed(one):
                gate, parent = one[segment]
                code[gate] = below[segment]
                below[parent] ^= below[segment]
        return np.array(code, dtype=np.int64)

    def _tree(self, root: int) -> dict[int, tuple[int, int]]:
        """Return the gate and the segment above each segment in a tree, from its root down."""
        above: dict[int, tuple[int, int]] = {}
        queue = [root]
        for segment in queue:
            for gate, beyond in self.ways.get(segment, ()):
                if beyond != root and beyond not in above:
                    above[beyond] = gate, segment
                    queue.append(beyond)
        return above

    def beyond(self, root: int) -> dict[int, tuple[int, frozenset[int]]]:
        """Return what lies beyond each gate of a tree: by its segment, the gate and all below.

        Parameters
        ----------
        root : int
            Segment that the tree grows from, the shortest ways first.
        """
        tree = self._tree(root)
        below = {segment: {segment} for segment in (root, *tree)}
        for segment in reversed(tree):
            below[tree[segment][1]] |= below[segment]
        return {k: (tree[k][0], frozenset(below[k])) for k in tree}

    def cuts(self, gates: Sequence[int]) -> bool:
        """Return whether one gate or two may cut the network, each of them needed for it."""
        return len(set(self.loops[list(gates)].tolist())) == 1 and (
            len(gates) > 1 or self.loops[gates[0]] == 0
        )

    def walk(self, start: Sequence[int], passes: Callable[[int], bool]) -> Iterator[int]:
        """Yield the segments that are connected to some, the nearest first.

        Parameters
        ----------
        start : sequence of int
        passes : callable
            Whether a gate is open.
        """
        seen, queue = set(start), list(start)
        for segment in queue:
            yield segment
            for gate, beyond in self.ways.get(segment, ()):
                if beyond not in seen and passes(gate):
                    seen.add(beyond)
                    queue.append(beyond)

    def around(self, part: frozenset[int], gates: Sequence[int]) -> bool:
        """Return whether a part lies on just one side of each of some gates."""
        return all((a in part) != (b in part) for a, b in self.sides[list(gates)].tolist())
