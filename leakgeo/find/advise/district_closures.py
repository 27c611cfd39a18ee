"""Closures of a step test: regions of a district that a few valves cut off, alone or in twos."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.weights import load_weights

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from leakgeo.arrays import Bools, Floats, Ints
    from leakgeo.find.advise.valve_segments import Segments


@dataclass(frozen=True)
class Region:
    """A connected part of a district that some valves cut off, each of them needed.

    Parameters
    ----------
    gates : tuple of int
        Valves around it, sorted.
    segments : frozenset of int
    """

    gates: tuple[int, ...]
    segments: frozenset[int]


@dataclass(frozen=True, eq=False)
class Closures:
    """Closures that may be made, those of one region first, by number of valves.

    Parameters
    ----------
    regions : tuple of Region, length b
    inside : ndarray of bool, shape (b + 1, g)
        Whether each segment is in a region; the last row is of none.
    of : ndarray of int, shape (c, 2)
        Regions of each closure; -1 for none.
    """

    regions: tuple[Region, ...]
    inside: Bools
    of: Ints

    def alike(self) -> Ints:
        """Return the group of each segment, shape (g,): no closure parts those of one group."""
        return np.asarray(np.unique(self.inside, axis=1, return_inverse=True)[1].ravel())

    def gates(self, closure: int) -> tuple[int, ...]:
        """Return the valves of a closure, sorted."""
        own = [self.regions[k].gates for k in self.of[closure].tolist() if k >= 0]
        return tuple(sorted({gate for gates in own for gate in gates}))


def closures_of(segments: Segments, valves: int, prior: Floats) -> Closures:
    """Return the closures of a district.

    Parameters
    ----------
    segments : Segments
        As `leakgeo.find.advise.step_test.District` has them: the supply is the last segment, and
        the gates that join it to the inlets come after the valves.
    valves : int
        Number of valves.
    prior : ndarray of float, shape (g,)

    Returns
    -------
    Closures
        Regions that are alike in where a loss may be are in it once, with the fewest valves.
    """
    weight = load_weights("leakgeo.find.advise", "valve_tests")["district"]
    found: dict[frozenset[int], Region] = {}
    for part in _parts(segments, len(prior)):
        cut = _cut_off_with(segments, part, len(prior))
        gates = _border(segments, cut)
        likely = frozenset(k for k in cut if prior[k] > 0.0)
        if likely and len(gates) <= weight["most_valves"] and max(gates, default=valves) < valves:
            region = Region(gates, cut)
            found[likely] = min(found.get(likely, region), region, key=_by_valves)
    regions = tuple(sorted(found.values(), key=_by_valves))
    inside = np.zeros((len(regions) + 1, len(prior)), dtype=bool)
    for k, region in enumerate(regions):
        inside[k, list(region.segments)] = True
    alone = [(k, -1) for k in range(len(regions))]
    twos = _apart(regions, inside, inside[:-1] @ prior)
    return Closures(regions, inside, np.array([*alone, *twos], dtype=np.int64).reshape(-1, 2))


def _by_valves(region: Region) -> tuple[int, tuple[int, ...]]:
    return len(region.gates), region.gates


def _parts(segments: Segments, supply: int) -> Iterator[frozenset[int]]:
    """Yield connected parts that few valves may cut off.

    All that lies beyond a gate of a tree from the supply, which every bridge is; what lies between
    two gates of one loop; each segment, and each two that join.
    """
    tree = segments.beyond(supply)
    by_code: dict[int, list[frozenset[int]]] = {}
    for gate, below in tree.values():
        yield below
        by_code.setdefault(int(segments.loops[gate]), []).append(below)
    by_code.pop(0, None)
    for same in by_code.values():
        yield from (one ^ other for one, other in combinations(same, 2))
    for k in sorted(tree):
        yield frozenset([k])
        yield from (frozenset([k, j]) for _, j in segments.ways[k] if k < j < supply)


def _cut_off_with(segments: Segments, part: frozenset[int], supply: int) -> frozenset[int]:
    """Return a part with what no other way leads to from the supply."""
    shut = {gate for k in part for gate, beyond in segments.ways[k] if beyond not in part}
    open_ = set(segments.walk([supply], lambda gate: gate not in shut))
    return frozenset(segments.walk(sorted(part), lambda gate: not open_ & _ends(segments, gate)))


def _ends(segments: Segments, gate: int) -> set[int]:
    return set(segments.sides[gate].tolist())


def _border(segments: Segments, part: frozenset[int]) -> tuple[int, ...]:
    return tuple(sorted({g for k in part for g, beyond in segments.ways[k] if beyond not in part}))


def _apart(regions: Iterable[Region], inside: Bools, mass: Floats) -> list[tuple[int, int]]:
    """Return pairs of regions without a common segment, of those in which a loss is likeliest."""
    weight = load_weights("leakgeo.find.advise", "valve_tests")["district"]
    few = [k for k, r in enumerate(regions) if len(r.gates) < weight["most_valves"]]
    kept = sorted(few, key=lambda k: (-mass[k], k))[: int((2.0 * weight["most_pairs"]) ** 0.5)]
    count = [len(region.gates) for region in regions]
    return [
        (i, j) for i, j in combinations(sorted(kept), 2)
        if count[i] + count[j] <= weight["most_valves"] and not (inside[i] & inside[j]).any()
    ]  # fmt: skip
