"""Processing steps: how they are declared, found and called."""

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
from typing import TYPE_CHECKING, Any

from leakgeo.contract import check_columns
from leakgeo.errors import ContractError, ParameterError
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
#: Group of the steps that write files and change no layer.
DELIVER_GROUP = "Deliver"
_log = logging.getLogger("leakgeo")


def _limit_blas_threads() -> AbstractContextManager[object]:
    from threadpoolctl import threadpool_limits

    limits: AbstractContextManager[object] = threadpool_limits(1, "blas")
    return limits


#: Matrices of a line are small, and sums must not depend on the number of processors.
single_threaded = SharedSetting(_limit_blas_threads)


@dataclass(frozen=True, repr=False)
class Step:
    """A processing step: a function that takes a result and returns one with more layers.

    Parameters
    ----------
    name : str
        Name of the command and of the Python function.
    function : str
        ``"module:name"`` of the function, imported on the first call. It takes a result, and each
        parameter by keyword, and returns a result with more layers.
    summary : str
        One sentence.
    group : str
        Heading in the help.
    needs : tuple of str
        Layers that the step requires; missing ones are made first by other steps.
    uses : tuple of str
        Layers that it reads if they exist.
    changes : tuple of str
        Layers of other steps that it adds columns or values to.
    makes : tuple of str
        Layers or files that it makes.
    parameters : tuple of Parameter
        In the order of the keywords of the function.
    takes_results : bool
        Whether it also accepts a result that was read from a file.
    by_line : bool
        Whether it processes each line separately, so that a large job can run in chunks of lines.
    followed_by : tuple of str
        Steps that write files, which the command of the step runs after it.
    order : int
        Position in the chain, lowest first; steps of the same order are sorted by name.
    about : str
        Its input, its output and its limits, as a paragraph.
    examples : tuple of str
        Calls on the command line, without the name of the program.
    example : str
        Calls in Python, as a doctest, with the example data.
    title : str
        Name for people; `name` with a capital if empty.
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
    followed_by: tuple[str, ...] = ()
    order: int = 1000
    about: str = ""
    examples: tuple[str, ...] = ()
    example: str = ""
    title: str = ""

    def __repr__(self) -> str:
        return f"<Step {self.name}: {self.summary}>"

    @property
    def reads(self) -> tuple[str, ...]:
        """All layers that it reads if they exist."""
        return (*self.needs, *self.uses, *self.changes)

    @property
    def writes_files(self) -> bool:
        """Whether it writes files and changes no layer."""
        return self.group == DELIVER_GROUP

    def non_defaults(self, parameters: Mapping[str, object]) -> dict[str, object]:
        """Return the parameters that differ from their defaults."""
        defaults = {p.name: p.default for p in self.parameters}
        return {n: value for n, value in parameters.items() if value != defaults.get(n)}

    def settings(self, given: Mapping[str, object]) -> dict[str, object]:
        """Return all parameters, checked, with defaults for those not given.

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
        """Raise ParameterError if a parameter names a line that the job does not have.

        Raises
        ------
        ParameterError
            If no route has that ``line_id``.
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
            Missing layers that the step needs are made first, with default parameters.
        **given
            Parameters by name; see the help of the step.

        Returns
        -------
        Result
            With the layers in ``makes`` added. If the step has run on the result before, its
            earlier layers are replaced, and layers that other steps made from them are removed.

        Raises
        ------
        ParameterError
            If a parameter is unknown or a value is not allowed.
        OutputError
            If a step that writes files gets layers that do not belong together.
        """
        settings = self.settings(given)
        result = with_given_layers(_as_result(source, settings, results=self.takes_results))
        if not self.takes_results and result.read_back:
            raise ParameterError(
                f"{self.name}: the source is a result read from a file, and this step needs the "
                "job itself. Give the job."
            )
        self.check_lines(settings, result.job)
        settings = with_units(settings, result.job)
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
                "%s ran again: layers that %s made from its earlier output were removed; run %s "
                "again.",
                self.name, ", ".join(dropped), "it" if len(dropped) == 1 else "them",
            )  # fmt: skip
        return done

    def _seen(self, result: Result) -> Result:
        """Return what the step gets: one that digs or writes sees only places on the ground."""
        from leakgeo.job.placed import on_the_ground

        return on_the_ground(result) if self.group in ("Dig", "Deliver") else result

    def _run(self, result: Result, settings: dict[str, object]) -> Result:
        """Make missing layers, run the function, check its layers and record the run."""
        from leakgeo.job.placed import without_invented_places

        result = _with_layers(result, self.needs)
        module, _, name = self.function.partition(":")
        function = getattr(import_module(module), name)
        begin = time.perf_counter()
        with single_threaded if self.by_line else nullcontext():
            done: Result = function(self._seen(result), **settings)
        done = without_invented_places(done, result.job)
        ran = {self.name, *(one.step for one in done.made)}
        missing = [s for name, s in load_steps().items() if name not in ran]
        check_columns(self, done.layers, missing)
        done = with_step_run(self, settings, done)
        return replace(
            done,
            parameters={**done.parameters, self.name: settings},
            timings={**done.timings, self.name: time.perf_counter() - begin},
        )


def with_units(settings: Mapping[str, object], job: Job) -> dict[str, object]:
    """Return settings in which ``units``, if it is None, is that of the job's CRS."""
    if "units" not in settings:
        return dict(settings)
    selected: Any = settings["units"]
    return {**settings, "units": job.units(selected)}


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
    """Rerun the steps before `step`, for a result whose earlier layers are not stored."""
    from leakgeo.result import Result

    rerun = Result(result.job)
    for one in result.made[: first_run(result, step)]:
        rerun = load_steps()[one.step](rerun, **one.parameters)
    return rerun


def _with_layers(result: Result, needs: Iterable[str]) -> Result:
    """Make missing layers, each with the first step that makes it."""
    for layer in needs:
        if layer not in result.layers:
            # Steps can't compute missing layers from a result that was read from a file.
            if result.read_back:
                continue
            maker = next((s for s in load_steps().values() if layer in s.makes), None)
            if maker is None:
                raise ContractError(
                    f"{layer}: no installed step makes this layer. Install leakgeo again, so that "
                    "its entry points are registered."
                )
            result = maker(result)
    return result


@dataclass(frozen=True)
class BrokenStep:
    """A step of another package that failed to load; it is reported and does not stop others.

    Parameters
    ----------
    name : str
        Name of its entry point.
    reason : str
        Type and message of the error.
    """

    name: str
    reason: str


@cache
def discover() -> tuple[dict[str, Step], tuple[BrokenStep, ...]]:
    """Load all steps that installed packages declare, including leakgeo.

    Returns
    -------
    steps : dict of str to Step
        In the order of the chain.
    broken : tuple of BrokenStep
        Steps that did not load, with the reason.
    """
    steps: list[Step] = []
    broken: list[BrokenStep] = []
    for point in sorted(entry_points(group=ENTRY_POINT_GROUP), key=_own_first):
        if any(step.name == point.name for step in steps):
            continue
        try:
            loaded = point.load()
        except Exception as error:  # noqa: BLE001 - a fault of another package must not stop ours
            broken.append(BrokenStep(point.name, f"{type(error).__name__}: {error}"))
            continue
        if isinstance(loaded, Step):
            steps.append(loaded)
        else:
            broken.append(BrokenStep(point.name, "its entry point is not a leakgeo Step"))
    steps.sort(key=lambda step: (step.order, step.name))
    return {step.name: step for step in steps}, tuple(broken)


def _own_first(point: EntryPoint) -> tuple[bool, str]:
    """Sort steps of leakgeo first, so that another package can't replace them."""
    return not point.value.startswith("leakgeo."), point.name


def load_steps() -> dict[str, Step]:
    """Return every step that loads, by name.

    Returns
    -------
    dict of str to Step
        In the order of `discover`.

    Examples
    --------
    >>> from leakgeo.registry import load_steps
    >>> list(load_steps())[:3]
    ['meter', 'steptest', 'survey']
    """
    return discover()[0]
