"""Step test of a district: which valves to shut next, until the loss is in one segment."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import entr

from leakgeo.find.advise.district_closures import Closures, closures_of
from leakgeo.find.advise.valve_segments import Segments
from leakgeo.find.evidence.isolation_results import flow_goes_on, load_isolation_weights
from leakgeo.find.weights import load_weights

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.arrays import Bools, Floats
    from leakgeo.find.evidence.isolated import Place, ValveNetwork


@dataclass(frozen=True)
class StepResult:
    """Result of one closure of a step test.

    Parameters
    ----------
    valves : frozenset of str
        Valves that were shut together.
    shows : float
        1 if the loss went on at the inlets, 0 if it stopped, between if it fell; NaN counts as no
        test. `loss_goes_on` returns it.
    """

    valves: frozenset[str]
    shows: float


@dataclass(frozen=True, eq=False)
class NextStep:
    """What to do next in a step test.

    Parameters
    ----------
    valves : tuple of str
        Valves to shut together, sorted; empty where the search ends.
    bits : float
        Expected information on the segment of the loss.
    probability : ndarray of float, shape (g,)
        Probability of the loss in each segment.
    segments : tuple of int
        Fewest segments that together hold the loss with enough probability; those that no closure
        parts count as one. At the end there are several where just a valve that passes water, or
        none that may be shut, is between them.
    """

    valves: tuple[str, ...]
    bits: float
    probability: Floats
    segments: tuple[int, ...]


@dataclass(frozen=True, eq=False)
class District:
    """A district that water enters through metered inlets, in segments between its valves.

    Parameters
    ----------
    segments : Segments
        Its gates are the valves; further ones join the inlets to the supply, which is the last
        segment.
    valves : tuple of str
    passes : ndarray of float, shape (v,)
        Probability that each valve passes water when it is shut.
    prior : ndarray of float, shape (g,)
        Probability of the loss in each segment.

    Notes
    -----
    A hypothesis is a segment that loses water and, of the valves that were shut so far, none or one
    that passes water in each test: a valve does not become tight when it is shut again. The flow at
    the inlets goes on, as ``leak`` of the weights of isolation tests says, unless the segment was
    cut off, and as ``none`` says if it was.
    """

    segments: Segments
    valves: tuple[str, ...]
    passes: Floats
    prior: Floats

    @classmethod
    def of(
        cls, network: ValveNetwork, leaks_by: Mapping[str, bool | None], inlets: Sequence[Place],
        *, closed: Sequence[str] = (), cut: Sequence[int] = (), weight: Floats | None = None,
    ) -> District:  # fmt: skip
        """Part a network at its valves.

        Parameters
        ----------
        network : ValveNetwork
        leaks_by : mapping of str to bool or None
            Valves that may be shut, and whether each is known to pass water. One that does is left
            open.
        inlets : sequence of Place
            Where all water enters, and is measured.
        closed : sequence of str
            Valves that stay closed, such as those around the district.
        cut : sequence of int
            Further nodes that nothing passes: inlets, beyond which lies no part of the district.
        weight : ndarray of float, shape (s,), optional
            Relative probability of the loss in each section of the network; its length if None.

        Raises
        ------
        ValueError
            If no pipe is connected to an inlet.
        """
        net = network.network
        usable = [n for n in sorted(leaks_by) if network.valve[n] >= 0 and not leaks_by[n]]
        nodes = {network.valve[name]: name for name in reversed(usable)}
        names = sorted(nodes.values())
        plain = Segments.of(
            net, [network.valve[n] for n in names], [*(network.valve[n] for n in closed), *cut]
        )
        line = np.array([place.line for place in inlets], dtype=np.int64)
        at = net.section_at(line, np.array([place.chainage_m for place in inlets], dtype=float))
        enters = np.unique(plain.of_section[at])
        supply = np.stack([np.full(len(enters), plain.count), enters], axis=1)
        segments = Segments(plain.of_section, np.concatenate([plain.sides, supply]))
        inside = list(segments.walk([plain.count], lambda _: True))[1:]
        mass = np.bincount(plain.of_section, net.length_m if weight is None else weight)
        prior = np.zeros(plain.count)
        prior[inside] = mass[inside]
        if not prior.sum() > 0.0:
            raise ValueError("no pipe is connected to an inlet")
        tight = load_isolation_weights()["tight"]
        each = [1.0 - tight["not_known" if leaks_by[n] is None else "known_tight"] for n in names]
        return cls(segments, tuple(names), np.array(each), prior / prior.sum())

    def next_step(self, results: Sequence[StepResult]) -> NextStep:
        """Return the closure from which most is expected after the results so far.

        Parameters
        ----------
        results : sequence of StepResult

        Returns
        -------
        NextStep
            Without valves if the likeliest segments are probable enough, or no closure tells
            enough.
        """
        weight = load_weights("leakgeo.find.advise", "valve_tests")["district"]
        joint, used = self._joint(results), self._used(results)
        probability, group = joint.sum(axis=0), self.closures.alike()
        mass = np.bincount(group, probability)
        order = np.argsort(-mass, kind="stable")
        few = order[: 1 + int(np.searchsorted(np.cumsum(mass[order]), weight["enough"] - 1e-9))]
        likely = tuple(np.flatnonzero(np.isin(group, few) & (self.prior > 0.0)).tolist())
        end = NextStep((), 0.0, probability, likely)
        made = any(np.isfinite(result.shows) for result in results)
        # A long segment is likely before any test: that alone ends no search.
        if len(few) == 1 and (made or len(mass[mass > 0.0]) == 1):
            return end
        done = {result.valves for result in results}
        # Of equal ones the first has the fewest valves.
        for k in np.argsort(-np.round(bits := self._bits(joint, used), 6), kind="stable"):
            valves = tuple(sorted(self.valves[gate] for gate in self.closures.gates(k)))
            if bits[k] >= weight["least_bits"] and frozenset(valves) not in done:
                return NextStep(valves, float(bits[k]), probability, likely)
        return end

    def cut_off(self, valves: Sequence[str]) -> Bools:
        """Return whether each segment is cut off from all inlets by valves, shape (g,)."""
        shut = {self.valves.index(name) for name in valves}
        supply = len(self.prior)
        open_ = list(self.segments.walk([supply], lambda gate: gate not in shut))
        cut = np.ones(supply + 1, dtype=bool)
        cut[open_] = False
        return cut[:-1]

    def stretches(self, segment: int, network: ValveNetwork) -> list[tuple[int, float, float]]:
        """Return the sections of a segment: line, and chainages of both ends."""
        net = network.network
        own = np.flatnonzero(self.segments.of_section == segment)
        return list(zip(net.line[own].tolist(), net.begin_m[own].tolist(),
                        net.end_m[own].tolist(), strict=True))  # fmt: skip

    @cached_property
    def closures(self) -> Closures:
        """Closures that may be made: of one region, or of two apart."""
        return closures_of(self.segments, len(self.valves), self.prior)

    def probability(self, results: Sequence[StepResult]) -> Floats:
        """Return the probability of the loss in each segment, shape (g,)."""
        return np.asarray(self._joint(results).sum(axis=0))

    def _used(self, results: Sequence[StepResult]) -> list[int]:
        """Return the valves that were shut so far."""
        return sorted({self.valves.index(name) for result in results for name in result.valves})

    def _joint(self, results: Sequence[StepResult]) -> Floats:
        """Return the probability of each segment with no fault, and with each, shape (1 + u, g)."""
        used = self._used(results)
        odds = self.passes[list(used)] / (1.0 - self.passes[list(used)])
        joint = np.concatenate([[1.0], odds])[:, None] * self.prior
        # Even a valve that is known to pass water may be tight once.
        tight = load_isolation_weights()["tight"]["leaks_by"]
        for result in results:
            if not np.isfinite(result.shows):
                continue
            cut = np.tile(1.0 * self.cut_off(sorted(result.valves)), (1 + len(used), 1))
            for k, gate in enumerate(used, start=1):
                name = self.valves[gate]
                if name in result.valves:
                    without = 1.0 * self.cut_off(sorted(result.valves - {name}))
                    cut[k] = tight * cut[k] + (1.0 - tight) * without
            p = _goes_on(cut)
            joint *= result.shows * p + (1.0 - result.shows) * (1.0 - p)
        return np.asarray(joint / joint.sum())

    def _tight(self, used: Sequence[int], fault: int | None) -> Floats:
        """Return the probability that all valves of each region are tight, shape (b + 1,)."""
        each = self.passes.copy()
        each[list(used)] = 0.0
        if fault is not None:
            each[fault] = 1.0
        tight = 1.0 - each * (1.0 - load_isolation_weights()["tight"]["leaks_by"])
        all_ = [np.prod(tight[list(region.gates)]) for region in self.closures.regions]
        return np.array([*all_, 0.0])

    def _bits(self, joint: Floats, used: Sequence[int]) -> Floats:
        """Return the mutual information of each closure's result and the segment, shape (c,)."""
        of, inside = self.closures.of, self.closures.inside
        both = np.zeros((len(of), len(self.prior)))
        for own, fault in zip(joint, [None, *used], strict=True):
            cut = self._tight(used, fault)[:, None] * inside
            both += own * _goes_on(cut[of[:, 0]] + cut[of[:, 1]])
        segment = joint.sum(axis=0)
        given = np.divide(both, segment, out=np.zeros_like(both), where=segment > 0.0)
        return np.asarray(_entropy(both.sum(axis=1)) - _entropy(given) @ segment)


def _goes_on(cut: Floats) -> Floats:
    """Return the probability that the flow goes on, by that with which a loss is cut off."""
    weight = load_isolation_weights()["shows"]
    return np.asarray(weight["leak"] - (weight["leak"] - weight["none"]) * cut)


def _entropy(p: Floats) -> Floats:
    return np.asarray((entr(p) + entr(1.0 - p)) / np.log(2.0))


def loss_goes_on(
    before_l_per_min: float, after_l_per_min: float, use_l_per_min: float = 0.0,
    use_cut_off: float = 0.0,
) -> float:  # fmt: skip
    """Return 1 for a loss that goes on at the inlets of a district, 0 for one that stops.

    NaN where the flow rose, as when water was drawn.

    Parameters
    ----------
    before_l_per_min, after_l_per_min : float
        Flow at all inlets, with the valves open and shut.
    use_l_per_min : float
        Legitimate use at that hour.
    use_cut_off : float
        Share of it that is cut off.

    Examples
    --------
    Of 80 litres a minute 50 are used, 10 of them in the part that is cut off:

    >>> [loss_goes_on(80.0, after, 50.0, 0.2) for after in (69.0, 41.0)]
    [1.0, 0.0]
    """
    if np.isnan(flow_goes_on(before_l_per_min, after_l_per_min)):
        return np.nan
    loss = max(before_l_per_min - use_l_per_min, 0.0)
    left = after_l_per_min - use_l_per_min * (1.0 - use_cut_off)
    # More is left than was lost where a valve passes water to what was to be cut off.
    return flow_goes_on(loss, min(max(left, 0.0), loss))
