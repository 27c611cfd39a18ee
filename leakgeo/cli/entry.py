"""Where the command line begins and ends: exit codes, and errors in one voice."""

from __future__ import annotations

import signal
import sys
from typing import TYPE_CHECKING

import click

import leakgeo
from leakgeo.cli.by_hand import CHECK, COMPLETION, DEMO, MAPPING_DRAFT, PLUGIN, STEPS, TEMPLATE
from leakgeo.cli.document import CANNOT_RUN, Outcome, document
from leakgeo.cli.helping import Group
from leakgeo.cli.made import command_of
from leakgeo.cli.options import option_called
from leakgeo.cli.streams import standard_streams
from leakgeo.cli.voice import MOST, Voice
from leakgeo.errors import JobError, LeakgeoError, parameter_labels
from leakgeo.registry import load_steps
from leakgeo.staging import InterruptedAfterCommit

if TYPE_CHECKING:
    from leakgeo.faults import Fault

_BEGIN = """Put leak listening on the pipe: where the leak is, with what odds, what holds the dig.

Nothing here clears a dig: local law, the one-call centre and licensed people decide.

\b
Begin with:
  leakgeo demo OUT                  a small invented town, run through the chain
  leakgeo template JOB.gpkg         an empty job to fill in your GIS
  leakgeo check JOB.gpkg            all faults of a job, at once
  leakgeo run JOB.gpkg --out OUT    the whole chain
"""


@click.group(cls=Group, help=_BEGIN, invoke_without_command=True)
@click.version_option(leakgeo.__version__, prog_name="leakgeo")
@click.pass_context
def cli(ctx: click.Context) -> None:
    """Hold the commands."""
    voice: Voice = ctx.obj
    voice.command = ctx.invoked_subcommand or ""
    if ctx.invoked_subcommand is None:
        click.echo(ctx.get_help())


for _command in (DEMO, TEMPLATE, CHECK, MAPPING_DRAFT, *map(command_of, ("run", *load_steps())),
                 STEPS, COMPLETION, PLUGIN):  # fmt: skip
    cli.add_command(_command)


def main() -> None:
    """Run the command line; errors are sentences on stderr, exit codes those of the contract."""
    # Asked for before the call is understood, so that a wrong call is told in JSON too.
    voice = Voice(json="--json" in sys.argv[1:])
    # A request to end is an interrupt: what was staged is removed, and exit code and message tell.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    streams = standard_streams(as_json=voice.json, warned=voice.warned)
    with parameter_labels(option_called), streams as out:
        code = _run(voice)
        if (trouble := out.trouble()) and code != CANNOT_RUN:
            voice.error("OutputError", f"{trouble}{voice.where_written()}")
            code = CANNOT_RUN
    sys.exit(code)


def _run(voice: Voice) -> int:
    """Run a command, and give the exit code."""
    try:
        ended = cli.main(obj=voice, prog_name="leakgeo", standalone_mode=False)
    except (click.ClickException, click.exceptions.Abort, LeakgeoError) as error:
        late = voice.written is not None or isinstance(error.__cause__, InterruptedAfterCommit)
        return _stopped(voice, *_in_our_voice(error, late=late))
    except Exception as error:  # noqa: BLE001 - exit code 1 would say that the job was done
        return _failed(voice, error)
    if not isinstance(ended, Outcome):  # help, the version, a completion
        return int(ended or 0)
    voice.document(document(voice.command, ended))
    return ended.code


def _in_our_voice(error: Exception, *, late: bool) -> tuple[str, str, tuple[Fault, ...]]:
    """Give the kind of an error, its sentence, and the faults that it carries.

    A stop is `late` where all was written already.
    """
    kind = type(error).__name__
    if isinstance(error, click.ClickException):
        return kind, _sentence(error), ()
    if isinstance(error, click.exceptions.Abort):
        found = (
            "the new results are in place, all of them."
            if late
            else "results are as they were. A large job goes on with --resume."
        )
        return "Stopped", f"Stopped; {found}", ()
    return kind, str(error), error.faults if isinstance(error, JobError) else ()


def _sentence(error: click.ClickException) -> str:
    """Give what click found wrong as a sentence, and where to look it up."""
    told = error.format_message().rstrip()
    told = told if told.endswith((".", "?", "!")) else f"{told}."
    told = told[:1].upper() + told[1:]
    context = getattr(error, "ctx", None)
    return told if context is None else f"{told} See: {context.command_path} --help"


def _stopped(voice: Voice, kind: str, message: str, faults: tuple[Fault, ...] = ()) -> int:
    """Say what stops the job; of the other faults, those of features, not what is absent."""
    # What the error says itself is not said twice; mistakes of a mapping are told whole.
    named = [f for f in faults if f.effect == "rejected" or f.feature]
    mapped = any(f.layer == "mapping" for f in named)
    voice.faults((f for f in named if str(f) not in message), None if mapped else MOST)
    voice.error(kind, message, faults)
    voice.document(document(voice.command, Outcome(CANNOT_RUN, faults=faults), (kind, message)))
    return CANNOT_RUN


def _failed(voice: Voice, error: Exception) -> int:
    """Say that the program failed, with what its makers need."""
    import traceback

    if not voice.json:
        click.echo(traceback.format_exc(), err=True)
    return _stopped(voice, type(error).__name__, "leakgeo failed; that is a fault of the program. "
                    f"Report it with what stands above. ({error})")  # fmt: skip
