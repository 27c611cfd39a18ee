"""Output of the command line: text for people or JSON for programs, quiet or verbose."""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import click

from leakgeo.cli.bars import ProgressBars, ProgressEvents, ProgressLines
from leakgeo.faults import COLUMNS, merge_alike
from leakgeo.reason import Reason
from leakgeo.wording import active_wording

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from rich.console import Console as RichConsole

    from leakgeo.faults import Fault
    from leakgeo.progress import Progress

    #: Text as it is, or with the style that it is shown in.
    Part = str | tuple[str, str]

#: Lines and faults printed at most; more do not fit on a screen.
MAX_SHOWN = 20
# Readers with colour vision deficiency can distinguish these; colour never is the only sign.
_STYLES = {
    "located": "bold cyan", "keep_listening": "yellow", "ambiguous": "yellow",
    "rejected": "magenta", "stops": "bold magenta", "Error": "bold magenta",
}  # fmt: skip


def styled(word: str, code: str = "") -> tuple[str, str]:
    """Return a word with the text style of its code: a status or an effect.

    Examples
    --------
    >>> styled("no_leak_heard"), styled("located")
    (('no_leak_heard', ''), ('located', 'bold cyan'))
    """
    return word, _STYLES.get(code or word, "")


@dataclass
class Console:
    """Writes the output of a command as `json`, `quiet` or `verbose` require."""

    json: bool = False
    quiet: bool = False
    verbose: bool = False
    command: str = ""
    shown: ProgressBars | ProgressLines | None = None
    #: Folder or file that the command wrote.
    written: Path | None = None

    def progress(self, progress: Progress) -> None:
        """Show the progress of a step."""
        if self.quiet and not self.json:
            return
        if self.shown is None:
            self.shown = ProgressEvents() if self.json else ProgressLines()
            if not self.json and sys.stderr.isatty() and not self._err.is_dumb_terminal:
                self.shown = ProgressBars(self._err)
        self.shown(progress)

    def clear(self) -> None:
        """Stop the progress bars, so that other text can be printed."""
        if self.shown is not None:
            self.shown.close()

    def print(self, *parts: Part) -> None:
        """Print a line on stdout, unless quiet."""
        if not self.quiet:
            self.print_always(*parts)

    def print_always(self, *parts: Part) -> None:
        """Print a line on stdout, also when quiet."""
        if not self.json:
            self.clear()
            _print(self._out, *parts)

    def print_block(self, label: str, paragraphs: Iterable[Iterable[Part]], indent: int) -> None:
        """Print paragraphs beside a label, wrapped at words on a terminal, unless quiet."""
        if self.json or self.quiet:
            return
        self.clear()
        for parts in paragraphs:
            _print_beside(self._out, label, parts, indent)
            label = ""

    def write(self, text: str) -> None:
        """Write text on stdout unchanged, for a program or a file."""
        if not self.json:
            click.echo(text, nl=False)

    def print_detail(self, text: str) -> None:
        """Print a line on stderr, if verbose."""
        if self.verbose and not self.json:
            self._print_err(text)

    def print_faults(
        self, faults: Iterable[Fault], most: int | None = MAX_SHOWN,
        more: str = "terminal_all_faults",
    ) -> None:  # fmt: skip
        """Print up to `most` faults on stderr, the gravest first; None prints all."""
        if self.json:
            return  # they are in the document
        shown = merge_alike(f for f in faults if f.effect == "stops" or not self.quiet)
        for fault in shown[:most]:
            word = active_wording().term(fault.effect, "effect")
            self._print_err(styled(word, fault.effect), f": {fault}")
        if most is not None and len(shown) > most:
            self._print_err(active_wording().text(Reason(more, more=len(shown) - most)))

    def note(self, text: str) -> None:
        """Print information on stderr, unless quiet."""
        if self.json:
            self.event("note", message=text)
        elif not self.quiet:
            self._print_err(text)

    def library_warning(self, text: str) -> None:
        """Print a warning of a library: a note in JSON, a detail in text."""
        if self.json:
            self.event("note", message=text)
        else:
            self.print_detail(text)

    def where_written(self) -> str:
        """Return a sentence with the place of the written results; ``""`` if there are none."""
        return "" if self.written is None else f" The results are written: {self.written}."

    def print_error(self, kind: str, message: str, faults: Iterable[Fault] = ()) -> None:
        """Print on stderr what stopped the command."""
        if not self.json:
            self._print_err(styled("Error"), f": {message}")
            return
        plain = {**dict.fromkeys(COLUMNS, ""), "problem": message, "effect": "stops"}
        rows = [f.row(active_wording()) for f in faults if f.effect == "stops"] or [plain]
        for row in rows:
            self.event("error", kind=kind, message=message, **row)

    def event(self, name: str, **fields: object) -> None:
        """Print one line of JSON on stderr."""
        click.echo(json.dumps({"event": name, **fields}, allow_nan=False), err=True)

    def line(self, name: str, **fields: object) -> None:
        """Print one line of JSON on stdout, of a command that prints a stream of them."""
        click.echo(json.dumps({"event": name, **fields}, allow_nan=False))

    def print_document(self, document: dict[str, object], *, in_a_line: bool = False) -> None:
        """Print the JSON document of a command on stdout."""
        if self.json:
            click.echo(json.dumps(document, indent=None if in_a_line else 2, allow_nan=False))

    def _print_err(self, *parts: Part) -> None:
        self.clear()
        _print(self._err, *parts)

    @cached_property
    def _out(self) -> RichConsole:
        return _rich_console(stderr=False)

    @cached_property
    def _err(self) -> RichConsole:
        return _rich_console(stderr=True)


def _rich_console(*, stderr: bool) -> RichConsole:
    """Return a stream with colours; markup is off, because names of the data may contain it."""
    from rich.console import Console as RichConsole

    console = RichConsole(stderr=stderr, markup=False, emoji=False, highlight=False)
    # Other programs get each line whole; on a terminal lines wrap at words.
    console.soft_wrap = not console.is_terminal
    return console


def _print(console: RichConsole, *parts: Part) -> None:
    from rich.text import Text

    console.print(Text.assemble(*parts))


def _print_beside(console: RichConsole, label: str, parts: Iterable[Part], indent: int) -> None:
    from rich.padding import Padding
    from rich.text import Text

    text = Text.assemble(*parts)
    if console.soft_wrap:
        gap = label.ljust(max(indent, len(label) + 2) if label else indent)
        console.print(Text(gap) + text)
        return
    fits = len(label) < indent
    lines = text.wrap(console, max(console.width - indent, 20))
    first = Text(label.ljust(indent)) + lines[0] if fits and lines else Text(label)
    console.print(first)
    for line in lines[1:] if fits else lines:
        console.print(Padding(line, (0, 0, 0, indent)))
