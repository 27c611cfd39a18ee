"""Colours on a terminal: never alone, told apart by all, off where they are not wanted."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from typing import IO

# Cyan, yellow and magenta are told apart by all; no red beside green.
_STYLES: dict[str, dict[str, object]] = {
    "located": {"fg": "cyan", "bold": True},
    "narrow_further": {"fg": "yellow"},
    "ambiguous": {"fg": "yellow"},
    "rejected": {"fg": "magenta"},
    "stops": {"fg": "magenta", "bold": True},
    "Error": {"fg": "magenta", "bold": True},
    "caution": {"bold": True},
}


def coloured(word: str, style: str | None = None) -> str:
    """Put a word in the colour of what it says; `write` takes it out again where it must.

    Examples
    --------
    >>> coloured("no_leak_heard"), coloured("located") == "located"
    ('no_leak_heard', False)
    """
    found = _STYLES.get(style or word)
    return click.style(word, **found) if found else word  # type: ignore[arg-type]


def wants_colour(stream: IO[str]) -> bool:
    """Tell whether a stream shows colours: ``NO_COLOR``, ``FORCE_COLOR``, ``TERM``, a terminal.

    Examples
    --------
    >>> import io
    >>> wants_colour(io.StringIO())
    False
    """
    if os.environ.get("NO_COLOR"):
        return False
    if os.environ.get("FORCE_COLOR"):
        return True
    return os.environ.get("TERM") != "dumb" and stream.isatty()
