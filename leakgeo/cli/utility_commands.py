"""The commands that are not steps: demo, check, mapping, and those for programs."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from leakgeo.cli.document import Outcome, job_content
from leakgeo.cli.help import HelpCommand
from leakgeo.cli.options import BEGIN, FILE, JobType, argument_of, option_of
from leakgeo.cli.summary import command_line
from leakgeo.commands import check_command, demo_command, mapping_command
from leakgeo.options import OVERWRITE, of_checks
from leakgeo.reason import Reason
from leakgeo.runner.exit_codes import DONE, SOME_REJECTED
from leakgeo.wording import active_wording, set_locale

if TYPE_CHECKING:
    from collections.abc import Callable

    from leakgeo.cli.console import Console
    from leakgeo.commands import Command

# Spacing so wide that check computes no levels between readings.
_COARSE_M = 1e6
_PROGRAMS = "For programs and shells"


def _demo(
    console: Console, out: Path, seed: int, units: str | None, language: str, *, overwrite: bool
) -> Outcome:
    from leakgeo.cli.step_commands import report_result
    from leakgeo.deliver.folder.write import check_folder
    from leakgeo.runner.chain import run
    from leakgeo.simulate.town import write_town

    begin = time.time()
    set_locale(units or "si", language)
    check_folder(out, overwrite=overwrite)
    job = out / "town.gpkg"
    job.unlink(missing_ok=True)
    write_town(job, seed)
    console.print(active_wording().text(Reason("terminal_town", job=str(job), seed=str(seed))))
    done = run(job, out, units=units, language=language, overwrite=overwrite,
               tell=console.progress)  # fmt: skip
    return report_result(console, done, out, units, language, begin)


def _check(
    console: Console, job: str | Path, mapping: Path | None, where: str | None, units: str | None,
    language: str, **given: Any,
) -> Outcome:  # fmt: skip
    from leakgeo.job.read import read_job
    from leakgeo.registry import load_steps

    set_locale(units or "si", language)
    read = read_job(job, where=where, mapping=mapping, **of_checks(given))
    set_locale(read.units(units), language)
    # Some faults appear only when readings are placed on their routes.
    faults = (*read.faults, *load_steps()["profile"](read, step_m=_COARSE_M, **given).faults)
    console.print_faults(faults, most=None)
    for layer, rows in read.counts.items():
        console.print(active_wording().text(Reason("terminal_rows", layer=layer, rows=rows)))
    console.print_detail(
        f"CRS of the computation: {read.crs.name}; of the results: {read.output_crs.name}"
    )
    rejected = sum(f.effect == "rejected" for f in faults)
    noted = len(faults) - rejected
    checked = Reason("terminal_checked", rejected=rejected, noted=noted)
    console.print_always(active_wording().text(checked))
    return Outcome(SOME_REJECTED if rejected else DONE, job_content(read), faults)


def _mapping(console: Console, job: str | Path, out: Path | None) -> Outcome:
    from leakgeo.deliver.folder.atomic import write_new
    from leakgeo.job.mapping import draft_mapping

    text = draft_mapping(job)
    if out is None:
        console.write(text)
    else:
        write_new(text, out)
        console.written = out
        then = command_line("leakgeo", "check", str(job), "--mapping", str(out))
        console.print_always(f"A draft is in {out}. Correct it, then: {then}")
    return Outcome(content={"mapping": text, "files": [str(out.resolve())] if out else []})


def _steps(console: Console) -> Outcome:
    from leakgeo.commands import commands, describe

    for command in commands().values():
        console.print(f"{command.name:<10} {command.summary}")
        console.print_detail("".join(
            f"    {p.option or p.name.upper():<22} {p.help}\n" for _, p in command.parameters
        ))  # fmt: skip
    console.print_always(
        "leakgeo STEP --help explains a step; leakgeo steps --json describes all to programs."
    )
    return Outcome(content=describe() if console.json else {})


def _completion(console: Console, shell: str) -> Outcome:
    from click.shell_completion import ShellComplete, get_completion_class

    cli = click.get_current_context().find_root().command
    kind = get_completion_class(shell) or ShellComplete
    # The source method of the bash class would start bash to read its version.
    script = ShellComplete.source(kind(cli, {}, "leakgeo", "_LEAKGEO_COMPLETE"))
    console.write(f"{script}\n")
    return Outcome(content={"script": script})


def _plugin(console: Console, out: Path, *, overwrite: bool) -> Outcome:
    from leakgeo.desktop import write_plugin

    write_plugin(out, overwrite=overwrite)
    console.written = out
    console.print_always(
        f"The plugin is in {out}. In QGIS: Plugins > Manage and Install Plugins > Install from ZIP."
    )
    return Outcome(content={"files": [str(out.resolve())]})


def _tool(
    declared: Command, callback: Callable[..., Outcome], first: str, more: str = ""
) -> HelpCommand:
    """Return the command of a tool that is declared for the toolbox too."""
    return HelpCommand(
        declared.name, panel=BEGIN, callback=click.pass_obj(callback),
        params=[
            argument_of(p.name, JobType() if p.kind == "job" else FILE, p.name.upper())
            if p.name in declared.by_place else option_of(p, "Options")
            for _, p in declared.parameters
        ],
        short_help=declared.summary, help=f"{first}\n\n{declared.about}{more}",
        examples=declared.examples,
    )  # fmt: skip


DEMO = _tool(demo_command(), _demo, "Write a small invented town to OUT, and run the chain on it.")
CHECK = _tool(
    check_command(), _check, "Report every fault of JOB, and change nothing.",
    " Faults go to stderr, numbers of rows to stdout.",
)  # fmt: skip
MAPPING_DRAFT = _tool(
    mapping_command(), _mapping, "Draft a mapping from the layers of JOB, for you to correct."
)
STEPS = HelpCommand(
    "steps", panel=_PROGRAMS, callback=click.pass_obj(_steps),
    short_help="List the steps; with --json, describe them for programs.",
    help="List the steps of the chain.\n\n"
         "With --json: for run and each step, its parameters with kind, default, unit, range and "
         "choices, and the layers it needs and makes; then the layers of jobs and results.",
    examples=("steps", "steps --json"),
)  # fmt: skip
COMPLETION = HelpCommand(
    "completion", panel=_PROGRAMS, callback=click.pass_obj(_completion),
    params=[argument_of("shell", click.Choice(("bash", "zsh", "fish")), "bash|zsh|fish")],
    short_help="Print a script that completes commands, options and files in your shell.",
    help="Print a script that completes commands, options, choices and files in your shell.\n\n"
         "\b\nSave it where your shell looks for it, and open a new shell:\n"
         "  bash  ~/.local/share/bash-completion/completions/leakgeo\n"
         "  zsh   _leakgeo in a folder of $fpath\n"
         "  fish  ~/.config/fish/completions/leakgeo.fish",
    examples=("completion bash > ~/.local/share/bash-completion/completions/leakgeo",
              "completion fish > ~/.config/fish/completions/leakgeo.fish"),
)  # fmt: skip
PLUGIN = HelpCommand(
    "plugin", panel=_PROGRAMS, callback=click.pass_obj(_plugin),
    params=[argument_of("out", FILE, "OUT.zip"), option_of(OVERWRITE, "Options")],
    short_help="Build the QGIS plugin, with every step in the Processing toolbox.",
    help="Build the QGIS plugin, with run and every step in the Processing toolbox.\n\n"
         "Install it there with Plugins > Manage and Install Plugins > Install from ZIP. It needs "
         "QGIS 3.22 or newer and this installation of leakgeo, which it runs as a program.",
    examples=("plugin leakgeo.zip", "plugin leakgeo.zip --overwrite"),
)  # fmt: skip
