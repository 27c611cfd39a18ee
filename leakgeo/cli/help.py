"""Help of commands: options by heading, then examples and exit codes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rich_click import RichCommand, RichGroup

from leakgeo.cli.options import output_options, with_joined_places

if TYPE_CHECKING:
    from collections.abc import Sequence

    import click
    from rich_click import RichContext, RichHelpFormatter

EXIT_CODES = """Exit codes:
  0  All done.
  1  Done; some lines (for check: some rows) are rejected and reported.
  2  Not done: the call is wrong, or the job can't be run."""
_SETTINGS = {
    "help_option_names": ["-h", "--help"],
    # A theme without boxes and without red beside green; plain text outside a terminal.
    "rich_help_config": {
        "theme": "cyan2-slim", "max_width": 96, "text_paragraph_linebreaks": "\n\n",
        "padding_helptext_first_line": (0, 0, 1, 0),
        "commands_before_options": True, "show_arguments": False,
        "options_panel_title": "Every command",
    },
}  # fmt: skip


class HelpCommand(RichCommand):
    """A command whose help ends with examples and exit codes."""

    def __init__(
        self, name: str | None, *, examples: Sequence[str] = (), signed_arguments: bool = False,
        **more: Any,
    ) -> None:  # fmt: skip
        # A negative number looks like an option.
        settings = {**_SETTINGS, "ignore_unknown_options": signed_arguments}
        super().__init__(name, context_settings=settings, **more)
        self.params = [*self.params, *output_options()]
        self.examples = tuple(examples)

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Take the numbers of a place as one value."""
        return super().parse_args(ctx, with_joined_places(args))

    def format_epilog(self, ctx: RichContext, formatter: RichHelpFormatter) -> None:  # type: ignore[override]
        """Write examples, each on one line to be copied, and exit codes."""
        del ctx
        calls = "".join(f"  leakgeo {call}\n" for call in self.examples)
        text = f"Examples:\n{calls}\n{EXIT_CODES}" if calls else EXIT_CODES
        formatter.write(text, markup=False, highlight=False, soft_wrap=True)


class Group(HelpCommand, RichGroup):  # type: ignore[misc]
    """All commands in working order."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return names in working order."""
        del ctx
        return list(self.commands)
