"""Isolation tests by the lines that they concern: places of valves, and what they isolate."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.faults import Fault
from leakgeo.find.evidence.flow import Contacts
from leakgeo.find.evidence.isolated import Place, ValveNetwork
from leakgeo.find.evidence.isolation import IsolationTest
from leakgeo.find.evidence.isolation_results import isolation_results, load_isolation_weights
from leakgeo.reason import Reason
from leakgeo.route.place import place_on_routes

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.find.evidence.isolated import IsolatedPart
    from leakgeo.find.evidence.isolation_results import IsolationResult
    from leakgeo.job.model import Job
    from leakgeo.route.junctions import Junctions
    from leakgeo.route.lines import Lines

# Side of the meter that a kind of valve is always on: 1 the customer's, -1 the utility's.
_VALVE_SIDES = {"curb_stop": -1, "house": 1}


@dataclass(frozen=True)
class IsolationFindings:
    """Isolation tests of a job, by the lines that they concern.

    Parameters
    ----------
    by_line : mapping of str to tuple of IsolationTest
        By ``line_id``.
    faults : tuple of Fault
        Tests that show nothing.
    """

    by_line: Mapping[str, tuple[IsolationTest, ...]] = field(default_factory=dict)
    faults: tuple[Fault, ...] = ()


def isolation_findings(
    job: Job, lines: Lines, junctions: Junctions, fittings: pd.DataFrame
) -> IsolationFindings:
    """Return the isolation tests that concern each line.

    Parameters
    ----------
    job : Job
        The whole job: the part that a test isolates may span many lines.
    lines : Lines
    junctions : Junctions
        Of `lines`.
    fittings : pandas.DataFrame
        As `leakgeo.find.survey.fittings.fitting_chainages` returns it.

    Returns
    -------
    IsolationFindings
        Does not depend on the order of the rows.
    """
    results = isolation_results(job.isolation_tests)
    if not results:
        return IsolationFindings()
    network = _Valves.of(job, lines, junctions, fittings, results)
    found: dict[str, list[IsolationTest]] = {}
    faults = []
    for result in results:
        concerned = network.concerned(result)
        if isinstance(concerned, str):
            reason = Reason("isolation_shows_nothing", why=concerned)
            faults.append(Fault("isolation_tests", reason, result.test_id, effect="noted"))
            continue
        for line, test in concerned.items():
            found.setdefault(str(lines.table.index[line]), []).append(test)
    return IsolationFindings({name: tuple(own) for name, own in found.items()}, tuple(faults))


@dataclass(frozen=True, eq=False)
class _Valves:
    """Valves and places of measurements on the network, with what is known of the valves."""

    lines: Lines
    network: ValveNetwork
    contacts: Contacts
    valves: pd.DataFrame  # indexed by valve_id: line, chainage_m, kind, normally_closed, leaks_by
    closed: Mapping[str, frozenset[str] | None]  # None where a closed valve has no known place
    sides: Mapping[int, list[tuple[float, int]]]  # chainages and sides of the valves of a line
    measured: Mapping[str, Place]
    start: Mapping[str, pd.Timestamp]

    @classmethod
    def of(
        cls, job: Job, lines: Lines, junctions: Junctions, fittings: pd.DataFrame,
        results: Sequence[IsolationResult],
    ) -> _Valves:  # fmt: skip
        valves = _placed_valves(job, lines)
        measured = _measured_places(lines, fittings, valves)
        at = {name: Place(line, chainage) for name, line, chainage in
              valves[["line", "chainage_m"]].itertuples()}  # fmt: skip
        places = {measured[r.measured_at] for r in results if r.measured_at in measured}
        network = ValveNetwork.of(lines, junctions, at, places)
        tests = job.isolation_tests
        assert tests is not None  # there are results
        start = dict(zip(texts(tests, "test_id"), tests["start_time"], strict=True))
        closed, sides = _closed_valves(job, network.valve), _sides_of_meter(valves)
        contacts = Contacts.of(job, fittings)
        return cls(lines, network, contacts, valves, closed, sides, measured, start)

    def concerned(self, result: IsolationResult) -> dict[int, IsolationTest] | str:
        """Return a test as it concerns each line, by its index; else why it shows nothing."""
        place = self.measured.get(result.measured_at)
        closed = self.closed.get(result.test_id, frozenset())
        if place is None:
            return "place"
        if closed is None:
            return "valve_place"
        always = self.valves.index[self.valves["normally_closed"]]
        closed |= {name for name in always if self.network.valve[name] >= 0}
        flow = None if result.measure == "pressure" else self._flow(place)
        part = self.network.part_at(place, set(closed), flow)
        if part is None:
            return "side"
        return self._tests(result, part)

    def _tests(self, result: IsolationResult, part: IsolatedPart) -> dict[int, IsolationTest] | str:
        weight = load_isolation_weights()["place"]
        if not part.valves:
            return "no_valve"
        if len(part.by_line) > weight["most_lines"]:
            return "wide"
        supplied = self._supplied(part) if result.measure == "pressure" else 0.0
        if supplied > weight["most_supplied"]:
            return "supplied"
        if self._repaired_since(result, part):
            return "repaired"
        sealed = (1.0 - supplied) * self._tight(part.valves)
        outlets = any(self._customer_end(line) in (0, side) for line, side in part.open_ends)
        return {line: IsolationTest(result, isolated, part.valves, sealed, outlets)
                for line, isolated in part.by_line.items()}  # fmt: skip

    def _tight(self, names: Sequence[str]) -> float:
        weight = load_isolation_weights()["tight"]
        by_state = {True: weight["leaks_by"], False: weight["known_tight"]}
        states = self.valves["leaks_by"].reindex(list(names))
        return float(np.prod([by_state.get(each, weight["not_known"]) for each in states]))

    def _supplied(self, part: IsolatedPart) -> float:
        """Return the probability that a part is supplied through one of its open ends."""
        maybe = load_isolation_weights()["place"]["fed_if_not_known"]
        ends = [(side, self._customer_end(line)) for line, side in part.open_ends]
        each = [0.0 if side == known else maybe if known == 0 else 1.0 for side, known in ends]
        return float(1.0 - np.prod([1.0 - fed for fed in each]))

    def _customer_end(self, line: int) -> int:
        """Return the end of a line that is the customer's: -1 its start, 1 its end, 0 unknown."""
        middle = Place(line, float(self.lines.length_m[line]) / 2.0)
        return self._flow(middle) or self.network.branch_end(line)

    def _flow(self, place: Place) -> int:
        """Return the direction of flow at a place, by the fittings and valves of its line."""
        name = str(self.lines.table.index[place.line])
        votes = [
            side * np.sign(at - place.chainage_m) for at, side in self.sides.get(place.line, ())
        ]
        return int(np.sign(self.contacts.flow(name, place.chainage_m) + sum(votes)))

    def _repaired_since(self, result: IsolationResult, part: IsolatedPart) -> bool:
        """Return whether a line of a part was repaired after a test began."""
        if "repaired_time" not in self.lines.table:
            return False
        own = [line for line, isolated in part.by_line.items() if isolated.stretches]
        repaired = self.lines.table["repaired_time"].iloc[own]
        return bool((repaired > self.start[result.test_id]).any())


def _placed_valves(job: Job, lines: Lines) -> pd.DataFrame:
    """Return line, chainage and state of each valve with a known place, by ``valve_id``."""
    columns = ["valve_id", "kind", "normally_closed", "leaks_by"]
    if job.valves is None or job.valves.empty:
        return pd.DataFrame(columns=["line", "chainage_m", *columns]).set_index("valve_id")
    valves = job.valves.reset_index(drop=True)
    sd = load_isolation_weights()["place"]["valve_sd_m"]
    placed = place_on_routes(valves, lines, reading_sd_m=sd, tape_sd_m=sd)
    known = {c: texts(valves, c) for c in columns}
    table = placed[["line", "chainage_m"]].assign(**known)
    table["normally_closed"] = [
        each is not None and bool(each) for each in table["normally_closed"]
    ]
    on = (table["line"] >= 0) & table["chainage_m"].notna()
    return table[on].sort_values("valve_id").drop_duplicates("valve_id").set_index("valve_id")


def _sides_of_meter(valves: pd.DataFrame) -> dict[int, list[tuple[float, int]]]:
    """Return the chainage and the side of the meter of the valves of each line."""
    found: dict[int, list[tuple[float, int]]] = {}
    for line, at, kind in valves[["line", "chainage_m", "kind"]].itertuples(index=False):
        if kind in _VALVE_SIDES:
            found.setdefault(int(line), []).append((float(at), _VALVE_SIDES[kind]))
    return found


def _measured_places(
    lines: Lines, fittings: pd.DataFrame, valves: pd.DataFrame
) -> dict[str, Place]:
    """Return the place of each fitting and each valve by its identifier; fittings go first."""
    at = {str(name): Place(line, chainage) for name, line, chainage in
          valves[["line", "chainage_m"]].itertuples()}  # fmt: skip
    known = fittings[fittings["chainage_m"].notna() & fittings["contact_id"].notna()]
    index = lines.index_of(texts(known, "line_id")).tolist()
    rows = zip(texts(known, "contact_id"), index, floats(known, "chainage_m").tolist(), strict=True)
    return at | {str(name): Place(line, chainage) for name, line, chainage in rows if line >= 0}


def _closed_valves(job: Job, nodes: Mapping[str, int]) -> dict[str, frozenset[str] | None]:
    """Return the valves that were closed in each test; None if one of them has no known place."""
    table = job.closed_valves
    if table is None or table.empty:
        return {}
    found: dict[str, frozenset[str] | None] = {}
    for test, own in table[table["test_id"].notna()].groupby("test_id"):
        known = own["reason"].isna() & own["valve_id"].map(nodes).fillna(-1).ge(0)
        found[str(test)] = frozenset(own["valve_id"]) if known.all() else None
    return found
