"""Options of the command line: those of parameters, and those that every command has."""

from __future__ import annotations

from datetime import datetime
from itertools import takewhile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from rich_click import RichOption

from leakgeo.options import NEAR
from leakgeo.parameter import LanguageParameter
from leakgeo.wording.locales import matched, system_language

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from click.shell_completion import CompletionItem

    from leakgeo.cli.console import Console
    from leakgeo.parameter import Parameter

_METAVARS = {"number": "NUMBER", "integer": "N", "date": "DATE", "file": "FILE",
             "folder": "FOLDER", "text": "TEXT"}  # fmt: skip
_OWN_METAVARS = {
    "lines": "ID",
    "isolated": "LINE",
    "mapping": "MAP.toml",
    "to_postgis": "URL",
    "schema": "NAME",
    "metrics": "FILE",
    "near": "X Y [RADIUS]",
    "status": "STATUS",
    "where": "CONDITION",
}
# The one file that is written by its name is a mapping.
_OUT_METAVARS = {("out", "file"): "MAP.toml"}

#: Heading of the commands to begin with, and the type of a path, for commands that are not steps.
BEGIN, FILE = "To begin", click.Path(path_type=Path)


class JobType(click.ParamType):  # type: ignore[type-arg]
    """A job: the path of a file or folder, or the URL of a database."""

    name = "job"

    def convert(self, value: Any, *_: object) -> str | Path:
        """Return a URL unchanged, and anything else as a path."""
        from leakgeo.job.sources import is_database

        return value if is_database(value) else Path(value)

    def shell_complete(
        self, _ctx: click.Context, _param: click.Parameter, incomplete: str
    ) -> list[CompletionItem]:
        """Let the shell complete names of files and folders."""
        from click.shell_completion import CompletionItem

        return [CompletionItem(incomplete, type="file")]


class TimeType(click.ParamType):  # type: ignore[type-arg]
    """A time in ISO 8601, with or without its zone."""

    name = "time"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> datetime:
        """Return the time."""
        try:
            return value if isinstance(value, datetime) else datetime.fromisoformat(value)
        except ValueError:
            self.fail(f"{value!r} is not a time; give one such as 2026-05-03T10:20.", param, ctx)


def _number(parameter: Parameter) -> click.ParamType:  # type: ignore[type-arg]
    # A range without bounds would be shown as x<=None.
    if parameter.minimum is None and parameter.maximum is None:
        return click.FLOAT
    return click.FloatRange(parameter.minimum, parameter.maximum)


def _whole(bound: float | None) -> int | None:
    return None if bound is None else int(bound)


class LanguageType(click.Choice):  # type: ignore[type-arg]
    """A language of the catalogues, or a locale that has one of them."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the language."""
        return super().convert(matched(str(value)) or value, param, ctx)


_TYPES: dict[str, Callable[[Parameter], Any]] = {
    "number": _number,
    "integer": lambda p: click.IntRange(_whole(p.minimum), _whole(p.maximum)),
    "boolean": lambda _: click.BOOL,
    "choice": lambda p: click.Choice(p.choices),
    "text": lambda _: click.STRING,
    "date": lambda _: click.STRING,
    "file": lambda _: click.Path(path_type=Path),
    "folder": lambda _: click.Path(path_type=Path),
    "job": lambda _: JobType(),
}


def argument_of(name: str, kind: click.ParamType, metavar: str) -> click.Argument:  # type: ignore[type-arg]
    """Return an argument of a command that is not a step."""
    return click.Argument([name], type=kind, metavar=metavar)


def option_of(parameter: Parameter, group: str) -> click.Parameter:
    """Return the option of a parameter, or the argument for a job."""
    language = isinstance(parameter, LanguageParameter)
    kind = LanguageType(parameter.choices) if language else _TYPES[parameter.kind](parameter)
    if parameter.option is None:
        return click.Argument([parameter.name], type=kind, metavar=parameter.name.upper())
    flag = parameter.kind == "boolean"
    off = f"/{parameter.option_off}" if parameter.option_off else ""
    own = _OWN_METAVARS.get(parameter.name) or _OUT_METAVARS.get((parameter.name, parameter.kind))
    metavar = own or _METAVARS.get(parameter.kind)
    more: dict[str, Any] = {
        "show_default": parameter.default is not False and parameter.default not in ("", ())
    }
    # With a default of None, click would not report a required option as missing.
    if parameter.default is not None:
        more["default"] = parameter.default
    if language:
        more = {"default": system_language, "show_default": "that of LANG, else en"}
    unit = f" [{parameter.unit}]" if parameter.unit else ""
    return RichOption(
        [f"{parameter.option}{off}", parameter.name],
        panel=group, help=f"{_help(parameter)}{unit}", type=kind,
        # Without None, click takes an option at the end of a call without its value.
        is_flag=flag or None, multiple=parameter.many, required=parameter.required,
        metavar=None if flag else metavar, **more,
    )  # fmt: skip


def with_joined_places(arguments: Sequence[str]) -> list[str]:
    """Join what follows ``--near`` into one value: X, Y and, if it has a unit, a radius.

    Examples
    --------
    >>> with_joined_places(["out", "--near", "-83.05", "42.33", "300ft", "--top", "5"])
    ['out', '--near=-83.05,42.33,300ft', '--top', '5']
    >>> with_joined_places(["out", "--near", "503100,5002100,300ft", "--top", "5"])
    ['out', '--near', '503100,5002100,300ft', '--top', '5']
    """
    from leakgeo.job.lengths import length_m

    given = list(arguments)
    option = str(NEAR.option)
    if option not in given:
        return given
    begin = given.index(option)
    place = list(takewhile(_is_number, given[begin + 1 : begin + 3]))
    if len(place) < 2:
        return given
    end = begin + 3
    if end < len(given) and length_m(given[end]) is not None:
        place.append(given[end])
        end += 1
    return [*given[:begin], f"{option}={','.join(place)}", *given[end:]]


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _help(parameter: Parameter) -> str:
    return f"{parameter.help} May be given several times." if parameter.many else parameter.help


def option_name(name: str) -> str:
    """Return the name of a parameter on the command line, for error messages.

    Examples
    --------
    >>> option_name("lines"), option_name("leak_prior"), option_name("job")
    ('--line', '--leak-prior', 'JOB')
    """
    from leakgeo.options import COMMON

    own = {p.name: p.option or p.name.upper() for p in COMMON} | {"start": "--from"}
    return own.get(name, f"--{name.replace('_', '-')}")


def _set(ctx: click.Context, param: click.Parameter, value: bool) -> None:
    """Set an attribute of the console; the option may come before or after the command."""
    console: Console | None = ctx.obj
    if console is None or not value:
        return
    setattr(console, str(param.name), True)
    if console.quiet and console.verbose:
        raise click.UsageError("--quiet and --verbose exclude each other; give one of them.", ctx)


def output_options() -> list[click.Option]:
    """Return the options that every command has."""
    texts = {
        "json": "For programs: one JSON document on stdout; progress and errors as JSON lines on "
                "stderr.",
        "quiet": "Print only errors and the last line; not with --verbose.",
        "verbose": "Print also timings, versions, the CRS chosen, and files; not with --quiet.",
    }  # fmt: skip
    return [
        RichOption([f"--{name}"], is_flag=True, expose_value=False, callback=_set, is_eager=True,
                   help=text)
        for name, text in texts.items()
    ]  # fmt: skip
