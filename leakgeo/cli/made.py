"""The commands that are made from steps, and what they say of a result."""

from __future__ import annotations

import time
from functools import partial
from typing import TYPE_CHECKING, Any

import click

from leakgeo.cli.document import Outcome, of_result
from leakgeo.cli.helping import HelpCommand
from leakgeo.cli.options import option_of
from leakgeo.cli.told import code_of, tell_details, tell_result
from leakgeo.commands import run_command, step_command
from leakgeo.deliver.files import FILES
from leakgeo.options import JOB as _JOB
from leakgeo.registry import load_steps

if TYPE_CHECKING:
    from pathlib import Path

    from leakgeo.cli.voice import Voice
    from leakgeo.commands import Command
    from leakgeo.result import Result

_RUN, _STEP = "The whole chain", "One step, with those that it needs before it"


def command_of(name: str) -> HelpCommand:
    """Make the command of a step, or ``run``."""
    declared = run_command() if name == "run" else step_command(load_steps()[name])
    return HelpCommand(
        name,
        panel="The whole chain"
        if name == "run"
        else "One step, with those that it needs before it",
        params=[option_of(parameter, group) for group, parameter in declared.parameters],
        callback=click.pass_obj(partial(_call, name)),
        help=_help(declared),
        short_help=declared.summary,
        examples=declared.examples,
    )


def _help(declared: Command) -> str:
    """Say what a command does, from what, and what it writes."""
    files = [m for m in declared.makes if "." in m or m in ("styles", "exported")]
    layers = [m for m in declared.makes if m not in files]
    writes = ", ".join(FILES)
    layered = f"; layers: {', '.join(layers)}" if layers and declared.name != "run" else ""
    made = "".join(f", {name}" for name in files if "." in name)
    first = declared.needs and declared.name != "run"
    before = f"; made first: {', '.join(declared.needs)}" if first else ""
    return "\n\n".join([
        declared.summary, declared.about,
        f"Needs: JOB, {_JOB.help[:1].lower()}{_JOB.help[1:-1]}, with routes and readings{before}.",
        f"Writes: {writes}{made}{layered}.",
    ])  # fmt: skip


def _call(name: str, voice: Voice, job: str | Path, out: Path, **given: Any) -> Outcome:
    from leakgeo.runner.chain import run, run_step

    begin = time.time()
    if name == "run":
        done = run(job, out, tell=voice.progress, **given)
    else:
        done = run_step(load_steps()[name], job, out, tell=voice.progress, **given)
    return outcome_of(voice, done, out, (str(given["units"]), str(given["language"])), begin)


def outcome_of(
    voice: Voice, result: Result, out: Path, said_in: tuple[str, str], begin: float
) -> Outcome:
    """Say what came of it, in sentences or for the document."""
    voice.written = out
    files = files_since(out, begin)
    tell_details(voice, result, out, files)
    tell_result(voice, result, out, *said_in)
    said = of_result(result, out, said_in[0], files, said_in[1]) if voice.json else {}
    return Outcome(code_of(result), said, (*result.job.faults, *result.faults))


def files_since(out: Path, begin: float) -> list[Path]:
    """Give the files that were written into a folder; clocks of file systems are a bit coarse."""
    found = (p for p in out.rglob("[!.]*") if p.is_file() and not _hidden(p.relative_to(out)))
    return sorted(p for p in found if p.stat().st_mtime >= begin - 1.0)


def _hidden(path: Path) -> bool:
    return path.parts[0].startswith(".")
