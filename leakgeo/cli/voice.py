"""How the command line speaks: to people in sentences, to scripts in JSON; loud or quiet."""

from __future__ import annotations

import json
import os
import sys
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

import click

from leakgeo.cli.bars import Bar, Events, Teller
from leakgeo.cli.colour import coloured, wants_colour
from leakgeo.faults import alike

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from leakgeo.faults import Fault
    from leakgeo.progress import Progress

#: So many lines and faults fit a screen.
MOST = 20


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
            dumb = os.environ.get("TERM") == "dumb" or not sys.stderr.isatty()
            self.shown = Events() if self.json else Teller() if dumb else Bar()
        self.shown(progress)

    def clear(self) -> None:
        """Leave a line with a bar on it, so that other words can be written."""
        if self.shown is not None:
            self.shown.close()

    def say(self, text: str) -> None:
        """Say a sentence of the result."""
        if not self.quiet:
            self.last(text)

    def last(self, text: str, *, nl: bool = True) -> None:
        """Say what is said even when quiet: what a command ends with."""
        if not self.json:
            self.clear()
            click.echo(text, color=wants_colour(sys.stdout), nl=nl)

    def detail(self, text: str) -> None:
        """Say what only those want to know who ask for more, on stderr."""
        if self.verbose and not self.json:
            self._aside(text)

    def faults(self, faults: Iterable[Fault], most: int | None = MOST) -> None:
        """Show faults on stderr, the gravest first, no more than a screenful."""
        if self.json:
            return  # they are in the document
        told = alike(f for f in faults if f.effect == "stops" or not self.quiet)
        for fault in told[:most]:
            self._aside(f"{coloured(fault.effect)}: {fault}")
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
            self._aside(f"{coloured('Error')}: {message}")
            return
        plain = {"layer": "", "problem": message, "what_to_do": "", "feature": "", "column": "",
                 "value": "", "effect": "stops"}  # fmt: skip
        told = [asdict(f) for f in faults if f.effect == "stops"] or [plain]
        for one in told:
            self.event("error", kind=kind, message=message, **one)

    def event(self, name: str, **said: object) -> None:
        """Write one line of JSON on stderr."""
        click.echo(json.dumps({"event": name, **said}, allow_nan=False), err=True)

    def document(self, document: dict[str, object]) -> None:
        """Write the one JSON document of a command on stdout."""
        if self.json:
            click.echo(json.dumps(document, indent=2, allow_nan=False))

    def _aside(self, text: str) -> None:
        self.clear()
        click.echo(text, err=True, color=wants_colour(sys.stderr))
