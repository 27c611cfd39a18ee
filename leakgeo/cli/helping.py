"""Help that teaches: what a command does, needs and writes, its options by heading, examples."""

from __future__ import annotations

import difflib
from typing import TYPE_CHECKING, Any

import click

from leakgeo.cli.options import EVERYWHERE, Option, everywhere

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

EXIT_CODES = ("Exit codes", (
    ("0", "All done."),
    ("1", "Done; some lines (with check, some rows) are rejected, and told."),
    ("2", "Nothing done: a wrong call, or a job that can't be run."),
))  # fmt: skip
HELP_NAMES = {"help_option_names": ["-h", "--help"], "max_content_width": 96}


class Command(click.Command):
    """A command whose help has headings, examples and exit codes."""

    def __init__(self, name: str, *, examples: Sequence[str] = (), **more: Any) -> None:
        super().__init__(name, context_settings=HELP_NAMES, **more)
        self.params = [*self.params, *everywhere()]
        self.examples = tuple(examples)

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List options by heading."""
        groups: dict[str, list[tuple[str, str]]] = {}
        for param in self.get_params(ctx):
            record = param.get_help_record(ctx)
            if record is not None and not isinstance(param, click.Argument):
                group = param.group if isinstance(param, Option) else EVERYWHERE
                groups.setdefault(group, []).append(record)
        last = groups.pop(EVERYWHERE)
        for name, records in (*groups.items(), (EVERYWHERE, last)):
            with formatter.section(name):
                formatter.write_dl(records, col_max=28)

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write examples, then what exit codes mean."""
        examples(formatter, self.examples)
        exit_codes(formatter)
        super().format_epilog(ctx, formatter)


def examples(formatter: click.HelpFormatter, calls: Iterable[str]) -> None:
    """Write calls as they are typed, one a line."""
    with formatter.section("Examples"):
        for call in calls:
            formatter.write(f"{'':>{formatter.current_indent}}leakgeo {call}\n")


def exit_codes(formatter: click.HelpFormatter) -> None:
    """Write what exit codes mean."""
    with formatter.section(EXIT_CODES[0]):
        formatter.write_dl(EXIT_CODES[1])


class Group(click.Group):
    """The commands by heading; those made from steps are made when one is asked for."""

    def __init__(
        self, *args: Any, headings: dict[str, tuple[str, ...]],
        command_of: Callable[[str], click.Command], **more: Any,
    ) -> None:  # fmt: skip
        super().__init__(*args, context_settings=HELP_NAMES, **more)
        self.params = [*self.params, *everywhere()]
        self.headings, self.command_of = headings, command_of

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Give names in the order of the work."""
        from leakgeo.registry import load_steps

        del ctx
        return [*dict.fromkeys([*(n for names in self.headings.values() for n in names),
                                *load_steps()])]  # fmt: skip

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Give a command; one of a step is made."""
        from leakgeo.registry import load_steps

        if cmd_name == "run" or cmd_name in load_steps():
            return self.command_of(cmd_name)
        return super().get_command(ctx, cmd_name)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command; where there is none, name those that are spelled alike."""
        name = args[0]
        if name.startswith("-") or self.get_command(ctx, name) is not None:
            return super().resolve_command(ctx, args)
        near = difflib.get_close_matches(name, self.list_commands(ctx), n=3, cutoff=0.5)
        maybe = f" Did you mean {' or '.join(near)}?" if near else ""
        raise click.UsageError(f"There is no command {name!r}.{maybe}", ctx)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List commands by heading, with their summaries."""
        from leakgeo.registry import load_steps

        begin, *last = self.headings.items()
        steps = ("One step, with those that it needs before it", tuple(load_steps()))
        for heading, names in (begin, last[0], steps, *last[1:]):
            with formatter.section(heading):
                formatter.write_dl([(name, self._summary(ctx, name)) for name in names])

    def _summary(self, ctx: click.Context, name: str) -> str:
        from leakgeo.registry import load_steps

        if name in load_steps():
            return load_steps()[name].summary
        command = self.get_command(ctx, name)
        return command.get_short_help_str(200) if command else ""

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List commands before options."""
        self.format_commands(ctx, formatter)
        Command.format_options(self, ctx, formatter)  # type: ignore[arg-type]

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write what exit codes mean."""
        del ctx
        exit_codes(formatter)
