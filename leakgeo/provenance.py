"""Provenance of the layers of a result: steps, parameters and inputs."""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import leakgeo
from leakgeo.errors import OutputError

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping

    import pandas as pd

    from leakgeo.faults import Fault
    from leakgeo.registry import Step
    from leakgeo.result import Result

# Time to state instead of the clock's, in seconds since 1970, for builds that are to be the same:
# https://reproducible-builds.org/specs/source-date-epoch/
_EPOCH = "SOURCE_DATE_EPOCH"
#: Parameters that do not change any layer.
NEUTRAL_PARAMETERS = ("out", "units", "language", "workers")


@dataclass(frozen=True, eq=False)
class StepRun:
    """Record of one run of a step.

    Parameters
    ----------
    step : str
        Name of the step; ``""`` for layers given by the user.
    layers : mapping of str to pandas.DataFrame
        Layers after the step.
    reads : collection of str
        Names of the layers that the step reads.
    parameters : mapping of str to object
    inputs : tuple of StepRun
        Runs that made the layers that it read.
    replaced : mapping of str to pandas.DataFrame
        Earlier versions of the layers that the step changed.
    faults : tuple of Fault
        Faults found by the step.
    non_defaults : mapping of str to object
        Parameters that differ from their defaults.
    own : bool
        Whether the step is part of leakgeo.
    reversible : bool
        Whether the run can be undone: `replaced` is not stored if the job ran in chunks.
    """

    step: str
    layers: Mapping[str, pd.DataFrame]
    reads: Collection[str] = ()
    parameters: Mapping[str, object] = field(default_factory=dict)
    inputs: tuple[StepRun, ...] = ()
    replaced: Mapping[str, pd.DataFrame] = field(default_factory=dict)
    faults: tuple[Fault, ...] = ()
    non_defaults: Mapping[str, object] = field(default_factory=dict)
    own: bool = True
    reversible: bool = True

    @cached_property
    def digest(self) -> str:
        """SHA-256 of the step, its parameters, the version, and the digests of its inputs."""
        parameters = {
            n: content_of(v) for n, v in self.parameters.items() if n not in NEUTRAL_PARAMETERS
        }
        read = sorted(one.digest for one in self.inputs)
        return json_sha256([self.step, parameters, leakgeo.__version__, *read])


def content_of(value: object) -> object:
    """Return the SHA-256 of a file, so that its path does not matter; other values unchanged.

    A text ``FILE#NAME`` names a part of a file, such as a tolerance rule.
    """
    if isinstance(value, Path) and value.is_file():
        with value.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    if isinstance(value, str) and "#" in value:
        path, _, name = value.rpartition("#")
        digest = content_of(Path(path)) if path else None
        return f"{digest}#{name}" if isinstance(digest, str) else value
    return value


def json_sha256(value: object) -> str:
    """Return the SHA-256 of a value as JSON; other objects count by their text.

    Examples
    --------
    >>> json_sha256({"a": 1})[:8]
    'f9d86028'
    """
    return hashlib.sha256(json.dumps(value, sort_keys=True, default=str).encode()).hexdigest()


def makers(made: Iterable[StepRun]) -> dict[str, StepRun]:
    """Return the run that made the current version of each layer, by name."""
    return {name: one for one in made for name in one.layers}


def with_step_run(step: Step, parameters: Mapping[str, object], done: Result) -> Result:
    """Return a result with the run of a step recorded.

    Parameters
    ----------
    step : Step
    parameters : mapping of str to object
        Parameters of the run.
    done : Result
        Result of the step, in which runs before and within the step are recorded already.
    """
    known = makers(done.made)
    fresh = {n: f for n, f in done.layers.items() if n not in known or known[n].layers[n] is not f}
    one = replace(
        _step_run(step, parameters, known, fresh),
        replaced={n: known[n].layers[n] for n in fresh if n in known},
        faults=done.faults[sum(len(m.faults) for m in done.made):],
    )  # fmt: skip
    return replace(done, made=(*done.made, one))


def _step_run(
    step: Step, parameters: Mapping[str, object], known: Mapping[str, StepRun],
    layers: Mapping[str, pd.DataFrame],
) -> StepRun:  # fmt: skip
    reads = frozenset(known) if step.writes_files else frozenset(step.reads)
    inputs = {id(known[n]): known[n] for n in sorted(reads) if n in known}
    return StepRun(
        step.name, layers, reads, parameters, tuple(inputs.values()),
        non_defaults=step.non_defaults(parameters), own=step.function.startswith("leakgeo."),
    )  # fmt: skip


def with_chunked_runs(result: Result, steps: Iterable[tuple[Step, Mapping[str, object]]]) -> Result:
    """Return a result with runs of steps recorded that processed the job in chunks of lines.

    Only the last version of each layer is stored, so none of the runs can be undone.

    Parameters
    ----------
    result : Result
        With the layers of all steps.
    steps : iterable of (Step, parameters)
        In the order of running.
    """
    made = result.made
    own = result.faults[sum(len(m.faults) for m in made) :]
    for step, parameters in steps:
        layers = {n: result.layers[n] for n in (*step.makes, *step.changes) if n in result.layers}
        one = _step_run(step, parameters, makers(made), layers)
        made, own = (*made, replace(one, faults=own, reversible=False)), ()
    return replace(result, made=made)


def with_layers_instead(
    made: Iterable[StepRun], old: Mapping[str, pd.DataFrame], new: Mapping[str, pd.DataFrame]
) -> tuple[StepRun, ...]:
    """Return runs of steps that made other forms of their layers, such as those with texts.

    Layers that the user gave stay as they are, as their content enters the run id.
    """
    return tuple(
        replace(one, layers={n: new[n] if old.get(n) is f else f for n, f in one.layers.items()})
        if one.step else one
        for one in made
    )  # fmt: skip


def with_given_layers(result: Result) -> Result:
    """Return a result with layers recorded that the user put into it."""
    if result.made or not (result.layers or result.faults):
        return result
    return replace(result, made=(StepRun("", dict(result.layers), faults=result.faults),))


def rewind(result: Result, step: str) -> tuple[Result, tuple[StepRun, ...]] | None:
    """Return a result to its state before the first run of a step.

    Returns
    -------
    before : Result
        The input of the step; `result` itself if the step has not run.
    later : tuple of StepRun
        Runs after it, in order.

    None if the input of the step is not stored.
    """
    first = first_run(result, step)
    undone = result.made[first:]
    if not all(one.reversible for one in undone):
        return None
    layers = dict(result.layers)
    for one in reversed(undone):
        for name in one.layers:
            layers.pop(name, None)
        layers |= one.replaced
    return (_with(result, layers, result.made[:first]) if undone else result), undone[1:]


def first_run(result: Result, step: str) -> int:
    """Return the index of the first run of a step; the number of runs if it has not run."""
    return next((k for k, one in enumerate(result.made) if one.step == step), len(result.made))


def _with(result: Result, layers: Mapping[str, pd.DataFrame], made: tuple[StepRun, ...]) -> Result:
    """Return a result with these layers and runs, and the faults and parameters of the runs."""
    steps = {one.step for one in made}
    return replace(
        result, layers=layers, made=made,
        faults=tuple(fault for one in made for fault in one.faults),
        parameters={n: p for n, p in result.parameters.items() if n in steps},
        timings={n: t for n, t in result.timings.items() if n in steps},
        streamed={n: parts for n, parts in result.streamed.items() if n in layers},
    )  # fmt: skip


def keep_independent(
    result: Result, later: Iterable[StepRun], earlier: Result
) -> tuple[Result, tuple[str, ...]]:
    """Keep later runs that do not depend on a step that ran again.

    Parameters
    ----------
    result : Result
        Result of the step that ran again.
    later : iterable of StepRun
        Runs after the earlier run of the step, in order.
    earlier : Result
        Result with the parameters and times of the later runs.

    Returns
    -------
    result : Result
    dropped : tuple of str
        Steps whose layers are removed, because they depend on replaced layers.
    """
    changed, dropped = set(result.made[-1].layers), []
    for one in later:
        if one.reversible and changed.isdisjoint({*one.reads, *one.replaced, *one.layers}):
            result = replace(
                result, layers={**result.layers, **one.layers}, made=(*result.made, one),
                faults=(*result.faults, *one.faults),
                parameters={**result.parameters, one.step: one.parameters},
                timings={**result.timings, **_time(earlier, one.step)},
            )  # fmt: skip
        else:
            changed |= set(one.layers)
            dropped += [one.step] if one.layers else []
    return result, tuple(dict.fromkeys(dropped))


def _time(earlier: Result, step: str) -> dict[str, float]:
    return {step: earlier.timings[step]} if step in earlier.timings else {}


def _non_defaults(one: StepRun) -> object:
    """Return the part of a run that enters the run id; None if the defaults were used."""
    from leakgeo.job.digest import LayerDigest

    if not one.step:
        return [LayerDigest.of(layer) for _, layer in sorted(one.layers.items())]
    given = {n: content_of(v) for n, v in one.non_defaults.items() if n not in NEUTRAL_PARAMETERS}
    return [one.step, given] if one.layers and (given or not one.own) else None


def check_one_origin(result: Result, contract: Collection[str]) -> None:
    """Raise OutputError if a layer was not made by the recorded steps of a result.

    Parameters
    ----------
    result : Result
    contract : collection of str
        Names of the layers in the contract; layers of other names are allowed.

    Raises
    ------
    OutputError
        If a layer was replaced without a step, or was made from a layer that has been replaced
        since.
    """
    if not result.made:
        return
    known = makers(result.made)
    foreign = [
        name for name, layer in result.layers.items()
        if name in contract and (name not in known or known[name].layers[name] is not layer)
    ]  # fmt: skip
    if foreign:
        raise OutputError(
            f"{', '.join(foreign)}: not made by the steps of this result, so the layers do not "
            "belong together. Run the steps that make them on this result, or give your own layer "
            "another name."
        )
    digests = {one.digest for one in result.made}
    for one in result.made:
        if not all(source.digest in digests for source in one.inputs):
            raise OutputError(
                f"{', '.join(one.layers)}: made by {one.step} from layers that were replaced "
                f"since. Run {one.step} again."
            )


def run_id(result: Result) -> str:
    """Return the run id of a result: twelve hexadecimal digits, the same in all of its files.

    It is a hash of the job, the version of leakgeo, and the parameters that differ from their
    defaults. The same job run again with the same parameters has the same id.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> run_id(SimpleNamespace(run_id_read="0123-4567-89ab"))
    '0123-4567-89ab'
    """
    if result.run_id_read:
        return result.run_id_read
    given = sorted(json_sha256(used) for one in result.made if (used := _non_defaults(one)))
    whole = json_sha256([result.job.layers_digest, leakgeo.__version__, *given])
    return "-".join(whole[k : k + 4] for k in (0, 4, 8))


def now_utc() -> str:
    """Return the time in UTC to the second (ISO 8601), or that of ``SOURCE_DATE_EPOCH``."""
    given = os.environ.get(_EPOCH, "")
    now = datetime.fromtimestamp(int(given), UTC) if given.isdecimal() else datetime.now(UTC)
    return now.isoformat(timespec="seconds")


def utc_time(written: str) -> datetime | None:
    """Return a time that `now_utc` gave; None for another text."""
    try:
        found = datetime.fromisoformat(written)
    except ValueError:
        return None
    return None if found.tzinfo is None else found.astimezone(UTC)


def utc_text(written: str) -> str:
    """Return a time that `now_utc` gave as people read it; ``""`` for another text.

    Examples
    --------
    >>> utc_text("2026-03-01T08:00:00+00:00"), utc_text("")
    ('2026-03-01 08:00:00 UTC', '')
    """
    found = utc_time(written)
    return "" if found is None else f"{found:%Y-%m-%d %H:%M:%S} UTC"
