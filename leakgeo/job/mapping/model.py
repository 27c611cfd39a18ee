"""A mapping from layers, columns, codes and units of a source to those of the data contract."""

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
    """Return a text as a TOML string.

    Examples
    --------
    >>> print(toml_string("copper"), toml_string(True))
    "copper" "True"
    """
    safe = str(text).encode("utf-8", "replace").decode("utf-8")
    return json.dumps(safe, ensure_ascii=False).replace("\x7f", "\\u007f")


def toml_comment(text: object, longest: int = 400) -> str:
    r"""Return a text for a TOML comment: one line of printable characters.

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
# Longest value, and most names, in the report of a mistake.
_MAX_CHARACTERS, _MAX_NAMED = 80, 40


def line_of(text: str, path: Sequence[str | int]) -> int:
    r"""Return the line of a key, or of the table that contains it.

    Parameters
    ----------
    text : str
        A valid TOML document.
    path : sequence of str or int
        Keys from the top; a number is the index in an array of tables.

    Returns
    -------
    int
        From 1; 1 also if the key is not found.

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
    """Iterate over lines that begin a table or an entry: line number and all keys."""
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
    """Parse dotted keys, which may be quoted."""
    try:
        table: Any = tomllib.loads(f"{dotted} = 0")
    except tomllib.TOMLDecodeError:
        return [dotted]
    keys = []
    while isinstance(table, dict):
        key, table = next(iter(table.items()))
        keys.append(key)
    return keys


@dataclass(frozen=True)
class ColumnMap:
    """Mapping of one column of the contract.

    Parameters
    ----------
    name : str
        Column of the contract.
    keys : tuple of str or int
        Keys of the entry in the file.
    column : str, optional
        Column of the source.
    value : str, int, float or bool, optional
        Constant for every row, instead of a column.
    factor : float
        Conversion from the unit of the source to that of the contract.
    codes : mapping of str to str, int, float or bool
        Value of the contract by value of the source; ``""`` means null.
    missing : tuple of str
        Values of the source that mean a missing value.
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
    """Mapping of one layer of the contract, or of a part of it.

    Parameters
    ----------
    name : str
        Layer of the contract.
    keys : tuple of str or int
        Keys of the table in the file.
    file, layer : str, optional
        File in the job's folder, and layer of the source.
    crs : str, optional
        CRS of a layer that has none.
    x, y : str, optional
        Columns with coordinates.
    columns : tuple of ColumnMap
    left_out : tuple of str
        Columns of the source that have a name of the contract and another meaning.
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
        Content of the file.
    layers : mapping of str to tuple of LayerMap
        By layer of the contract; the parts of a layer are concatenated.
    left_out : frozenset of str
        Layers of the contract that are not read.
    faults : tuple of Fault
        Mistakes found without the data; entries with mistakes are not in `layers`.
    decimal_comma : bool
        Whether numbers stored as text have a decimal comma.
    """

    path: Path
    text: str
    layers: Mapping[str, tuple[LayerMap, ...]]
    left_out: frozenset[str] = frozenset()
    faults: tuple[Fault, ...] = ()
    decimal_comma: bool = False


@dataclass
class Mistakes:
    """Collector of the mistakes in a mapping, each with its line in the file."""

    path: Path
    text: str = ""
    faults: list[Fault] = field(default_factory=list)

    def report(
        self, keys: Sequence[str | int], reason: Reason, value: object = "",
        effect: Effect = "stops",
    ) -> None:  # fmt: skip
        """Record a mistake in the entry with the given keys."""
        where = f"{self.path.name}, line {line_of(self.text, keys)}"
        column = next((str(k) for k in reversed(keys) if isinstance(k, str)), "")
        self.faults.append(
            Fault("mapping", reason, where, column, str(value)[:_MAX_CHARACTERS], effect)
        )

    def stop_if_any(self) -> None:
        """Raise a JobError with all mistakes if any of them stops the run."""
        many = sum(f.effect == "stops" for f in self.faults)
        if many:
            raise job_error(
                self.path.name, Fault("mapping", Reason("mapping_mistakes", mistakes=many)),
                sorted(self.faults, key=lambda f: int(f.feature.rpartition(" ")[2])),
            )  # fmt: skip


def suggestion(name: str, known: Iterable[str]) -> Reason:
    """Return the known name that is most similar to a wrong one, or a list of the known names.

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
    """Return a value as the text that is looked up in a mapping.

    Examples
    --------
    >>> as_key(4.0), as_key(" Cu "), as_key(True)
    ('4', 'cu', 'true')
    """
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value).strip().casefold()
