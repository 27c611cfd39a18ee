"""Options of the command line: made from parameters, and those that every command has."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from rich_click import RichOption

if TYPE_CHECKING:
    from collections.abc import Callable

    from click.shell_completion import CompletionItem

    from leakgeo.cli.voice import Voice
    from leakgeo.parameter import Parameter

_METAVARS = {"number": "NUMBER", "integer": "N", "date": "DATE", "file": "FILE",
             "folder": "FOLDER", "text": "TEXT"}  # fmt: skip
_OWN_METAVARS = {
    "lines": "ID",
    "isolated": "LINE",
    "mapping": "MAP.toml",
    "to_postgis": "URL",
    "schema": "NAME",
}


class JobType(click.ParamType):  # type: ignore[type-arg]
    """A job: a file, a folder, or the URL of a database, which is no path."""

    name = "job"

    def convert(self, value: Any, *_: object) -> str | Path:
        """Keep a URL as it is; all else is a path."""
        from leakgeo.job.sources import is_database

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
    more: dict[str, Any] = {"show_default": parameter.default not in ("", (), False)}
    # A default of None would count as given, and nothing would be missed.
    if parameter.default is not None:
        more["default"] = parameter.default
    unit = f" [{parameter.unit}]" if parameter.unit else ""
    return RichOption(
        [f"{parameter.option}{off}", parameter.name],
        panel=group, help=f"{_help(parameter)}{unit}", type=kind,
        is_flag=flag, multiple=parameter.many, required=parameter.required,
        metavar=None if flag else metavar, **more,
    )  # fmt: skip


def _help(parameter: Parameter) -> str:
    return f"{parameter.help} May be given several times." if parameter.many else parameter.help


def option_called(name: str) -> str:
    """Name the option of a parameter, for messages.

    Examples
    --------
    >>> option_called("lines"), option_called("leak_prior"), option_called("job")
    ('--line', '--leak-prior', 'JOB')
    """
    from leakgeo.options import COMMON

    own = {p.name: p.option or p.name.upper() for p in COMMON}
    return own.get(name, f"--{name.replace('_', '-')}")


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
    return [
        RichOption([f"--{name}"], is_flag=True, expose_value=False, callback=_set, is_eager=True,
                   help=text)
        for name, text in told.items()
    ]  # fmt: skip
