"""The command line, made from the steps; it holds no logic of its own."""

from __future__ import annotations

import sys
import traceback
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

import leakgeo
from leakgeo.errors import JobError, LeakgeoError
from leakgeo.faults import alike
from leakgeo.registry import discover

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from leakgeo.faults import Fault
    from leakgeo.progress import Progress
    from leakgeo.registry import Parameter, Step
    from leakgeo.result import Result

DONE, SOME_REJECTED, CANNOT_RUN = 0, 1, 2
_MOST = 20
_CAUTION = (
    "Nothing here clears a dig: local law, the one-call centre and licensed people decide.\n"
    "What still holds each dig is in the map, the report and summary.csv."
)


class _Group(click.Group):
    """Commands in the order they were added: the order of the work."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.commands)


_BEGIN = """Put leak listening on the pipe: where the leak is, with what odds, what holds the dig.

\b
Begin with:
  leakgeo demo OUT                  a small invented town, run through the chain
  leakgeo template JOB.gpkg         an empty job to fill in your GIS
  leakgeo check JOB.gpkg            all faults of a job, at once
  leakgeo run JOB.gpkg --out OUT    the whole chain
"""
_EXIT = "Exit code 0: all done; 1: done, some lines rejected; 2: the job can't be run."


@click.group(cls=_Group, help=_BEGIN, epilog=_EXIT,
             context_settings={"help_option_names": ["-h", "--help"]})  # fmt: skip
@click.version_option(leakgeo.__version__, prog_name="leakgeo")
def cli() -> None:
    """Hold the commands."""


def _example(call: str) -> str:
    return f"\b\nExample:\n  leakgeo {call}"


_OUT = click.option("--out", required=True, type=click.Path(path_type=Path), help="Result folder.")
_LINE = click.option("--line", "lines", multiple=True, metavar="ID", help="Only this line; repeat.")
_RESUME = click.option("--resume", is_flag=True, help="Go on with a large job that was stopped.")
_OVERWRITE = click.option("--overwrite", is_flag=True, help="Replace results that are there.")
_UNITS = click.option("--units", type=click.Choice(["si", "us"]), default="si", show_default=True,
                      help="Units that people see.")  # fmt: skip
_MAPPING = click.option("--mapping", type=click.Path(path_type=Path), metavar="MAP.toml",
                        help="What your layers, columns and codes are.")  # fmt: skip
_TO_POSTGIS = click.option("--to-postgis", metavar="URL",
                           help="Write results to this database too.")  # fmt: skip
_SCHEMA = click.option("--schema", default="leakgeo", show_default=True,
                       help="Schema of that database.")  # fmt: skip


class _Source(click.ParamType):  # type: ignore[type-arg]
    """A job: a file, a folder, or the URL of a database, which is no path."""

    name = "job"

    def convert(self, value: Any, *_: object) -> str | Path:
        from leakgeo.job.address import is_database

        return value if is_database(value) else Path(value)


_JOB = click.argument("job", type=_Source())


@cli.command(epilog=_example("demo rehearsal --units us"))
@click.argument("out", type=click.Path(path_type=Path))
@_UNITS
@_OVERWRITE
def demo(out: Path, units: str, overwrite: bool) -> int:
    """Write a small invented town to OUT, and run it through the chain."""
    from leakgeo.chain import run
    from leakgeo.deliver.write import check_folder
    from leakgeo.simulate.town import write_town

    check_folder(out, overwrite=overwrite)
    job = out / "town.gpkg"
    job.unlink(missing_ok=True)
    write_town(job)
    click.echo(f"A simulated town is in {job}.")
    return _report(run(job, out, units=units, overwrite=overwrite, tell=_tell), out, units)


@cli.command(epilog=_example("template job.gpkg --crs EPSG:2289"))
@click.argument("job", type=click.Path(path_type=Path))
@click.option("--crs", default="EPSG:4326", show_default=True, help="CRS of its layers.")
def template(job: Path, crs: str) -> int:
    """Write an empty job with every layer of the data contract."""
    from leakgeo.job.template import write_template

    write_template(job, crs=crs)
    click.echo(f"An empty job is in {job}.")
    return DONE


@cli.command(epilog=_example("check job.gpkg"))
@_JOB
@_MAPPING
def check(job: str | Path, mapping: Path | None) -> int:
    """Tell everything that is wrong with JOB, and change nothing."""
    from leakgeo.job.read import read_job

    read = read_job(job, mapping=mapping)
    _list_faults(read.faults, most=None)
    for layer, rows in read.counts.items():
        click.echo(f"{layer}: {rows} read")
    return SOME_REJECTED if any(f.effect == "rejected" for f in read.faults) else DONE


@cli.command("mapping", epilog=_example("mapping export.gdb --out map.toml"))
@_JOB
@click.option("--out", type=click.Path(path_type=Path), help="File to write; else it is shown.")
def draft(job: str | Path, out: Path | None) -> int:
    """Draft a mapping from what is seen in JOB, for you to correct."""
    from leakgeo.deliver.mapping import write_mapping
    from leakgeo.job.mapping_draft import draft_mapping

    text = draft_mapping(job)
    if out is None:
        click.echo(text, nl=False)
        return DONE
    write_mapping(text, out)
    click.echo(f"A draft is in {out}. Go through it, then: leakgeo check JOB --mapping {out}")
    return DONE


def _tell(progress: Progress) -> None:
    click.echo(str(progress), err=True)


def _list_faults(faults: Iterable[Fault], most: int | None = _MOST) -> None:
    """Show faults on stderr, the gravest first, no more than a screenful."""
    told = alike(faults)
    for fault in told[:most]:
        click.echo(f"{fault.effect}: {fault}", err=True)
    if most is not None and len(told) > most:
        click.echo(f"... and {len(told) - most} more, all in faults.csv.", err=True)


def _say_what_was_learned(result: Result) -> None:
    """Say how the digs came out, and what meter tests tell where no line was worked out."""
    for message in result.layers["learned"]["message"][:1] if "learned" in result.layers else ():
        click.echo(f"Digs: {message}")
    if "meter_results" in result.layers and "lines" not in result.layers:
        for row in result.layers["meter_results"].head(_MOST).itertuples():
            click.echo(f"{row.line_id}  {row.verdict}  {row.message}")


def _report(result: Result, out: Path, units: str) -> int:
    """Say where to look, line by line, and what was left out."""
    from leakgeo.deliver.units import lengths_in

    _list_faults((*result.job.faults, *result.faults))
    _say_what_was_learned(result)
    if "lines" not in result.layers:
        click.echo(f"Results are in {out}.")
        return DONE
    lines = result.layers["lines"].sort_values("priority")
    for row in lines.head(_MOST).itertuples():
        click.echo(f"{row.line_id}  {row.status}  {lengths_in(str(row.message), units)}")
    if len(lines) > _MOST:
        click.echo(f"... and {len(lines) - _MOST} more lines, all in summary.csv.")
    counts = ", ".join(f"{n} {status}" for status, n in lines["status"].value_counts().items())
    click.echo(f"{len(lines)} lines: {counts}. Results are in {out}.\n{_CAUTION}")
    # A route without a name, or a line asked for that is not there, has no row in the table.
    faults = (*result.job.faults, *result.faults)
    lost = any(f.layer == "routes" and f.effect == "rejected" for f in faults)
    return SOME_REJECTED if lost or (lines["status"] == "rejected").any() else DONE


_CLICK_TYPES: dict[str, Callable[[Parameter], Any]] = {
    "number": lambda p: click.FloatRange(p.minimum, p.maximum),
    "integer": lambda p: click.IntRange(_whole(p.minimum), _whole(p.maximum)),
    "boolean": lambda _: click.BOOL,
    "choice": lambda p: click.Choice(p.choices),
    "text": lambda _: click.STRING,
    "file": lambda _: click.Path(path_type=Path),
    "folder": lambda _: click.Path(path_type=Path),
}


def _whole(bound: float | None) -> int | None:
    return None if bound is None else int(bound)


def _option(parameter: Parameter) -> click.Option:
    unit = f" [{parameter.unit}]" if parameter.unit else ""
    return click.Option(
        [f"--{parameter.name.replace('_', '-')}", parameter.name],
        type=_CLICK_TYPES[parameter.kind](parameter),
        default=parameter.default,
        show_default=parameter.default is not None,
        help=parameter.help + unit,
    )


def _command(step: Step) -> click.Command:
    """The command of a step: its parameters, and where to read and write."""

    def call(job: str | Path, out: Path, **given: Any) -> int:
        from leakgeo.chain import run_step

        done = run_step(step, job, out, **given)
        return _report(done, out, str(given.get("units", "si")))

    return _with_options(step.name, step.summary, step.parameters, call)


def _run(steps: Iterable[Step]) -> click.Command:
    """The command that runs the whole chain: it takes the parameters of every step."""

    def call(job: str | Path, out: Path, **given: Any) -> int:
        from leakgeo.chain import run

        done = run(job, out, tell=_tell, **given)
        return _report(done, out, given["units"])

    parameters = {p.name: p for step in steps for p in step.parameters}
    units = parameters.pop("units")
    summary = "Run JOB through the whole chain and write every result to OUT."
    command = _with_options("run", summary, (units, *parameters.values()), call)
    _RESUME(command)
    return command


def _with_options(
    name: str, summary: str, parameters: Iterable[Parameter], call: Callable[..., int]
) -> click.Command:
    command = click.Command(
        name, params=[_option(p) for p in parameters if p.name != "out"], callback=call,
        help=summary, short_help=summary, epilog=_example(f"{name} job.gpkg --out results"),
    )  # fmt: skip
    # Arguments and what all commands share stand before the step's own.
    command.params, own = [], command.params
    for wrap in (_SCHEMA, _TO_POSTGIS, _OVERWRITE, _LINE, _MAPPING, _OUT, _JOB):
        wrap(command)
    command.params = [*reversed(command.params), *own]
    return command


def main() -> None:
    """Run the command line; errors are sentences on stderr, exit codes those of the contract."""
    steps, broken = discover()
    for command in (_run(steps.values()), *map(_command, steps.values())):
        cli.add_command(command)
    for lost in broken:
        click.echo(f"The step {lost.name} did not load: {lost.reason}", err=True)
    try:
        sys.exit(cli.main(standalone_mode=False) or DONE)
    except click.ClickException as error:
        error.show()
    except click.exceptions.Abort:
        click.echo("Stopped.", err=True)
    except LeakgeoError as error:
        _tell_error(error)
    except Exception:  # noqa: BLE001 - exit code 1 would say that the job was done
        click.echo(traceback.format_exc(), err=True)
        click.echo("Error: leakgeo failed; that is a fault of the program. Report it with "
                   "what stands above.", err=True)  # fmt: skip
    sys.exit(CANNOT_RUN)


def _tell_error(error: LeakgeoError) -> None:
    """Say what stops the job; of the other faults, those of features, not what is absent."""
    if isinstance(error, JobError):
        # What the error says itself is not said twice; mistakes of a mapping are told whole.
        faults = [f for f in error.faults if f.effect == "rejected" or f.feature]
        mapped = any(f.layer == "mapping" for f in faults)
        _list_faults((f for f in faults if str(f) not in str(error)), None if mapped else _MOST)
    click.echo(f"Error: {error}", err=True)
