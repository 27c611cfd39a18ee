"""Columns of the paper sheets: the headers that are printed, and the spellings that are read."""

from __future__ import annotations

import unicodedata
from collections import Counter
from dataclasses import dataclass
from functools import cache, lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from leakgeo.job.mapping import synonyms, unit_in, words
from leakgeo.job.schema import load_schema
from leakgeo.wording import languages, wording

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.job.schema import LayerSchema
    from leakgeo.wording import Wording


@dataclass(frozen=True)
class SheetKind:
    """Columns of a kind of sheet.

    Parameters
    ----------
    layer : str
        Layer of the contract that takes its rows.
    head : tuple of str
        Columns of the head of the sheet, which hold for all of its rows.
    rows : tuple of str
        Columns of its rows.
    names : tuple of str
        Columns that say what a row is of, without which a file can't be read.
    tape : str
        Column with the taped distance.
    """

    layer: str
    head: tuple[str, ...]
    rows: tuple[str, ...]
    names: tuple[str, ...]
    tape: str

    @property
    def columns(self) -> tuple[str, ...]:
        """All columns, each once."""
        return tuple(dict.fromkeys((*self.head, *self.rows)))

    @property
    def needed(self) -> tuple[str, ...]:
        """Columns without which a file can't be read: names, and what the layer requires."""
        key, fields = self.schema.key, self.schema.fields
        return (*self.names, *(f.name for f in fields if f.required and f.name not in key))

    @property
    def schema(self) -> LayerSchema:
        """Schema of the layer."""
        return load_schema(self.layer)


STOPS = SheetKind(
    "readings",
    head=("line_id", "address", "date", "crew", "walk", "sensor", "gain_db", "sound_unit",
          "surface", "chainage_from", "chainage_toward", "tape_unit", "air_kpa", "air_psi"),
    rows=("stop", "tape", "sound_level", "surface", "air", "remark"),
    names=("line_id", "chainage_from", "tape"),
    tape="tape",
)  # fmt: skip
FITTINGS = SheetKind(
    "contacts",
    head=("line_id", "address", "date", "crew", "sound_unit", "tape_unit"),
    rows=("contact_id", "kind", "tape_from_previous", "sound_level", "remark"),
    names=("line_id", "contact_id"),
    tape="tape_from_previous",
)
KINDS = (STOPS, FITTINGS)
#: Columns that the contract does not have, and that stay in the typed file. Of the others that it
#: does not have, ``stop`` and ``walk`` go into the names of stops and walks, ``date`` into that of
#: a walk, ``air_psi`` into ``air_kpa``, and ``address`` into the row of a new line.
ON_PAPER = ("crew", "remark")
#: Prefixes of the messages with the words of codes, which sheets print, by column.
CODE_TERMS = MappingProxyType({
    "kind": "fitting", "surface": "surface", "sensor": "sensor", "air": "air_is",
    "sound_unit": "sound_unit", "tape_unit": "tape_unit",
})  # fmt: skip
# Spellings beside the printed headers, the names and titles of the contract, and its synonyms.
_MORE = MappingProxyType({
    "tape": "taped distance dist station chainage",
    "tape_from_previous": "tape taped distance tapefromfittingbefore tapefrombefore",
    "stop": "stop stopno stopnumber no number point pointno id",
    "walk": "walk walkno walknumber pass", "date": "date day", "crew": "crew by name",
    "contact_id": "name fittingname", "tape_unit": "tapein unitoftape unidaddecinta",
    "remark": "remark remarks note notes comment comments",
})  # fmt: skip
_LONGEST = 60


def header(column: str, wording_: Wording) -> str:
    """Return the header of a column as sheets print it, and `column_of` reads it.

    Examples
    --------
    >>> header("tape_from_previous", wording()), header("sound_level", wording(language="es"))
    ('tape from previous', 'nivel')
    """
    return wording_.term(column, "header")


@lru_cache(maxsize=10_000)
def column_of(text: str, kind: SheetKind) -> str | None:
    """Return the column that a typed header means on a kind of sheet; None if it means none.

    Parameters
    ----------
    text : str
        A header as sheets print it, in any language, the name or title of a column of the
        contract, or a usual synonym; in any case, with or without accents, or a unit at its end.
    kind : SheetKind

    Examples
    --------
    >>> [column_of(text, STOPS) for text in ("Tape (ft)", "NIVEL", "sound_level", "Línea", "sky")]
    ['tape', 'sound_level', 'sound_level', 'line_id', None]
    >>> column_of("tape", FITTINGS)
    'tape_from_previous'
    """
    known, plain = _spellings(kind), _plain(text)
    if len(text) > _LONGEST or not any(c.isalpha() for c in plain):
        return None
    if plain in known:
        return known[plain]
    bare = "".join(words(_unaccented(text))[:-1]) if unit_in(_unaccented(text)) else ""
    return known.get(bare)


def known_headers(cells: Sequence[str]) -> int:
    """Return how many cells are headers of the kind of sheet that knows most of them.

    Examples
    --------
    >>> known_headers(["line", "from", "tape", "level", "unit", "sky"])
    5
    """
    return max(sum(column_of(cell, kind) is not None for cell in cells) for kind in KINDS)


def unit_of(text: str) -> str | None:
    """Return the unit of the tape at the end of a header, None if it has none that tapes have.

    Examples
    --------
    >>> unit_of("tape (ft)"), unit_of("Tape_m"), unit_of("tape")
    ('ft', 'm', None)
    """
    unit = unit_in(text)
    return unit if unit in ("ft", "m") else None


@cache
def _spellings(kind: SheetKind) -> Mapping[str, str]:
    """Return the column of each spelling; printed headers and names of the contract come first."""
    found: dict[str, str] = {}
    printed = [(header(c, wording(language=each)), c) for each in languages() for c in kind.columns]
    named = [(f.name, f.name) for f in kind.schema.fields]
    titled = [(f.title, f.name) for f in kind.schema.fields if f.name in kind.columns]
    more = [(each, c) for c in kind.columns for each in _MORE.get(c, "").split()]
    for text, column in (*printed, *named, *titled, *more, *_usual(kind)):
        found.setdefault(_plain(text), column)
    return MappingProxyType(found)


def _usual(kind: SheetKind) -> list[tuple[str, str]]:
    """Return the synonyms that mean one column of the layer alone."""
    pairs = [(word, f.name) for f in kind.schema.fields for word in synonyms(f.name)]
    count = Counter(word for word, _ in pairs)
    return [(word, column) for word, column in pairs if count[word] == 1]


def _plain(text: str) -> str:
    """Return letters and digits alone, without case and accents."""
    return "".join(c for c in _unaccented(text).casefold() if c.isalnum())


def _unaccented(text: str) -> str:
    split = unicodedata.normalize("NFKD", text)
    return "".join(c for c in split if not unicodedata.combining(c))
