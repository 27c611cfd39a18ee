"""How a processing step is declared, checked and called, and how steps are found."""

from __future__ import annotations

import logging
import time
from collections.abc import Mapping
from contextlib import nullcontext
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import cache
from importlib import import_module
from importlib.metadata import EntryPoint, entry_points
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.contract import check_columns
from leakgeo.errors import ParameterError
from leakgeo.options import of_checks
from leakgeo.parameter import Parameter
from leakgeo.process_settings import SharedSetting
from leakgeo.provenance import (
    check_one_origin,
    first_run,
    keep_independent,
    rewind,
    with_given_layers,
    with_step_run,
)

if TYPE_CHECKING:
    from collections.abc import Iterable
    from contextlib import AbstractContextManager

    from leakgeo.job.model import Job
    from leakgeo.job.sources import JobSource
    from leakgeo.result import Result

__all__ = ["BrokenStep", "Parameter", "Step", "discover", "load_steps"]

ENTRY_POINT_GROUP = "leakgeo.steps"
#: Steps under this heading write files and change no layer.
DELIVER_GROUP = "Deliver"
_log = logging.getLogger("leakgeo")


def _limit_blas_threads() -> AbstractContextManager[object]:
    from threadpoolctl import threadpool_limits

    limits: AbstractContextManager[object] = threadpool_limits(1, "blas")
    return limits


_single_threaded = SharedSetting(_limit_blas_threads)


@dataclass(frozen=True, repr=False)
class Step:
    """A processing step: a function over a result, with its parameters declared once.

    Parameters
    ----------
    name : str
        Name of the command and of the Python function.
    function : str
        ``"module:name"`` of the function, imported when the step is first called. It takes the
        result, then each parameter by keyword, and gives the fuller result.
    summary : str
        One sentence.
    group : str
        Heading the step is listed under.
    needs : tuple of str
        Layers the step reads; missing ones are made by the steps that make them.
    uses : tuple of str
        Further layers that it reads where they are there.
    changes : tuple of str
        Layers of other steps that it fills in further.
    makes : tuple of str
        Layers or files the step makes.
    parameters : tuple of Parameter
        In the order of the function's keywords.
    takes_results : bool
        Whether a result of an earlier run will do in the place of a job.
    by_line : bool
        Whether it works line by line, so that a large job may go through it in chunks of lines.
    order : int
        Place in the chain, the lowest first; steps of one order go by name.
    about : str
        What it works from, what it makes of it, and what to mind: a paragraph.
    examples : tuple of str
        Calls on the command line, without the program's name.
    example : str
        Calls in Python, as a doctest, on the shipped example.
    """

    name: str
    function: str
    summary: str
    group: str
    needs: tuple[str, ...] = ()
    uses: tuple[str, ...] = ()
    changes: tuple[str, ...] = ()
    makes: tuple[str, ...] = ()
    parameters: tuple[Parameter, ...] = ()
    takes_results: bool = False
    by_line: bool = False
    order: int = 1000
    about: str = ""
    examples: tuple[str, ...] = ()
    example: str = ""

    def __repr__(self) -> str:
        return f"<Step {self.name}: {self.summary}>"

    @property
    def reads(self) -> tuple[str, ...]:
        """Layers that it reads, where they are there."""
        return (*self.needs, *self.uses, *self.changes)

    @property
    def writes_files(self) -> bool:
        """Whether it writes files, and changes no layer."""
        return self.group == DELIVER_GROUP

    def non_defaults(self, parameters: Mapping[str, object]) -> dict[str, object]:
        """Give the parameters that are not the defaults."""
        defaults = {p.name: p.default for p in self.parameters}
        return {n: value for n, value in parameters.items() if value != defaults.get(n)}

    def settings(self, given: Mapping[str, object]) -> dict[str, object]:
        """Fill in defaults and check what was given.

        Raises
        ------
        ParameterError
            If a name is unknown or a value is not allowed.
        """
        known = {p.name for p in self.parameters}
        if unknown := sorted(set(given) - known):
            raise ParameterError(
                f"{self.name} has no parameter {', '.join(unknown)}; "
                f"it has {', '.join(sorted(known))}."
            )
        return {p.name: p.check(given.get(p.name)) for p in self.parameters}

    def check_lines(self, settings: Mapping[str, object], job: Job) -> None:
        """Refuse settings that name a line which the job does not have.

        Raises
        ------
        ParameterError
            If no route has a ``line_id`` that a parameter names.
        """
        for p in (p for p in self.parameters if p.names_lines and settings[p.name]):
            known = dict.fromkeys(job.routes["line_id"].dropna())
            named = settings[p.name]
            unknown = [str(v) for v in named if v not in known]  # type: ignore[attr-defined]
            if unknown:
                near = get_close_matches(unknown[0], map(str, known), n=1)
                hint = f" Did you mean {near[0]}?" if near else ""
                raise ParameterError.of(
                    p.name, f"no route of the job has line_id {', '.join(unknown)}.{hint}"
                )

    def __call__(self, source: Result | Job | JobSource, /, **given: object) -> Result:
        """Run the step on a result, a job, the path of a job, or its GeoDataFrames.

        Parameters
        ----------
        source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
            Layers that the step needs and `source` lacks are made first, with defaults.
        **given
            Parameters by name; see the step's own help.

        Returns
        -------
        Result
            With the layers in ``makes`` added. Where the step has run on the result before, its
            earlier layers are replaced, and those that other steps made from them are gone.

        Raises
        ------
        ParameterError
            If a parameter is unknown or a value is not allowed.
        OutputError
            If a step that writes files is given layers that do not belong together.
        """
        settings = self.settings(given)
        result = with_given_layers(_as_result(source, settings, results=self.takes_results))
        if not self.takes_results and result.read_back:
            raise ParameterError(
                f"{self.name}: a result that was read back is as it was written, and nothing is "
                "worked out from it. Give the job."
            )
        self.check_lines(settings, result.job)
        if self.writes_files:
            from leakgeo.job.schema import load_schemas

            check_one_origin(result, load_schemas("output"))
            return self._run(result, settings)
        rewound = rewind(result, self.name)
        if rewound is None:
            later = result.made[first_run(result, self.name) + 1 :]
            rewound = _rerun_before(result, self.name), later
        before, later = rewound
        done, dropped = keep_independent(self._run(before, settings), later, result)
        if dropped:
            _log.warning(
                "%s ran again: what %s made from its earlier layers is gone; run %s again.",
                self.name, ", ".join(dropped), "it" if len(dropped) == 1 else "them",
            )  # fmt: skip
        return done

    def _run(self, result: Result, settings: dict[str, object]) -> Result:
        """Run the function on a result that has the layers needed, and record what it made."""
        result = _with_layers(result, self.needs)
        module, _, name = self.function.partition(":")
        function = getattr(import_module(module), name)
        begin = time.perf_counter()
        # A line's matrices are small, and its sums must not depend on the number of processors.
        with _single_threaded if self.by_line else nullcontext():
            done: Result = function(result, **settings)
        ran = {self.name, *(one.step for one in done.made)}
        missing = [s for name, s in load_steps().items() if name not in ran]
        check_columns(self, done.layers, missing)
        done = with_step_run(self, settings, done)
        return replace(
            done,
            parameters={**done.parameters, self.name: settings},
            timings={**done.timings, self.name: time.perf_counter() - begin},
        )


def _as_result(
    source: Result | Job | JobSource, settings: Mapping[str, object], *, results: bool = False
) -> Result:
    from leakgeo.job.model import Job
    from leakgeo.job.results.read_back import is_result, read_result
    from leakgeo.result import Result

    if isinstance(source, Result):
        return source
    if isinstance(source, Job):
        return Result(source)
    if not isinstance(source, (str, Path, Mapping)):
        raise ParameterError(
            "A step takes a result, a job, GeoDataFrames by layer or the path of a job, not a "
            f"{type(source).__name__}."
        )
    if results and is_result(source):
        return read_result(source)
    from leakgeo.job.read import read_job

    return Result(read_job(source, **of_checks(settings)))


def _rerun_before(result: Result, step: str) -> Result:
    """Run what came before a step anew, where the layers that it took are not known any more."""
    from leakgeo.result import Result

    anew = Result(result.job)
    for one in result.made[: first_run(result, step)]:
        anew = load_steps()[one.step](anew, **one.parameters)
    return anew


def _with_layers(result: Result, needs: Iterable[str]) -> Result:
    """Make the layers that are needed and missing, each by the first step that makes it."""
    for layer in needs:
        if layer not in result.layers:
            # What a result lacks that was read back was not made, and is not made now.
            if result.read_back:
                continue
            maker = next(s for s in load_steps().values() if layer in s.makes)
            result = maker(result)
    return result


@dataclass(frozen=True)
class BrokenStep:
    """A step of another package that failed to load: reported, never fatal."""

    name: str
    reason: str


@cache
def discover() -> tuple[dict[str, Step], tuple[BrokenStep, ...]]:
    """Load every step that an installed package declares, leakgeo's own as those of others.

    Returns
    -------
    steps : dict of str to Step
        In the order of the chain.
    broken : tuple of BrokenStep
        Those that did not load, and why.
    """
    steps: list[Step] = []
    broken: list[BrokenStep] = []
    for point in sorted(entry_points(group=ENTRY_POINT_GROUP), key=_own_first):
        if any(step.name == point.name for step in steps):
            continue
        try:
            loaded = point.load()
        except Exception as error:  # noqa: BLE001 - another package's fault must not stop ours
            broken.append(BrokenStep(point.name, f"{type(error).__name__}: {error}"))
            continue
        if isinstance(loaded, Step):
            steps.append(loaded)
        else:
            broken.append(BrokenStep(point.name, "its entry point is not a leakgeo Step"))
    steps.sort(key=lambda step: (step.order, step.name))
    return {step.name: step for step in steps}, tuple(broken)


def _own_first(point: EntryPoint) -> tuple[bool, str]:
    """Let no other package take the name of a step of leakgeo."""
    return not point.value.startswith("leakgeo."), point.name


def load_steps() -> dict[str, Step]:
    """Give every step that loads, by name.

    Returns
    -------
    dict of str to Step
        As `discover` orders them.

    Examples
    --------
    >>> list(load_steps())[:3]
    ['meter', 'survey', 'profile']
    """
    return discover()[0]
