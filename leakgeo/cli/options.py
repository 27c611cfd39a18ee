"""Options of the command line: made from parameters, and those that every command has."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from collections.abc import Callable

    from click.shell_completion import CompletionItem

    from leakgeo.cli.voice import Voice
    from leakgeo.parameter import Parameter

EVERYWHERE = "Every command"
_METAVARS = {"number": "NUMBER", "integer": "N", "date": "DATE", "file": "FILE",
             "folder": "FOLDER", "text": "TEXT"}  # fmt: skip
_OWN_METAVARS = {
    "lines": "ID",
    "isolated": "LINE",
    "mapping": "MAP.toml",
    "to_postgis": "URL",
    "schema": "NAME",
}


class Option(click.Option):
    """An option under a heading; its help ends with unit, default and range."""

    def __init__(self, *args: Any, group: str = "Options", tail: str = "", **more: Any) -> None:
        super().__init__(*args, **more)
        self.group, self.tail = group, tail

    def get_help_record(self, ctx: click.Context) -> tuple[str, str] | None:
        """Give the option as it is written, and what it does."""
        if self.hidden:
            return None
        names = ", ".join(self.opts)
        if self.secondary_opts:
            names += f" / {', '.join(self.secondary_opts)}"
        if not self.is_flag and not self.count:
            names += f" {self.make_metavar(ctx)}"
        return names, f"{self.help or ''}{f' [{self.tail}]' if self.tail else ''}"


class JobType(click.ParamType):  # type: ignore[type-arg]
    """A job: a file, a folder, or the URL of a database, which is no path."""

    name = "job"

    def convert(self, value: Any, *_: object) -> str | Path:
        """Keep a URL as it is; all else is a path."""
        from leakgeo.job.sources.address import is_database

        return value if is_database(value) else Path(value)

    def shell_complete(
        self, _ctx: click.Context, _param: click.Parameter, incomplete: str
    ) -> list[CompletionItem]:
        """Complete names of files and folders."""
        from click.shell_completion import CompletionItem

        return [CompletionItem(incomplete, type="file")]


_TYPES: dict[str, Callable[[Parameter], Any]] = {
    "number": lambda p: click.FloatRange(p.minimum, p.maximum),
    "integer": lambda p: click.IntRange(_whole(p.minimum), _whole(p.maximum)),
    "boolean": lambda _: click.BOOL,
    "choice": lambda p: click.Choice(p.choices),
    "text": lambda _: click.STRING,
    "date": lambda _: click.STRING,
    "file": lambda _: click.Path(path_type=Path),
    "folder": lambda _: click.Path(path_type=Path),
    "job": lambda _: JobType(),
}


def _whole(bound: float | None) -> int | None:
    return None if bound is None else int(bound)


def option_of(parameter: Parameter, group: str) -> click.Parameter:
    """Make the option of a parameter, or the argument that is a job."""
    kind = _TYPES[parameter.kind](parameter)
    if parameter.option is None:
        return click.Argument([parameter.name], type=kind, metavar=parameter.name.upper())
    flag = parameter.kind == "boolean"
    off = f"/{parameter.option_off}" if parameter.option_off else ""
    metavar = _OWN_METAVARS.get(parameter.name, _METAVARS.get(parameter.kind))
    return Option(
        [f"{parameter.option}{off}", parameter.name],
        group=group, tail=_tail(parameter), help=parameter.help, type=kind,
        is_flag=flag, multiple=parameter.many, required=parameter.required,
        metavar=None if flag else metavar,
        # A default of None would count as given, and nothing would be missed.
        **({} if parameter.default is None else {"default": parameter.default}),
    )  # fmt: skip


def _tail(parameter: Parameter) -> str:
    """Unit, range and default, as help shows them."""
    low, high = parameter.minimum, parameter.maximum
    said = [parameter.unit or ""]
    if low is not None:
        said.append(f"{low:g} to {high:g}" if high is not None else f"{low:g} or more")
    if parameter.kind == "boolean":
        said.append("default: on" if parameter.default else "")
    elif parameter.default not in (None, "", ()):
        said.append(f"default: {parameter.default}")
    said.append("required" if parameter.required else "")
    return "; ".join(s for s in said if s)


def _set(ctx: click.Context, param: click.Parameter, value: bool) -> None:
    """Note how to speak; whether it stands before or after the command is all the same."""
    voice: Voice | None = ctx.obj
    if voice is None or not value:
        return
    setattr(voice, str(param.name), True)
    if voice.quiet and voice.verbose:
        raise click.UsageError("--quiet and --verbose can't be asked for together.", ctx)


def everywhere() -> list[click.Option]:
    """Make the options that every command has."""
    told = {
        "json": "For scripts: one JSON document on stdout, JSON lines of progress and errors on "
                "stderr.",
        "quiet": "Say only errors, and the last line; not with --verbose.",
        "verbose": "Say also timings, versions, the CRS chosen, and files; not with --quiet.",
    }  # fmt: skip
    made: list[click.Option] = [
        Option([f"--{name}"], is_flag=True, expose_value=False, callback=_set, is_eager=True,
               help=text, group=EVERYWHERE)
        for name, text in told.items()
    ]  # fmt: skip
    return made
