"""Step tests on networks bundled with wntr, simulated by its own hydraulics."""

# ruff: noqa: D102

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass, field
from functools import cache, cached_property

import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

from leakgeo.find.advise.step_test import District, StepResult, loss_goes_on
from leakgeo.find.evidence.isolated import Place, ValveNetwork
from leakgeo.route.chainage import RouteSet
from leakgeo.route.junctions import junctions_of
from leakgeo.route.lines import Lines

L_PER_MIN = 60_000.0
# Of the demand of the day, what is used at night.
NIGHT = 0.3
# A valve that passes water has this coefficient of minor loss.
PASSES_LOSS = 200.0


def load(name: str):
    """Load a bundled network without its controls, at the use of the night, and steady."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import wntr

        network = wntr.network.WaterNetworkModel(name)
    for control in list(network.control_name_list):
        network.remove_control(control)
    network.options.time.duration = 0
    network.options.hydraulic.demand_multiplier *= NIGHT
    feeds = [n for n, junction in network.junctions() if junction.base_demand < 0.0]
    for feed in feeds:
        # A supply that is drawn as a negative demand: one with a head can also be cut off.
        network.get_node(feed).demand_timeseries_list.clear()
        network.add_reservoir(f"supply_{feed}", base_head=_heads(name)[feed])
        network.add_pipe(f"to_{feed}", f"supply_{feed}", feed, length=1.0, diameter=1.0)
        network.get_node(f"supply_{feed}").coordinates = network.get_node(feed).coordinates
    return network


@cache
def _heads(name: str):
    """Give the heads of a bundled network as it is."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import wntr

        network = wntr.network.WaterNetworkModel(name)
        network.options.time.duration = 0
        return wntr.sim.WNTRSimulator(network).run_sim().node["head"].iloc[0]


@dataclass(eq=False)
class Hydraulics:
    """A bundled network with valves in the middle of some pipes, as leakgeo sees it.

    Parameters
    ----------
    name : str
    valved : tuple of str
        Pipes with a valve.
    """

    name: str
    valved: tuple[str, ...]
    known_tight: bool | None = None
    passing: frozenset[str] = frozenset()
    leak: str = ""
    area_m2: float = 0.0
    flows: dict = field(default_factory=dict)

    @cached_property
    def model(self):
        return load(self.name)

    @cached_property
    def links(self) -> list[str]:
        """Links that water passes: pumps and regulators are short pipes here."""
        return [n for n, link in self.model.links() if str(link.initial_status) != "Closed"]

    @cached_property
    def lines(self) -> Lines:
        ends = [(self.model.get_link(n).start_node, self.model.get_link(n).end_node)
                for n in self.links]  # fmt: skip
        xy = np.array([[a.coordinates, b.coordinates] for a, b in ends])
        length = sum(pipe.length for _, pipe in self.model.pipes())
        drawn = np.hypot(*(xy[:, 1] - xy[:, 0]).T).sum()
        xy = (xy - xy.min()) * length / drawn
        # A supply lies at its junction.
        xy[:, 1] += np.where(np.hypot(*(xy[:, 1] - xy[:, 0]).T) < 1e-6, 1.0, 0.0)[:, None] * 0.1
        shapes = np.array([shapely.LineString(each) for each in xy])
        shapes = shapely.transform(shapes, lambda at: at + [4e5, 5e6])
        table = pd.DataFrame({"reason": None}, index=self.links)
        return Lines(table, RouteSet.of(shapes, CRS(32631)), pd.Series(dtype=object),
                     np.full(len(shapes), 1e-3), ())  # fmt: skip

    @cached_property
    def network(self) -> ValveNetwork:
        lines = self.lines
        at = {n: self.links.index(n) for n in self.valved}
        valves = {n: Place(k, float(lines.length_m[k]) / 2.0) for n, k in at.items()}
        return ValveNetwork.of(lines, junctions_of(lines, floor_m=0.01), valves, set())

    @cached_property
    def sources(self) -> list[str]:
        return [*self.model.reservoir_name_list, *self.model.tank_name_list]

    @cached_property
    def district(self) -> District:
        states = dict.fromkeys(self.valved, False if self.known_tight else None)
        inlets = [self.end_at(n) for n in self.sources if self.model.get_links_for_node(n)]
        return District.of(self.network, states, [e for e in inlets if e is not None])

    def end_at(self, node: str) -> Place | None:
        """Give the end of a line at a node."""
        for link in self.model.get_links_for_node(node):
            if link in self.links:
                k = self.links.index(link)
                first = self.model.get_link(link).start_node_name == node
                return Place(k, 0.0 if first else float(self.lines.length_m[k]))
        return None

    def segment_of(self, node: str) -> int:
        """Give the segment that a node is in."""
        place = self.end_at(node)
        net = self.network.network
        section = net.section_at(np.array([place.line]), np.array([place.chainage_m]))[0]
        return int(self.district.segments.of_section[section])

    def flow_l_per_min(self, shut=()) -> float:
        """Give the flow from all sources with some valves shut, by wntr's own simulator."""
        key = tuple(sorted(shut))
        if key not in self.flows:
            self.flows[key] = self._simulated(key)
        return self.flows[key]

    def _simulated(self, shut) -> float:
        import wntr

        model = load(self.name)
        if self.leak:
            model.get_node(self.leak).add_leak(model, area=self.area_m2, start_time=0)
        for name in shut:
            pipe = model.get_link(name)
            if name in self.passing:
                pipe.minor_loss = PASSES_LOSS
            else:
                pipe.initial_status = wntr.network.LinkStatus.Closed
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            found = wntr.sim.WNTRSimulator(model).run_sim()
        demand = found.node["demand"].iloc[0]
        return -float(demand[self.sources].sum()) * L_PER_MIN

    def with_leak(self, node: str, l_per_min: float, passing=()) -> Hydraulics:
        """Give the network with a leak of about some litres a minute at a node."""
        pressure = self.pressure_m[node]
        area = l_per_min / L_PER_MIN / (0.75 * math.sqrt(2 * 9.81 * pressure))
        other = Hydraulics(self.name, self.valved, self.known_tight, frozenset(passing), node, area)
        for name in ("model", "links", "lines", "network", "district", "sources", "use"):
            other.__dict__[name] = getattr(self, name)
        return other

    @cached_property
    def tight(self):
        """What wntr finds without a leak."""
        import wntr

        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return wntr.sim.WNTRSimulator(load(self.name)).run_sim().node

    @cached_property
    def pressure_m(self):
        return self.tight["pressure"].iloc[0]

    @cached_property
    def use(self):
        """Use in each segment."""
        use = np.zeros(len(self.district.prior))
        for name in self.model.junction_name_list:
            if self.end_at(name) is not None:
                use[self.segment_of(name)] += max(float(self.tight["demand"][name].iloc[0]), 0.0)
        return use

    def shows(self, valves, use_l_per_min: float) -> float:
        """Make a test: read the flow with the valves open, then shut."""
        cut = self.district.cut_off(valves)
        # What the customers use is known from their bills.
        share = float(self.use[cut].sum() / self.use.sum())
        before, after = self.flow_l_per_min(), self.flow_l_per_min(valves)
        return loss_goes_on(before, after, use_l_per_min, share)


def by_information(case: Hydraulics, use: float, most: int = 30):
    """Give the segment that is found, and the tests that it takes, as leakgeo chooses them."""
    results = []
    while len(results) < most:
        step = case.district.next_step(results)
        if not step.valves:
            break
        shows = case.shows(step.valves, use)
        results.append(StepResult(frozenset(step.valves), shows))
    return step, results


def by_length(case: Hydraulics, use: float):
    """Give the same by bisection: the closure that leaves nearest to half of the length."""
    district, made = case.district, case.district.closures
    cuts = made.inside[made.of].any(axis=1)
    left, tests = district.prior > 0.0, 0
    while True:
        parts = (cuts & left).any(axis=1) & (~cuts & left).any(axis=1)
        if not parts.any():
            return set(np.flatnonzero(left).tolist()), tests
        mass = cuts @ np.where(left, district.prior, 0.0)
        off = np.where(parts, np.abs(mass - district.prior[left].sum() / 2.0), np.inf)
        best = int(np.argmin(off))
        tests += 1
        valves = [district.valves[gate] for gate in made.gates(best)]
        left = left & (~cuts[best] if case.shows(valves, use) > 0.5 else cuts[best])


def alike(case: Hydraulics, segment: int) -> set[int]:
    """Give the segments that every closure cuts off together with one."""
    group = case.district.closures.alike()
    return set(np.flatnonzero((group == group[segment]) & (case.district.prior > 0.0)).tolist())


def with_valves(name: str, count: int, seed: int, known_tight: bool | None = None) -> Hydraulics:
    """Put valves on drawn pipes of a network."""
    rng = np.random.default_rng(seed)
    model = load(name)
    pipes = [n for n, p in model.pipes() if str(p.initial_status) != "Closed" and p.length > 1.0]
    return Hydraulics(
        name, tuple(sorted(rng.choice(pipes, count, replace=False).tolist())), known_tight
    )


def leaking_nodes(case: Hydraulics, count: int, seed: int) -> list[str]:
    """Draw junctions by the length of a pipe that ends there."""
    rng = np.random.default_rng(seed)
    pipes = [pipe for n, pipe in case.model.pipes() if n in case.links]
    share = np.array([pipe.length for pipe in pipes])
    found: list[str] = []
    while len(found) < count:
        pipe = pipes[rng.choice(len(pipes), p=share / share.sum())]
        node = str(rng.choice([pipe.start_node_name, pipe.end_node_name]))
        if node in case.model.junction_name_list and case.pressure_m[node] > 5.0:
            found.append(node)
    return found


@dataclass(frozen=True)
class Search:
    """How a leak was searched for.

    Parameters
    ----------
    found : bool
        Whether the segment of the leak is among those that are named.
    named : int
        Segments that are named; those that no closure parts count as one.
    tests, likeliest : int
        Tests until it ends, and until that segment stays likelier than all others together.
    by_length : int
        Tests by bisection.
    found_by_length : bool
        Whether bisection finds it.
    sure : float
        Tests until the probability of that segment stays at 0.9 or more; NaN if it never does.
    """

    found: bool
    named: int
    tests: int
    likeliest: int
    by_length: int
    found_by_length: bool
    sure: float


def search(case: Hydraulics, node: str, share: float = 0.5, passing=()) -> Search:
    """Search for a leak of a share of the night's use, with valves that pass water."""
    use = case.flow_l_per_min()
    leaking = case.with_leak(node, share * use, passing)
    true, group = alike(case, case.segment_of(node)), case.district.closures.alike()
    step, results = by_information(leaking, use)
    shown = [float(case.district.probability(results[:k])[list(true)].sum())
             for k in range(len(results) + 1)]  # fmt: skip
    likeliest = _stays_above(shown, 0.5)
    sure = _stays_above(shown, 0.9)
    left, tests = by_length(leaking, use)
    named = len(set(group[list(step.segments)].tolist()))
    found = true <= set(step.segments)
    return Search(found, named, len(results), likeliest, tests, left == true,
                  sure if sure <= len(results) else math.nan)  # fmt: skip


def _stays_above(shown: list[float], least: float) -> int:
    """Give the tests after which a probability stays above a value."""
    return max([k + 1 for k, each in enumerate(shown) if each <= least], default=0)


def first_valve(case: Hydraulics, node: str) -> str:
    """Give a valve that the first closure that cuts off a leak needs."""
    use = case.flow_l_per_min()
    leaking, segment = case.with_leak(node, 0.5 * use), case.segment_of(node)
    for result in by_information(leaking, use)[1]:
        if case.district.cut_off(sorted(result.valves))[segment]:
            return min(result.valves)
    return case.valved[0]
