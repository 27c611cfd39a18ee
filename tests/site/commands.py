"""Pages of the commands, made from the parser of the command line."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from leakgeo.cli.entry import cli
from leakgeo.cli.help import EXIT_CODES
from tests.site.markdown import cell, code, page, span, table, toctree

if TYPE_CHECKING:
    from leakgeo.cli.help import HelpCommand


def pages() -> dict[str, str]:
    """Give the page of all commands, and one of each."""
    shown = {name: command for name, command in cli.commands.items() if not command.hidden}
    rows = [[f"[`leakgeo {name}`]({name}.md)", cell(c.get_short_help_str(200))]
            for name, c in shown.items()]  # fmt: skip
    index = page("# Commands", "`leakgeo COMMAND --help` prints what these pages have.",
                 table(("command", "what it does"), rows), "## Exit codes", _exit_codes(),
                 "## Options of every command", _options(cli, "Every command"),
                 toctree(shown))  # fmt: skip
    return {"reference/commands/index.md": index} | {
        f"reference/commands/{name}.md": _command(name, command) for name, command in shown.items()
    }


def _command(name: str, command: HelpCommand) -> str:
    context = click.Context(command, info_name=f"leakgeo {name}")
    usage = f"leakgeo {name} {' '.join(command.collect_usage_pieces(context))}"
    panels = dict.fromkeys(_panel(p) for p in command.params if isinstance(p, click.Option))
    options = [f"## {panel}\n\n{_options(command, panel)}" for panel in panels
               if panel != "Every command"]  # fmt: skip
    examples = "\n".join(f"leakgeo {call}" for call in command.examples)
    return page(f"(command-{name})=\n# leakgeo {name}", f"```text\n{usage}\n```",
                _prose(command.help or ""), *options,
                f"## Examples\n\n```text\n{examples}\n```" if examples else "",
                "[Options of every command and exit codes](index.md).")  # fmt: skip


def _prose(text: str) -> str:
    paragraphs = [" ".join(p.split()) for p in text.replace("\b", "").split("\n\n")]
    return "\n\n".join(p.replace("<", "\\<").replace("*", "\\*") for p in paragraphs)


def _panel(option: click.Option) -> str:
    if option.name in ("json", "quiet", "verbose", "help", "version"):
        return "Every command"
    panel = getattr(option, "panel", None)
    return str(panel[0] if isinstance(panel, list) else panel or "Options")


def _options(command: click.Command, panel: str) -> str:
    context = click.Context(command)
    shown = [p for p in command.get_params(context)
             if isinstance(p, click.Option) and _panel(p) == panel and not p.hidden]  # fmt: skip
    return "\n\n".join(_entry(option, context) for option in shown)


def _entry(option: click.Option, context: click.Context) -> str:
    value = "" if option.is_flag else f" {option.make_metavar(context)}"
    names = ", ".join(f"`{name}{value}`" for name in (*option.opts, *option.secondary_opts))
    allowed = span(getattr(option.type, "min", None), getattr(option.type, "max", None))
    default = _default(option.default) if option.show_default and not option.is_flag else ""
    facts = ["Required." if option.required else "", f"Allowed: {allowed}." if allowed else "",
             f"Default: `{default}`." if default else ""]  # fmt: skip
    return f"{names}\n: {' '.join(filter(None, [cell(option.help), *facts]))}"


def _default(value: object) -> str:
    if value is None or callable(value) or type(value).__name__ == "Sentinel":
        return ""
    return ", ".join(map(str, value)) if isinstance(value, tuple) else str(value)


def _exit_codes() -> str:
    rows = [line.strip().split("  ", 1) for line in EXIT_CODES.splitlines()[1:]]
    return table(("code", "meaning"), [[code(number), cell(text)] for number, text in rows])
