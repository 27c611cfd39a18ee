"""Isolation tests by the lines that they concern."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.arrays import texts
from leakgeo.faults import Fault
from leakgeo.find.evidence.isolation_results import isolation_results
from leakgeo.find.evidence.job_valves import JobValves
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import pandas as pd

    from leakgeo.arrays import Ints, Objects
    from leakgeo.find.evidence.isolation import IsolationTest
    from leakgeo.find.evidence.isolation_results import IsolationResult
    from leakgeo.job.model import Job
    from leakgeo.route.junctions import Junctions
    from leakgeo.route.lines import Lines


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
    valves = JobValves.of(job, lines, junctions, fittings, [r.measured_at for r in results])
    spoilt = _Overlaps.of(job, valves)
    found: dict[str, list[IsolationTest]] = {}
    faults = []
    for result in results:
        concerned = spoilt.concerned(result)
        if isinstance(concerned, str):
            reason = Reason("isolation_shows_nothing", why=concerned)
            faults.append(Fault("isolation_tests", reason, result.test_id, effect="noted"))
            continue
        for line, test in concerned.items():
            found.setdefault(str(lines.table.index[line]), []).append(test)
    return IsolationFindings({name: tuple(own) for name, own in found.items()}, tuple(faults))


@dataclass(frozen=True, eq=False)
class _Overlaps:
    """Isolation tests whose times overlap: valves that one shuts are shut in the others too."""

    valves: JobValves
    began: Ints
    ended: Ints
    names: Objects

    @classmethod
    def of(cls, job: Job, valves: JobValves) -> _Overlaps:
        tests = job.isolation_tests
        assert tests is not None  # there are results
        good = tests[tests["reason"].isna().to_numpy()]
        began, ended = (
            good[c].to_numpy(dtype="datetime64[ns]").astype(np.int64)
            for c in ("start_time", "end_time")
        )
        return cls(valves, began, ended, texts(good, "test_id"))

    def concerned(self, result: IsolationResult) -> dict[int, IsolationTest] | str:
        """Return a test as it concerns each line, by its index; else why it shows nothing."""
        closed = self.valves.closed.get(result.test_id, frozenset())
        if result.measured_at not in self.valves.measured:
            return "place"
        if closed is None:
            return "valve_place"
        part = self.valves.part(result, closed)
        if isinstance(part, str):
            return part
        if any(other & part.through for other in self._meanwhile(result.test_id)):
            return "overlap"
        return self.valves.concerned(result, part)

    def _meanwhile(self, test_id: str) -> Iterator[frozenset[str]]:
        """Yield the valves with a known place that were shut in each test at the same time."""
        [own] = np.flatnonzero(self.names == test_id)[:1]
        same = (self.began < self.ended[own]) & (self.ended > self.began[own])
        for k in np.flatnonzero(same).tolist():
            if k != own:
                yield self.valves.closed.get(self.names[k]) or frozenset()
