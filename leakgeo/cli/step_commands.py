"""The commands made from steps."""

from __future__ import annotations

import time
from functools import partial
from typing import TYPE_CHECKING, Any

import click

from leakgeo.cli.document import Outcome, changes_in, result_content
from leakgeo.cli.help import HelpCommand
from leakgeo.cli.options import option_of
from leakgeo.cli.summary import (
    all_faults,
    changes_text,
    print_details,
    print_result,
    update_text,
)
from leakgeo.commands import run_command, step_command
from leakgeo.options import JOB as _JOB
from leakgeo.registry import load_steps
from leakgeo.runner.exit_codes import exit_code
from leakgeo.staging import FILES, is_superseded
from leakgeo.wording import active_wording, set_locale

if TYPE_CHECKING:
    from pathlib import Path

    from leakgeo.cli.console import Console
    from leakgeo.commands import Command
    from leakgeo.result import Result

_RUN, _STEP = "The whole chain", "One step, after the steps that it needs"


def command_of(name: str) -> HelpCommand:
    """Return the command of a step, or ``run``."""
    declared = run_command() if name == "run" else step_command(load_steps()[name])
    return HelpCommand(
        name,
        panel=_RUN if name == "run" else _STEP,
        params=[option_of(parameter, group) for group, parameter in declared.parameters],
        callback=click.pass_obj(partial(_call, name)),
        help=_help(declared),
        short_help=declared.summary,
        examples=declared.examples,
    )


def _help(declared: Command) -> str:
    """Return the help text of a command: what it does, needs and writes."""
    files = [m for m in declared.makes if "." in m or m in ("styles", "exported")]
    layers = [m for m in declared.makes if m not in files]
    writes = ", ".join(FILES)
    layered = f"; layers: {', '.join(layers)}" if layers and declared.name != "run" else ""
    made = "".join(f", {name}" for name in files if "." in name)
    first = declared.needs and declared.name != "run"
    before = f"; computed first: {', '.join(declared.needs)}" if first else ""
    return "\n\n".join([
        declared.summary, declared.about,
        f"Needs: JOB, {_JOB.help[:1].lower()}{_JOB.help[1:-1]}, with routes and readings{before}.",
        f"Writes: {writes}{made}{layered}.",
    ])  # fmt: skip


def _call(name: str, console: Console, job: str | Path, out: Path, **given: Any) -> Outcome:
    from leakgeo.runner.chain import run, run_step

    begin = time.time()
    set_locale(given["units"] or "si", str(given["language"]))
    if name == "run":
        done = run(job, out, tell=console.progress, **given)
    else:
        done = run_step(load_steps()[name], job, out, tell=console.progress, **given)
    return report_result(console, done, out, given["units"], str(given["language"]), begin)


def report_result(
    console: Console, result: Result, out: Path, units: str | None, language: str, begin: float
) -> Outcome:
    """Print a result that was written since `begin`; return the outcome of the command.

    Units that are None are those of the job's CRS.
    """
    units = result.job.units(units)
    set_locale(units, language)
    console.written = out
    files = files_since(out, begin)
    print_details(console, result, out, files)
    print_result(console, result, out, units, language)
    if result.kept is not None:
        console.print(update_text(result))
    changes = changes_in(out) if console.command == "run" else None
    if changes is not None:
        console.print(changes_text(changes, active_wording()))
    content = result_content(result, out, units, files, language) if console.json else {}
    content |= {"changes": changes} if console.json else {}
    return Outcome(exit_code(result), content, all_faults(result))


def files_since(out: Path, begin: float) -> list[Path]:
    """Return the files written into a folder since `begin`, with a second for coarse clocks."""
    found = (p for p in out.rglob("[!.]*") if p.is_file() and not _hidden(p.relative_to(out)))
    return sorted(p for p in found if p.stat().st_mtime >= begin - 1.0)


def _hidden(path: Path) -> bool:
    """Return whether a path is of no file of the result: of its journal, or superseded."""
    return path.parts[0].startswith(".") or is_superseded(path)
