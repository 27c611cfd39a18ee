"""Valves of a job on its network: places, what is known of them, and what they cut off."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.find.evidence.flow import Contacts
from leakgeo.find.evidence.isolated import Place, ValveNetwork
from leakgeo.find.evidence.isolation import IsolationTest
from leakgeo.find.evidence.isolation_results import load_isolation_weights
from leakgeo.job.model import NOT_SELECTED
from leakgeo.route.place import place_on_routes

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from leakgeo.find.evidence.isolated import IsolatedPart
    from leakgeo.find.evidence.isolation_results import IsolationResult
    from leakgeo.job.model import Job
    from leakgeo.route.junctions import Junctions
    from leakgeo.route.lines import Lines

# Side of the meter that a kind of valve is always on: 1 the customer's, -1 the utility's.
_VALVE_SIDES = {"curb_stop": -1, "house": 1}


@dataclass(frozen=True, eq=False)
class JobValves:
    """Valves and places of measurements of a job on its network, with what is known of the valves.

    Parameters
    ----------
    lines : Lines
    network : ValveNetwork
    contacts : Contacts
    valves : pandas.DataFrame
        By ``valve_id``: line, chainage_m, kind, normally_closed, leaks_by.
    closed : mapping of str to frozenset of str or None
        Valves that were shut in each test; None where one of them has no known place.
    sides : mapping of int to list of (float, int)
        Chainages and sides of the meter of the valves of a line.
    measured : mapping of str to Place
        Place of each fitting and each valve.
    start : mapping of str to pandas.Timestamp
        When each test began.
    """

    lines: Lines
    network: ValveNetwork
    contacts: Contacts
    valves: pd.DataFrame
    closed: Mapping[str, frozenset[str] | None]
    sides: Mapping[int, list[tuple[float, int]]]
    measured: Mapping[str, Place]
    start: Mapping[str, pd.Timestamp]

    @classmethod
    def of(
        cls, job: Job, lines: Lines, junctions: Junctions, fittings: pd.DataFrame,
        measured_at: Iterable[str],
    ) -> JobValves:  # fmt: skip
        """Put the valves of a job, and where flows are measured, on the network.

        Parameters
        ----------
        job : Job
            The whole job.
        lines : Lines
        junctions : Junctions
            Of `lines`.
        fittings : pandas.DataFrame
            As `leakgeo.find.survey.fittings.fitting_chainages` returns it.
        measured_at : iterable of str
            Fittings and valves at which a flow or a register may be read.
        """
        valves = _placed_valves(job, lines)
        measured = _measured_places(lines, fittings, valves)
        at = {name: Place(line, chainage) for name, line, chainage in
              valves[["line", "chainage_m"]].itertuples()}  # fmt: skip
        places = {measured[name] for name in measured_at if name in measured}
        network = ValveNetwork.of(lines, junctions, at, places)
        closed, sides = _closed_valves(job, network.valve), _sides_of_meter(valves)
        contacts = Contacts.of(job, fittings)
        return cls(lines, network, contacts, valves, closed, sides, measured, _starts(job))

    @cached_property
    def always_closed(self) -> frozenset[str]:
        """Valves that are closed in normal operation, where their place is known."""
        always = self.valves.index[self.valves["normally_closed"].astype(bool)]
        return frozenset(name for name in always if self.network.valve[name] >= 0)

    def part(self, result: IsolationResult, closed: frozenset[str]) -> IsolatedPart | str:
        """Return the part that a test is about, with some valves shut; else why there is none."""
        place = self.measured.get(result.measured_at)
        if place is None:
            return "place"
        flow = None if result.measure == "pressure" else self.flow(place)
        part = self.network.part_at(place, set(closed | self.always_closed), flow)
        if part is None:
            return "side"
        if part.around or (not closed & set(part.valves) and closed & part.through):
            return "loop"
        return part if closed & set(part.valves) else "no_valve"

    def concerned(
        self, result: IsolationResult, part: IsolatedPart
    ) -> dict[int, IsolationTest] | str:
        """Return a test as it concerns each line, by its index; else why it shows nothing."""
        weight = load_isolation_weights()["place"]
        if len(part.by_line) > weight["most_lines"]:
            return "wide"
        supplied = self.supplied(part.open_ends) if result.measure == "pressure" else 0.0
        if supplied > weight["most_supplied"]:
            return "supplied"
        if self._repaired_since(result, part):
            return "repaired"
        sealed = (1.0 - supplied) * self._tight(part.valves)
        outlets = bool(self.customers(part))
        return {line: IsolationTest(result, isolated, part.valves, sealed, outlets)
                for line, isolated in part.by_line.items()}  # fmt: skip

    def customers(self, part: IsolatedPart) -> int:
        """Return the number of ends in a part at which a customer may draw water."""
        return sum(self._customer_end(line) in (0, side) for line, side in part.open_ends)

    def _tight(self, names: Sequence[str]) -> float:
        weight = load_isolation_weights()["tight"]
        by_state: dict[bool | None, float] = {
            True: weight["leaks_by"],
            False: weight["known_tight"],
        }
        states = [self._leaks_by[name] for name in names]
        each = np.array([by_state.get(state, weight["not_known"]) for state in states])
        return float(np.prod(each))

    @cached_property
    def _leaks_by(self) -> dict[str, bool | None]:
        return dict(zip(self.valves.index, self.valves["leaks_by"], strict=True))

    def supplied(self, open_ends: Iterable[tuple[int, int]]) -> float:
        """Return the probability that a part is supplied through one of its open ends."""
        maybe = load_isolation_weights()["place"]["fed_if_not_known"]
        ends = [(side, self._customer_end(line)) for line, side in open_ends]
        each = [0.0 if side == known else maybe if known == 0 else 1.0 for side, known in ends]
        return float(1.0 - np.prod([1.0 - fed for fed in each]))

    def _customer_end(self, line: int) -> int:
        """Return the end of a line that is the customer's: -1 its start, 1 its end, 0 unknown."""
        middle = Place(line, float(self.lines.length_m[line]) / 2.0)
        return self.flow(middle) or self.network.branch_end(line)

    def flow(self, place: Place) -> int:
        """Return the direction of flow at a place, by the fittings and valves of its line.

        1 along the line, -1 against it, 0 where not known.
        """
        name = str(self.lines.table.index[place.line])
        votes = [
            side * np.sign(at - place.chainage_m) for at, side in self.sides.get(place.line, ())
        ]
        return int(np.sign(self.contacts.flow(name, place.chainage_m) + sum(votes)))

    def _repaired_since(self, result: IsolationResult, part: IsolatedPart) -> bool:
        """Return whether a line of a part was repaired after a test began."""
        began = self.start.get(result.test_id)
        if began is None or "repaired_time" not in self.lines.table:
            return False
        own = [line for line, isolated in part.by_line.items() if isolated.stretches]
        repaired, began = (
            self.lines.table["repaired_time"].iloc[own],
            self.start.get(result.test_id),
        )
        return began is not None and bool((repaired > began).any())


def _starts(job: Job) -> dict[str, pd.Timestamp]:
    tests = job.isolation_tests
    if tests is None:
        return {}
    return dict(zip(texts(tests, "test_id"), tests["start_time"], strict=True))


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
    # A valve that is off its line is at no known place of it.
    off = placed["reason"].notna() & (placed["reason"] != NOT_SELECTED)
    on = (table["line"] >= 0) & table["chainage_m"].notna() & ~off
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
