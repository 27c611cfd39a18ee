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
