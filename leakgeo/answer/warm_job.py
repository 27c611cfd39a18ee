"""A job that is kept read, and the result of one of its lines."""

from __future__ import annotations

import json
import time
from dataclasses import replace
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from leakgeo.arrays import texts
from leakgeo.dig.order import ranks_of
from leakgeo.errors import JobError, ParameterError
from leakgeo.job.read import JobReader
from leakgeo.job.reuse import Reuse
from leakgeo.job.saves import is_busy
from leakgeo.job.sources import FIELD_JOB, LOGS, EditedSource, is_local
from leakgeo.options import of_checks
from leakgeo.reason import Reason
from leakgeo.result import Result
from leakgeo.runner.chain import planned_steps
from leakgeo.runner.chunks import ChunkPlan
from leakgeo.runner.layer_steps import default_errors
from leakgeo.runner.task import ROW, Task, run_steps
from leakgeo.runner.whole_job import LAWS, run_on_whole_job

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence

    from leakgeo.job.model import Job
    from leakgeo.job.sources import JobSource
    from leakgeo.runner.chunks import Chunk
    from leakgeo.runner.task import ChunkResult, PlannedStep

#: File of a run with what it learned about the ground.
GROUND_FILE = "ground.toml"
_OF_ALL_LINES = ("learn",)
# How often, and after how many seconds, a file that another program is saving is read again.
_TRIES, _PAUSE_S = 4, 0.1
# What a plan computes of the routes alone.
_OF_ROUTES = ("pairs", "tree")


def ask(
    source: JobSource, line: str, *, aside: Sequence[str] = (),
    mapping: str | Path | None = None, ground: str | Path | None = None, **given: object,
) -> Result:  # fmt: skip
    """Return the result of one line of a job, computed alone.

    The numbers are those of a run of the whole job, but for the ranks of the line among all lines.

    Parameters
    ----------
    source : str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        The job, as for `leakgeo.read_job`.
    line : str
        Its ``line_id``.
    aside : sequence of str
        Readings, by ``reading_id``, to leave out as if the crew had set them aside.
    mapping : str or pathlib.Path, optional
        File that maps the source to the data contract.
    ground : str or pathlib.Path, optional
        ``ground.toml`` of an earlier run, or its folder; else the ground is learned from the job.
    **given
        Parameters of the steps by name, such as ``leak_prior``, as for `leakgeo.run`.

    Returns
    -------
    Result
        Layers with the rows of the line alone, in the job's local metre CRS. Its job has the line
        and the lines around it.

    Raises
    ------
    JobError
        If the job can't be run at all.
    ParameterError
        If the job has no such line or reading, or a parameter is unknown or not allowed.

    Examples
    --------
    >>> import leakgeo
    >>> found = leakgeo.ask("examples/town/job.gpkg", "H-126")
    >>> found["lines"][["line_id", "status"]].to_numpy().tolist()
    [['H-126', 'located']]
    """
    return WarmJob(source, mapping=mapping, ground=ground, **given).ask(line, aside=aside)


class WarmJob:
    """A job that is read again only when its files change, to be asked about its lines.

    What the ground taught is learned at the first reading and held, so that numbers of a line
    change with its own data alone. Steps of the whole job run again when a layer that they read has
    changed.

    Parameters
    ----------
    source, mapping, ground, **given
        As for `ask`.
    """

    def __init__(
        self, source: JobSource, *, mapping: str | Path | None = None,
        ground: str | Path | None = None, **given: object,
    ) -> None:  # fmt: skip
        folder = None if ground is None else Path(ground)
        law = folder / GROUND_FILE if folder is not None and folder.is_dir() else folder
        steps = planned_steps({**given, "ground": law, "out": Path()})
        steps = [one for one in steps if not one.step.writes_files
                 and one.step.name not in _OF_ALL_LINES]  # fmt: skip
        first = next(k for k, one in enumerate(steps) if one.step.by_line)
        self.source, self.mapping = source, mapping
        self._reader = JobReader(source, mapping=mapping, **of_checks(given))
        self._whole = steps[:first]
        self._by_line = [one for one in steps if one.step.by_line]
        self._errors = default_errors(steps)
        self._read_as: object = None
        self._plan: ChunkPlan | None = None
        self._reuse = Reuse()
        self._learned: Result | None = None

    def refresh(self, edits: EditedSource | None = None) -> Job:
        """Read the job if its files or the edits are not those read last, and return it.

        Parameters
        ----------
        edits : EditedSource, optional
            Rows that are not saved yet.

        Raises
        ------
        JobError
            If the job can't be run at all.
        """
        own = None if edits is None else _digest(edits)
        # The state before reading: a file saved meanwhile is read again at the next request.
        state = self._state(), own
        if self._plan is None or state[0] is None or state != self._read_as:
            self._plan, self._read_as = self._planned(self._read(edits)), state
        return self._plan.job

    def _planned(self, job: Job) -> ChunkPlan:
        """Return the plan of a job; which lines meet is known while the routes are the same."""
        plan = ChunkPlan.of(job, 0, self._errors)
        return plan if self._plan is None else _with_known(plan, self._plan, _OF_ROUTES)

    def _read(self, edits: EditedSource | None) -> Job:
        """Read the job; wait a little for a program that is saving it."""
        for _ in range(_TRIES - 1):
            try:
                return self._reader.read(edits)
            except JobError as error:
                if not is_busy(error):
                    raise
            time.sleep(_PAUSE_S)
        return self._reader.read(edits)

    def learn_again(self) -> None:
        """Let the next question learn what the ground teaches from the job as it is then."""
        self._learned = None

    def ask(
        self, line: str, *, aside: Collection[str] = (), edits: EditedSource | None = None
    ) -> Result:
        """Return the result of one line; see `ask`.

        Parameters
        ----------
        line : str
        aside : collection of str
        edits : EditedSource, optional
            Rows that are not saved yet.

        Raises
        ------
        JobError
            If the job can't be run at all.
        ParameterError
            If the job has no such line or reading.
        """
        job = self.refresh(edits)
        own = np.asarray(texts(job.routes, "line_id") == line)
        if not own.any():
            raise ParameterError.of("line", _unknown("line", line, texts(job.routes, "line_id")))
        plan = self._plan
        assert plan is not None
        if aside:
            what_if = replace(plan, job=_with_aside(job, aside))
            plan = _with_known(what_if, plan, (*_OF_ROUTES, "line_of_reading"))
        before = self._whole_job(job)
        part = _with_own_tests(plan.part(own))
        done = Task.of(replace(before, job=plan.job), self._by_line).run(part)
        return _result_of(line, done, before, self._by_line)

    def _whole_job(self, job: Job) -> Result:
        """Return the layers of the steps of the whole job, made again if what they read changed."""
        law = [one for one in self._whole if set(one.step.makes) & {*LAWS}]
        others = [one for one in self._whole if one not in law]
        made = run_on_whole_job(Result(job), others, self._reuse)
        self._reuse.keep()
        learned = self._learned = self._learned or run_steps(made, law)
        laws = {name: learned.layers[name] for name in LAWS}
        return replace(made.adding(laws, learned.made[-1].faults), parameters=learned.parameters)

    def _state(self) -> object:
        """Return sizes and times of the files of the source; None if they can't show a change."""
        if not is_local(self.source):
            return () if not isinstance(self.source, str) else None
        path = Path(str(self.source)).resolve()  # logs are beside the target of a link
        inside = path / FIELD_JOB
        path = inside if inside.is_file() else path
        files = sorted(path.iterdir()) if path.is_dir() else [
            path, *(path.with_name(path.name + end) for end in LOGS)]  # fmt: skip
        files += [] if self.mapping is None else [Path(self.mapping)]
        stats = [file.stat() if file.is_file() else None for file in files]
        return [None if s is None else (s.st_ino, s.st_size, s.st_mtime_ns) for s in stats]


def _with_known(plan: ChunkPlan, before: ChunkPlan, names: Iterable[str]) -> ChunkPlan:
    """Return a plan with what another plan has computed, if both have the same routes."""
    if plan.job.routes is before.job.routes:
        plan.__dict__.update({n: before.__dict__[n] for n in names if n in before.__dict__})
    return plan


def _with_own_tests(part: Chunk) -> Chunk:
    """Keep the meter tests of the lines of a chunk; those of a city take longer than the line."""
    tests = part.job.meter_tests
    if tests is None:
        return part
    own = tests["line_id"].isin(part.job.routes["line_id"]) | tests["line_id"].isna()
    return replace(part, job=replace(part.job, meter_tests=tests[own].reset_index(drop=True)))


def _digest(edits: EditedSource) -> str:
    return json.dumps([dict(edits.rows), dict(edits.deleted)], sort_keys=True, default=str)


def _unknown(what: str, name: str, known: Any) -> str:
    names = [str(each) for each in known if each is not None]
    near = get_close_matches(name, names, n=1)
    hint = f" Did you mean {near[0]}?" if near else ""
    return f"the job has no {what} {name}.{hint}"


def _with_aside(job: Job, aside: Collection[str]) -> Job:
    """Return a job in which readings are set aside.

    Raises
    ------
    ParameterError
        If there is no such reading.
    """
    readings = job.readings.copy()
    names = texts(readings, "reading_id")
    if unknown := sorted(set(aside) - set(names)):
        raise ParameterError.of("aside", _unknown("reading", unknown[0], names))
    named = np.isin(names.astype(str), list(aside))
    reasons = texts(readings, "reason")
    reasons[named & readings["reason"].isna().to_numpy()] = Reason("set_aside")
    return replace(job, readings=readings.assign(reason=reasons, set_aside=readings["set_aside"]
                                                 .mask(named, True)))  # fmt: skip


def _result_of(
    line: str, done: ChunkResult, before: Result, steps: Sequence[PlannedStep]
) -> Result:
    """Return the rows of one line in the layers of the whole job and of its own."""
    layers = {**before.layers, **done.layers}
    own = {
        name: layer if name in LAWS or "line_id" not in layer
        else layer[layer["line_id"] == line].reset_index(drop=True)
        for name, layer in layers.items()
    }  # fmt: skip
    own["readings_on_route"] = own["readings_on_route"].drop(columns=ROW)
    lines = own["lines"]
    own["lines"] = lines.assign(**ranks_of(lines))
    features = {line, *own["readings_on_route"]["reading_id"].dropna()}
    faults = (*before.job.faults, *before.faults, *(one.fault for one in done.faults))
    of_line = [f for f in faults if f.line_id == line or (not f.line_id and f.feature in features)]
    settings = {one.step.name: one.settings for one in steps}
    return Result(
        replace(done.chunk.job, faults=()), layers=own, faults=tuple(dict.fromkeys(of_line)),
        parameters={**before.parameters, **settings}, timings=done.result.timings,
    )  # fmt: skip
