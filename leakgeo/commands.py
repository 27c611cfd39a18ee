"""The commands that are made from steps, as the command line and a GIS toolbox read them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.deliver.files import FILES
from leakgeo.options import COMMON, RESUME, SCHEDULER
from leakgeo.registry import load_steps

if TYPE_CHECKING:
    from leakgeo.job.schema import LayerSchema
    from leakgeo.parameter import Parameter
    from leakgeo.registry import Step

#: Version of every JSON document; it grows when a key goes or changes its meaning.
JSON_FORMAT = 1
RUN_ABOUT = (
    "Every step in turn: loss by the meter, the first survey, levels, where the leak is, where to "
    "listen next, ways to improve, air on and off, what holds the dig, map, report and styles. "
    "Only the layers routes and readings are required; what another layer would add is said when "
    "it is missing. The job is only read. A line that can't be worked out is told and stops no "
    "other."
)
RUN_EXAMPLES = (
    "run job.gpkg --out out",
    "run job.gpkg --out out --units us --dig-date 2026-03-31",
    "run job.gpkg --out out --line M-1 --line S-104 --overwrite",
    "run export.gdb --mapping map.toml --out out",
    "run city.gpkg --out city --workers 8 --resume",
    "run /shared/city.gpkg --out city --scheduler tcp://10.0.0.5:8786",
    "run job.gpkg --out out --json",
    (
        "run postgresql://db.example/water --mapping map.toml --out out "
        "--to-postgis postgresql://db.example/water"
    ),
)


@dataclass(frozen=True)
class Command:
    """A command that reads a job and writes results: one step, or ``run`` for all of them.

    Parameters
    ----------
    name, summary, about, group : str
    needs, makes : tuple of str
        Layers and files.
    parameters : tuple of Parameter
        Those that commands share first, then each step's own; ``group`` says whose.
    examples : tuple of str
        Calls, without the program's name.
    """

    name: str
    summary: str
    about: str
    group: str
    needs: tuple[str, ...]
    makes: tuple[str, ...]
    parameters: tuple[tuple[str, Parameter], ...]
    examples: tuple[str, ...]


def of_step(step: Step) -> Command:
    """Give the command of a step."""
    own = _grouped(step)
    return Command(
        step.name, step.summary, step.about, step.group, step.needs, step.makes,
        _without_twins((*_common(), *own)), step.examples or (f"{step.name} job.gpkg --out out",),
    )  # fmt: skip


def of_run() -> Command:
    """Give the command that runs every step."""
    steps = load_steps().values()
    made = tuple(dict.fromkeys(layer for step in steps for layer in step.makes))
    own = [pair for step in steps for pair in _grouped(step)]
    large = [(p.group, p) for p in (RESUME, SCHEDULER)]
    return Command(
        "run", "Run a job through the whole chain, and write every result.", RUN_ABOUT, "Run",
        ("routes", "readings"), made, _without_twins((*_common(), *large, *own)),
        RUN_EXAMPLES,
    )  # fmt: skip


def commands() -> dict[str, Command]:
    """Give every command that is made from steps, by name, ``run`` first.

    Examples
    --------
    >>> list(commands())[:3]
    ['run', 'meter', 'survey']
    """
    return {"run": of_run(), **{name: of_step(step) for name, step in load_steps().items()}}


def describe() -> dict[str, object]:
    """Describe commands, their parameters, and the layers of a job, as JSON can hold it.

    Returns
    -------
    dict
        As ``leakgeo steps --json`` prints it; ``cli/README.md`` explains the keys.

    Examples
    --------
    >>> told = describe()
    >>> told["steps"][0]["name"], told["input_layers"][0]["name"]
    ('run', 'routes')
    """
    from leakgeo.job.schema import load_schemas

    return {
        "steps": [_command(c) for c in commands().values()],
        "files": list(FILES),
        "input_layers": [_layer(schema) for schema in load_schemas("input").values()],
        "output_layers": [_layer(schema) for schema in load_schemas("output").values()],
    }


def _common() -> list[tuple[str, Parameter]]:
    return [(p.group, p) for p in COMMON]


def _grouped(step: Step) -> list[tuple[str, Parameter]]:
    return [(p.group or f"Step {step.name}", p) for p in step.parameters]


def _without_twins(
    parameters: tuple[tuple[str, Parameter], ...],
) -> tuple[tuple[str, Parameter], ...]:
    """Steps share parameters by name; the first is listed."""
    first: dict[str, tuple[str, Parameter]] = {}
    for group, parameter in parameters:
        first.setdefault(parameter.name, (group, parameter))
    return tuple(first.values())


def _command(command: Command) -> dict[str, object]:
    return {
        "name": command.name, "summary": command.summary, "help": command.about,
        "group": command.group, "needs": list(command.needs), "makes": list(command.makes),
        "parameters": [parameter_told(group, p) for group, p in command.parameters],
        "examples": [f"leakgeo {example}" for example in command.examples],
    }  # fmt: skip


def parameter_told(group: str, parameter: Parameter) -> dict[str, object]:
    """Describe one parameter."""
    default = parameter.default
    if isinstance(default, tuple):
        default = list(default)
    return {
        "name": parameter.name, "option": parameter.option, "option_off": parameter.option_off,
        "kind": parameter.kind, "default": str(default) if isinstance(default, Path) else default,
        "help": parameter.help, "unit": parameter.unit, "choices": list(parameter.choices),
        "minimum": parameter.minimum, "maximum": parameter.maximum,
        "required": parameter.required, "many": parameter.many, "group": group,
    }  # fmt: skip


def _layer(schema: LayerSchema) -> dict[str, object]:
    return {
        "name": schema.name, "title": schema.title, "description": schema.description,
        "geometry_types": list(schema.geometry_types), "required": schema.required,
        "columns": [
            {"name": f.name, "type": f.type, "unit": f.unit, "required": f.required,
             "description": f.description, "codes": list(f.codes)}
            for f in schema.fields
        ],
    }  # fmt: skip
