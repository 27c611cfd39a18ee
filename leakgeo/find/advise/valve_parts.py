"""Parts of a job's network that one valve or two can cut off, and where to measure them."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.arrays import texts
from leakgeo.find.advise.valve_segments import Segments
from leakgeo.find.evidence.isolated import IsolatedPart
from leakgeo.find.evidence.isolation_results import IsolationResult, load_isolation_weights
from leakgeo.find.evidence.job_valves import JobValves
from leakgeo.find.evidence.meter import leak_share_detected, load_meter_weights
from leakgeo.find.loss.meter_tests import least_shown
from leakgeo.find.weights import load_weights

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import pandas as pd

    from leakgeo.arrays import Floats, Ints
    from leakgeo.find.evidence.isolated import Place
    from leakgeo.job.model import Job
    from leakgeo.route.junctions import Junctions
    from leakgeo.route.lines import Lines

# Kinds of valves that are shut for any line of the part; others for their own line alone.
_ON_MAINS = ("isolation", None)
# Fittings that take a gauge, the handiest first; others follow, and valves come last.
_GAUGES = ("hydrant", "hose_bib", "backflow_preventer", "sink", "water_heater", "meter", "other")

_Proposed = tuple[tuple[str, ...], IsolationResult, IsolatedPart]


@dataclass(frozen=True, eq=False)
class ValveParts:
    """Segments of a job's network between the valves that may be shut, and its meters.

    Parameters
    ----------
    valves : JobValves
    segments : Segments
        Of the valves, then of the meters.
    shut : tuple of str
        Valves that may be shut.
    meters : tuple of str
        Meters with a known place.
    gauges : mapping of int to list of (int, str)
        Where a pressure may be read in each segment, with its rank.
    """

    valves: JobValves
    segments: Segments
    shut: tuple[str, ...]
    meters: tuple[str, ...]
    gauges: Mapping[int, list[tuple[int, str]]]
    _grown: dict[tuple[int, ...], list[tuple[set[int], frozenset[int] | None]]] = field(
        default_factory=dict
    )

    @classmethod
    def of(
        cls, job: Job, lines: Lines, junctions: Junctions, fittings: pd.DataFrame
    ) -> ValveParts | None:
        """Part the network of a job; None if it has no valve that may be shut."""
        if job.valves is None or job.valves.empty:
            return None
        kinds = dict(zip(texts(fittings, "contact_id"), texts(fittings, "kind"), strict=True))
        meters = sorted(str(name) for name, kind in kinds.items() if kind == "meter" and name)
        valves = JobValves.of(job, lines, junctions, fittings, meters)
        shut = usable_valves(valves)
        if not shut:
            return None
        placed = tuple(name for name in meters if name in valves.measured)
        net = valves.network
        gates = [net.valve[name] for name in shut]
        at = [net.place[valves.measured[name]] for name in placed]
        two = [bool(net.ways[node] == 2) for node in at]
        placed = tuple(name for name, good in zip(placed, two, strict=True) if good)
        gates += [node for node, good in zip(at, two, strict=True) if good]
        closed = [net.valve[name] for name in sorted(valves.always_closed)]
        segments = Segments.of(net.network, gates, closed)
        return cls(valves, segments, shut, placed, _gauges(valves, segments, kinds))

    @property
    def weights(self) -> Mapping[str, Mapping[str, float]]:
        """Assumptions; ``valve_tests.toml`` explains them."""
        return load_weights("leakgeo.find.advise", "valve_tests")

    def closures(self) -> Iterator[_Proposed]:
        """Yield each test that cuts off a part: valves, its value if it shows a loss, the part."""
        yield from self._by_meter()
        seen, network = set(), self.valves.network
        for line in range(len(self.valves.lines.length_m)):
            for gates, inside in self._cut_off(line):
                if (gates, inside) in seen:
                    continue
                seen.add((gates, inside))
                names = tuple(sorted(self.shut[gate] for gate in gates))
                at = self._gauge(names, inside)
                if at is not None:
                    around = sorted({*names, *self.valves.always_closed})
                    section = np.isin(self.segments.of_section, sorted(inside))
                    yield names, self._result("pressure", at), network.part_of(section, around)

    def _downstream(self, shut: tuple[str, ...], result: IsolationResult) -> Iterator[_Proposed]:
        part = self.valves.part(result, frozenset(shut))
        if isinstance(part, IsolatedPart) and set(shut) <= set(part.valves):
            yield shut, result, part

    def _result(self, measure: str, at: str) -> IsolationResult:
        """Return the result of a test that shows a loss."""
        test = self.weights["test"]
        detects = 1.0
        if measure == "meter":
            least = least_shown(test["meter_step_l"], test["minutes"])
            detects = leak_share_detected(least) * (1.0 - load_meter_weights()["meter"]["stuck"])
        return IsolationResult("", at, measure, np.nan, np.nan, test["minutes"], 1.0, detects)  # type: ignore[arg-type]

    def _by_meter(self) -> Iterator[_Proposed]:
        """Yield the tests that shut one valve downstream of a meter, and read the meter."""
        for k, name in enumerate(self.meters, start=len(self.shut)):
            flow = self.valves.flow(self.valves.measured[name])
            if not flow:
                continue
            up, down = self.segments.sides[k].tolist()[::flow]
            beyond = self._reached([down], {k})
            if beyond is None or up in beyond:
                continue
            line = self.valves.measured[name].line
            for gate in self._gates_in(beyond, line):
                yield from self._downstream((self.shut[gate],), self._result("meter", name))

    def _gates_in(self, part: set[int], line: int) -> list[int]:
        """Return the first valves between segments of a part that may be shut for a line."""
        found = {
            gate: None
            for segment in sorted(part)
            for gate, beyond in self.segments.ways.get(segment, ())
            if gate < len(self.shut) and beyond in part and self._serves(gate, line)
        }
        return list(found)[: int(self.weights["search"]["near_valves"])]

    def _cut_off(self, line: int) -> Iterator[tuple[tuple[int, ...], frozenset[int]]]:
        """Yield valves that cut off a part around some of a line, and the segments of that part."""
        first = self.valves.network.network.first
        own = sorted(set(self.segments.of_section[first[line] : first[line + 1]].tolist()))
        near = self._near(line, own)
        for size in range(1, int(self.weights["search"]["most_valves"]) + 1):
            for gates in combinations(near, size):
                for start in own if self.segments.cuts(gates) else ():
                    inside = self._part(start, gates)
                    if inside is not None and self.segments.around(inside, gates):
                        yield gates, inside

    def _near(self, line: int, own: Sequence[int]) -> list[int]:
        """Return the nearest valves to a line that may be shut for it, sorted."""
        search = self.weights["search"]
        found: dict[int, None] = {}
        for count, segment in enumerate(self.segments.walk(own, lambda _: True)):
            for gate, _ in self.segments.ways.get(segment, ()):
                if gate < len(self.shut) and self._serves(gate, line):
                    found[gate] = None
            if len(found) >= search["near_valves"] or count >= search["most_segments"]:
                break
        return sorted(list(found)[: int(search["near_valves"])])

    def _serves(self, gate: int, line: int) -> bool:
        on, kind = self._kind[gate]
        return kind in _ON_MAINS or on == line

    @cached_property
    def _kind(self) -> list[tuple[int, str | None]]:
        """Line and kind of each valve that may be shut."""
        own = self.valves.valves.loc[list(self.shut), ["line", "kind"]]
        return list(own.itertuples(index=False, name=None))

    def _part(self, start: int, shut: tuple[int, ...]) -> frozenset[int] | None:
        """Return the segments around one if some valves are shut; None if it is not cut off."""
        known = self._grown.setdefault(shut, [])
        for reached, inside in known:
            if start in reached:
                return inside
        reached, inside = set(), None
        fed, most = 1.0, 1.0 - load_isolation_weights()["place"]["most_supplied"]
        limit = self.weights["search"]["most_segments"]
        cut = set(shut)
        for segment in self.segments.walk([start], lambda gate: gate not in cut):
            reached.add(segment)
            fed *= self._unfed[segment]
            if fed < most or len(reached) > limit or self._reduced[segment]:
                break
        else:
            inside = frozenset(reached)
        known.append((reached, inside))
        return inside

    def _reached(self, start: list[int], shut: set[int]) -> set[int] | None:
        """Return the segments that are connected to some; None if they are too many."""
        found = set[int]()
        for segment in self.segments.walk(start, lambda gate: gate not in shut):
            found.add(segment)
            if len(found) > self.weights["search"]["most_segments"]:
                return None
        return found

    @cached_property
    def _unfed(self) -> Floats:
        """Probability that no open end supplies each segment."""
        unfed = np.ones(self.segments.count)
        net = self.valves.network.network
        for line, side in self.valves.network.open_ends():
            section = net.first[line] if side < 0 else net.first[line + 1] - 1
            fed = self.valves.supplied([(line, side)])
            unfed[self.segments.of_section[section]] *= 1.0 - fed
        return unfed

    @cached_property
    def _reduced(self) -> Ints:
        """Whether a pressure reducer is in each segment: its two sides are at different pressures.

        Water passes it in one direction alone, so one gauge does not show the leaks of both sides.
        """
        at = self.valves.valves
        own = at[at["kind"] == "pressure_reducing"]
        section = self.valves.network.network.section_at(
            own["line"].to_numpy(dtype=np.int64), own["chainage_m"].to_numpy(dtype=float)
        )
        return np.bincount(self.segments.of_section[section], minlength=self.segments.count)

    def _gauge(self, shut: Sequence[str], inside: frozenset[int]) -> str | None:
        """Return the handiest place to read the pressure of a part, away from the valves shut."""
        away = 2.0 * load_isolation_weights()["place"]["beside_m"]
        at = self.valves.measured
        closed = [at[name] for name in shut]
        ranked = sorted(gauge for segment in inside for gauge in self.gauges.get(segment, ()))
        for _, name in ranked:
            if all(_apart_m(at[name], valve) > away for valve in closed):
                return name
        return None


def usable_valves(valves: JobValves) -> tuple[str, ...]:
    """Return the valves that may be shut: in order of their names, one at each place.

    None is known to pass water, closed in normal operation, a house valve or a pressure reducer.
    """
    table = valves.valves
    by = table["leaks_by"].fillna(value=False).astype(bool)
    kinds = table["kind"].isin(("house", "pressure_reducing"))
    names = table.index[~(kinds | by | table["normally_closed"].astype(bool))]
    nodes = {valves.network.valve[name]: str(name) for name in reversed(names.to_list())}
    return tuple(sorted(name for node, name in nodes.items() if node >= 0))


def _gauges(
    valves: JobValves, segments: Segments, kinds: Mapping[str | None, str | None]
) -> dict[int, list[tuple[int, str]]]:
    names = sorted(valves.measured)
    at = [valves.measured[name] for name in names]
    section = valves.network.network.section_at(
        np.array([place.line for place in at], dtype=np.int64),
        np.array([place.chainage_m for place in at], dtype=float),
    )
    found: dict[int, list[tuple[int, str]]] = {}
    for name, segment in zip(names, segments.of_section[section].tolist(), strict=True):
        kind = kinds.get(name)
        last = len(_GAUGES) + (name not in kinds)
        rank = _GAUGES.index(kind) if kind in _GAUGES else last
        found.setdefault(segment, []).append((rank, name))
    return found


def _apart_m(a: Place, b: Place) -> float:
    return abs(a.chainage_m - b.chainage_m) if a.line == b.line else np.inf
