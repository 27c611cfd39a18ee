"""Where in a TOML file a key stands, so that a mistake can be looked up; tomllib does not say."""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    Keys = tuple[str | int, ...]

_KEY = r"""(?:"(?:[^"\\]|\\.)*"|'[^']*'|[A-Za-z0-9_-]+)"""
_KEYS = rf"{_KEY}(?:\s*\.\s*{_KEY})*"
_TABLE = re.compile(rf"\s*(\[\[?)\s*({_KEYS})\s*\]")
_ENTRY = re.compile(rf"\s*({_KEYS})\s*=")


def line_of(text: str, path: Sequence[str | int]) -> int:
    r"""Find the line of a key, or of what holds it.

    Parameters
    ----------
    text : str
        A TOML document that parses.
    path : sequence of str or int
        Keys from the top; a number is the place in an array of tables.

    Returns
    -------
    int
        From 1. Of keys within one line that of the line; 1 where nothing is found.

    Examples
    --------
    >>> line_of('[routes]\n\n[routes.columns]\nmaterial = {unit = "m"}',
    ...         ["routes", "columns", "material", "unit"])
    4
    """
    wanted, best, length = tuple(path), 1, 0
    for number, keys in _keys_by_line(text):
        if length < len(keys) and keys == wanted[: len(keys)]:
            best, length = number, len(keys)
    return best


def _keys_by_line(text: str) -> Iterator[tuple[int, Keys]]:
    """Give each line that begins a table or an entry, with all of its keys."""
    here: Keys = ()
    seen: Counter[str] = Counter()
    for number, line in enumerate(text.split("\n"), 1):
        if table := _TABLE.match(line):
            first, *rest = _read(table[2])
            seen[first] += table[1] == "[[" and not rest
            here = (first, seen[first] - 1, *rest) if seen[first] else (first, *rest)
            yield number, here
        elif entry := _ENTRY.match(line):
            yield number, (*here, *_read(entry[1]))


def _read(dotted: str) -> list[str]:
    """Read dotted keys as TOML does, quotes and all."""
    try:
        held: Any = tomllib.loads(f"{dotted} = 0")
    except tomllib.TOMLDecodeError:
        return [dotted]
    keys = []
    while isinstance(held, dict):
        key, held = next(iter(held.items()))
        keys.append(key)
    return keys
