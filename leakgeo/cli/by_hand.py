"""The commands that are no step: to begin with, and to tell programs and shells what there is."""

from __future__ import annotations

import os
import shlex
import subprocess
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from rich_click import RichOption

from leakgeo.cli.document import DONE, SOME_REJECTED, Outcome, of_job
from leakgeo.cli.helping import HelpCommand
from leakgeo.cli.options import JobType, option_of
from leakgeo.cli.told import counted
from leakgeo.options import CHECK_PARAMETERS, LANGUAGE, MAPPING, OVERWRITE, UNITS, of_checks

if TYPE_CHECKING:
    from leakgeo.cli.voice import Voice

_COARSE_M = 1e6
_FILE = click.Path(path_type=Path)
_BEGIN, _PROGRAMS = "To begin", "For programs and shells"


def _demo(voice: Voice, out: Path, units: str, language: str, *, overwrite: bool) -> Outcome:
    from leakgeo.cli.made import outcome_of
    from leakgeo.deliver.folder.write import check_folder
    from leakgeo.runner.chain import run
    from leakgeo.simulate.town import write_town

    begin = time.time()
    check_folder(out, overwrite=overwrite)
    job = out / "town.gpkg"
    job.unlink(missing_ok=True)
    write_town(job)
    voice.say(f"A simulated town is in {job}.")
    done = run(job, out, units=units, language=language, overwrite=overwrite,
               tell=voice.progress)  # fmt: skip
    return outcome_of(voice, done, out, (units, language), begin)


def _template(voice: Voice, job: Path, crs: str) -> Outcome:
    from leakgeo.job.template import write_template

    write_template(job, crs=crs)
    voice.written = job
    then = _typed("leakgeo", "check", str(job))
    voice.last(f"An empty job is in {job}. Fill it in, then: {then}")
    return Outcome(said={"files": [str(job.resolve())]})


def _typed(*words: str) -> str:
    """Give a command as it is typed in a shell, where a path may have spaces."""
    return subprocess.list2cmdline(words) if os.name == "nt" else shlex.join(words)


def _check(voice: Voice, job: str | Path, mapping: Path | None, **given: Any) -> Outcome:
    from leakgeo.job.read import read_job
    from leakgeo.registry import load_steps

    read = read_job(job, mapping=mapping, **of_checks(given))
    # What shows only once readings are put on their routes; the levels between them are not asked.
    faults = (*read.faults, *load_steps()["profile"](read, step_m=_COARSE_M, **given).faults)
    voice.faults(faults, most=None)
    for layer, rows in read.counts.items():
        voice.say(f"{layer}: {rows} read")
    voice.detail(f"It will be computed in {read.crs.name}, and written in {read.output_crs.name}")
    rejected = sum(f.effect == "rejected" for f in faults)
    noted = len(faults) - rejected
    voice.last(f"Rows are left out for {counted(rejected, 'fault')}; {counted(noted, 'thing')} to "
               "know. Nothing was changed.")  # fmt: skip
    return Outcome(SOME_REJECTED if rejected else DONE, of_job(read), faults)


def _mapping(voice: Voice, job: str | Path, out: Path | None) -> Outcome:
    from leakgeo.deliver.folder.atomic import write_new
    from leakgeo.job.mapping import draft_mapping

    text = draft_mapping(job)
    if out is None:
        voice.exactly(text)
    else:
        write_new(text, out)
        voice.written = out
        then = _typed("leakgeo", "check", str(job), "--mapping", str(out))
        voice.last(f"A draft is in {out}. Go through it, then: {then}")
    return Outcome(said={"mapping": text, "files": [str(out.resolve())] if out else []})


def _steps(voice: Voice) -> Outcome:
    from leakgeo.commands import commands, describe

    for command in commands().values():
        voice.say(f"{command.name:<10} {command.summary}")
        voice.detail("".join(
            f"    {p.option or p.name.upper():<22} {p.help}\n" for _, p in command.parameters
        ))  # fmt: skip
    voice.last("leakgeo STEP --help explains one; leakgeo steps --json tells it all to a program.")
    return Outcome(said=describe() if voice.json else {})


def _completion(voice: Voice, shell: str) -> Outcome:
    from click.shell_completion import ShellComplete, get_completion_class

    cli = click.get_current_context().find_root().command
    kind = get_completion_class(shell) or ShellComplete
    # Not that of bash itself, which starts bash to ask for its version.
    script = ShellComplete.source(kind(cli, {}, "leakgeo", "_LEAKGEO_COMPLETE"))
    voice.exactly(f"{script}\n")
    return Outcome(said={"script": script})


def _plugin(voice: Voice, out: Path, *, overwrite: bool) -> Outcome:
    from leakgeo.desktop import write_plugin

    write_plugin(out, overwrite=overwrite)
    voice.written = out
    voice.last(f"The plugin is in {out}. In QGIS: Plugins > Manage and Install > Install from ZIP.")
    return Outcome(said={"files": [str(out.resolve())]})


def _argument(name: str, kind: click.ParamType, metavar: str) -> click.Argument:  # type: ignore[type-arg]
    return click.Argument([name], type=kind, metavar=metavar)


DEMO = HelpCommand(
    "demo", panel=_BEGIN, callback=click.pass_obj(_demo),
    params=[_argument("out", _FILE, "OUT"), option_of(UNITS, "Options"),
            option_of(LANGUAGE, "Options"),
            option_of(OVERWRITE, "Options")],
    short_help="Write a small invented town, and run it through the chain.",
    help="Write a small invented town to OUT, and run it through the chain.\n\n"
         "Eighteen lines, some with a leak, with readings, fittings, meter tests and utilities; "
         "two readings are bad on purpose. All of it is simulated. It needs nothing of yours, and "
         "writes what run writes, and town.gpkg: the job, to try the other commands on.",
    examples=("demo rehearsal", "demo rehearsal --units us --overwrite"),
)  # fmt: skip
TEMPLATE = HelpCommand(
    "template", panel=_BEGIN, callback=click.pass_obj(_template),
    params=[_argument("job", _FILE, "JOB.gpkg"),
            RichOption(["--crs"], default="EPSG:4326", metavar="CRS", panel="Options",
                       show_default=True,
                       help="CRS of its layers, as PROJ names it; feet will do.")],
    short_help="Write an empty job, to fill in your GIS.",
    help="Write an empty job with every layer of the data contract, to fill in your GIS.\n\n"
         "Each column is explained in the file. Only routes and readings must be filled in: "
         "line_id of a route; reading_id, sound_level and sound_unit of a reading.",
    examples=("template job.gpkg", "template job.gpkg --crs EPSG:2289"),
)  # fmt: skip
CHECK = HelpCommand(
    "check", panel=_BEGIN, callback=click.pass_obj(_check),
    params=[_argument("job", JobType(), "JOB"), option_of(MAPPING, "Options"),
            *(option_of(p, "Options") for p in CHECK_PARAMETERS)],
    short_help="Tell everything that is wrong with a job, and change nothing.",
    help="Tell everything that is wrong with JOB, and change nothing.\n\n"
         "JOB is a file of many layers, a folder of files named like the layers, or the URL of a "
         "PostGIS database. Each fault names layer, feature and remedy: noted, nothing is lost by "
         "it; rejected, that row is not used; stops, the job can't be run. Faults are on stderr, "
         "rows read on stdout.",
    examples=("check job.gpkg", "check export.gdb --mapping map.toml",
              "check job.gpkg --route-sd-m 2", "check job.gpkg --json"),
)  # fmt: skip
MAPPING_DRAFT = HelpCommand(
    "mapping", panel=_BEGIN, callback=click.pass_obj(_mapping),
    params=[_argument("job", JobType(), "JOB"),
            RichOption(["--out"], type=_FILE, metavar="MAP.toml", panel="Options",
                       help="File to write; without it, the draft is shown.")],
    short_help="Draft a mapping of your layers, columns and codes, for you to correct.",
    help="Draft a mapping from what is seen in JOB, for you to correct.\n\n"
         "A mapping tells which of your layers, columns, codes and units are which of leakgeo's. "
         "The draft has a comment wherever it is not sure. Check it, correct it, and hand it to "
         "check and run with --mapping.",
    examples=("mapping export.gdb", "mapping export.gdb --out map.toml",
              "mapping postgresql://db.example/water --out map.toml"),
)  # fmt: skip
STEPS = HelpCommand(
    "steps", panel=_PROGRAMS, callback=click.pass_obj(_steps),
    short_help="List the steps; with --json, all that a program needs to call them.",
    help="List the steps of the chain.\n\n"
         "With --json: for run and every step its parameters with kind, default, unit, range and "
         "choices, the layers it needs and makes, and the layers that a job may have.",
    examples=("steps", "steps --json"),
)  # fmt: skip
COMPLETION = HelpCommand(
    "completion", panel=_PROGRAMS, callback=click.pass_obj(_completion),
    params=[_argument("shell", click.Choice(("bash", "zsh", "fish")), "bash|zsh|fish")],
    short_help="Print a script that completes commands, options and files in your shell.",
    help="Print a script that completes commands, options, choices and files in your shell.\n\n"
         "\b\nPut it where your shell finds it, and open a new one:\n"
         "  bash  ~/.local/share/bash-completion/completions/leakgeo\n"
         "  zsh   _leakgeo in a folder of $fpath\n"
         "  fish  ~/.config/fish/completions/leakgeo.fish",
    examples=("completion bash > ~/.local/share/bash-completion/completions/leakgeo",
              "completion fish > ~/.config/fish/completions/leakgeo.fish"),
)  # fmt: skip
PLUGIN = HelpCommand(
    "plugin", panel=_PROGRAMS, callback=click.pass_obj(_plugin),
    params=[_argument("out", _FILE, "OUT.zip"), option_of(OVERWRITE, "Options")],
    short_help="Build the plugin that has every step in the toolbox of QGIS.",
    help="Build the plugin that has run and every step in the Processing toolbox of QGIS.\n\n"
         "Install it there with Plugins > Manage and Install Plugins > Install from ZIP. It needs "
         "QGIS 3.22 or newer, and nothing else: it runs this leakgeo as a program of its own.",
    examples=("plugin leakgeo.zip", "plugin leakgeo.zip --overwrite"),
)  # fmt: skip
