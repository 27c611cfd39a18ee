"""How the command line speaks: to people in sentences, to scripts in JSON; loud or quiet."""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import click

from leakgeo.cli.bars import Bar, Events, Teller
from leakgeo.faults import COLUMNS, merge_alike
from leakgeo.wording import wording

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from rich.console import Console

    from leakgeo.faults import Fault
    from leakgeo.progress import Progress

    #: Text as it is, or with the style that it is shown in.
    Part = str | tuple[str, str]

#: So many lines and faults fit a screen.
MOST = 20
# Cyan, yellow and magenta are told apart by all; no red beside green, and never colour alone.
_STYLES = {
    "located": "bold cyan", "keep_listening": "yellow", "ambiguous": "yellow",
    "rejected": "magenta", "stops": "bold magenta", "Error": "bold magenta",
}  # fmt: skip


def styled(word: str) -> tuple[str, str]:
    """Give a word with the style of what it says.

    Examples
    --------
    >>> styled("no_leak_heard"), styled("located")
    (('no_leak_heard', ''), ('located', 'bold cyan'))
    """
    return word, _STYLES.get(word, "")


@dataclass
class Voice:
    """What was asked for: JSON for a script, only the end of it, or all of it."""

    json: bool = False
    quiet: bool = False
    verbose: bool = False
    command: str = ""
    shown: Bar | Teller | None = None
    #: What the command wrote: the folder of results, or a file.
    written: Path | None = None

    def progress(self, progress: Progress) -> None:
        """Show how far long work is."""
        if self.quiet and not self.json:
            return
        if self.shown is None:
            self.shown = Events() if self.json else Teller()
            if not self.json and sys.stderr.isatty() and not self._err.is_dumb_terminal:
                self.shown = Bar(self._err)
        self.shown(progress)

    def clear(self) -> None:
        """Leave a line with a bar on it, so that other words can be written."""
        if self.shown is not None:
            self.shown.close()

    def say(self, *parts: Part) -> None:
        """Say a sentence of the result."""
        if not self.quiet:
            self.last(*parts)

    def last(self, *parts: Part) -> None:
        """Say what is said even when quiet: what a command ends with."""
        if not self.json:
            self.clear()
            _say(self._out, *parts)

    def exactly(self, text: str) -> None:
        """Write text for a program or a file, as it is."""
        if not self.json:
            click.echo(text, nl=False)

    def detail(self, text: str) -> None:
        """Say what only those want to know who ask for more, on stderr."""
        if self.verbose and not self.json:
            self._aside(text)

    def faults(self, faults: Iterable[Fault], most: int | None = MOST) -> None:
        """Show faults on stderr, the gravest first, no more than a screenful."""
        if self.json:
            return  # they are in the document
        told = merge_alike(f for f in faults if f.effect == "stops" or not self.quiet)
        for fault in told[:most]:
            self._aside(styled(fault.effect), f": {fault}")
        if most is not None and len(told) > most:
            self._aside(f"... and {len(told) - most} more, all in faults.csv.")

    def note(self, text: str) -> None:
        """Say on stderr what is worth knowing and no error."""
        if self.json:
            self.event("note", message=text)
        elif not self.quiet:
            self._aside(text)

    def warned(self, text: str) -> None:
        """Pass on a warning of a library."""
        if self.json:
            self.event("note", message=text)
        else:
            self.detail(text)

    def where_written(self) -> str:
        """Say where what was written is, as a further sentence."""
        return "" if self.written is None else f" The results are written: {self.written}."

    def error(self, kind: str, message: str, faults: Iterable[Fault] = ()) -> None:
        """Say what stopped the command, on stderr."""
        if not self.json:
            self._aside(styled("Error"), f": {message}")
            return
        plain = {**dict.fromkeys(COLUMNS, ""), "problem": message, "effect": "stops"}
        told = [f.row(wording()) for f in faults if f.effect == "stops"] or [plain]
        for one in told:
            self.event("error", kind=kind, message=message, **one)

    def event(self, name: str, **said: object) -> None:
        """Write one line of JSON on stderr."""
        click.echo(json.dumps({"event": name, **said}, allow_nan=False), err=True)

    def document(self, document: dict[str, object]) -> None:
        """Write the one JSON document of a command on stdout."""
        if self.json:
            click.echo(json.dumps(document, indent=2, allow_nan=False))

    def _aside(self, *parts: Part) -> None:
        self.clear()
        _say(self._err, *parts)

    @cached_property
    def _out(self) -> Console:
        return _console(stderr=False)

    @cached_property
    def _err(self) -> Console:
        return _console(stderr=True)


def _console(*, stderr: bool) -> Console:
    """Give a stream that shows colours where they are wanted, and nothing in names as markup."""
    from rich.console import Console

    return Console(stderr=stderr, soft_wrap=True, markup=False, emoji=False, highlight=False)


def _say(console: Console, *parts: Part) -> None:
    from rich.text import Text

    console.print(Text.assemble(*parts))
