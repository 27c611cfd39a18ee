"""The command line, made from the steps; it holds no logic of its own."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

import leakgeo
from leakgeo.errors import JobError, LeakgeoError
from leakgeo.registry import discover

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from leakgeo.faults import Fault
    from leakgeo.registry import Parameter, Step
    from leakgeo.result import Result

DONE, SOME_REJECTED, CANNOT_RUN = 0, 1, 2
_MOST_FAULTS = 20
_CAUTION = (
    "Nothing here clears a dig: local law, the one-call centre and licensed people decide.\n"
    "What still holds each dig is in the map, the report and summary.csv."
)


class _Group(click.Group):
    """Commands in the order they were added: the order of the work."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.commands)


@click.group(cls=_Group, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(leakgeo.__version__, prog_name="leakgeo")
def cli() -> None:
    r"""Put leak listening on the pipe: where to dig, with what odds, and what holds the dig.

    \b
    Begin with:
      leakgeo demo OUT                  a small invented town, run through the chain
      leakgeo template JOB.gpkg         an empty job to fill in your GIS
      leakgeo check JOB.gpkg            all faults of a job, at once
      leakgeo run JOB.gpkg --out OUT    the whole chain
    """


_OUT = click.option("--out", required=True, type=click.Path(path_type=Path), help="Result folder.")
_LINE = click.option("--line", "lines", multiple=True, metavar="ID", help="Only this line; repeat.")
_OVERWRITE = click.option("--overwrite", is_flag=True, help="Replace results that are there.")
_UNITS = click.option("--units", type=click.Choice(["si", "us"]), default="si", show_default=True,
                      help="Units that people see.")  # fmt: skip
_JOB = click.argument("job", type=click.Path(path_type=Path))


@cli.command()
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
    return _report(run(job, out, units=units, overwrite=overwrite, tell=_tell), out)


@cli.command()
@click.argument("job", type=click.Path(path_type=Path))
@click.option("--crs", default="EPSG:4326", show_default=True, help="CRS of its layers.")
def template(job: Path, crs: str) -> int:
    """Write an empty job with every layer of the data contract."""
    from leakgeo.job.template import write_template

    write_template(job, crs=crs)
    click.echo(f"An empty job is in {job}.")
    return DONE


@cli.command()
@_JOB
def check(job: Path) -> int:
    """Tell everything that is wrong with JOB, and change nothing."""
    from leakgeo.job.read import read_job

    read = read_job(job)
    _list_faults(read.faults)
    for layer, rows in read.counts.items():
        click.echo(f"{layer}: {rows} read")
    return SOME_REJECTED if any(f.effect == "rejected" for f in read.faults) else DONE


@cli.command()
@_JOB
@_OUT
@_LINE
@_UNITS
@_OVERWRITE
def run(job: Path, out: Path, lines: tuple[str, ...], units: str, overwrite: bool) -> int:
    """Run JOB through the whole chain and write every result to OUT."""
    from leakgeo.chain import run as run_job

    done = run_job(job, out, lines=lines, units=units, overwrite=overwrite, tell=_tell)
    return _report(done, out)


def _tell(step: str) -> None:
    click.echo(f"{step} ...", err=True)


def _list_faults(faults: Iterable[Fault]) -> None:
    """Show faults on stderr, the gravest first, no more than a screenful."""
    grave = {"stops": 0, "rejected": 1, "noted": 2}
    ordered = sorted(faults, key=lambda f: grave[f.effect])
    for fault in ordered[:_MOST_FAULTS]:
        click.echo(f"{fault.effect}: {fault}", err=True)
    if len(ordered) > _MOST_FAULTS:
        click.echo(f"... and {len(ordered) - _MOST_FAULTS} more, all in faults.csv.", err=True)


def _report(result: Result, out: Path) -> int:
    """Say where to look, line by line, and what was left out."""
    _list_faults((*result.job.faults, *result.faults))
    if "lines" not in result.layers:
        click.echo(f"Results are in {out}.")
        return DONE
    lines = result.layers["lines"].sort_values("priority")
    for row in lines.head(_MOST_FAULTS).itertuples():
        click.echo(f"{row.line_id}  {row.status}  {row.message}")
    counts = ", ".join(f"{n} {status}" for status, n in lines["status"].value_counts().items())
    click.echo(f"{len(lines)} lines: {counts}. Results are in {out}.\n{_CAUTION}")
    return SOME_REJECTED if (lines["status"] == "rejected").any() else DONE


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

    def call(job: Path, out: Path, lines: tuple[str, ...], overwrite: bool, **given: object) -> int:
        from leakgeo.chain import run_step

        return _report(run_step(step, job, out, lines=lines, overwrite=overwrite, **given), out)

    options = [_option(p) for p in step.parameters if p.name != "out"]
    command = click.Command(step.name, params=list(options), help=step.summary, callback=call)
    for wrap in (_OVERWRITE, _LINE, _OUT, _JOB):
        wrap(command)
    return command


def main() -> None:
    """Run the command line; errors are sentences on stderr, exit codes those of the contract."""
    steps, broken = discover()
    for step in steps.values():
        cli.add_command(_command(step))
    for lost in broken:
        click.echo(f"The step {lost.name} did not load: {lost.reason}", err=True)
    try:
        sys.exit(cli.main(standalone_mode=False) or DONE)
    except click.ClickException as error:
        error.show()
    except click.exceptions.Abort:
        click.echo("Stopped.", err=True)
    except LeakgeoError as error:
        if isinstance(error, JobError):
            _list_faults(error.faults)
        click.echo(f"Error: {error}", err=True)
    sys.exit(CANNOT_RUN)
