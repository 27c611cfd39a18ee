"""Entry point of the command line: the commands, exit codes and error messages."""

from __future__ import annotations

import signal
import sys
from typing import TYPE_CHECKING

import click

import leakgeo
from leakgeo.cli.add_command import ADD
from leakgeo.cli.ask_command import ASK
from leakgeo.cli.click_language import called_language, click_language
from leakgeo.cli.close_command import CLOSE
from leakgeo.cli.console import MAX_SHOWN, Console
from leakgeo.cli.document import Outcome, document
from leakgeo.cli.help import Group
from leakgeo.cli.list_command import LIST
from leakgeo.cli.options import option_name
from leakgeo.cli.round_command import ROUND
from leakgeo.cli.step_commands import command_of
from leakgeo.cli.streams import standard_streams
from leakgeo.cli.template_command import TEMPLATE
from leakgeo.cli.utility_commands import CHECK, COMPLETION, DEMO, MAPPING_DRAFT, PLUGIN, STEPS
from leakgeo.cli.watch_command import WATCH
from leakgeo.errors import JobError, LeakgeoError, parameter_labels
from leakgeo.garbage import collect_rarely
from leakgeo.reason import Reason
from leakgeo.registry import load_steps
from leakgeo.runner.exit_codes import CANNOT_RUN
from leakgeo.staging import InterruptedAfterCommit
from leakgeo.wording import set_locale, wording

if TYPE_CHECKING:
    from leakgeo.faults import Fault

_HELP = """Find the leak in a buried water line from ground microphone readings.

leakgeo computes where the leak is and with what probability, one mark to dig at, and lists what
must be cleared before digging. It never clears a dig: local law, the one-call centre and licensed
people decide.

\b
To begin:
  leakgeo demo OUT                  run the chain on a small invented town
  leakgeo template JOB.gpkg         write an empty job to fill in with your GIS
  leakgeo template JOB.xlsx         write a workbook for a crew without a map
  leakgeo check JOB.gpkg            report every fault of a job
  leakgeo run JOB.gpkg --out OUT    run the whole chain
"""


@click.group(cls=Group, help=_HELP, invoke_without_command=True)
@click.version_option(leakgeo.__version__, prog_name="leakgeo")
@click.pass_context
def cli(ctx: click.Context) -> None:
    """Remember the command that was called; print the help if there is none."""
    set_locale()
    console: Console = ctx.obj
    console.command = ctx.invoked_subcommand or ""
    if ctx.invoked_subcommand is None:
        click.echo(ctx.get_help())


_STEPS = map(command_of, ("run", *load_steps()))
for _command in (DEMO, TEMPLATE, CHECK, ADD, MAPPING_DRAFT, *_STEPS, LIST, ROUND, ASK, WATCH, CLOSE,
                 STEPS, COMPLETION, PLUGIN):  # fmt: skip
    cli.add_command(_command)


def main() -> None:
    """Run the command line and exit with its code; errors go to stderr."""
    collect_rarely()
    # Before click parses the call, so that an error in the call is JSON too.
    console = Console(json="--json" in sys.argv[1:])
    # SIGTERM acts like Ctrl-C: staged files are removed, and the stop is reported.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    streams = standard_streams(as_json=console.json, warned=console.library_warning)
    spoken = click_language(sys.argv[1:])
    with parameter_labels(option_name), spoken, streams as out:
        code = _run(console)
        if (problem := out.problem()) and code != CANNOT_RUN:
            console.print_error("OutputError", f"{problem}{console.where_written()}")
            code = CANNOT_RUN
    sys.exit(code)


def _run(console: Console) -> int:
    """Run a command and return its exit code; its units and language end with it."""
    try:
        return _run_command(console)
    finally:
        set_locale()


def _run_command(console: Console) -> int:
    try:
        ended = cli.main(obj=console, prog_name="leakgeo", standalone_mode=False)
    except (click.ClickException, click.exceptions.Abort, LeakgeoError) as error:
        late = console.written is not None or isinstance(error.__cause__, InterruptedAfterCommit)
        return _report_error(console, *_error_parts(error, console.command, late=late))
    except Exception as error:  # noqa: BLE001 - exit code 1 would mean that the job was done
        return _report_crash(console, error)
    if not isinstance(ended, Outcome):  # help or version
        return int(ended or 0)
    console.print_document(document(console.command, ended), in_a_line=ended.in_a_line)
    return ended.code


def _error_parts(
    error: Exception, command: str, *, late: bool
) -> tuple[str, str, tuple[Fault, ...], bool]:
    """Return the kind of an error, its message, its faults, and whether the message has them all.

    A stop is `late` if all results were already written.
    """
    kind = type(error).__name__
    if isinstance(error, click.ClickException):
        return kind, _sentence(error), (), False
    if isinstance(error, click.exceptions.Abort):
        resumes = " --resume continues a large job." if command == "run" else ""
        state = (
            "all new results are in place." if late
            else f"earlier results are unchanged.{resumes}"
        )  # fmt: skip
        return "Stopped", f"Stopped; {state}", (), False
    if isinstance(error, JobError):
        return kind, str(error), error.faults, error.complete
    return kind, str(error), (), False


def _sentence(error: click.ClickException) -> str:
    """Return the message of an error in a call as a sentence, with the help to read."""
    text = error.format_message().rstrip()
    text = text if text.endswith((".", "?", "!")) else f"{text}."
    text = text[:1].upper() + text[1:]
    context = getattr(error, "ctx", None)
    if context is None:
        return text
    words = wording(language=called_language(sys.argv[1:]))
    return words.text(Reason("terminal_see_help", text=text, command=context.command_path))


def _report_error(
    console: Console, kind: str, message: str, faults: tuple[Fault, ...] = (), told: bool = False,
) -> int:  # fmt: skip
    """Print an error and the faults of rows and features; return the exit code."""
    # The message already has some of the faults. Mistakes of a mapping are printed in full, and
    # all faults by `check`, as no file is written that has the rest.
    checked = console.command == "check"
    effects = ("rejected", "noted") if checked else ("rejected",)
    named = [f for f in faults if not told and (f.effect in effects or f.feature)]
    whole = checked or any(f.layer == "mapping" for f in named)
    console.print_faults((f for f in named if str(f) not in message), None if whole else MAX_SHOWN,
                         "terminal_check_prints")  # fmt: skip
    console.print_error(kind, message, faults)
    console.print_document(
        document(console.command, Outcome(CANNOT_RUN, faults=faults), (kind, message))
    )
    return CANNOT_RUN


def _report_crash(console: Console, error: Exception) -> int:
    """Print an internal error with its traceback; return the exit code."""
    import traceback

    if not console.json:
        click.echo(traceback.format_exc(), err=True)
    message = f"leakgeo failed: {error}. Report this error of the program with the lines above."
    return _report_error(console, type(error).__name__, message)
