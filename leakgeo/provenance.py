"""Where each layer of a result comes from: the step, its parameters, and what the step read."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field, replace
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

#: Parameters that change no layer.
NEUTRAL_PARAMETERS = ("out", "units", "language", "workers")


@dataclass(frozen=True, eq=False)
class StepRun:
    """What one run of a step made.

    Parameters
    ----------
    step : str
        Its name; ``""`` for layers that were given, not made.
    layers : mapping of str to pandas.DataFrame
        Layers as the step left them.
    reads : collection of str
        Layers that the step reads.
    parameters : mapping of str to object
    inputs : tuple of StepRun
        What made the layers that it read.
    replaced : mapping of str to pandas.DataFrame
        Layers as they were before, of those that the step filled in further.
    faults : tuple of Fault
        What the step found wrong.
    non_defaults : mapping of str to object
        Parameters that are not the defaults.
    own : bool
        Whether the step is leakgeo's own.
    reversible : bool
        Whether `replaced` is known; of a job that went through in chunks it is not.
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
        told = {n: _content(v) for n, v in self.parameters.items() if n not in NEUTRAL_PARAMETERS}
        read = sorted(one.digest for one in self.inputs)
        return json_sha256([self.step, told, leakgeo.__version__, *read])


def _content(value: object) -> object:
    """Give a file by what is in it, so that it may lie anywhere."""
    if isinstance(value, Path) and value.is_file():
        with value.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    return value


def json_sha256(value: object) -> str:
    """Give the SHA-256 of what JSON can hold; all else goes by its text.

    Examples
    --------
    >>> json_sha256({"a": 1})[:8]
    'f9d86028'
    """
    return hashlib.sha256(json.dumps(value, sort_keys=True, default=str).encode()).hexdigest()


def makers(made: Iterable[StepRun]) -> dict[str, StepRun]:
    """Give what made each layer as it stands now."""
    return {name: one for one in made for name in one.layers}


def with_step_run(step: Step, parameters: Mapping[str, object], done: Result) -> Result:
    """Record what a step made.

    Parameters
    ----------
    step : Step
    parameters : mapping of str to object
        In force.
    done : Result
        What the step gave. What ran before, or within it, is recorded there already.
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
    """Record what steps made of a job that went through them in chunks of lines.

    Each layer is at hand as the last of the steps left it, so none of them can be undone.

    Parameters
    ----------
    result : Result
        With the layers of all steps.
    steps : iterable of (Step, parameters)
        In the order in which they ran.
    """
    made = result.made
    own = result.faults[sum(len(m.faults) for m in made) :]
    for step, parameters in steps:
        layers = {n: result.layers[n] for n in (*step.makes, *step.changes) if n in result.layers}
        one = _step_run(step, parameters, makers(made), layers)
        made, own = (*made, replace(one, faults=own, reversible=False)), ()
    return replace(result, made=made)


def with_given_layers(result: Result) -> Result:
    """Record layers that no step made, as of a result that was put together by hand."""
    if result.made or not (result.layers or result.faults):
        return result
    return replace(result, made=(StepRun("", dict(result.layers), faults=result.faults),))


def rewind(result: Result, step: str) -> tuple[Result, tuple[StepRun, ...]] | None:
    """Take a result back to before a step ran for the first time.

    Returns
    -------
    before : Result
        The result that the step took; the same where it has not run.
    later : tuple of StepRun
        What ran after it, in order.

    None where the layers that the step took are not known any more.
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
    """Find where a step ran first; after all others where it has not."""
    return next((k for k, one in enumerate(result.made) if one.step == step), len(result.made))


def _with(result: Result, layers: Mapping[str, pd.DataFrame], made: tuple[StepRun, ...]) -> Result:
    """Give a result with these layers, and what is known of the steps that made them."""
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
    """Keep of what ran after a step that ran again what does not depend on it.

    Parameters
    ----------
    result : Result
        As the step left it that ran again.
    later : iterable of StepRun
        What ran after its earlier run, in order.
    earlier : Result
        With the parameters and times of those.

    Returns
    -------
    result : Result
    dropped : tuple of str
        Steps whose layers were made from what the step replaced, and are gone.
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
    """Give what of a step other runs of the job may have otherwise; None where that is nothing."""
    from leakgeo.job.digest import LayerDigest

    if not one.step:
        return [LayerDigest.of(layer) for _, layer in sorted(one.layers.items())]
    told = {n: _content(v) for n, v in one.non_defaults.items() if n not in NEUTRAL_PARAMETERS}
    return [one.step, told] if one.layers and (told or not one.own) else None


def check_one_origin(result: Result, contract: Collection[str]) -> None:
    """Make sure that the layers of the contract are what the steps of this result made.

    Parameters
    ----------
    result : Result
    contract : collection of str
        Names of the layers that the contract knows; others may be added by hand.

    Raises
    ------
    OutputError
        If a layer was put in by hand after a step, or was made from a layer that is not there any
        more.
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
            f"{', '.join(foreign)}: not made by the steps of this result, so its layers do not "
            "belong together. Run the steps that make them on this result, or give a layer of "
            "yours another name."
        )
    digests = {one.digest for one in result.made}
    for one in result.made:
        if not all(source.digest in digests for source in one.inputs):
            raise OutputError(
                f"{', '.join(one.layers)}: made by {one.step} from layers that were replaced "
                f"since. Run {one.step} again."
            )


def run_id(result: Result) -> str:
    """Give the id that all files made from a result show: twelve hexadecimal digits.

    It is made of the job, the version, and what was asked otherwise than by default, so the same
    job worked out again in the same way has the same id, however far it was taken.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> run_id(SimpleNamespace(run_id_read="0123-4567-89ab"))
    '0123-4567-89ab'
    """
    if result.run_id_read:
        return result.run_id_read
    asked = sorted(json_sha256(said) for one in result.made if (said := _non_defaults(one)))
    whole = json_sha256([result.job.layers_digest, leakgeo.__version__, *asked])
    return "-".join(whole[k : k + 4] for k in (0, 4, 8))
