"""What products keep of each line from one run to the next, so that unchanged lines cost little."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import leakgeo

if TYPE_CHECKING:
    from collections.abc import Mapping, MutableMapping

    from leakgeo.faults import Fault

_CHECK = 8  # bytes of the checksum before each piece


@dataclass(frozen=True, eq=False)
class Kept:
    """Digests of the inputs of each line, and pieces of products that earlier runs stored.

    Parameters
    ----------
    digests : mapping of str to str
        Digest of all inputs of each line, by ``line_id``: its rows in the job, what lies near it,
        the parameters, the CRS and the version. While it is the same, all rows of the line in the
        job's routes and in every result layer are equal to the last bit, except ``priority`` and
        the order of the digs in ``lines``. A line without a digest is worked out.
    pieces : mutable mapping of str to bytes
        Pieces by key, which outlive the run. A writer reads and stores them; a key that a run
        neither reads nor stores may be deleted after it.
    worked_out : tuple of str
        ``line_id`` of the lines that this run worked out; the others were taken over.
    notes : tuple of Fault
        What was kept but could not be used, and which law of noise holds. They are of the run, not
        of the job, so they are not in its files.
    """

    digests: Mapping[str, str]
    pieces: MutableMapping[str, bytes] = field(default_factory=dict)
    worked_out: tuple[str, ...] = ()
    notes: tuple[Fault, ...] = ()


@dataclass(frozen=True, eq=False)
class Shelf:
    """Pieces of one kind, each made of one line, or of a content whose digest is given.

    Parameters
    ----------
    kept : Kept or None
        Nothing is found or stored if None.
    kind : str
        What the pieces are.
    facts : sequence of object
        All that a piece depends on besides the inputs of its line, such as units and language.

    Examples
    --------
    >>> kept = Kept({"a": "0f"})
    >>> Shelf(kept, "page", ["si"]).put("a", b"text")
    >>> Shelf(kept, "page", ["si"]).get("a"), Shelf(kept, "page", ["us"]).get("a")
    (b'text', None)
    """

    kept: Kept | None
    kind: str
    facts: object = ()
    _prefix: str = field(init=False)

    def __post_init__(self) -> None:
        facts = json.dumps([self.kind, leakgeo.__version__, self.facts], default=str)
        digest = hashlib.sha256(facts.encode()).hexdigest()[:24]
        object.__setattr__(self, "_prefix", f"{self.kind}/{digest}")

    def get(self, line_id: str) -> bytes | None:
        """Return the piece of a line, or None if there is none, or it is damaged."""
        name = self._name(line_id)
        return None if name is None else self.find(name)

    def put(self, line_id: str, piece: bytes) -> None:
        """Store the piece of a line; nothing is stored of a line without a digest."""
        name = self._name(line_id)
        if name is not None:
            self.store(name, piece)

    def find(self, digest: str) -> bytes | None:
        """Return the piece made of a content, or None if there is none, or it is damaged."""
        stored = None if self.kept is None else self.kept.pieces.get(f"{self._prefix}/{digest}")
        if not isinstance(stored, bytes) or _checksum(stored[_CHECK:]) != stored[:_CHECK]:
            return None
        return stored[_CHECK:]

    def store(self, digest: str, piece: bytes) -> None:
        """Store the piece made of a content."""
        if self.kept is not None:
            self.kept.pieces[f"{self._prefix}/{digest}"] = _checksum(piece) + piece

    def _name(self, line_id: str) -> str | None:
        digest = None if self.kept is None else self.kept.digests.get(line_id)
        return digest and f"{digest}/{line_id}"


def _checksum(piece: bytes) -> bytes:
    return hashlib.blake2b(piece, digest_size=_CHECK).digest()
