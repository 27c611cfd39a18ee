"""Isolation tests that may be made next: valves to shut, and where to read what that shows."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.advise.valve_parts import ValveParts
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping

    import pandas as pd

    from leakgeo.arrays import Floats
    from leakgeo.find.advise.explanations import Explanations
    from leakgeo.find.evidence.isolation import IsolationTest
    from leakgeo.find.evidence.isolation_lines import IsolationFindings
    from leakgeo.find.evidence.isolation_results import Measure
    from leakgeo.job.model import Job
    from leakgeo.route.junctions import Junctions
    from leakgeo.route.lines import Lines


@dataclass(frozen=True, eq=False)
class Closure:
    """An isolation test that may be made.

    Parameters
    ----------
    valves : tuple of str
        Valves to shut, sorted.
    measure : {"pressure", "flow", "meter"}
    measured_at : str
        Fitting or valve at which it is read.
    customers : int
        Ends in the part at which a customer may draw water.
    tests : mapping of str to IsolationTest
        By ``line_id``: the test as it concerns each line, if its value shows a loss.
    """

    valves: tuple[str, ...]
    measure: Measure
    measured_at: str
    customers: int
    tests: Mapping[str, IsolationTest]

    @property
    def lines(self) -> tuple[str, ...]:
        """Lines of which at least a stretch is in the part, sorted."""
        return tuple(sorted(n for n, test in self.tests.items() if test.isolated.stretches))

    def shows(self, line_id: str, explained: Explanations) -> Floats:
        """Return the probability that the test shows a loss under each explanation of a line.

        That is the likelihood by which the result would be weighed, but for a nearby line, whose
        likeliest place is in the part or not.

        Parameters
        ----------
        line_id : str
            One of `tests`.
        explained : Explanations
            Of that line.

        Returns
        -------
        ndarray of float, shape (k + r + n + 1,)
            In the order of `Explanations.weights`.
        """
        own = self.tests[line_id]
        holds = [own.holds(explained.place_m), self._hold_nearby(explained)]
        place, nearby = (own.of_leak(inside) for inside in holds)
        rivals = [own.of_rival(rival) for rival in explained.rivals]
        log_bf = np.concatenate([place, rivals, nearby, [0.0]])
        return np.asarray(np.exp(own.log_likelihood(0.0) + log_bf))

    def _hold_nearby(self, explained: Explanations) -> Floats:
        inside = [
            float(self.tests[name].holds(np.array([at]))[0]) if name in self.tests else 0.0
            for name, _, at in explained.nearby
        ]
        return np.array(inside, dtype=float)


@dataclass(frozen=True)
class ValveClosures:
    """Isolation tests that may be made on the lines of a job.

    Parameters
    ----------
    by_line : mapping of str to tuple of Closure
        By ``line_id``; those that cut off a part of the line first, then by number of valves and
        of customers.
    """

    by_line: Mapping[str, tuple[Closure, ...]] = field(default_factory=dict)

    def of_lines(self, names: Iterable[str]) -> ValveClosures:
        """Return those of some lines."""
        return ValveClosures({n: self.by_line[n] for n in names if n in self.by_line})


def valve_cautions() -> Reason:
    """Return what to observe before a valve is operated."""
    return Reason("valve_cautions")


def valve_closures(
    job: Job, lines: Lines, junctions: Junctions, fittings: pd.DataFrame, made: IsolationFindings
) -> ValveClosures:
    """Return the isolation tests that may be made on the lines of a job.

    Valves that are closed in normal operation stay closed. None is proposed that is known to leak
    by, that reduces pressure, or that is a house valve: the meter shows what lies beyond that.

    Parameters
    ----------
    job : Job
        The whole job: the part that valves cut off may span many lines.
    lines : Lines
    junctions : Junctions
        Of `lines`.
    fittings : pandas.DataFrame
        As `leakgeo.find.survey.fittings.fitting_chainages` returns it.
    made : IsolationFindings
        Tests that were made; none is proposed again.

    Returns
    -------
    ValveClosures
        Does not depend on the order of the rows.
    """
    parts = ValveParts.of(job, lines, junctions, fittings)
    if parts is None:
        return ValveClosures()
    tests = {test.result.test_id for own in made.by_line.values() for test in own}
    done = {parts.valves.closed[name] for name in sorted(tests)}
    names = lines.table.index.astype(str)
    found: dict[str, list[Closure]] = {}
    for shut, result, part in parts.closures():
        concerned = parts.valves.concerned(result, part)
        if isinstance(concerned, str) or frozenset(shut) in done:
            continue
        by_name = {names[line]: test for line, test in concerned.items()}
        closure = Closure(shut, result.measure, result.measured_at,
                          parts.valves.customers(part), by_name)  # fmt: skip
        for name in by_name:
            found.setdefault(name, []).append(closure)
    most = int(parts.weights["search"]["most_closures"])
    return ValveClosures({n: _first(n, own)[:most] for n, own in sorted(found.items())})


def _first(name: str, closures: Collection[Closure]) -> tuple[Closure, ...]:
    def rank(one: Closure) -> tuple[object, ...]:
        elsewhere = not one.tests[name].isolated.stretches
        return elsewhere, len(one.valves), one.customers, one.valves, one.measured_at

    return tuple(sorted(closures, key=rank))
