"""District of a job: its pipes, its inlets and the valves that may be shut, by name."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.arrays import texts
from leakgeo.errors import ParameterError, parameter_label
from leakgeo.find.advise.step_test import District
from leakgeo.find.advise.valve_parts import usable_valves
from leakgeo.find.evidence.isolated import Place, parts_between
from leakgeo.find.evidence.job_valves import JobValves
from leakgeo.find.survey.fittings import fitting_chainages

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.arrays import Bools, Ints
    from leakgeo.find.evidence.isolated import ValveNetwork
    from leakgeo.job.model import Job
    from leakgeo.route.junctions import Junctions
    from leakgeo.route.lines import Lines


@dataclass(frozen=True, eq=False)
class JobDistrict:
    """A district of a job.

    Parameters
    ----------
    valves : JobValves
    district : District
    inlets : tuple of str
        Fittings and valves at which its flow is measured.
    same : mapping of str to str
        Valves of the district that may be shut, each with the one at its place that stands for it.
    closed : frozenset of str
        Valves that are closed anyway.
    """

    valves: JobValves
    district: District
    inlets: tuple[str, ...]
    same: Mapping[str, str]
    closed: frozenset[str]

    @classmethod
    def of(
        cls, job: Job, lines: Lines, junctions: Junctions, inlets: Sequence[str],
        boundary: Sequence[str],
    ) -> JobDistrict:  # fmt: skip
        """Find the district that lies between inlets and a boundary.

        Of the parts into which inlets and closed valves cut the network, it is the one at which
        most inlets and then most valves of the boundary are; where the direction of flow at an
        inlet is known, only what lies downstream may be.

        Parameters
        ----------
        job : Job
            The whole job.
        lines : Lines
        junctions : Junctions
            Of `lines`.
        inlets : sequence of str
            Where all water enters and is measured: ``contact_id`` or ``valve_id``.
        boundary : sequence of str
            Valves that stay closed around it.

        Raises
        ------
        ParameterError
            If a name is not known, its place is not, or the inlets do not make out one district.
        """
        fittings = fitting_chainages(job.contacts, lines, junctions)
        valves = JobValves.of(job, lines, junctions, fittings, inlets)
        at = _inlet_nodes(job, valves, inlets)
        closed = _boundary(job, valves, boundary) | valves.always_closed
        net = valves.network
        shut = {name for name in usable_valves(valves) if net.valve[name] not in at.values()}
        inside = _inside(valves, at, boundary, closed, shut - closed)
        touched = _touched(net, inside)
        states = {
            name: None if state is None else bool(state)
            for name, state in valves.valves["leaks_by"].items()
            if name in shut - closed and net.valve[name] in touched
        }
        places = [_place_in(net, node, inside) for node in at.values()]
        district = District.of(net, states, places, closed=sorted(closed), cut=list(at.values()))
        nodes = {net.valve[name]: name for name in district.valves}
        same = {name: nodes[node] for name, node in net.valve.items() if node in nodes}
        return cls(valves, district, tuple(inlets), same, closed)

    def stretches(self) -> list[tuple[int, int, float, float]]:
        """Return the stretches of pipe of each segment: segment, line, and both chainages.

        Sorted by the ``line_id``, and by chainage.
        """
        names = self.valves.lines.table.index
        found: list[tuple[int, int, float, float]] = []
        for segment in np.flatnonzero(self.district.prior > 0.0).tolist():
            for line, begin, end in sorted(self.district.stretches(segment, self.valves.network)):
                if found and found[-1][:2] == (segment, line) and found[-1][3] == begin:
                    found[-1] = (segment, line, found[-1][2], end)
                else:
                    found.append((segment, line, begin, end))
        return sorted(found, key=lambda each: (str(names[each[1]]), each[2]))


def _unknown(parameter: str, name: str, known: Sequence[str], what: str) -> ParameterError:
    near = get_close_matches(name, known, n=1)
    hint = f" Did you mean {near[0]}?" if near else ""
    return ParameterError.of(parameter, f"{name!r} is no {what} of the job.{hint}")


def _identifiers(job: Job, layer: str, column: str) -> list[str]:
    table = getattr(job, layer)
    return [] if table is None else [str(name) for name in texts(table, column) if name is not None]


def _inlet_nodes(job: Job, valves: JobValves, inlets: Sequence[str]) -> dict[str, int]:
    """Return the node of each inlet."""
    known = _identifiers(job, "contacts", "contact_id") + _identifiers(job, "valves", "valve_id")
    net, nodes = valves.network, {}
    for name in inlets:
        if name not in known:
            raise _unknown("inlets", name, known, "contact_id or valve_id")
        place = valves.measured.get(name)
        if place is None:
            raise ParameterError.of(
                "inlets", f"{name} is on no known line. Correct its position or its line_id."
            )
        nodes[name] = net.place[place]
        if net.ways[nodes[name]] != 2:
            raise ParameterError.of(
                "inlets", f"{name} is where pipes join, so that it is not known which of them it "
                "measures. Give it a place on the pipe that leads into the district.",
            )  # fmt: skip
    return nodes


def _boundary(job: Job, valves: JobValves, boundary: Sequence[str]) -> frozenset[str]:
    known = _identifiers(job, "valves", "valve_id")
    for name in boundary:
        if name not in known:
            raise _unknown("boundary", name, known, "valve_id")
        if valves.network.valve.get(name, -1) < 0:
            raise ParameterError.of(
                "boundary", f"{name} is on no known line, or where pipes join. Correct its "
                "position or its line_id.",
            )  # fmt: skip
    return frozenset(boundary)


def _inside(
    valves: JobValves, inlets: Mapping[str, int], boundary: Sequence[str],
    closed: frozenset[str], shut: set[str],
) -> Bools:  # fmt: skip
    """Return whether each section of the network is in the district, shape (s,)."""
    net = valves.network
    ends = [*inlets.values(), *(net.valve[name] for name in sorted(closed))]
    label = parts_between(net.network, np.array(ends, dtype=np.int64))
    around = [net.valve[name] for name in boundary]
    may_shut = [net.valve[name] for name in sorted(shut)]
    ranked = []
    beyond = [_beyond(valves, name, node) for name, node in inlets.items()]
    for part in np.unique(label[np.concatenate(beyond)]).tolist():
        touched = _touched(net, label == part)
        each = [sum(node in touched for node in nodes)
                for nodes in (inlets.values(), around, may_shut)]  # fmt: skip
        ranked.append((*each, float(net.network.length_m[label == part].sum()), part))
    best, *others = sorted(ranked, reverse=True)
    if any(one[:2] == best[:2] and one[2] > 0 for one in others):
        raise ParameterError.of(
            "inlets", f"pipe with valves leads away from {', '.join(inlets)} on both sides, so "
            "that it is not known which side is the district. Name the closed valves around it "
            f"in {parameter_label('boundary')}.",
        )  # fmt: skip
    inside = np.asarray(label == best[-1])
    _check_inlets(net, inlets, inside)
    return inside


def _check_inlets(net: ValveNetwork, inlets: Mapping[str, int], inside: Bools) -> None:
    """Raise ParameterError unless each inlet leads into the district from outside."""
    sides = {name: inside[_beside(net, [node])] for name, node in inlets.items()}
    around = [name for name, own in sides.items() if own.all()]
    apart = [name for name, own in sides.items() if not own.any()]
    if around:
        raise ParameterError.of(
            "inlets", f"{around[0]}: open pipe leads around it, so that it does not measure all "
            f"that enters. Name the closed valves in {parameter_label('boundary')}, or the other "
            "inlets.",
        )  # fmt: skip
    if apart:
        raise ParameterError.of(
            "inlets", f"{', '.join(apart)}: no open pipe leads from there to the other inlets. "
            f"Leave it out, or correct {parameter_label('boundary')}.",
        )  # fmt: skip


def _beyond(valves: JobValves, inlet: str, node: int) -> Ints:
    """Return the section downstream of an inlet; those on both sides if the flow is not known."""
    flow, net = valves.flow(valves.measured[inlet]), valves.network.network
    if flow == 0:
        return _beside(valves.network, [node])
    own = net.line == valves.measured[inlet].line
    return np.flatnonzero(own & ((net.tail if flow > 0 else net.head) == node))


def _beside(net: ValveNetwork, nodes: Sequence[int]) -> Ints:
    """Return the sections that end at some nodes."""
    own = np.isin(net.network.tail, nodes) | np.isin(net.network.head, nodes)
    return np.flatnonzero(own)


def _touched(net: ValveNetwork, inside: Bools) -> set[int]:
    """Return the nodes at which sections of a part end."""
    return {*net.network.tail[inside].tolist(), *net.network.head[inside].tolist()}


def _place_in(net: ValveNetwork, node: int, inside: Bools) -> Place:
    """Return a place in the first section of the district at an inlet."""
    beside = _beside(net, [node])
    section = beside[inside[beside]][0]
    middle = (net.network.begin_m[section] + net.network.end_m[section]) / 2.0
    return Place(int(net.network.line[section]), float(middle))
