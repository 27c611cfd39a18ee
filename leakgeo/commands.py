"""Descriptions of the commands made from steps, for the command line and the GIS toolbox."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.options import (
    CHECK_PARAMETERS,
    COMMON,
    JOB,
    LANGUAGE,
    MAPPING,
    METRICS,
    OUT,
    OVERWRITE,
    RELEARN,
    RESUME,
    SCHEDULER,
    UNITS,
    UPDATE,
    WHERE,
)
from leakgeo.parameter import Parameter
from leakgeo.registry import load_steps
from leakgeo.staging import FILES

if TYPE_CHECKING:
    from leakgeo.job.schema import LayerSchema
    from leakgeo.registry import Step

#: Version of the JSON documents, increased when a key is removed or changes its meaning.
JSON_FORMAT = 1
RUN_ABOUT = (
    "Runs every step in order: meter tests, first survey, levels, location of the leak, ways to "
    "improve, next readings, air test, clearance of the dig, map, report and styles. Only the "
    "layers routes and readings are required; a note says what a missing layer would add. The job "
    "is not changed. A line that can't be computed is reported, and the others go on. Lines that "
    "were only taped give result.xlsx as well."
)
RUN_EXAMPLES = (
    "run job.gpkg --out out",
    "run job.gpkg --out out --units us --dig-date 2026-03-31",
    "run job.gpkg --out out --line M-1 --line S-104 --overwrite",
    "run export.gdb --mapping map.toml --out out",
    (
        'run postgresql://db.example/water --where "district = 7" --out seven --overwrite '
        "--to-postgis postgresql://db.example/water --upsert"
    ),
    "run job.gpkg --out out --overwrite --keep-earlier",
    "run city.gpkg --out city --update",
    "run city.gpkg --out city --workers 8 --resume",
    "run /shared/city.gpkg --out city --scheduler tcp://10.0.0.5:8786",
    "run job.gpkg --out out --json",
    "run city.gpkg --out city --update --json --metrics /var/lib/monitoring/leakgeo.prom",
    (
        "run postgresql://db.example/water --mapping map.toml --out out "
        "--to-postgis postgresql://db.example/water"
    ),
)


@dataclass(frozen=True)
class Command:
    """A command for the command line and the GIS toolbox: a step, ``run`` for all steps, or a tool.

    Parameters
    ----------
    name, summary, about, group : str
    needs, makes : tuple of str
        Layers and files that it reads, and those that it makes.
    parameters : tuple of (str, Parameter)
        Heading and parameter: first those that all commands share, then those of each step.
    examples : tuple of str
        Calls, without the name of the program.
    takes : tuple of str
        What the job may be besides a file or a folder of the user: ``"layers"`` of the contract,
        which a GIS hands over, or ``"results"`` of an earlier run.
    by_place : tuple of str
        Names of the parameters that the command line takes by their place.
    title : str
        Name in a list for people; ``""`` for that of the command.
    """

    name: str
    summary: str
    about: str
    group: str
    needs: tuple[str, ...]
    makes: tuple[str, ...]
    parameters: tuple[tuple[str, Parameter], ...]
    examples: tuple[str, ...]
    takes: tuple[str, ...] = ("layers",)
    by_place: tuple[str, ...] = ("job",)
    title: str = ""


def step_command(step: Step) -> Command:
    """Return the command of a step."""
    own = _grouped(step)
    files = (made for name in step.followed_by for made in load_steps()[name].makes)
    return Command(
        step.name, step.summary, step.about, step.group, step.needs, (*step.makes, *files),
        _unique((*_common(), *own)), step.examples or (f"{step.name} job.gpkg --out out",),
        title=step.title, takes=("layers", "results") if step.takes_results else ("layers",),
    )  # fmt: skip


def run_command() -> Command:
    """Return the command that runs every step."""
    steps = load_steps().values()
    made = tuple(dict.fromkeys(layer for step in steps for layer in step.makes))
    own = [pair for step in steps for pair in _grouped(step)]
    large = [(p.group, p) for p in (METRICS, UPDATE, RELEARN, RESUME, SCHEDULER)]
    return Command(
        "run", "Run a job through the whole chain, and write every result.", RUN_ABOUT, "Run",
        ("routes", "readings"), made, _unique((*_common(), *large, *own)),
        RUN_EXAMPLES, title="Run the whole chain",
    )  # fmt: skip


def check_command() -> Command:
    """Return the command that reports the faults of a job."""
    parameters = (MAPPING, WHERE, *CHECK_PARAMETERS, UNITS, LANGUAGE)
    return Command(
        "check", "Report every fault of a job, and change nothing.", CHECK_ABOUT, "Begin",
        ("routes", "readings"), (), _options(JOB, *parameters),
        ("check job.gpkg", "check export.gdb --mapping map.toml",
         "check job.gpkg --route-sd-m 2", "check job.gpkg --json"),
    )  # fmt: skip


def mapping_command() -> Command:
    """Return the command that drafts a mapping; its job has layers that leakgeo does not know."""
    out = Parameter("out", "file", None, "File to write; without it, the draft is printed.")
    return Command(
        "mapping", "Draft a mapping of your layers, columns and codes, for you to correct.",
        MAPPING_ABOUT, "Begin", (), (), _options(JOB, out),
        ("mapping export.gdb", "mapping export.gdb --out map.toml",
         "mapping postgresql://db.example/water --out map.toml"),
        takes=(), title="Mapping draft",
    )  # fmt: skip


def demo_command() -> Command:
    """Return the command that runs the chain on an invented town."""
    seed = Parameter("seed", "integer", 20, "Number that the town is drawn from: another one gives "
                     "other pipes, leaks and readings.", minimum=0)  # fmt: skip
    return Command(
        "demo", "Write a small invented town, and run the chain on it.", DEMO_ABOUT, "Begin",
        (), run_command().makes, _options(OUT, seed, UNITS, LANGUAGE, OVERWRITE),
        ("demo rehearsal", "demo rehearsal --units us --overwrite", "demo another --seed 7"),
        takes=(), by_place=("out",),
    )  # fmt: skip


CHECK_ABOUT = (
    "JOB is a file of many layers, a folder of files named like the layers, or the URL of a "
    "PostGIS database. Each fault has layer, feature, what to do, and its effect: noted (the "
    "data are used), rejected (the row or layer is not used), or stops (the job can't be run)."
)
MAPPING_ABOUT = (
    "A mapping translates your layers, columns, codes and units to those of leakgeo. The "
    "draft has a comment wherever it is not sure. Correct it, and give it to check and run as "
    "their mapping."
)
DEMO_ABOUT = (
    "Some thirty lines, some with a leak, with readings, fittings, meter tests and utilities; "
    "two readings are faulty on purpose. All data are simulated. It writes what run writes, "
    "and town.gpkg: the job, to try the other commands on."
)


WATCH_ABOUT = (
    "Waits until any program saves JOB, and prints one line for each line whose readings changed, "
    "or what is said of it: first what holds a dig, then what is thought now, then where to listen "
    "next or why to stop. Nothing it prints clears a dig. Then it writes layers, map, tables and "
    "locate requests as one run; a newer save is answered first, and the files of both are written "
    "together, at most about 10 s late. Ctrl-C ends it, and leaves the results written last.\n\n"
    "Report and exports of an earlier run into the folder are removed; run with --update writes "
    "them. JOB is a file or a folder; databases do not tell when they are saved. With --json each "
    "event is one line of JSON on stdout."
)
# Options of a run that a watch has no use for.
_NOT_WATCHED = ("where", "overwrite", "keep_earlier", "to_postgis", "schema", "upsert", "resume",
                "scheduler", "workers", "update", "relearn", "metrics")  # fmt: skip


def watch_command() -> Command:
    """Return the command that runs what changed at each save."""
    run = run_command()
    later = {p.name for name in ("report", "export") for p in load_steps()[name].parameters}
    later -= {"out", "units", "language", "lines"}
    kept = [(g, p) for g, p in run.parameters if p.name not in {*_NOT_WATCHED, *later}]
    return Command(
        "watch", "Answer each save of a job: what changed, and where to listen next.",
        WATCH_ABOUT, "Run", run.needs, run.makes, tuple(kept),
        ("watch job.gpkg --out out", "watch job.gpkg --out out --line H-126 --units us",
         "watch monday --out out --json"),
    )  # fmt: skip


def commands() -> dict[str, Command]:
    """Return the commands made from steps, by name, ``run`` first.

    Examples
    --------
    >>> list(commands())[:3]
    ['run', 'meter', 'steptest']
    """
    return {
        "run": run_command(),
        **{name: step_command(step) for name, step in load_steps().items()},
    }


def describe() -> dict[str, object]:
    """Return a description of commands, parameters and layers, for JSON.

    Returns
    -------
    dict
        As ``leakgeo steps --json`` prints it; ``cli/README.md`` explains the keys.

    Examples
    --------
    >>> described = describe()
    >>> described["steps"][0]["name"], described["input_layers"][0]["name"]
    ('run', 'routes')
    """
    from leakgeo.job.schema import CUT_NAMES_MARK, load_schemas

    return {
        "steps": [_command(c) for c in commands().values()],
        "tools": [_command(c) for c in (check_command(), mapping_command(), demo_command())],
        "files": list(FILES),
        "cut_names_mark": CUT_NAMES_MARK,
        "input_layers": [_layer(schema) for schema in load_schemas("input").values()],
        "output_layers": [_layer(schema) for schema in load_schemas("output").values()],
    }


def _common() -> list[tuple[str, Parameter]]:
    return [(p.group, p) for p in COMMON]


def _options(*parameters: Parameter) -> tuple[tuple[str, Parameter], ...]:
    return tuple((p.group or "Options", p) for p in parameters)


def _grouped(step: Step) -> list[tuple[str, Parameter]]:
    return [(p.group or f"Step {step.name}", p) for p in step.parameters]


def _unique(
    parameters: tuple[tuple[str, Parameter], ...],
) -> tuple[tuple[str, Parameter], ...]:
    """Keep the first of several parameters of the same name."""
    first: dict[str, tuple[str, Parameter]] = {}
    for group, parameter in parameters:
        first.setdefault(parameter.name, (group, parameter))
    return tuple(first.values())


def _command(command: Command) -> dict[str, object]:
    return {
        "name": command.name, "title": command.title or command.name.capitalize(),
        "summary": command.summary, "help": command.about, "group": command.group,
        "needs": list(command.needs), "makes": list(command.makes), "takes": list(command.takes),
        "parameters": [
            describe_parameter(group, p) | ({"option": None} if p.name in command.by_place else {})
            for group, p in command.parameters
        ],
        "examples": [f"leakgeo {example}" for example in command.examples],
    }  # fmt: skip


def describe_parameter(group: str, parameter: Parameter) -> dict[str, object]:
    """Return the description of a parameter, for JSON."""
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
        "tables": [schema.name, *(part.name for part in schema.parts())],
        "columns": [
            {"name": f.name, "type": f.type, "unit": f.unit, "required": f.required,
             "description": f.description, "codes": list(f.codes)}
            for f in schema.fields
        ],
    }  # fmt: skip
