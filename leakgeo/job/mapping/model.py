"""A mapping from the layers, columns, codes and units of others to those of the contract."""

from __future__ import annotations

import difflib
import json
import re
import tomllib
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from leakgeo.faults import Fault, job_error
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    Keys = tuple[str | int, ...]
    from collections.abc import Iterable, Mapping
    from pathlib import Path

    from leakgeo.faults import Effect

    Scalar = str | int | float | bool


def toml_string(text: object) -> str:
    """Write text as TOML does.

    Examples
    --------
    >>> print(toml_string("copper"), toml_string(True))
    "copper" "True"
    """
    safe = str(text).encode("utf-8", "replace").decode("utf-8")
    return json.dumps(safe, ensure_ascii=False).replace("\x7f", "\\u007f")


def toml_comment(text: object, longest: int = 400) -> str:
    r"""Make text fit for a comment: one line, and nothing that TOML refuses.

    Examples
    --------
    >>> toml_comment("two\nlines")
    'two lines'
    """
    plain = "".join(c if c.isprintable() else " " for c in str(text))
    return plain if len(plain) <= longest else f"{plain[: longest - 3]}..."


_KEY = r"""(?:"(?:[^"\\]|\\.)*"|'[^']*'|[A-Za-z0-9_-]+)"""
_KEYS = rf"{_KEY}(?:\s*\.\s*{_KEY})*"
_TABLE = re.compile(rf"\s*(\[\[?)\s*({_KEYS})\s*\]")
_ENTRY = re.compile(rf"\s*({_KEYS})\s*=")
# Letters of a value, and names, that a mistake shows.
_MAX_CHARACTERS, _MAX_NAMED = 80, 40


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


@dataclass(frozen=True)
class ColumnMap:
    """Where one column of the contract comes from.

    Parameters
    ----------
    name : str
        The contract's.
    keys : tuple of str or int
        Where it stands in the file.
    column : str, optional
        Column of the source.
    value : str, int, float or bool, optional
        The same for every row, where there is no such column.
    factor : float
        From the source's unit to the contract's.
    codes : mapping of str to str, int, float or bool
        The contract's value by the source's; ``""`` empties it.
    missing : tuple of str
        What stands for no value in the source.
    date_format, time_zone : str, optional
    """

    name: str
    keys: Keys
    column: str | None = None
    value: Scalar | None = None
    factor: float = 1.0
    codes: Mapping[str, Scalar] = field(default_factory=dict)
    missing: tuple[str, ...] = ()
    date_format: str | None = None
    time_zone: str | None = None


@dataclass(frozen=True)
class LayerMap:
    """Where one layer of the contract, or a part of it, comes from.

    Parameters
    ----------
    name : str
        The contract's.
    keys : tuple of str or int
        Where it stands in the file.
    file, layer : str, optional
        File within the job's folder, and layer of the source.
    crs : str, optional
        Of a layer that has none.
    x, y : str, optional
        Columns with coordinates.
    columns : tuple of ColumnMap
    left_out : tuple of str
        Columns of the contract that the source has under that name, and that mean something else.
    """

    name: str
    keys: Keys
    file: str | None = None
    layer: str | None = None
    crs: str | None = None
    x: str | None = None
    y: str | None = None
    columns: tuple[ColumnMap, ...] = ()
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True)
class JobMapping:
    """A mapping as read from its file.

    Parameters
    ----------
    path : pathlib.Path
    text : str
        Of the file.
    layers : mapping of str to tuple of LayerMap
        By the contract's name; the parts of a layer are put together.
    left_out : frozenset of str
        Layers of the contract that are not to be read.
    faults : tuple of Fault
        Mistakes that show without a look at the data; what they are in is not in `layers`.
    decimal_comma : bool
        Whether numbers that are text have a comma where others have a point.
    """

    path: Path
    text: str
    layers: Mapping[str, tuple[LayerMap, ...]]
    left_out: frozenset[str] = frozenset()
    faults: tuple[Fault, ...] = ()
    decimal_comma: bool = False


@dataclass
class Mistakes:
    """Everything that is wrong with a mapping, each with the line it stands in."""

    path: Path
    text: str = ""
    faults: list[Fault] = field(default_factory=list)

    def report(
        self, keys: Sequence[str | int], reason: Reason, value: object = "",
        effect: Effect = "stops",
    ) -> None:  # fmt: skip
        """Record one; `keys` say where it stands."""
        where = f"{self.path.name}, line {line_of(self.text, keys)}"
        column = next((str(k) for k in reversed(keys) if isinstance(k, str)), "")
        self.faults.append(
            Fault("mapping", reason, where, column, str(value)[:_MAX_CHARACTERS], effect)
        )

    def stop_if_any(self) -> None:
        """Raise what stops, all of it at once."""
        many = sum(f.effect == "stops" for f in self.faults)
        if many:
            raise job_error(
                self.path.name, Fault("mapping", Reason("mapping_mistakes", mistakes=many)),
                sorted(self.faults, key=lambda f: int(f.feature.rpartition(" ")[2])),
            )  # fmt: skip


def suggestion(name: str, known: Iterable[str]) -> Reason:
    """Give what somebody who wrote `name` may have meant, or what there is.

    Examples
    --------
    >>> suggestion("route", ["routes", "readings"])
    Reason('did_you_mean', name='routes')
    >>> suggestion("x", ["routes", "readings"])
    Reason('use_one_of', more=0, names=('routes', 'readings'))
    """
    names = list(known)
    by_case = {n.casefold(): n for n in names}
    near = difflib.get_close_matches(name.casefold(), by_case, n=1, cutoff=0.7)
    if near:
        return Reason("did_you_mean", name=by_case[near[0]])
    if not names:
        return Reason("there_is_none")
    return Reason("use_one_of", names=names[:_MAX_NAMED], more=max(len(names) - _MAX_NAMED, 0))


def as_key(value: object) -> str:
    """Give a value as the text that a mapping knows it by.

    Examples
    --------
    >>> as_key(4.0), as_key(" Cu "), as_key(True)
    ('4', 'cu', 'true')
    """
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value).strip().casefold()
